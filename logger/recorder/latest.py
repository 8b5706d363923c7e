"""The latest state, handed from the writer thread to whoever asks for it.

No older than any command answered before. Worked out only while someone looks.
"""

import threading
import time
from typing import Any

WATCHED_S = 3.0
"""A state is worked out each turn while someone has asked for it within this time [s]."""
STATE_WAIT_S = 5.0
"""A turn that takes longer than this [s] is not waited for: the state before it is given."""


class LatestState:
    """Shown by the writer thread, asked for by any other."""

    def __init__(self) -> None:
        self._watched_at = 0.0
        self._state: dict[str, Any] = {}
        self._current = False
        self._ready = threading.Condition()

    def ask(self) -> dict[str, Any]:
        """Return the latest state, no older than any command answered before.

        Waits for the next turn when nobody has looked for a while or a command was just answered.
        """
        fresh = time.monotonic() - self._watched_at < WATCHED_S
        self._watched_at = time.monotonic()
        with self._ready:
            if not fresh:
                self._current = False
            self._ready.wait_for(lambda: self._current, timeout=STATE_WAIT_S)
            return self._state

    @property
    def watched(self) -> bool:
        """Whether someone has asked lately."""
        return time.monotonic() - self._watched_at <= WATCHED_S

    def outdate(self) -> None:
        """Let nobody have the state of before: a command is about to be answered."""
        with self._ready:
            self._current = False

    def show(self, state: dict[str, Any]) -> None:
        """Give this state from here on, also to those who wait."""
        with self._ready:
            self._state = state
            self._current = True
            self._ready.notify_all()
