"""Columns of numbers to compact bytes and back, without loss.

Functions of arrays without I/O; the layout is written down in ``format``. Used by ``codec`` and
``pyramid``.
"""

import struct
import threading
import zlib
from functools import cache

import numpy as np
import zstandard
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

_LEVEL = 3
_RAW = 0xFFFFFFFF
"""In place of a length: the plane is not compressed."""
_WORTH_IT = 64
"""Shortest plane that is worth compressing [bytes]."""
FLOAT_DECIMALS = 255
_MAX_DECIMALS = 6
_CHECKED = 1 << 31
"""Set in the number of rows of a blob that has a check sum."""
MOST_ROWS = 1 << 20
"""Most rows of a blob where nothing else bounds them."""
_I32 = np.iinfo(np.int32)
_MAX_COLUMN = 1 << 28


class _Zstd(threading.local):
    """One compressor and decompressor a thread: to make one costs more than to use it."""

    def __init__(self) -> None:
        self.packer = zstandard.ZstdCompressor(level=_LEVEL, write_content_size=True)
        self.checked = zstandard.ZstdCompressor(
            level=_LEVEL, write_content_size=True, write_checksum=True
        )
        self.unpacker = zstandard.ZstdDecompressor()


@cache
def _zstd() -> _Zstd:
    return _Zstd()


def compress(data: bytes, *, checked: bool = False) -> bytes:
    """Return bytes as a zstd frame, with a check sum of its own if asked for."""
    if checked:
        return _zstd().checked.compress(data)
    return _zstd().packer.compress(data)


def decompress(data: bytes) -> bytes:
    """Return the bytes of a zstd frame.

    Raises
    ------
    ValueError
        If it unpacks to more than any column has: a small frame may say gigabytes.
    """
    if zstandard.frame_content_size(data) > _MAX_COLUMN:
        raise ValueError("it unpacks to more than a column holds")
    return _zstd().unpacker.decompress(data, max_output_size=_MAX_COLUMN)


def _planes(values: Ints, dtype: type[np.int32] | type[np.int64]) -> bytes:
    """Return the byte planes of integers, each compressed by itself."""
    cast = np.ascontiguousarray(values, dtype=np.dtype(dtype).newbyteorder("<"))
    planes = cast.view(np.uint8).reshape(len(cast), cast.itemsize).T
    parts: list[bytes] = []
    for plane in planes:
        if (plane == plane[0]).all():
            parts.append(struct.pack("<IB", 0, int(plane[0])))
        else:
            raw = plane.tobytes()
            frame = compress(raw) if len(raw) >= _WORTH_IT else raw
            if len(frame) < len(raw):
                parts.append(struct.pack("<I", len(frame)) + frame)
            else:
                parts.append(struct.pack("<I", _RAW) + raw)
    return b"".join(parts)


def _unplanes(data: bytes, rows: int, dtype: type[np.int32] | type[np.int64]) -> Ints:
    width = np.dtype(dtype).itemsize
    planes = np.empty((rows, width), dtype=np.uint8)
    at = 0
    for plane in range(width):
        (length,) = struct.unpack_from("<I", data, at)
        at += 4
        if length == 0:
            planes[:, plane] = data[at]
            at += 1
        elif length == _RAW:
            planes[:, plane] = np.frombuffer(data, np.uint8, rows, at)
            at += rows
        else:
            planes[:, plane] = np.frombuffer(decompress(data[at : at + length]), np.uint8, rows)
            at += length
    return planes.view(np.dtype(dtype).newbyteorder("<")).ravel().astype(np.int64)


def pack_ints(values: Ints) -> bytes:
    """Return whole numbers as a column, plain or as differences, whichever is shorter.

    Parameters
    ----------
    values : int64 array
        At least one.

    Returns
    -------
    bytes
    """
    first = int(values[0])
    if (values == first).all():
        return struct.pack("<Bq", 0, first)
    steps = np.diff(values, prepend=values[:1])
    found: list[bytes] = []
    for mode, column, head in ((1, values, b""), (2, steps, struct.pack("<q", first))):
        fits = _I32.min <= int(column.min()) and int(column.max()) <= _I32.max
        packed = _planes(column, np.int32 if fits else np.int64)
        found.append(bytes([mode if fits else mode + 2]) + head + packed)
    return min(found, key=len)


