"""The lowest and the highest value of a stretch, each with its uncertainty and moment.

Pure; used by the watchers that judge what a channel reached. What was not read is not known: who
judges an extreme says how long there were no readings.
"""

import math

from logger.model.reading import Reading
from logger.model.written import Band
from logger.watch.verdict.measured import Measured


class Extremes:
    """Keeps the extremes of the values it is handed.

    Attributes
    ----------
    first, lowest, highest : Measured or None
        First value of the stretch, and its extremes; of equal ones the first.
    """

    def __init__(self) -> None:
        self.first: Measured | None = None
        self.lowest: Measured | None = None
        self.highest: Measured | None = None

    def take(self, reading: Reading) -> None:
        """Take a reading; one without a value changes nothing."""
        if reading.value is not None:
            self.note(reading.value, reading.u, reading.t_ns, reading.channel)

    def note(self, value: float, u: float, t_ns: int, channel: str | None = None) -> None:
        """Take a value.

        Parameters
        ----------
        value : float
            [any unit].
        u : float
            Its standard uncertainty [same unit]; NaN when unknown.
        t_ns : int
            When it was so [ns].
        channel : str or None
            Where.
        """
        lowest, highest = self.lowest, self.highest
        lower = lowest is None or value < _value(lowest)
        higher = highest is None or value > _value(highest)
        if not lower and not higher:
            return
        found = Measured(value=value, u=u, from_ns=t_ns, to_ns=t_ns, channel=channel)
        if self.first is None:
            self.first = found
        if lower:
            self.lowest = found
        if higher:
            self.highest = found

    def forget(self) -> None:
        """Begin a new stretch."""
        self.first = self.lowest = self.highest = None

    def worst(self, band: Band | None) -> Measured | None:
        """Return the value farthest out of a band, or nearest its edge; without one the first."""
        if self.lowest is None or self.highest is None:
            return None
        if band is None or (band.low is None and band.high is None):
            return self.first
        below = -math.inf if band.low is None else band.low
        above = math.inf if band.high is None else band.high
        low_room, high_room = _value(self.lowest) - below, above - _value(self.highest)
        if low_room == high_room:
            return min(self.lowest, self.highest, key=lambda m: m.from_ns or 0)
        return self.lowest if low_room < high_room else self.highest


def _value(measured: Measured) -> float:
    return math.nan if measured.value is None else measured.value
