"""Bytes to frames of a fixed size, each with a start byte and perhaps a check byte.

Pure. Only what passes its check, or has a decimal digit in each half byte that must hold one, is a
frame; else the next start byte is looked for.
"""

from logger.wire.checks import CHECKS
from logger.wire.framing import SHOWN, Cut
from logger.wire.shapes.shape import Shape


class BinaryFramer:
    """Finds the frames of one line format."""

    def __init__(self, shape: Shape) -> None:
        self._start = shape.frame.start.encode("latin-1")
        self._size = shape.frame.size
        self._check = CHECKS.get(shape.frame.check)
        self._digits = [
            slice(field.at, field.at + field.bytes_)
            for field in shape.channel.values()
            if field.as_ == "bcd" and field.at is not None
        ]
        self._rest = b""
        self._in_garbage = False
        self.dropped = 0

    def reset(self, *, begins: bool) -> None:
        """Drop what waits; a start byte says where a frame begins."""
        self.dropped += len(self._rest)
        self._rest = b""
        self._in_garbage = False

    @property
    def pending(self) -> int:
        """Bytes that wait for the rest of their frame."""
        return len(self._rest)

    def feed(self, chunk: bytes) -> list[Cut]:
        """Return the frames that became whole; a stretch that is none is one cut with a fault."""
        data, at, size = self._rest + chunk, 0, self._size
        cuts: list[Cut] = []
        while len(data) - at >= size:
            frame = data[at : at + size]
            if frame.startswith(self._start) and self._fits(frame):
                cuts.append(Cut(frame, size, len(data) - at - size, ""))
                self._in_garbage = False
                at += size
                continue
            if not self._in_garbage:
                cuts.append(Cut(frame[:SHOWN], 0, 0, "check"))
            self._in_garbage = True
            self.dropped += 1
            at += 1
        self._rest = data[at:]
        return cuts

    def _fits(self, frame: bytes) -> bool:
        if self._check is not None and self._check.of(frame[1:-1]) != frame[-1]:
            return False
        halves = [half for part in self._digits for half in frame[part].hex()]
        return all(half.isdigit() for half in halves)
