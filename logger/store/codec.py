"""Columns of readings and raw bytes to compact blobs and back, without loss.

Functions of arrays without I/O; the layout is written down in ``format``. Used by ``compaction`` on
the way in and by ``view`` on the way out.
"""

import struct
import threading
import zlib
from functools import cache
from typing import NamedTuple

import numpy as np
import zstandard
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

_LEVEL = 3
_RAW = 0xFFFFFFFF
"""In place of a length: the plane is not compressed."""
_COARSE = np.dtype(
    [("t_us", "<i8"), ("n_bad", "<i4"), ("low", "<f8"), ("high", "<f8"), ("mean", "<f8")]
)
"""A bin of the 1/256 level."""
_WORTH_IT = 64
"""Shortest plane that is worth compressing [bytes]."""
_FLOAT_DECIMALS = 255
_MAX_DECIMALS = 6
_CHECKED = 1 << 31
"""Set in the number of rows of a blob that has a check sum."""
_I32 = np.iinfo(np.int32)
_MAX_COLUMN = 1 << 30


class Columns(NamedTuple):
    """Readings in the order in which they were stored."""

    t_us: Ints
    value: Floats
    """nan where there is none."""
    flags: Ints
    cold_junction: Floats | None = None


class Bins(NamedTuple):
    """A level of the pyramid."""

    t_us: Ints
    n: Ints
    n_bad: Ints
    low: Floats
    high: Floats
    mean: Floats


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


def _compress(data: bytes) -> bytes:
    return _zstd().packer.compress(data)


def _decompress(data: bytes) -> bytes:
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
            frame = _compress(raw) if len(raw) >= _WORTH_IT else raw
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
            planes[:, plane] = np.frombuffer(_decompress(data[at : at + length]), np.uint8, rows)
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


def _pack_floats(values: Floats) -> bytes:
    return b"\x05" + _compress(np.ascontiguousarray(values, dtype="<f8").tobytes())


def _unpack_floats(column: bytes, rows: int) -> Floats:
    return np.frombuffer(_decompress(column[1:]), "<f8", rows).astype(np.float64)


def decimals_of(values: Floats) -> int | None:
    """Return how many decimals all values have, or None if they are no decimals.

    Parameters
    ----------
    values : float64 array
        Finite.

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


def _filled(values: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return values with each missing one replaced by the one before it, and where they are."""
    missing = np.isnan(values)
    if not missing.any():
        return values, missing
    at = np.where(missing, -1, np.arange(len(values)))
    at = np.maximum.accumulate(at)
    present = values[~missing]
    start = present[0] if len(present) else 0.0
    return np.where(at >= 0, values[np.maximum(at, 0)], start), missing


def _pack_values(values: Floats) -> list[bytes]:
    filled, missing = _filled(values)
    bitmap = np.packbits(missing).tobytes() if missing.any() else b""
    decimals = decimals_of(filled)
    if decimals is None:
        return [bytes([_FLOAT_DECIMALS]), _pack_floats(filled), bitmap]
    counts = np.rint(filled * 10.0**decimals).astype(np.int64)
    return [bytes([decimals]), pack_ints(counts), bitmap]


def _unpack_values(columns: list[bytes], rows: int) -> Floats:
    head, body, bitmap = columns
    if head[0] == _FLOAT_DECIMALS:
        values = _unpack_floats(body, rows)
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


def split(blob: bytes) -> tuple[int, list[bytes]]:
    """Return the number of rows and the columns of a blob.

    Raises
    ------
    ValueError
        If its check sum says that it is damaged. Blobs of the first days have none.
    """
    (rows,) = struct.unpack_from("<I", blob, 0)
    at, columns = 4, []
    if rows & _CHECKED:
        rows, at = rows & ~_CHECKED, 8
        if struct.unpack_from("<I", blob, 4)[0] != zlib.crc32(memoryview(blob)[8:]):
            raise ValueError("its check sum is wrong")
    while at < len(blob):
        (length,) = struct.unpack_from("<I", blob, at)
        columns.append(blob[at + 4 : at + 4 + length])
        at += 4 + length
    return rows, columns


def encode(columns: Columns) -> bytes:
    """Return readings as the blob of a block."""
    parts = [pack_ints(columns.t_us), *_pack_values(columns.value), pack_ints(columns.flags)]
    if columns.cold_junction is not None and not np.isnan(columns.cold_junction).all():
        parts += _pack_values(columns.cold_junction)
    return join(len(columns.t_us), parts)


def decode(blob: bytes) -> Columns:
    """Return the readings of a block."""
    rows, parts = split(blob)
    return Columns(
        unpack_ints(parts[0], rows),
        _unpack_values(parts[1:4], rows),
        unpack_ints(parts[4], rows),
        _unpack_values(parts[5:8], rows) if len(parts) > 5 else None,
    )


def encode_values(values: Floats) -> bytes:
    """Return values alone, nan where there is none, as a blob with a check sum."""
    return join(len(values), _pack_values(values))


def decode_values(blob: bytes) -> Floats:
    """Return the values of a blob made by `encode_values`."""
    rows, parts = split(blob)
    return _unpack_values(parts, rows)


