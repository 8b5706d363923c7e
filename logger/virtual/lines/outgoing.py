"""What an instrument has yet to send: the rest of a line that did not fit, slices that leave later.

Thin; used by ``player`` on its thread. Nobody may be reading, so a full line is no error: what has
begun is finished, the rest is dropped.
"""

import time
from collections import deque

from logger.virtual.lines.terminals import Terminal


class Outgoing:
    """Sends through one terminal.

    Parameters
    ----------
    terminal : Terminal
        Through what.
    """

    def __init__(self, terminal: Terminal) -> None:
        self._terminal = terminal
        self._rest = b""
        self._queue: deque[tuple[float, bytes]] = deque()
        self.sent_bytes = 0
        """Bytes that the port took."""

    def send(self, data: bytes) -> None:
        """Send; when the line is full, finish the line that has begun and drop the others."""
        if self._rest:
            taken = self._terminal.write(self._rest)
            self.sent_bytes += taken
            self._rest = self._rest[taken:]
            if self._rest:
                return
        if not data:
            return
        taken = self._terminal.write(data)
        self.sent_bytes += taken
        if 0 < taken < len(data):
            end = data.find(b"\n", taken - 1)
            self._rest = data[taken : end + 1 if end >= 0 else len(data)]

    def later(self, due_s: float, data: bytes) -> None:
        """Send at this time [s of the machine's clock]."""
        self._queue.append((due_s, data))

    def next_s(self) -> float | None:
        """Return when the next of what waits is due; None when nothing waits."""
        return self._queue[0][0] if self._queue else None

    def last_s(self) -> float | None:
        """Return when the last of what waits is due; None when nothing waits."""
        return self._queue[-1][0] if self._queue else None

    def flush(self) -> None:
        """Send what is due by now."""
        real_s = time.monotonic()
        while self._queue and self._queue[0][0] <= real_s:
            self.send(self._queue.popleft()[1])

    def forget_rest(self) -> None:
        """Leave the line that has begun unfinished."""
        self._rest = b""

    def clear(self) -> None:
        """Forget all that waits: the plug was pulled."""
        self._rest = b""
        self._queue.clear()
