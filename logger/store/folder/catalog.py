"""The list of runs: a table of contents that is worked out again whenever a run file changed.

A SQLite file of its own in rollback mode, never the truth: it may be deleted at any time. Several
processes may refresh it; each entry is written whole. Where it cannot be written it is kept in
memory.
"""

import contextlib
import datetime
import json
import logging
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import apsw
import numpy as np

from logger.model.errors import BainlogError
from logger.model.event import KNOWN_KINDS, Event
from logger.model.history import started_with
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.lock import is_held, lock_path
from logger.store.run.records import Envelope
from logger.store.run.schema import require_sqlite, rows_of
from logger.store.run.view import RunView
from logger.store.seals.damage import sentences

log = logging.getLogger(__name__)

_VERSION = 5
_TRACE_POINTS = 48
_TRACE_CHANNELS = 6
_TABLE = """
CREATE TABLE entry (
    run_id TEXT PRIMARY KEY,
    stamp TEXT NOT NULL,
    started_utc_ns INTEGER NOT NULL,
    data TEXT NOT NULL,
    trace TEXT NOT NULL
) WITHOUT ROWID
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunEntry:
    """One run in the list.

    Attributes
    ----------
    status : str
        ``recording``, ``ended``, ``interrupted`` or ``unreadable`` (then `problem` says why).
    problem : str
        Why it is unreadable, or what of it this edition does not know.
    fats, lots, channels : tuple of str
        Keys of the fats, lots of the ingredients, channel ids.
    trace_json : str
        JSON of ``{channel: [[t_s, value or null], ...]}``, thinned out for a small picture.
    """

    run_id: str
    sheet: str = ""
    revision: int = 0
    product: str = ""
    fats: tuple[str, ...] = ()
    lots: tuple[str, ...] = ()
    channels: tuple[str, ...] = ()
    started_utc_ns: int = 0
    zone: str = "UTC"
    ended_utc_ns: int | None = None
    origin: str = "live"
    outcome: str | None = None
    defects: tuple[str, ...] = ()
    note: str = ""
    duration_ns: int = 0
    status: str = "ended"
    problem: str = ""
    operator: str = ""
    """Who made it, and how much of it, as it was said at the start."""
    size: str = ""
    damage: tuple[str, ...] = ()
    """What of the file is damaged and left out, in sentences."""
    searched: str = ""
    """Lower-case text that a text search looks through."""
    trace_json: str = "{}"

    @property
    def started(self) -> str:
        """ISO 8601 in the run's own zone; empty where it is not known."""
        return "" if self.started_utc_ns == 0 else local_iso(self.started_utc_ns, self.zone)

    @property
    def ended(self) -> str | None:
        """ISO 8601 in the run's own zone, or None."""
        return None if self.ended_utc_ns is None else local_iso(self.ended_utc_ns, self.zone)

    def trace(self) -> dict[str, list[list[float | None]]]:
        """Return the points of the small picture by channel: [t_s, value or None]."""
        found: dict[str, list[list[float | None]]] = json.loads(self.trace_json)
        return found

    def as_json(self) -> dict[str, Any]:
        """Return plain JSON values, without the picture."""
        return {
            "id": self.run_id,
            "sheet": self.sheet,
            "revision": self.revision,
            "product": self.product,
            "fats": list(self.fats),
            "lots": list(self.lots),
            "started": self.started or None,
            "ended": self.ended,
            "duration_s": self.duration_ns / 1e9,
            "outcome": self.outcome,
            "defects": list(self.defects),
            "note": self.note,
            "operator": self.operator,
            "size": self.size,
            "status": self.status,
            "origin": self.origin,
            "problem": self.problem,
            "damage": list(self.damage),
        }


