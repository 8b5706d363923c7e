"""The time of a run, and waiting. The only clock of ports and recorder.

A virtual bench may run faster than life: ``speed`` run seconds pass in a real one. With real
instruments it is 1.
"""

import mmap
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
            raise ValueError(f"clock speed is {speed}, expected a number above 0")
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
        """Return how long a span of run time takes [s of the wall].

        Parameters
        ----------
        run_seconds : float
            The span [s of run time].
        """
        return run_seconds / self.speed

    def wait(self, event: threading.Event, run_seconds: float) -> bool:
        """Wait until `event` is set or a span of run time is over; True when it is set.

        Parameters
        ----------
        event : Event
            Ends the wait.
        run_seconds : float
            Longest wait [s of run time].
        """
        return event.wait(max(0.0, self.real_s(run_seconds)))

    def took(self, count: int) -> None:
        """Take note that bytes of a port were read, stamped and handed on; nothing here."""


class FollowedClock(Clock):
    """The clock of a virtual bench that waits for its recorder.

    Both share a small file: two 64-bit numbers in the machine's own order, the run clock [ns],
    which the bench writes, and the bytes read, stamped and handed on so far, which are written
    here. The bench lets time go on when all it has sent was taken: however busy the machine is,
    nothing is late and nothing is lost.

    Parameters
    ----------
    file : Path
        The file; it is there and has 16 bytes.
    speed : float
        What the run file says of the speed: how fast it may go.
    """

    _POLL_S = 0.001

    def __init__(self, file: Path, speed: float) -> None:
        super().__init__(speed)
        with file.open("r+b") as opened:
            self._shared = mmap.mmap(opened.fileno(), 16)
        self._numbers = memoryview(self._shared).cast("q")
        self._counting = threading.Lock()

    def now_ns(self) -> int:
        """Return the run clock [ns]: where the bench has let it go."""
        return self._numbers[0]

    def wait(self, event: threading.Event, run_seconds: float) -> bool:
        """Wait until `event` is set or the bench has let a span pass; True when it is set.

        Parameters
        ----------
        event : Event
            Ends the wait.
        run_seconds : float
            Longest wait [s of run time].
        """
        until_ns = self.now_ns() + round(run_seconds * 1e9)
        while not event.is_set():
            if self.now_ns() >= until_ns:
                return False
            event.wait(self._POLL_S)
        return True

    def took(self, count: int) -> None:
        """Tell the bench that bytes were read, stamped and handed on."""
        with self._counting:
            self._numbers[1] += count
