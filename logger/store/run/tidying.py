"""One small file of an ended run: short blocks merged, free pages given back, the log folded in.

Works on the connection of ``writer``, which alone writes, or in its place once it is closed.
"""

import contextlib
import logging
import os
import time
from collections.abc import Iterable
from pathlib import Path

import apsw

from logger.model.errors import BusyError, StoreError
from logger.store.blocks.compaction import repack
from logger.store.run.schema import log_path, open_writer, told, transaction
from logger.store.seals.cut import is_log_gone
from logger.store.seals.digest import Sealer

log = logging.getLogger(__name__)

_FOLD_TRIES, _FOLD_PAUSE_S = 1000, 0.003
"""How often and how long apart the end of a run looks for a moment without a reader."""
_LEAVE_TRIES = 100
_LOOKS = 5


def shrink(db: apsw.Connection, sealer: Sealer, channels: Iterable[int]) -> None:
    """Merge short blocks of channels and give free pages back.

    Parameters
    ----------
    db : apsw.Connection
        The writer's.
    sealer : Sealer
        Of the run.
    channels : iterable of int
        Numbers of its channels.

    Raises
    ------
    apsw.Error
        The file is whole in any case.
    """
    for number in channels:
        with transaction(db):
            repack(db, sealer, number)
    db.execute("VACUUM")


def fold_log(db: apsw.Connection, path: Path) -> None:
    """Fold the log into the file and leave WAL mode, between two looks of the readers.

    SQLite waits by itself for one of the two locks that this needs, and not for the other; so it
    waits for none here, else a reader that stays would hold up the end for an hour.

    Raises
    ------
    BusyError
        If another program keeps reading it.
    """
    db.set_busy_timeout(0)
    for _ in range(_FOLD_TRIES):
        with contextlib.suppress(apsw.BusyError):
            db.wal_checkpoint(mode=apsw.SQLITE_CHECKPOINT_TRUNCATE)
            if db.pragma("journal_mode", "delete") == "delete":
                return
        time.sleep(_FOLD_PAUSE_S)
    raise BusyError(f"{path}: another program keeps reading it")


def close_without_log(db: apsw.Connection, path: Path, *, under_way: bool) -> None:
    """Close a run; one that goes on later has its log folded in, if no reader is in the way.

    Where one is, the log stays with all that it holds. The head of the file must not ask for a log
    that is not there: then it looks as if it had got lost.

    Parameters
    ----------
    db : apsw.Connection
        The writer's.
    path : Path
        The run file.
    under_way : bool
        The run has not ended.
    """
    if under_way:
        leave_log(db)
    db.close()
    if under_way and is_log_gone(path, log_path(path)):  # a reader left between the two
        with contextlib.suppress(StoreError, BusyError, apsw.Error):
            again = open_writer(path)
            try:
                leave_log(again)
            finally:
                again.close()


def leave_log(db: apsw.Connection) -> None:
    """Leave WAL mode, between two looks of the readers; does nothing where one stays."""
    with contextlib.suppress(apsw.Error):
        db.set_busy_timeout(0)
        for _ in range(_LEAVE_TRIES):
            with contextlib.suppress(apsw.BusyError):
                if db.pragma("journal_mode", "delete") == "delete":
                    return
            time.sleep(_FOLD_PAUSE_S)


def see_log_gone(path: Path) -> None:
    """Fold again where a reader in the wrong moment left a log behind; the writer is closed."""
    for _ in range(_LOOKS):
        if not log_path(path).exists():
            return
        log.info("%s: a reader left a log behind; folding it again", path.name)
        db = open_writer(path)
        try:
            with told(path, db):
                fold_log(db, path)
        except (StoreError, BusyError) as cause:
            log.warning("%s: saved, but its log stays: %s", path.name, cause)
            return
        finally:
            db.close()


def sync_path(path: Path) -> None:
    """Make a file, or the names in a folder, survive a power cut, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