def unpack_ints(column: bytes, rows: int) -> Ints:
    """Return the numbers of a column made by `pack_ints`."""
    mode = column[0]
    if mode == 0:
        return np.full(rows, struct.unpack_from("<q", column, 1)[0], dtype=np.int64)
    dtype = np.int32 if mode in (1, 2) else np.int64
    if mode in (1, 3):
        return _unplanes(column[1:], rows, dtype)
    (first,) = struct.unpack_from("<q", column, 1)
    steps = _unplanes(column[9:], rows, dtype)
    steps[0] = first
    return np.cumsum(steps)


def pack_floats(values: Floats) -> bytes:
    """Return floats of any unit as a column, bit for bit."""
    return b"\x05" + compress(np.ascontiguousarray(values, dtype="<f8").tobytes())


def unpack_floats(column: bytes, rows: int) -> Floats:
    """Return the floats of a column made by `pack_floats`."""
    return np.frombuffer(decompress(column[1:]), "<f8", rows).astype(np.float64)


def decimals_of(values: Floats) -> int | None:
    """Return how many decimals all values have, or None if they are no decimals.

    Parameters
    ----------
    values : float64 array
        Finite; any unit.

    Returns
    -------
    int or None
        Smallest d from 0 to 6 with ``round(value * 10**d) / 10**d == value`` for each value, the
        counts within 32 bits.
    """
    for decimals in range(_MAX_DECIMALS + 1):
        scale = 10.0**decimals
        counts = np.rint(values * scale)
        if len(counts) and np.abs(counts).max() >= _I32.max:
            return None
        if (counts / scale == values).all():
            return decimals
    return None


def filled_of(values: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return values of any unit with each missing one filled, and where they are.

    A missing value takes the one before it; at the start the first that is there.
    """
    missing = np.isnan(values)
    if not missing.any():
        return values, missing
    at = np.where(missing, -1, np.arange(len(values)))
    at = np.maximum.accumulate(at)
    present = values[~missing]
    start = present[0] if len(present) else 0.0
    return np.where(at >= 0, values[np.maximum(at, 0)], start), missing


def pack_values(values: Floats) -> list[bytes]:
    """Return values of any unit as columns: kind, numbers, where there is none.

    A missing value is nan.
    """
    filled, missing = filled_of(values)
    bitmap = np.packbits(missing).tobytes() if missing.any() else b""
    decimals = decimals_of(filled)
    if decimals is None:
        return [bytes([FLOAT_DECIMALS]), pack_floats(filled), bitmap]
    counts = np.rint(filled * 10.0**decimals).astype(np.int64)
    return [bytes([decimals]), pack_ints(counts), bitmap]


def unpack_values(columns: list[bytes], rows: int) -> Floats:
    """Return the values of columns made by `pack_values`."""
    head, body, bitmap = columns
    if head[0] == FLOAT_DECIMALS:
        values = unpack_floats(body, rows)
    else:
        values = unpack_ints(body, rows) / 10.0 ** head[0]
    if bitmap:
        missing = np.unpackbits(np.frombuffer(bitmap, np.uint8), count=rows).astype(bool)
        values[missing] = np.nan
    return values


def join(rows: int, columns: list[bytes]) -> bytes:
    """Return columns as one blob."""
    parts: list[bytes] = []
    for column in columns:
        parts += [struct.pack("<I", len(column)), column]
    body = b"".join(parts)
    return struct.pack("<II", rows | _CHECKED, zlib.crc32(body)) + body


def split(blob: bytes, most: int = MOST_ROWS) -> tuple[int, list[bytes]]:
    """Return the number of rows and the columns of a blob.

    Parameters
    ----------
    blob : bytes
        As `join` makes it.
    most : int
        Most rows that it may have.

    Raises
    ------
    ValueError
        If it has more, or its check sum says that it is damaged. A blob of a format 1 file may have
        none.
    """
    (rows,) = struct.unpack_from("<I", blob, 0)
    at, columns = 4, []
    if rows & _CHECKED:
        rows, at = rows & ~_CHECKED, 8
        if struct.unpack_from("<I", blob, 4)[0] != zlib.crc32(memoryview(blob)[8:]):
            raise ValueError("its check sum is wrong")
    if rows > most:
        raise ValueError(f"it has {rows} rows, at most {most} are kept")
    while at < len(blob):
        (length,) = struct.unpack_from("<I", blob, at)
        columns.append(blob[at + 4 : at + 4 + length])
        at += 4 + length
    return rows, columns
