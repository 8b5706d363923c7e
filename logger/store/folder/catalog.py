"""The list of runs: a table of contents that is worked out again whenever a run file changed.

A SQLite file of its own in rollback mode, never the truth: it may be deleted at any time. Several
processes may refresh it; each entry is written whole. Where it cannot be written it is kept in
memory.
"""

import contextlib
import json
import logging
from collections.abc import Callable, Collection
from dataclasses import asdict
from pathlib import Path

import apsw

from logger.model.errors import BainlogError
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.entries import ListedNumber, RunEntry, describe, unreadable
from logger.store.folder.lock import is_held, lock_path
from logger.store.run.schema import require_sqlite, rows_of
from logger.store.run.view import RunView

log = logging.getLogger(__name__)

_VERSION = 8
_TABLE = """
CREATE TABLE entry (
    run_id TEXT PRIMARY KEY,
    stamp TEXT NOT NULL,
    started_utc_ns INTEGER NOT NULL,
    data TEXT NOT NULL,
    trace TEXT NOT NULL,
    numbers TEXT NOT NULL
) WITHOUT ROWID
"""


class Catalog:
    """The list of the runs of a data folder.

    Parameters
    ----------
    folder : DataFolder
    """

    def __init__(self, folder: DataFolder) -> None:
        self._folder = folder
        require_sqlite()

    def runs(
        self,
        *,
        sheet: str | None = None,
        product: str | None = None,
        revision: int | None = None,
        fat: str | None = None,
        lot: str | None = None,
        outcome: str | None = None,
        defect: str | None = None,
        status: str | None = None,
        since_utc_ns: int | None = None,
        until_utc_ns: int | None = None,
        text: str = "",
    ) -> list[RunEntry]:
        """Return the runs that fit all that is given, newest first; brings the list up to date.

        Parameters
        ----------
        sheet, product : str, optional
            Name of the sheet; what is made.
        revision : int, optional
            Of the sheet.
        fat, lot : str, optional
            One of the fats, one of the lots.
        outcome, defect, status : str, optional
            What came out; one of the defects; whether it ended, is
            recorded or was interrupted.
        since_utc_ns, until_utc_ns : int or None
            Bounds of the start, both included [ns since 1970].
        text : str
            Words, all of which must occur in sheet, product, ingredients, lots, operator, batch
            size, outcome, defects, notes or the run id; case does not matter.
        """
        words = text.lower().split()
        tests: list[tuple[bool, Callable[[RunEntry], bool]]] = [
            (sheet is not None, lambda e: e.sheet == sheet),
            (product is not None, lambda e: e.product == product),
            (revision is not None, lambda e: e.revision == revision),
            (fat is not None, lambda e: fat in e.fats),
            (lot is not None, lambda e: lot in e.lots),
            (outcome is not None, lambda e: e.outcome == outcome),
            (defect is not None, lambda e: defect in e.defects),
            (status is not None, lambda e: e.status == status),
            (since_utc_ns is not None, lambda e: e.started_utc_ns >= (since_utc_ns or 0)),
            (until_utc_ns is not None, lambda e: e.started_utc_ns <= (until_utc_ns or 0)),
            (bool(words), lambda e: all(word in e.searched for word in words)),
        ]
        asked = [test for given, test in tests if given]
        return [entry for entry in self._entries() if all(test(entry) for test in asked)]

    def get(self, run_id: str) -> RunEntry | None:
        """Return one run, or None."""
        self._folder.run_path(run_id)
        return next((e for e in self._entries() if e.run_id == run_id), None)

    def kept(self, run_id: str) -> RunEntry | None:
        """Return one run as it was last listed; None where its file has changed since.

        Reads neither the run nor the others. Damage that leaves size and time of the file as they
        were is found by `describe` alone.
        """
        stamp = _stamp(self._folder.run_path(run_id))
        try:
            db = apsw.Connection(str(self._folder.catalog_file), flags=apsw.SQLITE_OPEN_READONLY)
            try:
                asked = "SELECT data, trace FROM entry WHERE run_id = ? AND stamp = ?"
                rows = rows_of(db, asked, (run_id, stamp))
                made = db.pragma("user_version") == _VERSION
            finally:
                db.close()
            return self._entry(*rows[0]) if rows and made else None
        except (apsw.Error, ValueError, TypeError, KeyError):
            return None  # the list is made anew when it is asked for

    def numbers(self, run_ids: Collection[str]) -> dict[str, dict[str, ListedNumber]]:
        """Return what was measured for the checks of runs, as they were last listed.

        Parameters
        ----------
        run_ids : collection of str
            The runs; one that was not listed has none.

        Returns
        -------
        dict
            By run, then by key and subject of the check.
        """
        marks = ", ".join("?" for _ in run_ids)
        try:
            db = apsw.Connection(str(self._folder.catalog_file), flags=apsw.SQLITE_OPEN_READONLY)
            try:
                asked = f"SELECT run_id, numbers FROM entry WHERE run_id IN ({marks})"
                rows = rows_of(db, asked, tuple(run_ids))
            finally:
                db.close()
            return {
                run_id: {name: ListedNumber(*parts) for name, parts in json.loads(text).items()}
                for run_id, text in rows
            }
        except (apsw.Error, ValueError, TypeError):
            return {}

    def _entries(self) -> list[RunEntry]:
        """Return all runs, newest first, after working out again those whose file changed."""
        stamps = {
            run_id: _stamp(self._folder.run_path(run_id)) for run_id in self._folder.run_ids()
        }
        try:
            return self._refreshed(self._folder.catalog_file, stamps)
        except (apsw.Error, ValueError, TypeError, KeyError) as cause:
            log.warning("catalog is made anew: %s", cause)
        with contextlib.suppress(OSError):
            self._folder.catalog_file.unlink()
        try:
            return self._refreshed(self._folder.catalog_file, stamps)
        except apsw.Error as cause:
            log.warning("catalog cannot be kept: %s", cause)
            return self._refreshed(Path(":memory:"), stamps)

    def _refreshed(self, file: Path, stamps: dict[str, str]) -> list[RunEntry]:
        db = apsw.Connection(str(file))
        try:
            db.set_busy_timeout(5_000)
            _prepare(db)
            known = dict(rows_of(db, "SELECT run_id, stamp FROM entry"))
            changed = [run_id for run_id, stamp in stamps.items() if known.get(run_id) != stamp]
            gone = [run_id for run_id in known if run_id not in stamps]
            if changed or gone:
                made = [(r, stamps[r], self._describe(r)) for r in changed]
                _store(db, made, gone)
            rows = rows_of(db, "SELECT data, trace FROM entry ORDER BY started_utc_ns DESC, run_id")
        finally:
            db.close()
        return [self._entry(data, trace) for data, trace in rows]

    def _entry(self, data: str, trace: str) -> RunEntry:
        values = json.loads(data)
        for name in ("fats", "lots", "channels", "defects", "damage"):
            values[name] = tuple(values[name])
        if values["status"] in ("recording", "interrupted") and values["ended_utc_ns"] is None:
            held = is_held(lock_path(self._folder.run_path(values["run_id"])))
            values["status"] = "recording" if held else "interrupted"
        return RunEntry(**values, trace_json=trace)

    def _describe(self, run_id: str) -> RunEntry:
        try:
            view = RunView(self._folder.run_path(run_id), tolerant=True)
            with view.together():
                entry = describe(view, run_id)
            # What cannot be listed is no entry: one such would hide all the others.
            _ = json.dumps(entry.as_json(), allow_nan=False).encode(), entry.trace()
        except BainlogError as cause:
            problem = str(cause)
        except Exception as cause:  # whatever one file breaks, the others are listed
            log.debug("%s does not read", run_id, exc_info=True)
            problem = f"{self._folder.run_path(run_id)}: can't be read ({type(cause).__name__})"
        else:
            return entry
        return unreadable(self._folder.run_path(run_id), run_id, problem)


