"""Plain rows of a large CSV file, a megabyte at a time: numbers without quotes, parsed at once.

Gives the lines of a file; a stretch of them that is plain beyond doubt is parsed by Arrow, checked
whole and handed over, and never becomes lines. Whatever is not, even a wrong cell, is left to the
reader of ``table`` and ``columns``, which says what is wrong and where. Used by ``streaming``.
"""

import codecs
import io
import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from logger.store.exchange.cells import MAX_TIME_S

FIRST_BYTES = 1 << 16
PIECE_BYTES = 1 << 20
"""Bytes that are read at a time; the first piece, with the head, is always read as lines."""
_PLAIN = re.compile(rb"[-0-9.,eE\r\n]*")
_LONG = re.compile(rb"[eE][-+]?[0-9]{4}|[^,\r\n]{61}")
"""An exponent or number of more digits than any reading: for the slow reader to judge."""
_EMPTY = re.compile(rb"(?:\A|\n)\r?\n")

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Look = Callable[[Ints, Sequence[Floats]], bool]
"""Given times [ns] and values by column (nan where the cell is empty); takes all or none."""


class LineSource:
    """The lines of an open file, less those that `look` took.

    Parameters
    ----------
    raw : binary file
        At its beginning.
    longest : int
        Most characters of a line; a longer one is given in part.
    told : callable or None
        Told the bytes read so far.
    """

    def __init__(self, raw: BinaryIO, longest: int, told: Callable[[int], None] | None) -> None:
        self._raw, self._longest, self._told = raw, longest, told
        self._columns = 0
        self._look: Look | None = None

    def offer(self, columns: int, look: Look) -> None:
        """Offer what follows in stretches: times in seconds, and a number of values behind each.

        Parameters
        ----------
        columns : int
            Values in each row.
        look : callable
            Takes a stretch whole, or leaves it.
        """
        self._columns, self._look = columns, look

    def __iter__(self) -> Iterator[str]:
        first = True
        for piece in self._pieces():
            if self._look is not None and self._taken(piece, self._look):
                continue
            text = piece.decode("utf-8-sig" if first else "utf-8")
            first = False
            yield from io.StringIO(text, newline="")

    def _pieces(self) -> Iterator[bytes]:
        """Yield the file in pieces that end with a line, unless a line is too long for any."""
        left, size, most = b"", FIRST_BYTES, 4 * self._longest + 4
        while piece := self._raw.read(size):
            size = PIECE_BYTES
            data = left + piece
            end = max(data.rfind(b"\n"), data.rfind(b"\r", 0, -1)) + 1
            if not end and len(data) > most:
                yield codecs.getincrementaldecoder("utf-8")().decode(data).encode()
                return
            if end:
                yield data[:end]
            left = data[end:]
            if self._told is not None:
                self._told(self._raw.tell())
        if left:
            yield left

    def _taken(self, piece: bytes, look: Look) -> bool:
        """Return whether a piece was plain, and taken."""
        plain = (
            _PLAIN.fullmatch(piece) is not None
            and _LONG.search(piece) is None
            and _EMPTY.search(piece) is None
            and piece.count(b"\r") == piece.count(b"\r\n")
        )
        found = _numbers(piece, self._columns) if plain else None
        return found is not None and look(*found)


def _numbers(piece: bytes, columns: int) -> tuple[Ints, list[Floats]] | None:
    """Return times [ns] and values of plain rows, or None where Arrow has any doubt."""
    import pyarrow as pa
    import pyarrow.csv as pc

    names = [str(n) for n in range(columns + 1)]
    types = dict.fromkeys(names, pa.float64()) | {"0": pa.decimal128(19, 9)}
    try:
        table = pc.read_csv(
            pa.BufferReader(piece),
            read_options=pc.ReadOptions(
                column_names=names, use_threads=False, block_size=len(piece) + 1
            ),
            parse_options=pc.ParseOptions(quote_char=False, ignore_empty_lines=False),
            convert_options=pc.ConvertOptions(
                column_types=types, null_values=[""], strings_can_be_null=False
            ),
        ).combine_chunks()
    except (pa.ArrowException, ValueError):
        return None
    rows = piece.count(b"\n") + (not piece.endswith(b"\n"))
    if len(table) != rows or table.column(0).null_count:
        return None
    t_ns = _nanoseconds(table.column(0).chunk(0))
    values = [_floats(table.column(n)) for n in range(1, columns + 1)]
    if t_ns is None or any(one is None for one in values):
        return None
    return t_ns, [one for one in values if one is not None]


def _nanoseconds(column: Any) -> Ints | None:
    """Return decimals of nine places as whole numbers; None beyond any time."""
    words = np.frombuffer(column.buffers()[1], dtype=np.int64).reshape(-1, 2)
    words = words[column.offset : column.offset + len(column)]
    low, high = words[:, 0], words[:, 1]
    small = (high == (low >> 63)).all() and (np.abs(low) <= MAX_TIME_S * 1_000_000_000).all()
    return low if small else None


def _floats(column: Any) -> Floats | None:
    """Return values with nan for none; None if one is no plain number."""
    found: Floats = column.chunk(0).to_numpy(zero_copy_only=False).astype(np.float64) + 0.0
    plain = np.isfinite(found).sum() == len(column) - column.null_count
    return found if plain else None
