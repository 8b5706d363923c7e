"""A request to stop that a signal may make at any moment.

A `threading.Event` must not be set by a handler: the handler runs in the main thread, and where
that thread is inside ``wait`` it may hold the lock that ``set`` needs; then neither goes on.
"""

import contextlib
import signal
from queue import Empty, SimpleQueue
from types import FrameType


class StopRequest:
    """Asked for by a signal or a thread; waited for by one thread, which sees it from then on."""

    def __init__(self) -> None:
        self._asks: SimpleQueue[None] = SimpleQueue()  # its put may interrupt its get
        self._seen = False

    def ask(self) -> None:
        """Ask to stop; asking again changes nothing."""
        self._asks.put(None)

    def at(self, *signals: signal.Signals) -> None:
        """Let these signals ask, in place of what they did.

        Parameters
        ----------
        *signals : Signals
            Handled from now on; call it in the main thread.
        """

        def handle(number: int, frame: FrameType | None) -> None:
            self.ask()

        for number in signals:
            signal.signal(number, handle)

    def wait(self, within_s: float) -> bool:
        """Return whether it was asked; wait for that.

        Parameters
        ----------
        within_s : float
            At most so long [s].
        """
        if not self._seen:
            with contextlib.suppress(Empty):
                self._asks.get(timeout=within_s)
                self._seen = True
        return self._seen

    def is_asked(self) -> bool:
        """Return whether it was asked."""
        return self.wait(0.0)
