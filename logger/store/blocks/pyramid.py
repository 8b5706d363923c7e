"""The pyramid over a block: bins with lowest, highest and mean, to compact blobs and back.

Functions of arrays without I/O; the layout is written down in ``format``. Used by ``compaction`` on
the way in and by ``overview`` on the way out.
"""

from typing import NamedTuple

import numpy as np

from logger.store.blocks.codec import Columns
from logger.store.blocks.packing import (
    FLOAT_DECIMALS,
    Floats,
    Ints,
    compress,
    decimals_of,
    decompress,
    filled_of,
    join,
    pack_floats,
    pack_ints,
    split,
    unpack_floats,
    unpack_ints,
)

_COARSE = np.dtype(
    [("t_us", "<i8"), ("n_bad", "<i4"), ("low", "<f8"), ("high", "<f8"), ("mean", "<f8")]
)
"""A bin of the 1/256 level."""


class Bins(NamedTuple):
    """A level of the pyramid."""

    t_us: Ints
    n: Ints
    n_bad: Ints
    low: Floats
    high: Floats
    mean: Floats


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
    filled, missing = filled_of(columns.value)
    decimals = decimals_of(filled)
    low, high = np.nan_to_num(bins.low), np.nan_to_num(bins.high)
    if decimals is None:
        mean = np.nan_to_num(bins.mean)
        parts += [bytes([FLOAT_DECIMALS]), *(pack_floats(c) for c in (low, high, mean))]
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
    """Return a pyramid level of a block of `count` readings.

    Parameters
    ----------
    blob : bytes
        As `encode_bins` made it.
    size : int
        Readings in a bin.
    count : int
        Readings in the block; the last bin may hold fewer.
    """
    rows, parts = split(blob)
    t_us, n_bad = unpack_ints(parts[0], rows), unpack_ints(parts[1], rows)
    n = np.diff(np.arange(rows) * size, append=count) - n_bad
    if parts[2][0] == FLOAT_DECIMALS:
        low, high, mean = (unpack_floats(part, rows) for part in parts[3:6])
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
    return compress(rows.view(np.uint8).reshape(len(rows), -1).T.tobytes(), checked=True)


def decode_coarse(blobs: list[bytes], counts: list[int], size: int) -> Bins:
    """Return the records of blocks of so many readings as one level.

    Parameters
    ----------
    blobs : list of bytes
        A record for each block, in their order.
    counts : list of int
        Readings in each block.
    size : int
        Readings in a bin.
    """
    parts = []
    for blob in blobs:
        data = np.frombuffer(decompress(blob), np.uint8)
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
