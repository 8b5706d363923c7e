"""Bytes to frames: where a line ends, and what is dropped on the way.

Pure state machines, one per kind of frame. ``feed`` returns the frames that became whole with this
chunk; what is left waits for more, at most one line long. No frame is ever made of less or more
than what stood between two ends. Used by ``reader``; values of a frame are not looked at here.
"""

from typing import Literal, NamedTuple, Protocol

from logger.wire.checks import CHECKS
from logger.wire.shapes.tables import Frame

Fault = Literal["", "too_long", "check"]
LEADING = b"\x00\x02"
"""Stripped from the front of a line: a line that wakes up sends NUL, some scales STX."""
SHOWN = 40
"""Bytes of a broken frame that are kept for the notice."""
SKIP_COUNT = 4096
"""An endless line counts as one more unread line each so many bytes."""


_new = tuple.__new__
"""Makes a named tuple in half the time; only where each line passes."""


class Cut(NamedTuple):
    """One frame."""

    data: bytes
    """Without its end; the first `SHOWN` bytes of a frame that is too long, at most its longest
    length, however much had come when that was seen."""
    size: int
    """Bytes on the wire, with start, end and check byte."""
    after: int
    """Bytes of the chunk that came after it."""
    fault: Fault


class Framer(Protocol):
    """What ``reader`` needs of a frame's state machine."""

    dropped: int
    """Bytes that were part of no frame."""

    @property
    def pending(self) -> int:
        """Bytes that wait for the rest of their frame."""

    def feed(self, chunk: bytes) -> list[Cut]:
        """Return the frames that became whole."""

    def reset(self, *, begins: bool) -> None:
        """Drop what waits; `begins` says that the next byte begins a line."""


