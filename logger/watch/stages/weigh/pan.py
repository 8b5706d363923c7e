"""What lies on a scale beyond the level on which the ingredient under way began.

Pure; used by logger.watch.stages.weigh.watcher.
"""

import math

from logger.correct.channel import Corrector, difference_uncertainty
from logger.model.reading import Reading
from logger.watch.scale.loads import StabilityDetector

_FRESH_NS = 10_000_000_000


class Pan:
    """One scale with its levels.

    Parameters
    ----------
    step_g : float or None
        Display step [g]; None learns it from the readings.
    corrector : Corrector or None
        For the uncertainty of a difference of two readings of one scale.

    Attributes
    ----------
    base : Reading or None
        Level on which the ingredient under way began.
    level : Reading or None
        Last level at rest.
    last : Reading or None
        Last reading.
    """

    def __init__(self, step_g: float | None, corrector: Corrector | None) -> None:
        self.steady = StabilityDetector(step_g)
        self._corrector = corrector
        self.base: Reading | None = None
        self.level: Reading | None = None
        self.last: Reading | None = None

    def take(self, reading: Reading) -> Reading | None:
        """Take one reading; returns the level while the scale is at rest."""
        if reading.value is not None:
            self.last = reading
        return self.steady.take(reading)

    def net_g(self, level: Reading) -> float:
        """Return what lies beyond the base [g]."""
        base_g = self.base.value if self.base is not None else None
        return (level.value or 0.0) - (base_g or 0.0)

    def net_u(self, level: Reading) -> float:
        """Return its standard uncertainty [g]; NaN when unknown."""
        base = self.base
        if base is None or base.value is None or level.value is None:
            return math.nan
        if self._corrector is None:
            return math.hypot(level.u, base.u)
        return difference_uncertainty(self._corrector, level.value, self._corrector, base.value)

    def net_now(self, t_ns: int) -> tuple[float | None, float]:
        """Return what lies beyond the base at this moment with its uncertainty [g]."""
        last = self.last
        if last is None or self.base is None or t_ns - last.t_ns > _FRESH_NS:
            return None, math.nan
        return self.net_g(last), self.net_u(last)

    def rests(self) -> bool:
        """Return whether the last reading is still at the last level."""
        last, level = self.last, self.level
        if last is None or level is None or last.value is None or level.value is None:
            return False
        return abs(last.value - level.value) <= self.steady.rest_g(level.value)
