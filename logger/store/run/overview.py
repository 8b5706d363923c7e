"""A channel's trace thinned out for drawing, from the pyramid of its blocks.

Reads the coarsest level that still has enough bins for the picture and bins the tail on the way.
Bins start at fixed reading numbers, so a trace that grows keeps its shape.
"""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from logger.store.blocks.codec import Columns, decode
from logger.store.blocks.compaction import columns_of, runs_of
from logger.store.blocks.pyramid import Bins, bins_of, decode_bins, decode_coarse
from logger.store.run.format import BLOCK_READINGS, COARSE, FINE
from logger.store.run.records import Envelope
from logger.store.seals.look import Look
from logger.store.seals.pieces import Block, is_marked, read_blob
from logger.store.seals.scan import scan


class _Part(NamedTuple):
    """Bins, and the number of the first reading of each."""

    first_n: NDArray[np.int64]
    bins: Bins


def overview_of(look: Look, channel: int, low_us: int, high_us: int, points: int) -> Envelope:
    """Return at most `points` bins (one more at the edge) of a channel within bounds.

    A damaged level is made again from the readings; damaged readings become a hole of the channel.

    Parameters
    ----------
    look : Look
        At the run file.
    channel : int
        Number of the channel in the file.
    low_us, high_us : int
        Bounds on the run's axis [us].
    points : int
        Bins wanted, at least 1.
    """
    pieces = look.pieces(channel)
    blocks = [b for b in pieces.blocks if b.t_max_us >= low_us and b.t_min_us <= high_us]
    t_us = pieces.tail["t_us"]
    tail = pieces.tail[(t_us >= low_us) & (t_us <= high_us)]
    total = len(tail) + sum(_share(block, low_us, high_us) for block in blocks)
    size = _level(total, points)
    parts = _block_parts(look, channel, blocks, size)
    for run in runs_of(tail["n"]):
        parts.append(_part(int(tail["n"][run][0]), columns_of(tail[run]), size))
    return _gather([_cut(part, low_us, high_us, size) for part in parts], points, size)


def _share(block: Block, low_us: int, high_us: int) -> float:
    """Return about how many readings of a block lie within bounds."""
    inside_us = min(high_us, block.t_max_us) - max(low_us, block.t_min_us) + 1
    return float(block.rows * inside_us / (block.t_max_us - block.t_min_us + 1))


def _level(total: float, points: int) -> int:
    """Return the largest bin that still gives as many bins as points."""
    for size in (BLOCK_READINGS, COARSE, FINE):
        if total >= size * points:
            return size
    return 1


def _block_parts(look: Look, channel: int, blocks: list[Block], size: int) -> list[_Part]:
    if size == BLOCK_READINGS:
        return [_whole(blocks)] if blocks else []
    if size == COARSE:
        return _coarse(look, channel, blocks) if blocks else []
    found = (_block_part(look, channel, block, size) for block in blocks)
    return [part for part in found if part is not None]


def _block_part(look: Look, channel: int, block: Block, size: int) -> _Part | None:
    """Return a block in bins from its 1/16 level, or from its readings; None where those are
    damaged."""
    blob = read_blob(look.db, look.sealer, channel, block, 1) if size == FINE else None
    if blob is not None:
        bins = decode_bins(blob, size, block.rows)
        return _Part(block.first_n + size * np.arange(len(bins.t_us)), bins)
    blob = read_blob(look.db, look.sealer, channel, block, 0)
    if blob is None:
        look.pieces(channel).lose(block)
        return None
    return _part(block.first_n, decode(blob), size)


