"""Stopping by a signal, which may come at any moment.

A `threading.Event` must not be set by a handler: the handler runs in the main thread, and where
that thread is inside ``wait`` it may hold the lock that ``set`` needs; then neither goes on.
"""

import contextlib
import os
import signal
from collections.abc import Iterable
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


def end_self() -> None:
    """End this command as SIGTERM does."""
    os.kill(os.getpid(), signal.SIGTERM)


def stop_like_ctrl_c(*more: str) -> None:
    """Let SIGTERM end the command as Ctrl-C does: the run is ended and saved.

    Ctrl-C itself is set, too: a shell that starts a command in the background has it ignored.

    Parameters
    ----------
    *more : str
        Names of other signals, where the system has them; one that is ignored stays so.
    """

    def stop(number: int, frame: object) -> None:
        signal.signal(number, signal.SIG_IGN)  # a second one must not cut off the end
        raise KeyboardInterrupt

    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, stop)
    for number in signals_there(more):
        signal.signal(number, stop)


def signals_there(names: Iterable[str]) -> list[signal.Signals]:
    """Return those signals that the system has and nobody ignores (as ``nohup`` does)."""
    there: list[signal.Signals] = [getattr(signal, n) for n in names if hasattr(signal, n)]
    return [number for number in there if signal.getsignal(number) is not signal.SIG_IGN]
