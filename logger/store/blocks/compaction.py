"""Tail rows and raw chunks to compressed blocks: what is due, and each step as one transaction.

Runs on the writer's connection inside a transaction that the writer opened. ``saving`` keeps the
account of what waits, ``writer`` asks it what is due. Takes and gives SQL rows; the bytes are made
by ``codec``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import apsw
import numpy as np

from logger.store.blocks.codec import Columns, decode, encode, encode_chunks
from logger.store.blocks.pyramid import bins_of, encode_bins, encode_coarse
from logger.store.run.format import BLOCK_READINGS, CHUNK_BLOCK_BYTES, COARSE, FINE, TAIL_NS


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


def columns_of(rows: list[tuple[Any, ...]]) -> Columns:
    """Return SQL rows (t_us, value, flags, cold_junction_c, perhaps more) as columns."""
    if not rows:
        none = np.empty(0)
        return Columns(none.astype(np.int64), none, none.astype(np.int64), None)
    t_us, value, flags, cold = tuple(zip(*rows, strict=True))[:4]
    return Columns(
        np.array(t_us, dtype=np.int64),
        np.array(value, dtype=np.float64),
        np.array(flags, dtype=np.int64),
        None if cold.count(None) == len(cold) else np.array(cold, dtype=np.float64),
    )


def compact(db: apsw.Connection, due: Due) -> dict[int, int]:
    """Turn what is due into blocks; return the time of the first row each channel has left [us]."""
    since_us: dict[int, int] = {}
    for channel, count in due.rows.items():
        _compact_tail(db, channel, count)
        first = "SELECT min(t_us) FROM tail WHERE channel = ?"
        since_us[channel] = db.execute(first, (channel,)).get or 0
    if due.chunks:
        _compact_chunks(db)
    return since_us


def _compact_tail(db: apsw.Connection, channel: int, count: int) -> None:
    """Turn the first `count` tail rows of a channel into blocks and delete them."""
    rows: list[tuple[Any, ...]] = db.execute(
        "SELECT t_us, value, flags, cold_junction_c, n FROM tail WHERE channel = ? "
        "ORDER BY n LIMIT ?",
        (channel, count),
    ).fetchall()
    for start in range(0, len(rows), BLOCK_READINGS):
        part = rows[start : start + BLOCK_READINGS]
        _insert_block(db, channel, part[0][4], columns_of(part))
    if rows:
        db.execute("DELETE FROM tail WHERE channel = ? AND n <= ?", (channel, rows[-1][4]))


def _insert_block(db: apsw.Connection, channel: int, first_n: int, columns: Columns) -> None:
    count = len(columns.t_us)
    whole = bins_of(columns, max(count, 1))
    blobs = []
    for data in (encode(columns), encode_bins(columns, FINE)):
        db.execute("INSERT INTO blob (data) VALUES (?)", (data,))
        blobs.append(db.last_insert_rowid())
    n_bad = int(whole.n_bad[0])
    summary: tuple[float | None, ...] = (None, None, None)
    if n_bad < count:
        summary = (float(whole.low[0]), float(whole.high[0]), float(whole.mean[0]))
    db.execute(
        "INSERT INTO block VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            channel,
            first_n,
            count,
            int(columns.t_us[0]),
            int(columns.t_us.min()),
            int(columns.t_us.max()),
            n_bad,
            *summary,
            *blobs,
            encode_coarse(columns, COARSE),
        ),
    )


def _compact_chunks(db: apsw.Connection) -> None:
    """Turn all raw chunks that wait into blocks of about 256 KiB and delete them."""
    rows: list[tuple[Any, ...]] = db.execute(
        "SELECT n, instrument, t_ns, kind, data FROM chunk ORDER BY n"
    ).fetchall()
    part: list[tuple[Any, ...]] = []
    size = 0
    for row in rows:
        part.append(row)
        size += len(row[4])
        if size >= CHUNK_BLOCK_BYTES or row is rows[-1]:
            _insert_chunk_block(db, part, size)
            part, size = [], 0
    if rows:
        db.execute("DELETE FROM chunk WHERE n <= ?", (rows[-1][0],))


def _insert_chunk_block(db: apsw.Connection, part: list[tuple[Any, ...]], size: int) -> None:
    times = [row[2] for row in part]
    data = encode_chunks([row[1:] for row in part])
    db.execute(
        "INSERT INTO chunk_block VALUES (?, ?, ?, ?, ?, ?)",
        (part[0][0], len(part), min(times), max(times), size, data),
    )


def repack(db: apsw.Connection, channel: int) -> bool:
    """Merge short blocks of a channel into full ones.

    Returns
    -------
    bool
        False when there was nothing to merge.
    """
    blocks: list[tuple[Any, ...]] = db.execute(
        "SELECT first_n, count, columns, fine FROM block WHERE channel = ? ORDER BY first_n",
        (channel,),
    ).fetchall()
    short = next((i for i, b in enumerate(blocks) if b[1] < BLOCK_READINGS), len(blocks))
    blocks = blocks[short:]
    if len(blocks) < 2:
        return False
    parts: list[Columns] = []
    for _, _, blob, fine in blocks:
        parts.append(decode(db.execute("SELECT data FROM blob WHERE id = ?", (blob,)).get))
        db.execute("DELETE FROM blob WHERE id IN (?, ?)", (blob, fine))
    first_n = blocks[0][0]
    db.execute("DELETE FROM block WHERE channel = ? AND first_n >= ?", (channel, first_n))
    merged = merge(parts)
    for start in range(0, len(merged.t_us), BLOCK_READINGS):
        cut = slice(start, start + BLOCK_READINGS)
        cold = None if merged.cold_junction is None else merged.cold_junction[cut]
        part = Columns(merged.t_us[cut], merged.value[cut], merged.flags[cut], cold)
        _insert_block(db, channel, first_n + start, part)
    return True


def merge(parts: list[Columns]) -> Columns:
    """Return columns one behind the other."""
    if not parts:
        return columns_of([])
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
