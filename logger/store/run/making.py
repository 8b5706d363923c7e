"""A new run file with its header; it appears under its name only when it is whole."""

import os
from pathlib import Path

import apsw

from logger.model.errors import StoreError
from logger.store.run.records import RunHeader
from logger.store.run.schema import open_writer, told, transaction


def make(path: Path, header: RunHeader) -> None:
    """Make a run file; the caller holds its lock.

    Raises
    ------
    StoreError
        If the file exists or cannot be made.
    DiskFullError
        If there is no room.
    """
    if path.exists():
        raise StoreError(f"{path}: exists already; a run is never written over")
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
        _sync_folder(path.parent)
    except BaseException:
        unborn.unlink(missing_ok=True)
        raise


def _insert_header(db: apsw.Connection, header: RunHeader) -> None:
    db.execute(
        "INSERT INTO run (one, run_id, version, origin, started_utc_ns, zone, boot_id, clock_speed,"
        " sheet_json, sheet_text, bench_json, bench_text, shapes_text)"
        " VALUES (1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            header.run_id,
            header.version,
            header.origin,
            header.started_utc_ns,
            header.zone,
            header.boot_id,
            header.clock_speed,
            header.sheet_json,
            header.sheet_text,
            header.bench_json,
            header.bench_text,
            header.shapes_text,
        ),
    )
    db.executemany(
        "INSERT INTO channel VALUES (?, ?, ?, ?, ?, ?)",
        [(number, *channel) for number, channel in enumerate(header.channels)],
    )


def _sync_folder(folder: Path) -> None:
    """Make a new file's name survive a power cut, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
