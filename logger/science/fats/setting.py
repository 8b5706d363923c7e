"""When a cooling fat began to set: a warming that its own loss curve does not explain.

Pure. `ArrestDetector` is fed readings in time order and says *suspected*, then *confirmed*; it
compares the measured rate with the rate that the curve before foretells, because rates, unlike
temperatures, do not inherit the error of an extrapolation. Nothing depends on how the stream was
cut. Used by logger.watch.stages.emulsify.watcher and logger.watch.stages.fat_curve.watcher. It
explains a batch afterwards: detection comes one to three minutes after nucleation; the warning in
time is the forecast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from logger.science.statistics.blocks import BLOCK_S, Block, BlockMeans

Array = npt.NDArray[np.float64]

SLOPE_WINDOW_S = 120.0
GAP_S = 60.0
BASELINE_S = 600.0
SHORTEST_BASELINE_S = 240.0
HIT_SIGMAS = 4.5
HIT_SHARE = 0.3
HITS_NEEDED = 3
BEND_SIGMAS = 6.0
SMALLEST_SD_K = 0.03
RECALESCENCE_K = 0.75
SETTLE_S = 90.0
"""How long after the suspicion the onset is still refined."""
_SMALLEST_EXCESS_K = 0.5
_GROWTH_POWER = 2.0
"""Power of the first growth of the set share with time (Avrami exponents of 2 to 3, less where
the fat's own warmth slows it); an error of 0.5 moves the onset by some 15 s."""
_U_GROWTH_S = 15.0
_STEPS_IN_WINDOW = 1.5
"""Steps of the display by which a slope window must be off: a staircase is no arrest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrest:
    """A setting that was seen.

    Attributes
    ----------
    state : str
        ``"suspected"``: the rate is off the curve; ``"confirmed"``: the fat warmed itself again.
    onset_s : float
        When it began, traced back [s].
    u_onset_s : float
        Standard uncertainty of that time [s].
    onset_c : float
        Temperature of the loss curve then [degC].
    detected_s : float
        When it was first seen [s].
    rise_k : float
        Rise above the minimum so far [K].
    """

    state: Literal["suspected", "confirmed"]
    onset_s: float
    u_onset_s: float
    onset_c: float
    detected_s: float
    rise_k: float


class ArrestDetector:
    """Watch one cooling curve for the onset of setting.

    Parameters
    ----------
    ambient_c : float
        Air temperature [degC], known to a kelvin or so.
    below_c : float or None
        Only look below this temperature [degC]: the fat cannot set above its melting range. None
        looks everywhere.
    lag_s : float
        Time constant of the probe [s]; taken off the onset.
    step_k : float
        Step of the display [K]; 0 for none.
    """

    def __init__(
        self,
        ambient_c: float,
        *,
        below_c: float | None = None,
        lag_s: float = 0.0,
        step_k: float = 0.0,
    ) -> None:
        self.ambient_c = ambient_c
        self.below_c = below_c
        self.lag_s = lag_s
        self.step_k = step_k
        self.arrest: Arrest | None = None
        self._means = BlockMeans()
        self._t: list[float] = []
        self._y: list[float] = []
        self._hits = 0
        self._k_per_s = 0.0
        self._minimum_c = math.inf

    def reset(self) -> None:
        """Begin anew, after the vessel was heated, filled or stirred."""
        self.arrest = None
        self._means.reset()
        self._t, self._y = [], []
        self._hits, self._minimum_c = 0, math.inf

    def add(self, time_s: float, temp_c: float) -> Arrest | None:
        """Take one reading; give the arrest when its state or its onset has changed.

        Parameters
        ----------
        time_s : float
            Time of the reading [s], not before the one before.
        temp_c : float
            Temperature [degC].
        """
        block = self._means.add(time_s, temp_c)
        return None if block is None else self._block(block)

    def _block(self, block: Block) -> Arrest | None:
        self._t.append(block.mid_s)
        self._y.append(block.mean)
        if self.arrest is None:
            self._forget(block.mid_s)
            return self._look(block)
        self._minimum_c = min(self._minimum_c, block.mean)
        return self._follow(block)

    def _forget(self, now_s: float) -> None:
        oldest_s = now_s - (SLOPE_WINDOW_S + GAP_S + BASELINE_S)
        while self._t and self._t[0] < oldest_s:
            del self._t[0], self._y[0]

    def _look(self, block: Block) -> Arrest | None:
        """Compare the rate with that of the curve before; suspect after three hits in a row."""
        line = self._fit_baseline(block.mid_s)
        if line is None or (self.below_c is not None and block.mean > self.below_c):
            self._hits = 0
            return None
        times, temps = np.array(self._t), np.array(self._y)
        recent = times > block.mid_s - SLOPE_WINDOW_S
        k, sd_k = line
        centred = times[recent] - times[recent].mean()
        spread = float(centred @ centred)
        rate = float(centred @ temps[recent]) / spread
        expected = -k * (float(temps[recent][-7:].mean()) - self.ambient_c)
        excess = rate - expected
        limit = max(
            HIT_SIGMAS * sd_k / math.sqrt(spread),
            HIT_SHARE * abs(expected),
            _STEPS_IN_WINDOW * self.step_k / SLOPE_WINDOW_S,
        )
        self._hits = self._hits + 1 if expected < 0.0 and excess > limit else 0
        if self._hits < HITS_NEEDED:
            return None
        self._k_per_s = k
        self._minimum_c = float(temps[recent].min())
        self.arrest = self._judge("suspected", block, block.mid_s)
        return self.arrest

    def _fit_baseline(self, now_s: float) -> tuple[float, float] | None:
        """Loss constant [1/s] and spread [K] of the curve before the gap."""
        times, temps = np.array(self._t), np.array(self._y)
        used = times <= now_s - SLOPE_WINDOW_S - GAP_S
        recent = int((times > now_s - SLOPE_WINDOW_S).sum())
        excess = temps[used] - self.ambient_c
        if (
            recent < 0.8 * SLOPE_WINDOW_S / BLOCK_S
            or excess.size < SHORTEST_BASELINE_S / BLOCK_S
            or float(excess.min()) < _SMALLEST_EXCESS_K
        ):
            return None
        line = _loss_line(times[used], excess, now_s - 0.5 * SLOPE_WINDOW_S)
        if line is None:
            return None
        k, sd_k = line
        return k, max(SMALLEST_SD_K, sd_k)

    def _follow(self, block: Block) -> Arrest | None:
        """Refine the onset for a while, and confirm when the fat has warmed itself."""
        old = self.arrest
        if old is None:
            return None
        rise_k = block.mean - self._minimum_c
        state: Literal["suspected", "confirmed"] = (
            "confirmed" if old.state == "confirmed" or rise_k >= RECALESCENCE_K else "suspected"
        )
        if block.mid_s <= old.detected_s + SETTLE_S:
            self.arrest = self._judge(state, block, old.detected_s)
            return self.arrest
        if state != old.state:
            self.arrest = Arrest(
                state=state,
                onset_s=old.onset_s,
                u_onset_s=old.u_onset_s,
                onset_c=old.onset_c,
                detected_s=old.detected_s,
                rise_k=rise_k,
            )
            return self.arrest
        return None

    def _judge(
        self, state: Literal["suspected", "confirmed"], block: Block, detected_s: float
    ) -> Arrest:
        times, temps = np.array(self._t), np.array(self._y)
        onset_s, u_onset_s = trace_back(times, temps, self.ambient_c, self._k_per_s, detected_s)
        before = (times > onset_s - GAP_S) & (times < onset_s + BLOCK_S)
        # What the lagging probe shows at the kink is the temperature the contents had at theirs.
        _, onset_c = np.polyfit(times[before] - onset_s, temps[before], 1)
        return Arrest(
            state=state,
            onset_s=onset_s - self.lag_s,
            u_onset_s=u_onset_s,
            onset_c=float(onset_c),
            detected_s=detected_s,
            rise_k=block.mean - self._minimum_c,
        )


def _loss_line(t: Array, excess: Array, at_s: float) -> tuple[float, float] | None:
    """Loss constant expected at a time [1/s] and spread about the curve [K].

    A loss that is seen to slow down already (a cold wall that has had its fill) is followed by a
    parabola, and the slower of the two rates is expected.
    """
    # Sums of the centred times solve both fits: a general solver takes ten times as long, and this
    # is done for every block of a cooling vessel.
    mean_s, n = float(t.mean()), t.size
    centre, logs = t - mean_s, np.log(excess)
    squares = centre * centre
    s2, s3, s4 = float(squares.sum()), float(squares @ centre), float(squares @ squares)
    start, moment = float(logs.mean()), float(centre @ logs)
    slope = moment / s2
    if slope >= 0.0:
        return None
    sd_k = float((excess - np.exp(start + slope * centre)).std(ddof=2))
    width = s4 - s2 * s2 / n
    bow = float(squares @ logs) - s2 * start
    det = width * s2 - s3 * s3
    bend, tilt = (s2 * bow - s3 * moment) / det, (width * moment - s3 * bow) / det
    left = logs - start - tilt * centre - bend * (squares - s2 / n)
    u_bend = math.sqrt(s2 / det * float(left @ left) / (n - 3))
    if bend > BEND_SIGMAS * u_bend:
        slower = -(tilt + 2.0 * bend * (at_s - mean_s))
        return max(slower, 0.3 * -slope), sd_k
    return -slope, sd_k


def trace_back(
    t_s: Array, temp_c: Array, ambient_c: float, k_per_s: float, detected_s: float
) -> tuple[float, float]:
    """Trace an arrest back to where it began.

    For each possible beginning the excess over the air, freed of its loss, is fitted by a straight
    line in its logarithm plus a growth that starts there; the best one is kept.

    Parameters
    ----------
    t_s, temp_c : ndarray, shape (n,)
        Block means up to now: times [s] and temperatures [degC].
    ambient_c : float
        Air temperature [degC].
    k_per_s : float
        Loss constant before the arrest [1/s].
    detected_s : float
        When the arrest was suspected [s].

    Returns
    -------
    tuple of float
        Onset and its standard uncertainty [s], the latter from the curvature of the sum of
        squares and from what is not known of the growth.
    """
    used = t_s > detected_s - SLOPE_WINDOW_S - GAP_S - BASELINE_S / 2.0
    t, excess = t_s[used], np.maximum(temp_c[used] - ambient_c, 0.05)
    # Freed of the loss, the excess is level until the fat gives heat.
    freed = excess * np.exp(np.minimum(k_per_s * (t - t[-1]), 0.0))
    weight = np.exp(-k_per_s * (t - t[-1]))
    starts = np.arange(detected_s - 2.0 * SLOPE_WINDOW_S, detected_s, 0.5 * BLOCK_S)
    starts = starts[starts > t[0] + 6 * BLOCK_S]
    costs = np.array([_cost(t, freed, weight, start) for start in starts])
    best = int(costs.argmin())
    variance = costs[best] / max(t.size - 4, 1)
    likely = np.exp(-0.5 * (costs - costs[best]) / max(variance, 1e-12))
    mean_s = float(np.sum(starts * likely) / likely.sum())
    spread = float(np.sqrt(np.sum((starts - mean_s) ** 2 * likely) / likely.sum()))
    return mean_s, math.hypot(spread, _U_GROWTH_S)


def _cost(t: Array, freed: Array, weight: Array, start_s: float) -> float:
    """Weighted sum of squares of a level with a slope and a growth from a start on."""
    since = np.maximum(t - start_s, 0.0) / SLOPE_WINDOW_S
    columns = np.column_stack([np.ones_like(t), (t - t[0]) / BASELINE_S, since**_GROWTH_POWER])
    rows = columns * weight[:, None]
    found, *_ = np.linalg.lstsq(rows, freed * weight, rcond=None)
    left = rows @ found - freed * weight
    return float(left @ left)
