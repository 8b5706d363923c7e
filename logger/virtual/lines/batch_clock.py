"""The clock of a batch that is played in real time, at any speed, from one origin."""

import time

from logger.model.errors import InputError


class BatchClock:
    """Batch time from the monotonic clock, at a speed; can begin again."""

    def __init__(self, speed: float) -> None:
        self.speed = speed
        self.began = 0
        """How often the batch has begun."""
        self._origin_s = 0.0

    @property
    def origin_s(self) -> float:
        """When the batch began [s of the machine's monotonic clock, the same in all processes]."""
        return self._origin_s

    def restart(self, origin_s: float | None = None) -> None:
        """Begin the batch now, or at an instant.

        Parameters
        ----------
        origin_s : float or None
            On the machine's monotonic clock [s].
        """
        self._origin_s = time.monotonic() if origin_s is None else origin_s
        self.began += 1

    def now_s(self) -> float:
        """Return the batch time [s]."""
        return (time.monotonic() - self._origin_s) * self.speed

    def real_s(self, t_s: float) -> float:
        """Return the monotonic time at which a batch time comes [s]."""
        return self._origin_s + t_s / self.speed


def check_speed(speed: float) -> float:
    """Return a speed [s of the batch per s] that a virtual bench can keep.

    Raises
    ------
    InputError
        If it does not lie above 0 and up to 60.
    """
    if not 0.0 < speed <= 60.0:
        raise InputError("speed", f"found {speed:g}", "give more than 0 and at most 60")
    return speed
