"""A temperature as a virtual probe shows it: late, noisy, off and rounded.

Seeded. Used by the virtual bench and by the accuracy tables; never by the recorder.
"""

import math

import numpy as np


class Probe:
    """A probe that lags, is noisy and rounds.

    Parameters
    ----------
    lag_s : float
        Time constant [s], 0 or more.
    noise_k : float
        Standard deviation of its noise [K].
    step_k : float
        Step of its display [K]; 0 for none.
    offset_k : float
        Constant error [K].
    seed : int
        Seed of the noise.
    """

    def __init__(
        self,
        *,
        lag_s: float = 5.0,
        noise_k: float = 0.05,
        step_k: float = 0.1,
        offset_k: float = 0.0,
        seed: int = 0,
    ) -> None:
        self.lag_s = lag_s
        self.noise_k = noise_k
        self.step_k = step_k
        self.offset_k = offset_k
        self._rng = np.random.default_rng(seed)
        self._at_c: float | None = None

    def read(self, temp_c: float, dt_s: float) -> float:
        """Read a temperature held for ``dt_s`` since the last reading; gives [degC]."""
        if self._at_c is None or self.lag_s <= 0.0:
            self._at_c = temp_c
        else:
            self._at_c = temp_c + (self._at_c - temp_c) * math.exp(-dt_s / self.lag_s)
        shown = self._at_c + self.offset_k + self.noise_k * float(self._rng.standard_normal())
        return shown if self.step_k <= 0.0 else round(shown / self.step_k) * self.step_k