def bins_of(columns: Columns, size: int) -> Bins:
    """Return readings gathered in bins of `size`, in their order.

    Parameters
    ----------
    columns : Columns
        At least one reading.
    size : int
        Readings in a bin; the last may hold fewer.

    Returns
    -------
    Bins
        ``n`` counts the readings with a value, ``n_bad`` those without; low, high and mean are nan
        in a bin without any.
    """
    edges = np.arange(0, len(columns.t_us), size)
    missing = np.isnan(columns.value)
    n_bad = np.add.reduceat(missing.astype(np.int64), edges)
    n = np.diff(edges, append=len(columns.t_us)) - n_bad
    low = np.minimum.reduceat(np.where(missing, np.inf, columns.value), edges)
    high = np.maximum.reduceat(np.where(missing, -np.inf, columns.value), edges)
    # Divided before it is summed: a sum of the largest floats would not be one.
    share = np.where(missing, 0.0, columns.value) / np.repeat(np.maximum(n, 1), n + n_bad)
    empty = n == 0
    low[empty] = high[empty] = np.nan
    mean = np.clip(np.where(empty, np.nan, np.add.reduceat(share, edges)), low, high)
    return Bins(columns.t_us[edges], n, n_bad, low, high, mean)


def encode_bins(columns: Columns, size: int) -> bytes:
    """Return the pyramid level of a block with bins of `size` readings."""
    bins = bins_of(columns, size)
    parts = [pack_ints(bins.t_us), pack_ints(bins.n_bad)]
    filled, missing = _filled(columns.value)
    decimals = decimals_of(filled)
    low, high = np.nan_to_num(bins.low), np.nan_to_num(bins.high)
    if decimals is None:
        mean = np.nan_to_num(bins.mean)
        parts += [bytes([_FLOAT_DECIMALS]), *(_pack_floats(c) for c in (low, high, mean))]
        return join(len(bins.t_us), parts)
    scale = 10.0**decimals
    counts = np.where(missing, 0, np.rint(filled * scale)).astype(np.int64)
    total = np.add.reduceat(counts, np.arange(0, len(counts), size))
    low_counts = np.rint(low * scale).astype(np.int64)
    high_counts = np.rint(high * scale).astype(np.int64)
    parts += [
        bytes([decimals]),
        pack_ints(low_counts),
        pack_ints(high_counts - low_counts),
        pack_ints(total - bins.n * low_counts),
    ]
    return join(len(bins.t_us), parts)


def decode_bins(blob: bytes, size: int, count: int) -> Bins:
    """Return a pyramid level of a block of `count` readings."""
    rows, parts = split(blob)
    t_us, n_bad = unpack_ints(parts[0], rows), unpack_ints(parts[1], rows)
    n = np.diff(np.arange(rows) * size, append=count) - n_bad
    if parts[2][0] == _FLOAT_DECIMALS:
        low, high, mean = (_unpack_floats(part, rows) for part in parts[3:6])
    else:
        scale = 10.0 ** parts[2][0]
        lows, spans, sums = (unpack_ints(part, rows) for part in parts[3:6])
        low, high = lows / scale, (lows + spans) / scale
        mean = np.clip((lows + sums / np.maximum(n, 1)) / scale, low, high)
    for column in (low, high, mean):
        column[n == 0] = np.nan
    return Bins(t_us, n, n_bad, low, high, mean)


def encode_coarse(columns: Columns, size: int) -> bytes:
    """Return a pyramid level as records, which decode much faster than columns."""
    bins = bins_of(columns, size)
    rows = np.empty(len(bins.t_us), dtype=_COARSE)
    for name in _COARSE.names or ():
        rows[name] = getattr(bins, name)
    return _zstd().checked.compress(rows.view(np.uint8).reshape(len(rows), -1).T.tobytes())


def decode_coarse(blobs: list[bytes], counts: list[int], size: int) -> Bins:
    """Return the records of blocks of so many readings as one level."""
    parts = []
    for blob in blobs:
        data = np.frombuffer(_decompress(blob), np.uint8)
        parts.append(data.reshape(_COARSE.itemsize, -1).T.tobytes())
    rows = np.frombuffer(b"".join(parts), dtype=_COARSE)
    lengths = [
        min(size, count - start) for count in counts for start in range(0, max(count, 1), size)
    ]
    n_bad = rows["n_bad"].astype(np.int64)
    return Bins(
        rows["t_us"].astype(np.int64),
        np.array(lengths, dtype=np.int64) - n_bad,
        n_bad,
        *(rows[name].astype(np.float64) for name in ("low", "high", "mean")),
    )


def encode_chunks(rows: list[tuple[int, int, int, bytes]]) -> bytes:
    """Return raw chunks (instrument number, t_ns, kind, bytes) as one blob; their order is kept."""
    instruments, times, kinds = (
        np.array([row[column] for row in rows], dtype=np.int64) for column in range(3)
    )
    lengths = np.array([len(row[3]) for row in rows], dtype=np.int64)
    order = np.argsort(instruments, kind="stable").tolist()
    body = _compress(b"".join(rows[at][3] for at in order))
    columns = [pack_ints(c) for c in (times, instruments, kinds, lengths)]
    return join(len(rows), [*columns, body])


def decode_chunks(blob: bytes) -> list[tuple[int, int, int, bytes]]:
    """Return the raw chunks of a blob made by `encode_chunks`."""
    count, parts = split(blob)
    times, instruments, kinds, lengths = (unpack_ints(part, count) for part in parts[:4])
    body = _decompress(parts[4])
    data = [b""] * count
    at = 0
    for place in np.argsort(instruments, kind="stable").tolist():
        length = int(lengths[place])
        data[place] = body[at : at + length]
        at += length
    return list(zip(instruments.tolist(), times.tolist(), kinds.tolist(), data, strict=True))
