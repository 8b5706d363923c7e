"""The latest state, handed from the writer to whoever asks for it.

No older than any command answered before, unless a turn takes too long to wait for: the writer
shows the state of a turn before it answers the commands of that turn. Worked out only while someone
looks.
"""

import threading
import time
from collections.abc import Callable
from typing import Any

WATCHED_S = 3.0
"""A state is worked out each turn while someone has asked for it within this time [s]."""
STATE_WAIT_S = 5.0
"""A turn that takes longer than this [s] is not waited for: the state before it is given."""
SOON_S = 0.3
"""So long [s] while nothing was answered since: on a busy machine an old state is better than none,
and it says how old its numbers are."""
YOUNG_S = 0.03
"""A state younger than this [s] is given as it is; for an older one a turn is taken at once, so
that what just arrived is on the screen without waiting for the turn's time."""


class LatestState:
    """Shown by the writer, asked for by any other thread.

    Parameters
    ----------
    hurry : callable
        Lets the owner of the run take its next turn now.
    """

    def __init__(self, hurry: Callable[[], None]) -> None:
        self._hurry = hurry
        self._shown_at = 0.0
        self._watched_at = 0.0
        self._state: dict[str, Any] = {}
        self._current = False
        self._outdated = False
        self._ready = threading.Condition()

    def ask(self) -> dict[str, Any]:
        """Return the latest state.

        It is waited for after a command was answered, and fresh unless the turn takes long.
        """
        now = time.monotonic()
        watched, self._watched_at = self.watched, now
        with self._ready:
            if now - self._shown_at > YOUNG_S:
                self._current = False
                self._hurry()
            patience_s = SOON_S if watched and not self._outdated else STATE_WAIT_S
            self._ready.wait_for(lambda: self._current, timeout=patience_s)
            return self._state

    @property
    def watched(self) -> bool:
        """Whether someone has asked lately."""
        return time.monotonic() - self._watched_at <= WATCHED_S

    def outdate(self) -> None:
        """Let nobody have the state of before: a command is about to be answered."""
        with self._ready:
            self._current = False
            self._outdated = True

    def show(self, state: dict[str, Any]) -> None:
        """Give this state from here on, also to those who wait."""
        with self._ready:
            self._state = state
            self._current = True
            self._outdated = False
            self._shown_at = time.monotonic()
            self._ready.notify_all()