class LineFramer:
    """Lines that end with the same bytes, with nothing before or behind them.

    The piece before the first end is dropped, as it may be the tail of a line; so is everything up
    to the next end when a line is longer than `max`.
    """

    def __init__(self, frame: Frame) -> None:
        self._end = frame.end.encode("latin-1")
        self._max = frame.max
        self._strip_cr = not self._end.endswith(b"\r")
        self._check = CHECKS.get(frame.check)
        self._rest = b""
        self.dropped = 0
        self.reset(begins=False)

    def reset(self, *, begins: bool) -> None:
        """Drop what waits; `begins` says that the next byte begins a line."""
        self.dropped += len(self._rest)
        self._rest = b""
        self._skipping = not begins
        self._skipped = 0
        """Bytes of the line that is skipped."""
        self._led, self._longest = False, 0
        """Whether the line before had a leading byte, and the longest without one: one that is no
        longer stands in place of a sign or a digit, and stays."""

    @property
    def pending(self) -> int:
        """Bytes that wait for the rest of their line."""
        return len(self._rest)

    def feed(self, chunk: bytes) -> list[Cut]:
        """Return the lines that became whole; their data ends before CR and the end."""
        data = self._rest + chunk if self._rest else chunk
        pieces = data.split(self._end)
        last = pieces.pop()
        after = len(data)
        margin, limit, strip_cr = len(self._end), self._max, self._strip_cr
        cuts: list[Cut] = []
        append = cuts.append
        if self._skipping and pieces:
            piece = pieces.pop(0)
            self._skip(len(piece), cuts)
            self.dropped += margin
            after -= len(piece) + margin
            self._skipping = False
        for piece in pieces:
            size = len(piece) + margin
            after -= size
            if size > limit + margin:
                self._begin_skip(piece, cuts)
                self._skip(len(piece), cuts)
                self.dropped += margin
                self._skipping = False
                continue
            if strip_cr and piece[-1:] == b"\r":
                piece = piece[:-1]
            if piece and piece[0] in LEADING:
                added = self._led or len(piece) > self._longest
                self._led = True
                if added:
                    piece = piece.lstrip(LEADING)
            else:
                self._led = False
                self._longest = max(self._longest, len(piece))
            if self._check is not None:
                body = self._check.taken_off(piece)
                if body is None:
                    append(Cut(piece[:SHOWN], size, after, "check"))
                    continue
                piece = body
            append(_new(Cut, (piece, size, after, "")))
        self._hold(last, cuts)
        return cuts

    def _hold(self, last: bytes, cuts: list[Cut]) -> None:
        keep = len(self._end) - 1
        if not self._skipping and len(last) > self._max + keep:
            self._begin_skip(last, cuts)
        if self._skipping:
            gone = max(0, len(last) - keep)
            self._skip(gone, cuts)
            last = last[gone:]
        self._rest = last

    def _begin_skip(self, line: bytes, cuts: list[Cut]) -> None:
        cuts.append(Cut(line[: min(SHOWN, self._max)], 0, 0, "too_long"))
        self._skipping = True
        self._skipped = 0

    def _skip(self, count: int, cuts: list[Cut]) -> None:
        before = self._skipped // SKIP_COUNT
        self._skipped += count
        self.dropped += count
        cuts.extend([Cut(b"", 0, 0, "too_long")] * (self._skipped // SKIP_COUNT - before))


class MarkedFramer:
    """Frames with a start character, and perhaps a check byte or check digits.

    A start inside a frame begins it anew: the frame before it was cut off.
    """

    def __init__(self, frame: Frame) -> None:
        self._start = frame.start.encode("latin-1")
        self._end = frame.end.encode("latin-1")
        self._max = frame.max
        self._check = CHECKS.get(frame.check)
        self._tail = 1 if self._check is not None and not self._check.digits else 0
        self._rest = b""
        self.dropped = 0

    def reset(self, *, begins: bool) -> None:
        """Drop what waits; a start character says itself where a frame begins."""
        self.dropped += len(self._rest)
        self._rest = b""

    @property
    def pending(self) -> int:
        """Bytes that wait for the rest of their frame."""
        return len(self._rest)

    def feed(self, chunk: bytes) -> list[Cut]:
        """Return the frames that became whole; their data stands between start and end."""
        data, at = self._rest + chunk, 0
        total = len(data)
        cuts: list[Cut] = []
        while True:
            begin = data.find(self._start, at)
            if begin < 0:
                self.dropped += total - at
                at = total
                break
            self.dropped += begin - at
            at = begin
            stop = data.find(self._end, begin + 1)
            window = min(stop if stop >= 0 else total, begin + 2 + self._max)
            again = data.find(self._start, begin + 1, window)
            if again >= 0:
                cuts.append(
                    Cut(data[begin + 1 : again][:SHOWN], again - begin, total - again, "check")
                )
                at = again
                continue
            behind = (stop if stop >= 0 else total - len(self._end) + 1) - begin - 1
            if behind > self._max:
                first = data[begin + 1 :][: min(SHOWN, self._max)]
                cuts.append(Cut(first, self._max + 1, 0, "too_long"))
                at = begin + 1 + self._max
                continue
            whole = stop + len(self._end) + self._tail
            if stop < 0 or whole > total:
                break
            cut = self._cut(data, begin, stop, whole)
            at = begin + cut.size
            cuts.append(cut)
        self._rest = data[at:]
        return cuts

    def _cut(self, data: bytes, begin: int, stop: int, whole: int) -> Cut:
        inner, after = data[begin + 1 : stop], len(data) - whole
        if self._check is not None and self._tail:
            fits = self._check.text(data[begin + 1 : whole - 1]) == data[whole - 1 : whole]
            if not fits and data[whole - 1 : whole] == self._start:
                return Cut(inner, whole - 1 - begin, after + 1, "check")
        elif self._check is not None:
            body = self._check.taken_off(inner)
            inner, fits = (inner, False) if body is None else (body, True)
        else:
            fits = True
        return Cut(inner, whole - begin, after, "" if fits else "check")


def framer_of(frame: Frame) -> LineFramer | MarkedFramer:
    """Return the state machine for a frame."""
    if frame.start:
        return MarkedFramer(frame)
    return LineFramer(frame)
