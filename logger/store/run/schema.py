"""Opening a run file: connections, its identity, its schema and the numbered changes of it.

The only place that makes connections to run files. One writer connection writes and checkpoints;
readers are read-only and brief.
"""

import errno
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import apsw

from logger.model.errors import BadFileError, BusyError, StoreError
from logger.store.run.changes.keyed_findings import keyed_findings
from logger.store.run.errors import DiskFullError, NewerFileError
from logger.store.run.format import (
    APPLICATION_ID,
    BOUND_VERSION,
    FIRST_SCHEMA,
    MIN_SQLITE,
    PAGE_BYTES,
    PHOTO_SCHEMA,
    TABLES,
)
from logger.store.seals.binding import bind, stamp_version
from logger.store.seals.cut import bytes_short
from logger.store.seals.tally import is_bound, read_tally

_BUSY_MS = 5_000
_LEAST_STEPS, _STEPS_A_BYTE, _STEPS_A_CALL = 50_000_000, 50, 100_000
"""Steps of SQLite's machine that a look at a file may take: at least, more for each of its bytes,
and how often that is looked at. A row of ten bytes takes some thirty."""
_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


def first_schema(db: apsw.Connection) -> None:
    """Change 1: all tables of the first version."""
    db.execute(FIRST_SCHEMA)


def keys_of_findings(db: apsw.Connection) -> None:
    """Change 2: findings of the results are known by a key, no longer by their label."""
    for number, text in db.execute("SELECT rowid, results FROM run").fetchall():
        if not isinstance(text, str):
            continue
        try:
            changed = json.dumps(keyed_findings(json.loads(text)))
        except ValueError:
            continue  # damaged: left as it is, who reads it says so
        db.execute("UPDATE run SET results = ? WHERE rowid = ?", (changed, number))


def sealed_rows(db: apsw.Connection) -> None:
    """Change 3: each row is sealed, and a tally says what must be there."""
    bind(db)


def photos(db: apsw.Connection) -> None:
    """Change 4: pictures by their digest, which the event of a photo names."""
    db.execute(PHOTO_SCHEMA)


CHANGES: tuple[Callable[[apsw.Connection], None], ...] = (
    first_schema,
    keys_of_findings,
    sealed_rows,
    photos,
)
"""Changes in order; ``user_version`` is the number of those a file has seen."""

_RESULTS_CHANGES: tuple[tuple[int, Callable[[Any], Any]], ...] = ((2, keyed_findings),)
"""Of these, what happens to the JSON of the results, by number."""


def todays_results(results: Any, version: int) -> Any:
    """Return results of an older file as today's version has them; the file is left alone.

    Parameters
    ----------
    results : dict
        JSON value as the file has it.
    version : int
        ``user_version`` of the file.
    """
    for number, change in _RESULTS_CHANGES:
        if number > version:
            results = change(results)
    return results


def require_sqlite() -> None:
    """Refuse a SQLite library that can lose data.

    Raises
    ------
    StoreError
        If it is older than ``format.MIN_SQLITE``.
    """
    found = tuple(int(part) for part in apsw.sqlite_lib_version().split("."))
    if found < MIN_SQLITE:
        raise StoreError(
            f"SQLite {apsw.sqlite_lib_version()} can lose data; "
            f"install an apsw with SQLite {'.'.join(map(str, MIN_SQLITE))} or later"
        )


@contextmanager
def told(path: Path, db: apsw.Connection | None = None) -> Iterator[None]:
    """Turn SQLite's errors into ours, naming the file.

    Raises
    ------
    BusyError
        If another program is writing the file.
    DiskFullError
        If the disk is full.
    BadFileError
        If the file is no whole run file.
    StoreError
        If it cannot be opened, read or written.
    """
    try:
        yield
    except apsw.FullError as cause:
        raise DiskFullError(str(path)) from cause
    except apsw.IOError as cause:
        # A file size limit and some file systems say EFBIG or ENOSPC through here.
        if db is not None and db.system_errno in _NO_ROOM:
            raise DiskFullError(str(path)) from cause
        _require_length(path, cause)
        raise StoreError(f"{path}: {cause}; look at the disk and its cable") from cause
    except apsw.BusyError as cause:
        raise BusyError(f"{path}: another program is writing it; try again") from cause
    except apsw.InterruptError as cause:
        raise BadFileError(
            f"{path}: not a whole run file (it never ends); use a copy of it"
        ) from cause
    except UnicodeDecodeError as cause:
        raise BadFileError(f"{path}: not a whole run file (text is damaged)") from cause
    except (apsw.NotADBError, apsw.CorruptError) as cause:
        _require_length(path, cause)
        raise BadFileError(
            f"{path}: not a whole run file ({_line(cause)}); use a copy of it"
        ) from cause
    except apsw.CantOpenError as cause:
        raise StoreError(f"{path}: cannot be opened ({_line(cause)})") from cause
    except apsw.Error as cause:
        said = f"{type(cause).__name__} {_line(cause)}"
        raise BadFileError(f"{path}: not a whole run file ({said}); use a copy of it") from cause


