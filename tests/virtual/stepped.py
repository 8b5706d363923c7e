"""A virtual bench that waits for its recorder, so that a busy machine loses and delays nothing.

Thin I/O: the clock lies in a file that the recorder follows (``ports.clock.FollowedClock``). The
caller lets time go on; it stops at each line until all that was sent has been read, stamped and
handed on. No instrument has a thread here. What is sent to a port that nobody has opened is thrown
away as it opens, so a recorder's ports are waited for before anything speaks.
"""

import mmap
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from logger.control.client import Client
from logger.model.errors import PortError
from logger.virtual.lines.batch_clock import BatchClock
from logger.virtual.lines.instruments import VirtualBench
from tests.faults.scale import until

_FIRST_NS = 1_000_000_000
_STALLED_S = 60.0
"""Real time without a byte taken after which the recorder is given up [s]."""
_SAME_S = 1e-6
"""The clock counts whole nanoseconds: what is left of a step by rounding is no step [s]."""
_LONGEST_STEP_S = 1.0
_SHORTEST_STEP_S = 0.2


class SteppedClock(BatchClock):
    """Batch time that goes on when it is told to, in a file that others may follow.

    Parameters
    ----------
    file : Path
        Made here: 16 bytes, the run clock [ns] and the bytes taken so far.
    """

    def __init__(self, file: Path) -> None:
        super().__init__(60.0)
        file.write_bytes(bytes(16))
        with file.open("r+b") as opened:
            self._shared = mmap.mmap(opened.fileno(), 16)
        self._numbers = memoryview(self._shared).cast("q")
        self._numbers[0] = _FIRST_NS
        self._began_ns = _FIRST_NS

    @property
    def taken(self) -> int:
        """Bytes that the follower has taken."""
        return self._numbers[1]

    def restart(self) -> None:
        """Begin the batch now."""
        self._began_ns = self._numbers[0]
        self.began += 1

    def now_s(self) -> float:
        """Return the batch time [s]."""
        return (self._numbers[0] - self._began_ns) / 1e9

    def go_to(self, t_s: float) -> None:
        """Let it be a batch time [s], not before now."""
        self._numbers[0] = max(self._numbers[0], self._began_ns + round(t_s * 1e9))


class SteppedBench(VirtualBench):
    """A virtual bench in steps. Its instruments must speak by themselves: none waits to be asked.

    Parameters
    ----------
    folder : Path
        For the ports and the clock's file.
    options
        As of `VirtualBench`.
    """

    def __init__(self, folder: Path, **options: Any) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.clock_file = folder / "clock"
        self._stepped = SteppedClock(self.clock_file)
        super().__init__(folder, clock=self._stepped, **options)

    def start(self) -> None:
        """Begin the batch; nothing speaks before time goes on."""
        self._stepped.restart()

    def await_reader(self, client: Client) -> None:
        """Wait until the recorder has opened every port; each then waits for its first line."""
        until(lambda: _all_opened(client), "every port opened by the recorder")

    def restart(self) -> None:
        """Begin the batch again: call it when a run starts."""
        self._stepped.restart()

    def play(self, until_s: float) -> Iterator[float]:
        """Let time go on to a batch time; gives the time at each step, all before it taken.

        Raises
        ------
        PortError
            If the recorder takes nothing for a minute.
        """
        while until_s - (now_s := self.now_s) > _SAME_S:
            due_s = min(i.next_s() for i in self.instruments.values())
            step_s = min(max(due_s - now_s, _SHORTEST_STEP_S), _LONGEST_STEP_S)
            self._stepped.go_to(min(now_s + step_s, until_s))
            for instrument in self.instruments.values():
                instrument.turn()
            self._wait_until_taken()
            yield self.now_s

    def _wait_until_taken(self) -> None:
        sent = sum(i.sent_bytes for i in self.instruments.values())
        given_up_s = time.monotonic() + _STALLED_S
        while self._stepped.taken < sent:
            if time.monotonic() > given_up_s:
                raise PortError(f"{sent - self._stepped.taken} bytes were not taken for a minute")
            time.sleep(0.0001)


def _all_opened(client: Client) -> bool:
    ports = client.state().ports
    return bool(ports) and all(port.status in ("checking", "open") for port in ports)
