"""One temperature channel as a stage watcher sees it: its value now, with what it can know.

Pure; used by the watchers of warm stages. The value is the mean of the last five seconds; a channel
that has been silent for longer than that has none.
"""

from __future__ import annotations

import math
from collections import deque

from logger.model.reading import Reading
from logger.model.written import Band
from logger.watch.engine.contract import Context
from logger.watch.sensors.rise import Rise
from logger.watch.verdict.measured import Measured
from logger.watch.verdict.stretch import DEFAULT_LAG_S, Stretches, stretch_ns_of

MEAN_NS = 5_000_000_000
SILENT_NS = 10_000_000_000
DEFAULT_STEP_K = 0.1


class Probe:
    """Follows the bench's channel of one role; there may be none.

    Parameters
    ----------
    context : Context
        Of the stage.
    role : str
        Role of the channel.
    """

    def __init__(self, context: Context, role: str) -> None:
        self.channel = context.channel_id(role)
        known = context.bench.channel_of(role)
        lag_s = known.time_constant_s if known is not None else None
        self.lag_s = DEFAULT_LAG_S if lag_s is None else lag_s
        self.step_k = (known.resolution if known is not None else None) or DEFAULT_STEP_K
        self.stretches = Stretches(stretch_ns_of(known))
        self._rise = Rise()
        self._last: deque[Reading] = deque()
        self._mean: float | None = None
        """Of the readings as they stand; None until it is asked for."""

    def take(self, reading: Reading) -> bool:
        """Take a reading; gives whether it was one of this channel with a value."""
        if reading.channel != self.channel or reading.value is None:
            return False
        last = self._last
        last.append(reading)
        while reading.t_ns - last[0].t_ns > MEAN_NS:
            last.popleft()
        self._mean = None
        self.stretches.take(reading)
        self._rise.take(reading)
        return True

    def there_in_s(self, t_ns: int, band: Band | None) -> float | None:
        """Return when it reaches a band that it is below, at the rate it rises now [s].

        Parameters
        ----------
        t_ns : int
            Now [ns].
        band : Band or None
            The target [degC].
        """
        value_c = self.value(t_ns)
        if band is None or band.low is None or value_c is None or value_c >= band.low:
            return None
        return self._rise.reaches_in_s(band.low, value_c)

    def value(self, t_ns: int) -> float | None:
        """Mean of the last five seconds [degC]; None once the channel is silent."""
        last = self._last
        if not last or t_ns - last[-1].t_ns > SILENT_NS:
            return None
        if self._mean is None:
            self._mean = sum(r.value for r in last if r.value is not None) / len(last)
        return self._mean

    @property
    def u(self) -> float:
        """Standard uncertainty of the last reading [K]; NaN when unknown or without readings.

        The errors that last dominate it, so the mean has no less.
        """
        return self._last[-1].u if self._last else math.nan

    @property
    def first_ns(self) -> int | None:
        """Time of the oldest reading in the mean."""
        return self._last[0].t_ns if self._last else None

    def measured(self, t_ns: int) -> Measured:
        """Return the value now, for a check."""
        return Measured(
            value=self.value(t_ns),
            u=self.u,
            from_ns=self.first_ns,
            to_ns=t_ns,
            channel=self.channel,
        )

    def why_missing(self, label: str) -> str:
        """Return why there is no value, in words."""
        if self.channel is None:
            return f"the bench has no {label} probe"
        return f"no reading of the {label} probe"