def _require_length(path: Path, cause: Exception) -> None:
    """Say of a file that does not read that it was cut short, if it was."""
    found = bytes_short(path)
    if found is not None:
        raise BadFileError(
            f"{path}: cut short ({found[0]} of {found[1]} bytes); use a whole copy of it"
        ) from cause


def _line(cause: Exception) -> str:
    """Return what SQLite said as one line; it quotes the file's schema at length."""
    return " ".join(str(cause).split())[:160]


@contextmanager
def transaction(db: apsw.Connection) -> Iterator[None]:
    """One explicit transaction: all or nothing."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def open_writer(path: Path, *, new: bool = False) -> apsw.Connection:
    """Open the one connection that writes; the caller holds the file's lock.

    Raises
    ------
    StoreError
        If the file is no run file, is newer than this program, or cannot be opened.
    """
    require_sqlite()
    flags = apsw.SQLITE_OPEN_READWRITE | (apsw.SQLITE_OPEN_CREATE if new else 0)
    db = apsw.Connection(str(path), flags=flags)
    try:
        db.set_busy_timeout(_BUSY_MS)
        _harden(db)
        if new:
            db.pragma("page_size", PAGE_BYTES)
        db.pragma("synchronous", "FULL")
        db.pragma("foreign_keys", False)
        db.pragma("journal_size_limit", 8 * 1024 * 1024)
        if not new:
            _check_identity(db, path)
            _check_tables(db, path)
        _upgrade(db, path)
    except BaseException:
        db.close()
        raise
    return db


def _check_identity(db: apsw.Connection, path: Path) -> None:
    if db.pragma("application_id") != APPLICATION_ID:
        raise BadFileError(f"{path}: not a run file of bainlog; give a file that it wrote")
    version = db.pragma("user_version")
    if version > len(CHANGES):
        why = f"file format {version}, this one reads up to {len(CHANGES)}"
        raise NewerFileError(path, why)


def _harden(db: apsw.Connection) -> None:
    """Let nothing that stands in a file run, and no damaged page pass for a whole one."""
    for option, on in (
        (apsw.SQLITE_DBCONFIG_DEFENSIVE, 1),
        (apsw.SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0),
        (apsw.SQLITE_DBCONFIG_ENABLE_TRIGGER, 0),
        (apsw.SQLITE_DBCONFIG_ENABLE_VIEW, 0),
    ):
        db.config(option, on)
    db.pragma("cell_size_check", True)


def _check_tables(db: apsw.Connection, path: Path) -> None:
    """Refuse a file that holds anything but the tables of a run."""
    found = rows_of(db, "SELECT type, name FROM sqlite_schema")
    strange = [
        f"{kind} {name!r}"
        for kind, name in found
        if not (kind == "table" and name in TABLES)
        and not (kind == "index" and str(name).startswith("sqlite_autoindex_"))
    ]
    if strange:
        raise BadFileError(
            f"{path}: not a whole run file (it holds {strange[0][:80]}); use a copy of it"
        )
    if db.pragma("user_version") >= BOUND_VERSION and ("table", "tally") not in found:
        raise BadFileError(f"{path}: not a whole run file (its seals are gone); use a copy of it")


def version_of(db: apsw.Connection) -> int:
    """Return the number of the last change a file has seen; its tally knows it better."""
    found: int = db.pragma("user_version")
    tally = read_tally(db) if is_bound(db) else None
    return found if tally is None or tally.counts is None else tally.counts.version


def _upgrade(db: apsw.Connection, path: Path) -> None:
    """Apply the changes that the file has not seen, all in one transaction."""
    version = version_of(db)
    if version >= len(CHANGES) and version == db.pragma("user_version"):
        return
    if version < BOUND_VERSION and is_bound(db):
        raise BadFileError(f"{path}: its format number is damaged; use a copy of it")
    db.execute("BEGIN IMMEDIATE")
    try:
        for change in CHANGES[version:]:
            change(db)
        stamp_version(db, len(CHANGES))
        db.pragma("application_id", APPLICATION_ID)
        db.pragma("user_version", len(CHANGES))
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise


@contextmanager
def reading(path: Path) -> Iterator[apsw.Connection]:
    """Open, hold one consistent snapshot, close: a short read.

    What the file holds besides the tables of a run is refused.

    Raises
    ------
    BadFileError
        If the file is missing, no run file, damaged, or newer than this program.
    """
    with told(path):
        if not path.is_file():
            raise BadFileError(f"{path}: no such run file")
        db = _connect_reader(path)
        try:
            db.execute("BEGIN")
            yield db
        finally:
            # Ends the transaction; forced, since a question cut short by damage says so once more.
            db.close(True)


class _Patience:
    """Ends a question that takes more steps than a whole file of this size can need."""

    def __init__(self, path: Path) -> None:
        size = sum(file.stat().st_size for file in (path, log_path(path)) if file.exists())
        self._calls = (_LEAST_STEPS + _STEPS_A_BYTE * size) // _STEPS_A_CALL

    def __call__(self) -> bool:
        self._calls -= 1
        return self._calls < 0


def _connect_reader(path: Path) -> apsw.Connection:
    require_sqlite()
    file, read_only = f"file:{quote(str(path.absolute()))}", apsw.SQLITE_OPEN_READONLY
    if _has_journal(path):
        # A note is being written, or a kill cut that off and the file is torn: whoever may write
        # takes it back at the first look. Never passed over, as `immutable` would.
        tries = [(f"{file}?mode=rw", apsw.SQLITE_OPEN_READWRITE)]
    elif log_path(path).exists():
        tries = [(f"{file}?mode=ro", read_only)]
    else:
        # A finished file on a read-only medium has no log, and needs none.
        tries = [(f"{file}?mode=ro{more}", read_only) for more in ("", "&immutable=1")]
    for place, (name, how) in enumerate(tries):
        db = apsw.Connection(name, flags=how | apsw.SQLITE_OPEN_URI)
        try:
            db.set_busy_timeout(_BUSY_MS)
            _harden(db)
            db.set_progress_handler(_Patience(path), _STEPS_A_CALL)
            db.pragma("query_only", True)
            _check_identity(db, path)
            _check_tables(db, path)
        except (apsw.CantOpenError, apsw.ReadOnlyError):
            db.close()
            if place == len(tries) - 1:
                raise
        except BaseException:
            db.close()
            raise
        else:
            return db
    raise StoreError(f"{path}: cannot be opened")


def copy_pages(db: apsw.Connection, place: Path) -> None:
    """Copy all that a connection sees, as of one commit, into a new file without a log.

    Parameters
    ----------
    db : apsw.Connection
        To a run file, whether its name is still there or not.
    place : Path
        The new file.

    Raises
    ------
    StoreError
        If something cannot be read or written.
    """
    with told(place):
        made = apsw.Connection(str(place))
        try:
            with made.backup("main", db, "main") as pages:
                pages.step(-1)
            made.pragma("journal_mode", "delete")
        finally:
            made.close()


def rows_of(db: apsw.Connection, sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
    """Return all rows of a question.

    Parameters
    ----------
    db : apsw.Connection
        What is asked.
    sql : str
        The question.
    values : sequence
        For its question marks.
    """
    return db.execute(sql, values).fetchall()


def log_path(path: Path) -> Path:
    """Return the log that lies beside a run file while it is written."""
    return path.with_name(path.name + "-wal")


def journal_path(path: Path) -> Path:
    """Return what lies beside an ended run file while a note is written into it."""
    return path.with_name(path.name + "-journal")


def _has_journal(path: Path) -> bool:
    try:
        return journal_path(path).stat().st_size > 0
    except OSError:
        return False