def _coarse(look: Look, channel: int, blocks: list[Block]) -> list[_Part]:
    """Return the second level, which stands beside the third, of all blocks at once."""
    found: dict[int, bytes] = dict(
        scan(
            look.db,
            "SELECT first_n, coarse FROM block WHERE channel = ? AND first_n BETWEEN ? AND ?",
            "first_n",
            (channel, blocks[0].first_n, blocks[-1].first_n),
        )
    )
    whole = [b for b in blocks if is_marked(b, found.get(b.first_n))]
    parts = []
    if whole:
        bins = decode_coarse([found[b.first_n] for b in whole], [b.rows for b in whole], COARSE)
        first_n = [np.arange(b.first_n, b.end, COARSE) for b in whole]
        parts.append(_Part(np.concatenate(first_n), bins))
    if len(whole) < len(blocks):
        rest = [b for b in blocks if b not in whole]
        parts += [p for b in rest if (p := _block_part(look, channel, b, COARSE)) is not None]
    return parts


def _whole(blocks: list[Block]) -> _Part:
    """Return the third level, which stands in the blocks' own rows."""
    first_n, count, t_us, _, _, n_bad, low, high, mean = (
        np.array(column) for column in list(zip(*blocks, strict=True))[:9]
    )
    floats = [column.astype(np.float64) for column in (low, high, mean)]
    return _Part(first_n, Bins(t_us, count - n_bad, n_bad, *floats))


def _part(first_n: int, columns: Columns, size: int) -> _Part:
    bins = bins_of(columns, size)
    return _Part(first_n + size * np.arange(len(bins.t_us)), bins)


def _cut(part: _Part, low_us: int, high_us: int, size: int) -> _Part:
    """Leave out bins outside the bounds; the bin that reaches over the lower one stays."""
    t_us = part.bins.t_us
    keep = (t_us >= low_us) & (t_us <= high_us)
    if size > 1:
        keep[:-1] |= (t_us[:-1] < low_us) & (t_us[1:] > low_us)
        if len(t_us):
            keep[-1] |= t_us[-1] < low_us
    return _Part(part.first_n[keep], _pick(part.bins, keep))


def _gather(parts: list[_Part], points: int, size: int) -> Envelope:
    """Merge neighbouring bins until there are few enough."""
    parts = sorted((p for p in parts if len(p.first_n)), key=lambda part: int(part.first_n[0]))
    if not parts:
        none, zero = np.empty(0), np.empty(0, dtype=np.int64)
        return Envelope(t_ns=zero, low=none, high=none, mean=none, n=zero, n_bad=zero, exact=True)
    first_n = np.concatenate([part.first_n for part in parts])
    bins = Bins(*(np.concatenate(column) for column in zip(*(p.bins for p in parts), strict=True)))
    if size == 1 and (np.diff(bins.t_us) < 0).any():
        order = np.argsort(bins.t_us, kind="stable")
        bins = _pick(bins, order)
    step = size
    while len(edges := _edges(first_n // step)) > points + 1:
        step *= 2
    exact = size == 1 and len(edges) == len(first_n)
    if len(edges) < len(first_n):
        bins = _merged(bins, edges)
    return Envelope(
        t_ns=bins.t_us * 1000,
        low=bins.low,
        high=bins.high,
        mean=bins.mean,
        n=bins.n,
        n_bad=bins.n_bad,
        exact=exact,
    )


def _pick(bins: Bins, at: NDArray[Any]) -> Bins:
    t_us, n, n_bad, low, high, mean = bins
    return Bins(t_us[at], n[at], n_bad[at], low[at], high[at], mean[at])


def _edges(group: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.concatenate([[0], np.flatnonzero(np.diff(group)) + 1])


def _merged(bins: Bins, edges: NDArray[np.int64]) -> Bins:
    n = np.add.reduceat(bins.n, edges)
    low = np.fmin.reduceat(bins.low, edges)
    high = np.fmax.reduceat(bins.high, edges)
    weight = bins.n / np.repeat(np.maximum(n, 1), np.diff(edges, append=len(bins.n)))
    share = np.where(bins.n > 0, bins.mean, 0.0) * weight
    mean = np.clip(np.where(n > 0, np.add.reduceat(share, edges), np.nan), low, high)
    n_bad = np.add.reduceat(bins.n_bad, edges)
    return Bins(np.minimum.reduceat(bins.t_us, edges), n, n_bad, low, high, mean)
