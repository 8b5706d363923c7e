"""Readings, raw chunks and derived series to compact blobs and back, without loss.

Functions of arrays without I/O; the layout is written down in ``format``. Used by ``compaction`` on
the way in and by ``view`` on the way out. A derived series was worked out when the run ended and is
kept in the results, which are JSON: one value a reading, in the order in which `RunView.readings`
gives them, as base64.
"""

import base64
import binascii
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from logger.store.blocks.packing import (
    MOST_ROWS,
    Floats,
    Ints,
    compress,
    decompress,
    join,
    pack_ints,
    pack_values,
    split,
    unpack_ints,
    unpack_values,
)

WITHOUT_LAG = "without lag"
"""Kind of a derived series: values with the lag of the probe taken off."""


class Columns(NamedTuple):
    """Readings in the order in which they were stored."""

    t_us: Ints
    value: Floats
    """nan where there is none."""
    flags: Ints
    cold_junction: Floats | None = None


def encode(columns: Columns) -> bytes:
    """Return readings as the blob of a block."""
    parts = [pack_ints(columns.t_us), *pack_values(columns.value), pack_ints(columns.flags)]
    if columns.cold_junction is not None and not np.isnan(columns.cold_junction).all():
        parts += pack_values(columns.cold_junction)
    return join(len(columns.t_us), parts)


def decode(blob: bytes) -> Columns:
    """Return the readings of a block."""
    rows, parts = split(blob)
    return Columns(
        unpack_ints(parts[0], rows),
        unpack_values(parts[1:4], rows),
        unpack_ints(parts[4], rows),
        unpack_values(parts[5:8], rows) if len(parts) > 5 else None,
    )


def encode_values(values: Floats) -> bytes:
    """Return values (any unit) alone, nan where there is none, as a blob with a check sum."""
    return join(len(values), pack_values(values))


def decode_values(blob: bytes, most: int) -> Floats:
    """Return the values (any unit) of a blob made by `encode_values`, at most so many."""
    rows, parts = split(blob, most)
    return unpack_values(parts, rows)


def encode_chunks(rows: list[tuple[int, int, int, bytes]]) -> bytes:
    """Return raw chunks (instrument number, t_ns, kind, bytes) as one blob; their order is kept."""
    instruments, times, kinds = (
        np.array([row[column] for row in rows], dtype=np.int64) for column in range(3)
    )
    lengths = np.array([len(row[3]) for row in rows], dtype=np.int64)
    order = np.argsort(instruments, kind="stable").tolist()
    body = compress(b"".join(rows[at][3] for at in order))
    columns = [pack_ints(c) for c in (times, instruments, kinds, lengths)]
    return join(len(rows), [*columns, body])


def decode_chunks(blob: bytes) -> list[tuple[int, int, int, bytes]]:
    """Return the raw chunks of a blob made by `encode_chunks`."""
    count, parts = split(blob)
    times, instruments, kinds, lengths = (unpack_ints(part, count) for part in parts[:4])
    body = decompress(parts[4])
    data = [b""] * count
    at = 0
    for place in np.argsort(instruments, kind="stable").tolist():
        length = int(lengths[place])
        data[place] = body[at : at + length]
        at += length
    return list(zip(instruments.tolist(), times.tolist(), kinds.tolist(), data, strict=True))


def packed(values: NDArray[np.float64]) -> str:
    """Return a series as text.

    Parameters
    ----------
    values : ndarray
        At least one, in any one unit; shape (n,); NaN for none.
    """
    return base64.b64encode(encode_values(values)).decode("ascii")


def unpacked(block: str, readings: int) -> NDArray[np.float64]:
    """Return a series of so many readings from its text; shape (n,).

    Raises
    ------
    ValueError
        If it is damaged.
    """
    try:
        values = decode_values(base64.b64decode(block, validate=True), max(readings, MOST_ROWS))
    except binascii.Error as cause:
        raise ValueError("a derived series does not read") from cause
    if values.size != readings:
        raise ValueError(f"a derived series has {values.size} values, not {readings}")
    return values
