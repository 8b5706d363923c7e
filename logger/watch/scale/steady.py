"""When a scale has come to rest, and at which mass.

Pure; used by logger.watch.stages.weigh.watcher. Believes the scale's own stability mark where it
gives one, and else waits until the last second lies within a few display steps.
"""

from collections import deque

from logger.model.reading import Flag, Reading

WINDOW_NS = 1_000_000_000
FEWEST = 3
"""Readings that a level needs."""
STEPS = 2.5
"""Range of the window in display steps within which it is at rest."""
NOISE_SHARE = 1e-4
"""The same as a share of the load, for scales whose step is finer than their noise."""

_STABLE, _UNSTABLE = int(Flag.STABLE), int(Flag.UNSTABLE)


class Steady:
    """Follows one scale.

    Parameters
    ----------
    step_g : float or None
        Display step [g]; None learns it from the readings.
    """

    def __init__(self, step_g: float | None) -> None:
        self.step_g = step_g
        self._learn = step_g is None
        self._window: deque[Reading] = deque()
        self._before: float | None = None

    def take(self, reading: Reading) -> Reading | None:
        """Take one reading with a value; returns the level as a reading while at rest."""
        value = reading.value
        if value is None:
            self.clear()
            return None
        self._learn_step(value)
        window = self._window
        window.append(reading)
        while reading.t_ns - window[0].t_ns > WINDOW_NS:
            window.popleft()
        if reading.flags & _UNSTABLE or len(window) < FEWEST:
            return None
        values = [r.value for r in window if r.value is not None]
        spread_g = max(values) - min(values)
        if reading.flags & _STABLE:
            return reading if values[-1] == values[-2] else None
        long_enough = reading.t_ns - window[0].t_ns >= 0.7 * WINDOW_NS
        if not long_enough or spread_g > self.rest_g(value):
            return None
        return reading._replace(value=sorted(values)[len(values) // 2])

    def rest_g(self, value_g: float) -> float:
        """Return the range within which the scale counts as at rest at a load [g]."""
        return max(STEPS * (self.step_g or 0.0), NOISE_SHARE * abs(value_g))

    def clear(self) -> None:
        """Forget the window: after a gap or a tare."""
        self._window.clear()

    def _learn_step(self, value: float) -> None:
        before, self._before = self._before, value
        if not self._learn or before is None or value == before:
            return
        jump = abs(value - before)
        if self.step_g is None or jump < 0.999 * self.step_g:
            self.step_g = jump