def _stamp(path: Path) -> str:
    """Return what changes when a run file or its log does."""
    parts = []
    for file in (path, path.with_name(path.name + "-wal")):
        try:
            found = file.stat()
        except OSError:
            continue
        parts.append(f"{found.st_mtime_ns}:{found.st_size}")
    return " ".join(parts)


def _prepare(db: apsw.Connection) -> None:
    if db.pragma("user_version") == _VERSION:
        return
    db.execute("BEGIN IMMEDIATE")
    if db.pragma("user_version") != _VERSION:
        db.execute("DROP TABLE IF EXISTS entry")
        db.execute(_TABLE)
        db.pragma("user_version", _VERSION)
    db.execute("COMMIT")


def _store(db: apsw.Connection, made: list[tuple[str, str, RunEntry]], gone: list[str]) -> None:
    rows = []
    for run_id, stamp, entry in made:
        values = asdict(entry)
        trace, numbers = values.pop("trace_json"), values.pop("numbers_json")
        rows.append((run_id, stamp, entry.started_utc_ns, json.dumps(values), trace, numbers))
    db.execute("BEGIN IMMEDIATE")
    db.executemany("DELETE FROM entry WHERE run_id = ?", [(run_id,) for run_id in gone])
    db.executemany("INSERT OR REPLACE INTO entry VALUES (?, ?, ?, ?, ?, ?)", rows)
    db.execute("COMMIT")
