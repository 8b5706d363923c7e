"""The clock of a batch that is played in real time, at any speed, from one origin."""

import time


class BatchClock:
    """Batch time from the monotonic clock, at a speed; can begin again."""

    def __init__(self, speed: float) -> None:
        self.speed = speed
        self.began = 0
        """How often the batch has begun."""
        self._origin_s = 0.0

    def restart(self) -> None:
        """Begin the batch now."""
        self._origin_s = time.monotonic()
        self.began += 1

    def now_s(self) -> float:
        """Return the batch time [s]."""
        return (time.monotonic() - self._origin_s) * self.speed

    def real_s(self, t_s: float) -> float:
        """Return the monotonic time at which a batch time comes [s]."""
        return self._origin_s + t_s / self.speed