def local_iso(utc_ns: int, zone: str) -> str:
    """Return a UTC time as ISO 8601 to the second in a zone; UTC where the zone is not known."""
    try:
        place: datetime.tzinfo = ZoneInfo(zone)
    except (KeyError, ValueError, OSError):
        place = datetime.UTC
    return datetime.datetime.fromtimestamp(utc_ns // 1_000_000_000, place).isoformat()


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
            problem = f"{self._folder.run_path(run_id)}: does not read ({type(cause).__name__})"
        else:
            return entry
        return unreadable(self._folder.run_path(run_id), run_id, problem)


def unreadable(path: Path, run_id: str, problem: str) -> RunEntry:
    """Return the entry of a run that cannot be shown; it says when it began, if that reads.

    Parameters
    ----------
    path : Path
        Its file.
    run_id : str
        Its id.
    problem : str
        Why, in a sentence.
    """
    started_utc_ns, zone = 0, "UTC"
    try:
        header = RunView(path, tolerant=True).header
        started_utc_ns, zone = header.started_utc_ns, header.zone
        _ = local_iso(started_utc_ns, zone)
    except Exception:  # whatever one file breaks, the others are listed
        log.debug("%s does not say when it began", run_id, exc_info=True)
    return RunEntry(
        run_id=run_id,
        status="unreadable",
        problem=problem.encode("utf-8", "replace").decode(),
        searched=run_id,
        started_utc_ns=started_utc_ns,
        zone=zone,
    )


def describe(view: RunView, run_id: str) -> RunEntry:
    """Return the list entry of a run.

    Parameters
    ----------
    view : RunView
        The run file; a tolerant one names what is damaged of it.
    run_id : str
        Its id.

    Raises
    ------
    StoreError
        If the file is damaged.
    """
    header, sheet, outcome = view.header, view.sheet(), view.outcome()
    fats = _distinct(i.fat for i in sheet.ingredient)
    lots = _distinct(i.lot for i in sheet.ingredient)
    events = view.events()
    notes = [e.text for e in events if e.kind == "note"]
    about = started_with(events)
    searched = [
        run_id,
        sheet.sheet.name,
        sheet.sheet.product,
        outcome.outcome or "",
        outcome.note,
        about.operator,
        about.size,
        *(i.name for i in sheet.ingredient),
        *fats,
        *lots,
        *outcome.defects,
        *notes,
    ]
    return RunEntry(
        run_id=run_id,
        sheet=sheet.sheet.name,
        revision=sheet.sheet.revision,
        product=sheet.sheet.product or sheet.sheet.name,
        fats=fats,
        lots=lots,
        channels=tuple(c.id for c in header.channels),
        started_utc_ns=header.started_utc_ns,
        zone=header.zone,
        ended_utc_ns=view.ended_utc_ns,
        origin=header.origin,
        outcome=outcome.outcome,
        defects=outcome.defects,
        note=outcome.note,
        operator=about.operator,
        size=about.size,
        duration_ns=view.duration_ns,
        status=view.status,
        problem=_unknown_kinds(events) or _half_taken_in(view, run_id),
        damage=tuple(sentences(view.damage())),
        searched=" ".join(searched).lower(),
        trace_json=json.dumps(_trace(view)),
    )


def _half_taken_in(view: RunView, run_id: str) -> str:
    if view.header.origin != "import" or view.ended_utc_ns is not None:
        return ""
    return (
        f"{run_id}: its import has not ended, so this is only a part of the file; unless it is "
        f"under way, remove it with 'bainlog remove {run_id}' and import again"
    )


def _unknown_kinds(events: Iterable[Event]) -> str:
    """Say which events this edition has no word for; it passes over them."""
    kinds = sorted({event.kind for event in events} - KNOWN_KINDS)
    if not kinds:
        return ""
    return (
        f"Made by a newer edition, or with a stage kind of your own: events of kind "
        f"{', '.join(kinds)[:200]} are passed over here; update bainlog, or add that stage kind, "
        "to have them counted."
    )


def _trace(view: RunView) -> dict[str, list[list[float | None]]]:
    return {
        channel.id: points_of(view.overview(channel.id, points=_TRACE_POINTS))
        for channel in view.channels()[:_TRACE_CHANNELS]
    }


def points_of(envelope: Envelope) -> list[list[float | None]]:
    """Return the means of an envelope as [t_s, value or None], rounded for a small picture."""
    return [
        [round(t_ns / 1e9, 1), None if np.isnan(mean) else float(f"{mean:.4g}")]
        for t_ns, mean in zip(envelope.t_ns.tolist(), envelope.mean.tolist(), strict=True)
    ]


def _distinct(values: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(value for value in values if value))


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
        trace = values.pop("trace_json")
        rows.append((run_id, stamp, entry.started_utc_ns, json.dumps(values), trace))
    db.execute("BEGIN IMMEDIATE")
    db.executemany("DELETE FROM entry WHERE run_id = ?", [(run_id,) for run_id in gone])
    db.executemany("INSERT OR REPLACE INTO entry VALUES (?, ?, ?, ?, ?)", rows)
    db.execute("COMMIT")
