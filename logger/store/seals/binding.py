"""A file of a version without seals is bound: every row sealed as it is, once.

Runs within the transaction that brings the file to today's version. What the older check sums show
to be damaged gets a seal that never fits, so that binding hides nothing.
"""

import struct
from collections.abc import Iterable
from typing import Any

import apsw
import zstandard

from logger.store.blocks.packing import decompress, split
from logger.store.seals.digest import SEAL_BYTES, UNSEALED, Sealer, digest, packed_rows
from logger.store.seals.pieces import Block, blob_seal, block_fields
from logger.store.seals.rows import COLUMNS
from logger.store.seals.tally import PARTS, SCHEMA, Counts, Tally, read_tally, seal_parts

_GROUP_ROWS = 256
UNMARKED = bytes(SEAL_BYTES)
"""In place of the digest of a 1/256 level that was damaged before."""


def bind(db: apsw.Connection) -> None:
    """Give every table its seals, and seal what is there.

    Parameters
    ----------
    db : apsw.Connection
        The writer's, in a transaction.
    """
    for table in (*COLUMNS, "tail", "blob", "block"):
        more = ("mark", "seal") if table == "block" else ("seal",)
        for column in more:
            db.execute(f"ALTER TABLE {table} ADD COLUMN {column} BLOB")
    db.execute(SCHEMA)
    names = [column for columns in PARTS.values() for column in columns]
    row = db.execute(f"SELECT {', '.join(names)} FROM run").fetchone()
    if row is None:
        return
    values = dict(zip(names, row, strict=True))
    tally = Tally(sealer=Sealer(values["run_id"]), counts=None)
    seal_parts(tally, values)
    for table, columns in COLUMNS.items():
        _seal_rows(db, tally.sealer, table, columns)
    channels = [number for (number,) in db.execute("SELECT number FROM channel ORDER BY number")]
    readings = [0] * (max(channels, default=-1) + 1)
    for channel in channels:
        end = _seal_blocks(db, tally.sealer, channel)
        readings[channel] = max(end, _seal_tail(db, tally.sealer, channel))
    tally.write(db, _counts_of(db, tuple(readings)))


def stamp_version(db: apsw.Connection, version: int) -> None:
    """Write the file's new version into its tally, if that is whole.

    Parameters
    ----------
    db : apsw.Connection
        The writer's, in a transaction.
    version : int
        ``user_version`` after the changes.
    """
    tally = read_tally(db)
    if tally is not None and tally.counts is not None:
        counts = tally.counts
        values = {name: getattr(counts, name) for name in Counts.__slots__}
        tally.write(db, Counts(**(values | {"version": version})))


def _seal_rows(db: apsw.Connection, sealer: Sealer, table: str, columns: Iterable[str]) -> None:
    names = tuple(columns)
    found = db.execute(f"SELECT {', '.join(names)} FROM {table}").fetchall()
    sealed = []
    for row in found:
        whole = table != "chunk_block" or _reads(row[-1])
        sealed.append((sealer.row(table, *row) if whole else UNSEALED, row[0]))
    db.executemany(f"UPDATE {table} SET seal = ? WHERE {names[0]} = ?", sealed)


def _reads(blob: Any) -> bool:
    """Return whether the check sum of a blob fits, as far as it has one."""
    try:
        split(blob)
    except (ValueError, struct.error, TypeError):
        return False
    return True


def _seal_blocks(db: apsw.Connection, sealer: Sealer, channel: int) -> int:
    """Seal the blocks of a channel and return the number behind their last reading."""
    rows: list[tuple[Any, ...]] = db.execute(
        "SELECT first_n, count, t_first_us, t_min_us, t_max_us, n_bad, low, high, mean, columns, "
        "fine, coarse FROM block WHERE channel = ? ORDER BY first_n",
        (channel,),
    ).fetchall()
    end = 0
    for *fields, coarse in rows:
        block = Block._make((*fields, digest(coarse) if _unpacks(coarse) else UNMARKED, UNSEALED))
        for place, blob in enumerate(fields[9:]):
            data = db.execute("SELECT data FROM blob WHERE id = ?", (blob,)).get
            whole = data is not None and _reads(data)
            sealed = blob_seal(sealer, channel, block.first_n, place, data) if whole else UNSEALED
            db.execute("UPDATE blob SET seal = ? WHERE id = ?", (sealed, blob))
        seal = sealer.row("block", *block_fields(channel, block))
        db.execute(
            "UPDATE block SET mark = ?, seal = ? WHERE channel = ? AND first_n = ?",
            (block.mark, seal, channel, block.first_n),
        )
        end = max(end, block.end)
    return end


def _unpacks(coarse: Any) -> bool:
    try:
        decompress(coarse)
    except (zstandard.ZstdError, TypeError):
        return False
    return True


def _seal_tail(db: apsw.Connection, sealer: Sealer, channel: int) -> int:
    """Seal the tail rows of a channel and return the number behind its last reading."""
    rows: list[tuple[Any, ...]] = db.execute(
        "SELECT n, t_us, value, flags, cold_junction_c FROM tail WHERE channel = ? ORDER BY n",
        (channel,),
    ).fetchall()
    for start in range(0, len(rows), _GROUP_ROWS):
        group = rows[start : start + _GROUP_ROWS]
        try:
            seal = sealer.group(channel, packed_rows(group).tobytes())
        except (TypeError, ValueError, OverflowError):
            seal = UNSEALED
        db.execute(
            "UPDATE tail SET seal = ? WHERE channel = ? AND n = ?", (seal, channel, group[-1][0])
        )
    return int(rows[-1][0]) + 1 if rows else 0


def _counts_of(db: apsw.Connection, readings: tuple[int, ...]) -> Counts:
    def get(sql: str) -> int:
        found: int = db.execute(sql).get
        return found

    return Counts(
        version=0,
        chunks=max(
            get("SELECT coalesce(max(first_n + count), 0) FROM chunk_block"),
            get("SELECT coalesce(max(n) + 1, 0) FROM chunk"),
        ),
        events=get("SELECT coalesce(max(seq), 0) FROM event"),
        anchors=get("SELECT coalesce(max(id), 0) FROM anchor"),
        counters=get("SELECT count(*) FROM counter"),
        instruments=get("SELECT count(*) FROM instrument"),
        readings=readings,
    )
