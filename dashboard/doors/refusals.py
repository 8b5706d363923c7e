"""The log of refused requests: a line each, short, and so many a minute.

Anyone who can send a request could otherwise fill the disk with lines, or put lines of
their own into the log.
"""

import logging
import threading
import time
from collections.abc import Callable

MOST_LINES, EACH_S = 20, 60.0
"""Lines that are written within so long [s]; the rest is counted and said afterwards."""
LONGEST = 200
"""Characters of a line's reason."""


class RefusalLog:
    """Writes down what was refused.

    Parameters
    ----------
    log : Logger
        Takes the lines.
    now_s : callable
        Monotonic time [s].
    """

    def __init__(self, log: logging.Logger, now_s: Callable[[], float] = time.monotonic) -> None:
        self._log = log
        self._now_s = now_s
        self._lock = threading.Lock()
        self._since_s = now_s()
        self._lines = self._unsaid = 0

    def say(self, why: str) -> None:
        """Write a line, or count one that is too many.

        Parameters
        ----------
        why : str
            May hold what was sent: it is cut, and what is no printable character is escaped.
        """
        shown = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in why[:LONGEST])
        with self._lock:
            now_s = self._now_s()
            unsaid = 0
            if now_s - self._since_s >= EACH_S:
                unsaid, self._since_s, self._lines, self._unsaid = self._unsaid, now_s, 0, 0
            self._lines += 1
            said = self._lines <= MOST_LINES
            self._unsaid += not said
        if unsaid:
            self._log.warning("%d more requests that no page of ours sends were refused", unsaid)
        if said:
            self._log.warning("a request that no page of ours sends was refused: %s", shown)
