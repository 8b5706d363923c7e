"""Where everything waits for the owner of the run: what ports deliver and what people ask.

Bounded. What ports deliver is taken every turn; a command wakes the owner at once. Ports do not
wake it, which at hundreds of lines a second would cost more than all the work on them.
"""

import queue
import threading
from typing import Any

from logger.control.messages import patience_s
from logger.model.errors import InputError
from logger.ports.batch import PortBatch
from logger.recorder.live.command import Asked, Command

PLACES = 50_000
"""Most items that wait; more are dropped, counted and shown."""


class Inbox:
    """Filled by port threads and control connections, emptied by the owner of the run.

    Parameters
    ----------
    places : int
        Most items that wait.
    """

    def __init__(self, places: int = PLACES) -> None:
        self._queue: queue.Queue[PortBatch | Command] = queue.Queue(places)
        self._wake = threading.Event()
        self._counting = threading.Lock()
        self.dropped = 0
        """Chunks for which there was no place."""

    def deliver(self, batch: PortBatch) -> None:
        """Take what a port delivers; never wait."""
        try:
            self._queue.put_nowait(batch)
        except queue.Full:
            with self._counting:
                self.dropped += 1

    def ask(self, asked: Asked) -> Any:
        """Hand a command to the owner and wait for its answer.

        Raises
        ------
        InputError
            If it was not committed in time: the disk is full or very slow. It is kept in memory.
        """
        command, wait_s = Command(asked), patience_s(asked.do)
        try:
            self._queue.put(command, timeout=wait_s)
            self._wake.set()
            return command.answer.result(timeout=wait_s)
        except (queue.Full, TimeoutError) as cause:
            raise InputError(
                asked.do,
                "not saved yet",
                "it is kept in memory; check the disk of the data folder",
            ) from cause

    def wake(self) -> None:
        """Let the owner take its turn now."""
        self._wake.set()

    def empty(self) -> bool:
        """Whether nothing waits."""
        return self._queue.empty()

    def wait(self, wait_s: float) -> None:
        """Wait for a turn's time or a command.

        Parameters
        ----------
        wait_s : float
            Longest wait [s].
        """
        self._wake.wait(wait_s)
        self._wake.clear()

    def take(self) -> list[PortBatch | Command]:
        """Return all that is there, oldest first."""
        # The owner alone takes things out, so what is counted here is there.
        return [self._queue.get_nowait() for _ in range(self._queue.qsize())]
