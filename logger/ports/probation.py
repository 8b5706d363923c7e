"""Is it the right instrument? What a port says is held back until its lines answer that.

After each opening the bytes wait until the first line fits the line format. When none does, another
format that fits means that another instrument took the name: nothing of it is kept. When no format
fits, the baud rate may be wrong: the bytes are kept, and their lines count as unread. Lines are
read here only until the verdict; from then on bytes are handed on unread.
"""

from typing import Literal, NamedTuple

from logger.model.reading import RawReading
from logger.wire.reader import LineReader
from logger.wire.recognise import best
from logger.wire.shapes.shape import builtin_shapes

Verdict = Literal["waiting", "right", "wrong", "unreadable"]
BAD_LINES = 5
"""Unread lines before a verdict."""
BAD_BYTES = 2000
"""Bytes without a line that fits before a verdict."""
_SAYS_NOTHING = ("bad_line", "too_long", "banner")


class Held(NamedTuple):
    """A chunk that waits."""

    t_ns: int
    data: bytes


class Probation:
    """What one port said since it was opened, and what that says of who is there.

    Parameters
    ----------
    reader : LineReader
        A fresh one of the instrument.
    shape_name : str
        Name of its line format.
    opened_ns : int
        When the port was opened, on the run's axis [ns].
    """

    def __init__(self, reader: LineReader, shape_name: str, opened_ns: int) -> None:
        self._reader = reader
        reader.reset(opened_ns)
        self._shape_name = shape_name
        self.verdict: Verdict = "waiting"
        self.other: str | None = None
        """The format that fits instead, when the verdict is wrong."""
        self._held: list[Held] = []
        self._size = 0

    def take(self, t_ns: int, data: bytes) -> Verdict:
        """Hold a chunk and return the verdict.

        Parameters
        ----------
        t_ns : int
            Arrival on the run's axis [ns].
        data : bytes
            The chunk.
        """
        self._held.append(Held(t_ns, data))
        self._size += len(data)
        outcomes = self._reader.feed(data, t_ns)
        if any(isinstance(o, RawReading) or o.kind not in _SAYS_NOTHING for o in outcomes):
            self.verdict = "right"
        elif self._reader.counters.bad >= BAD_LINES or self._size >= BAD_BYTES:
            others = {n: s for n, s in builtin_shapes().items() if n != self._shape_name}
            self.other = best(b"".join(h.data for h in self._held), others)
            self.verdict = "unreadable" if self.other is None else "wrong"
        return self.verdict

    def released(self) -> list[Held]:
        """Return what was held, once."""
        held, self._held = self._held, []
        return held
