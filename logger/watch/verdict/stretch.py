"""A value decides when it lasted: stretches of readings instead of single ones.

Pure; used by the watchers of a core probe. A stretch is at least three readings without a gap over
the longer of 10 s and two time constants of the probe. Of a stretch its unfavourable end counts:
the highest temperature is the highest that every reading of a stretch reached, the lowest likewise.

Length and number of readings: common practice, no source.
"""

from collections import deque

from logger.model.bench import Channel
from logger.model.reading import Reading
from logger.watch.verdict.measured import Measured

FEWEST = 3
LEAST_S, LAGS = 10.0, 2.0
DEFAULT_LAG_S = 5.0
"""Time constant of a probe that states none [s]; common practice, no source."""


def stretch_ns_of(channel: Channel | None) -> int:
    """Return how long a stretch of a probe is [ns]."""
    lag_s = channel.time_constant_s if channel is not None else None
    return round(1e9 * max(LEAST_S, LAGS * (DEFAULT_LAG_S if lag_s is None else lag_s)))


class Held:
    """Whether something has been so for a stretch.

    Parameters
    ----------
    stretch_ns : int
        Length of a stretch [ns].
    """

    __slots__ = ("_count", "_stretch_ns", "since_ns")

    def __init__(self, stretch_ns: int) -> None:
        self._stretch_ns = stretch_ns
        self._count = 0
        self.since_ns: int | None = None
        """Since when it has been so, for a stretch or not yet; None while it is not."""

    def take(self, t_ns: int, so: bool) -> bool:
        """Take whether it is so at a time [ns]; returns whether it has been for a stretch."""
        if not so:
            self.since_ns = None
            return False
        if self.since_ns is None:
            self.since_ns, self._count = t_ns, 0
        self._count += 1
        return self._count >= FEWEST and t_ns - self.since_ns >= self._stretch_ns

    def broken(self) -> None:
        """Take a gap."""
        self.since_ns = None


class Stretches:
    """The lowest and the highest value that lasted for a stretch.

    Parameters
    ----------
    stretch_ns : int
        Length of a stretch [ns].

    Attributes
    ----------
    lowest, highest : Measured or None
        Of all stretches; of equal ones the first. None while there was no stretch.
    """

    def __init__(self, stretch_ns: int) -> None:
        self._stretch_ns = stretch_ns
        self.lowest: Measured | None = None
        self.highest: Measured | None = None
        self._times: deque[int] = deque()
        self._falling: deque[Reading] = deque()
        self._rising: deque[Reading] = deque()
        """Readings of the last stretch that may be its highest, and its lowest."""

    def take(self, reading: Reading) -> None:
        """Take a reading with a value, in time order."""
        t_ns, value = reading.t_ns, reading.value
        if value is None:
            return
        times, falling, rising = self._times, self._falling, self._rising
        times.append(t_ns)
        since_ns = t_ns - self._stretch_ns
        while len(times) > FEWEST and times[1] <= since_ns:
            times.popleft()
        while falling and (falling[-1].value or 0.0) <= value:
            falling.pop()
        falling.append(reading)
        while rising and (rising[-1].value or 0.0) >= value:
            rising.pop()
        rising.append(reading)
        first_ns = times[0]
        while falling[0].t_ns < first_ns:
            falling.popleft()
        while rising[0].t_ns < first_ns:
            rising.popleft()
        if len(times) < FEWEST or first_ns > since_ns:
            return
        at_least, at_most = rising[0], falling[0]
        if self.highest is None or (at_least.value or 0.0) > (self.highest.value or 0.0):
            self.highest = self._measured(at_least)
        if self.lowest is None or (at_most.value or 0.0) < (self.lowest.value or 0.0):
            self.lowest = self._measured(at_most)

    def broken(self) -> None:
        """Take a gap: no stretch goes across it."""
        self._times.clear()
        self._falling.clear()
        self._rising.clear()

    def now(self) -> tuple[Measured, Measured] | None:
        """Return the lowest and the highest reading of the stretch up to now, or None."""
        times = self._times
        if len(times) < FEWEST or times[-1] - times[0] < self._stretch_ns:
            return None
        return self._measured(self._rising[0]), self._measured(self._falling[0])

    def _measured(self, reading: Reading) -> Measured:
        return Measured(
            value=reading.value,
            u=reading.u,
            from_ns=self._times[0],
            to_ns=self._times[-1],
            channel=reading.channel,
        )
