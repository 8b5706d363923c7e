"""The time of a run, and waiting. The only clock of ports and recorder.

A virtual bench may run faster than life: ``speed`` run seconds pass in a real one. With real
instruments it is 1.
"""

import threading
import time
from pathlib import Path

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


class Clock:
    """A monotonic clock of run time.

    Parameters
    ----------
    speed : float
        Run seconds in a real second, above 0.

    Raises
    ------
    ValueError
        If the speed is not positive.
    """

    def __init__(self, speed: float = 1.0) -> None:
        if not speed > 0:
            raise ValueError(f"clock speed is {speed}, wanted a number above 0")
        self.speed = speed

    def now_ns(self) -> int:
        """Return the run clock [ns]: the machine's monotonic clock times the speed."""
        now_ns = time.monotonic_ns()
        return now_ns if self.speed == 1.0 else round(now_ns * self.speed)

    def utc_ns(self) -> int:
        """Return the wall clock [ns since 1970, UTC]; real whatever the speed."""
        return time.time_ns()

    def boot_id(self) -> str:
        """Return what tells this boot of the machine from others; empty where nothing does."""
        try:
            return _BOOT_ID.read_text(encoding="ascii").strip()
        except OSError:
            return ""

    def real_s(self, run_seconds: float) -> float:
        """Return how many real seconds a span of run time takes."""
        return run_seconds / self.speed

    def wait(self, event: threading.Event, run_seconds: float) -> bool:
        """Wait until `event` is set or a span of run time is over; True when it is set."""
        return event.wait(max(0.0, self.real_s(run_seconds)))
