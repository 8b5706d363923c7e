"""Tail rows and raw chunks to compressed blocks: what is due, and each step as one transaction.

Runs on the writer's connection inside a transaction that the writer opened. ``saving`` keeps the
account of what waits, ``writer`` asks it what is due. Takes and gives SQL rows; the bytes are made
by ``codec``. Rows and blocks are checked before they are packed again: damage stays a hole in the
numbers, and is never sealed as if it were whole.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import apsw
import numpy as np
from numpy.typing import NDArray

from logger.store.blocks.codec import Columns, decode, encode, encode_chunks
from logger.store.blocks.pyramid import bins_of, encode_bins, encode_coarse
from logger.store.run.format import BLOCK_READINGS, CHUNK_BLOCK_BYTES, COARSE, FINE, TAIL_NS
from logger.store.seals.digest import Sealer, digest, packed_rows
from logger.store.seals.pieces import (
    Block,
    blob_seal,
    block_fields,
    read_blob,
    read_pieces,
    whole_rows,
)
from logger.store.seals.scan import scan


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """What is to be compacted: rows of each channel by number, and whether the raw chunks are."""

    rows: Mapping[int, int]
    chunks: bool


class Tail:
    """What waits for compaction."""

    def __init__(self) -> None:
        self.count: dict[int, int] = {}
        """Tail rows by channel number."""
        self.since_us: dict[int, int] = {}
        """Time of the first of them."""
        self.next_n: dict[int, int] = {}
        self.last_us = 0
        self.next_chunk = 0
        self.chunks = 0
        self.chunk_bytes = 0
        self.chunk_since_ns = 0
        self.chunk_last_ns = 0

    def due(self, *, force: bool = False) -> Due | None:
        """Return what has waited long enough, all with `force`; None when there is nothing."""
        rows: dict[int, int] = {}
        for number, count in self.count.items():
            old = self.last_us - self.since_us[number] >= TAIL_NS // 1000
            take = count if force or old else count // BLOCK_READINGS * BLOCK_READINGS
            if take:
                rows[number] = take
        waited_ns = self.chunk_last_ns - self.chunk_since_ns
        due = force or self.chunk_bytes >= CHUNK_BLOCK_BYTES or waited_ns >= TAIL_NS
        chunks = self.chunks > 0 and due
        return Due(rows=rows, chunks=chunks) if rows or chunks else None

    def compacted(self, due: Due, since_us: Mapping[int, int]) -> None:
        """Take off what was compacted; `since_us` is where the rows of a channel now begin."""
        for number, first_us in since_us.items():
            self.count[number] -= due.rows[number]
            self.since_us[number] = first_us
        if due.chunks:
            self.chunks = self.chunk_bytes = 0


def columns_of(rows: NDArray[Any]) -> Columns:
    """Return tail records (`digest.TAIL_TYPE`, times in us, values in any unit) as columns."""
    cold = rows["cold"]
    return Columns(
        rows["t_us"].astype(np.int64),
        rows["value"].astype(np.float64),
        rows["flags"].astype(np.int64),
        None if np.isnan(cold).all() else cold.astype(np.float64),
    )


def runs_of(n: NDArray[np.int64]) -> list[slice]:
    """Return the runs of numbers without a hole."""
    edges = [0, *(np.flatnonzero(np.diff(n) != 1) + 1).tolist(), len(n)]
    return [slice(*ends) for ends in pairwise(edges) if ends[0] < ends[1]]


def compact(db: apsw.Connection, sealer: Sealer, due: Due) -> dict[int, int]:
    """Turn what is due into blocks.

    Parameters
    ----------
    db : apsw.Connection
        The writer's.
    sealer : Sealer
        Of the run.
    due : Due
        What has waited long enough.

    Returns
    -------
    dict
        The time of the first row each channel has left [us].
    """
    since_us: dict[int, int] = {}
    for channel, count in due.rows.items():
        _compact_tail(db, sealer, channel, count)
        first = "SELECT min(t_us) FROM tail WHERE channel = ?"
        since_us[channel] = db.execute(first, (channel,)).get or 0
    if due.chunks:
        _compact_chunks(db, sealer)
    return since_us


def _compact_tail(db: apsw.Connection, sealer: Sealer, channel: int, count: int) -> None:
    """Turn the first `count` tail rows of a channel into blocks and delete them."""
    select = "SELECT n, t_us, value, flags, cold_junction_c, seal FROM tail WHERE channel = ?"
    rows = scan(db, select, "n", (channel,))
    if not rows:
        return
    last = rows[min(count, len(rows)) - 1][0]
    whole = whole_rows(sealer, channel, rows)
    here = db.execute(
        "SELECT coalesce(max(first_n + count), 0) FROM block WHERE channel = ?", (channel,)
    ).get
    whole = whole[whole["n"] >= here]
    taken = whole[whole["n"] <= last]
    for run in runs_of(taken["n"]):
        part = taken[run]
        for start in range(0, len(part), BLOCK_READINGS):
            block = part[start : start + BLOCK_READINGS]
            _insert_block(db, sealer, channel, int(block["n"][0]), columns_of(block))
    db.execute("DELETE FROM tail WHERE channel = ? AND n <= ?", (channel, last))
    if not any(row[0] == last and row[5] is not None for row in rows):
        _seal_rest(db, sealer, channel, [row for row in rows if row[0] > last], whole)


def _seal_rest(
    db: apsw.Connection,
    sealer: Sealer,
    channel: int,
    rows: list[tuple[Any, ...]],
    whole: NDArray[Any],
) -> None:
    """Seal what is left of a group of rows that was cut in two, if it was whole."""
    end = next((row[0] for row in rows if row[5] is not None), None)
    if end is None:
        return
    group = whole[(whole["n"] >= rows[0][0]) & (whole["n"] <= end)]
    if len(group):
        db.execute(
            "UPDATE tail SET seal = ? WHERE channel = ? AND n = ?",
            (sealer.group(channel, group.tobytes()), channel, end),
        )


def _insert_block(
    db: apsw.Connection, sealer: Sealer, channel: int, first_n: int, columns: Columns
) -> None:
    count = len(columns.t_us)
    whole = bins_of(columns, max(count, 1))
    blobs = []
    for place, data in enumerate((encode(columns), encode_bins(columns, FINE))):
        sealed = blob_seal(sealer, channel, first_n, place, data)
        db.execute("INSERT INTO blob (data, seal) VALUES (?, ?)", (data, sealed))
        blobs.append(db.last_insert_rowid())
    coarse = encode_coarse(columns, COARSE)
    n_bad = int(whole.n_bad[0])
    summary: tuple[float | None, float | None, float | None] = (None, None, None)
    if n_bad < count:
        summary = (float(whole.low[0]), float(whole.high[0]), float(whole.mean[0]))
    block = Block(
        first_n=first_n,
        rows=count,
        t_first_us=int(columns.t_us[0]),
        t_min_us=int(columns.t_us.min()),
        t_max_us=int(columns.t_us.max()),
        n_bad=n_bad,
        low=summary[0],
        high=summary[1],
        mean=summary[2],
        columns=blobs[0],
        fine=blobs[1],
        mark=digest(coarse),
    )
    seal = sealer.row("block", *block_fields(channel, block))
    db.execute(
        "INSERT INTO block VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (channel, *block[:11], coarse, block.mark, seal),
    )


def _compact_chunks(db: apsw.Connection, sealer: Sealer) -> None:
    """Turn all raw chunks that wait into blocks of about 256 KiB and delete them."""
    rows = scan(db, "SELECT n, instrument, t_ns, kind, data, seal FROM chunk", "n")
    part: list[tuple[Any, ...]] = []
    size = 0
    for row in rows:
        if sealer.row("chunk", *row[:5]) != row[5]:
            continue
        if part and row[0] != part[-1][0] + 1:
            _insert_chunk_block(db, sealer, part, size)
            part, size = [], 0
        part.append(row[:5])
        size += len(row[4])
        if size >= CHUNK_BLOCK_BYTES:
            _insert_chunk_block(db, sealer, part, size)
            part, size = [], 0
    if part:
        _insert_chunk_block(db, sealer, part, size)
    if rows:
        db.execute("DELETE FROM chunk WHERE n <= ?", (rows[-1][0],))


def _insert_chunk_block(
    db: apsw.Connection, sealer: Sealer, part: list[tuple[Any, ...]], size: int
) -> None:
    times = [row[2] for row in part]
    data = encode_chunks([row[1:] for row in part])
    row = (part[0][0], len(part), min(times), max(times), size, data)
    db.execute(
        "INSERT INTO chunk_block VALUES (?, ?, ?, ?, ?, ?, ?)",
        (*row, sealer.row("chunk_block", *row)),
    )


def repack(db: apsw.Connection, sealer: Sealer, channel: int) -> None:
    """Merge short blocks of a channel into full ones; damaged blocks stay as they are.

    Parameters
    ----------
    db : apsw.Connection
        The writer's.
    sealer : Sealer
        Of the run.
    channel : int
        Number of the channel.
    """
    blocks = read_pieces(db, sealer, channel, None).blocks
    if not any(block.rows < BLOCK_READINGS for block in blocks[:-1]):
        return
    waiting: list[tuple[Block, Columns]] = []
    for block in blocks:
        follows = not waiting or block.first_n == waiting[-1][0].end
        if not follows:
            _merge_blocks(db, sealer, channel, waiting)
            waiting = []
        if not waiting and block.rows == BLOCK_READINGS:
            continue  # full ones ahead of the first short one stay
        blob = read_blob(db, sealer, channel, block, 0)
        if blob is None:
            _merge_blocks(db, sealer, channel, waiting)
            waiting = []
        else:
            waiting.append((block, decode(blob)))
    _merge_blocks(db, sealer, channel, waiting)


def _merge_blocks(
    db: apsw.Connection, sealer: Sealer, channel: int, blocks: list[tuple[Block, Columns]]
) -> None:
    """Replace blocks that follow each other by full ones of the same readings."""
    if len(blocks) < 2:
        return
    for block, _ in blocks:
        db.execute("DELETE FROM blob WHERE id IN (?, ?)", (block.columns, block.fine))
        db.execute("DELETE FROM block WHERE channel = ? AND first_n = ?", (channel, block.first_n))
    merged, first_n = merge([columns for _, columns in blocks]), blocks[0][0].first_n
    for start in range(0, len(merged.t_us), BLOCK_READINGS):
        cut = slice(start, start + BLOCK_READINGS)
        cold = None if merged.cold_junction is None else merged.cold_junction[cut]
        part = Columns(merged.t_us[cut], merged.value[cut], merged.flags[cut], cold)
        _insert_block(db, sealer, channel, first_n + start, part)


def merge(parts: list[Columns]) -> Columns:
    """Return columns one behind the other."""
    if not parts:
        return columns_of(packed_rows([]))
    cold = None
    if any(part.cold_junction is not None for part in parts):
        cold = np.concatenate(
            [
                np.full(len(p.t_us), np.nan) if p.cold_junction is None else p.cold_junction
                for p in parts
            ]
        )
    return Columns(
        np.concatenate([part.t_us for part in parts]),
        np.concatenate([part.value for part in parts]),
        np.concatenate([part.flags for part in parts]),
        cold,
    )
