"""A run file is made: its header, its channels, nothing else yet.

The caller holds the file's lock. A file that could not be made whole leaves nothing behind.
"""

from pathlib import Path
from typing import Any

import apsw

from logger.model.errors import StoreError
from logger.store.run.records import RunHeader
from logger.store.run.schema import open_writer, told, transaction
from logger.store.run.tidying import sync_path
from logger.store.seals.digest import Sealer
from logger.store.seals.tally import Counts, Tally, seal_parts


def make_run_file(path: Path, header: RunHeader) -> None:
    """Make a run file; the caller holds its lock.

    Raises
    ------
    StoreError
        If the file exists or cannot be made.
    DiskFullError
        If there is no room.
    """
    if path.exists():
        raise StoreError(f"{path}: already exists; a run is never overwritten")
    unborn = path.with_name(path.name + ".new")
    try:
        unborn.unlink(missing_ok=True)
        with told(unborn):
            db = open_writer(unborn, new=True)
            try:
                with transaction(db):
                    _insert_header(db, header)
            finally:
                db.close()
        unborn.rename(path)
        sync_path(path.parent)
    except BaseException:
        unborn.unlink(missing_ok=True)
        raise


def _insert_header(db: apsw.Connection, header: RunHeader) -> None:
    row: dict[str, Any] = {
        "run_id": header.run_id,
        "version": header.version,
        "origin": header.origin,
        "started_utc_ns": int(header.started_utc_ns),
        "zone": header.zone,
        "boot_id": header.boot_id,
        "clock_speed": float(header.clock_speed),
        "sheet_json": header.sheet_json,
        "sheet_text": header.sheet_text,
        "bench_json": header.bench_json,
        "bench_text": header.bench_text,
        "shapes_text": header.shapes_text,
    }
    empty = {"ended_utc_ns": None, "interrupted": 0, "outcome": None, "results": None}
    row |= empty | {"defects": "[]", "outcome_note": ""}
    marks = ", ".join("?" for _ in row)
    db.execute(f"INSERT INTO run (one, {', '.join(row)}) VALUES (1, {marks})", tuple(row.values()))
    tally = Tally(sealer=Sealer(header.run_id), counts=None)
    seal_parts(tally, row)
    db.executemany(
        "INSERT INTO channel VALUES (?, ?, ?, ?, ?, ?, ?)",
        [
            (number, *channel, tally.sealer.row("channel", number, *channel))
            for number, channel in enumerate(header.channels)
        ],
    )
    readings = tuple(0 for _ in header.channels)
    tally.write(db, Counts(version=db.pragma("user_version"), readings=readings))
