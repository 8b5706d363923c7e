"""One run as the list of runs has it, worked out from its file.

Reads one run file; a file that does not read becomes an entry that says so.
"""

import datetime
import json
import logging
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from logger.model.errors import BainlogError
from logger.model.event import KNOWN_KINDS, Event
from logger.model.finding import Results
from logger.model.history import said_because, started_with
from logger.store.run.records import Envelope
from logger.store.run.view import RunView
from logger.store.seals.damage import sentences

log = logging.getLogger(__name__)

_TRACE_POINTS = 48
_TRACE_CHANNELS = 6


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
    missed : int or None
        Checks that were not met; None where nothing was judged.
    ribbon_json : str
        JSON of ``[[from_s, to_s, missed], ...]``: the stages, and whether a check was not met.
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
    because: str = ""
    """Cause that was found, by its id in the knowledge; empty where nobody said."""
    damage: tuple[str, ...] = ()
    """What of the file is damaged and left out, in sentences."""
    searched: str = ""
    """Lower-case text that a text search looks through."""
    missed: int | None = None
    ribbon_json: str = "[]"
    trace_json: str = "{}"
    numbers_json: str = "{}"
    """Of the checks of the batch, by key; kept apart from what is listed."""

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

    def ribbon(self) -> list[tuple[float, float, bool]]:
        """Return from when to when each stage was [s], and whether a check was not met in it."""
        return [(float(a), float(b), bool(missed)) for a, b, missed in json.loads(self.ribbon_json)]

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
            "because": self.because,
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
    damage = tuple(sentences(view.damage()))
    results = _results(view)  # last: results of another edition are no damage of the list
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
        because=said_because(events),
        duration_ns=view.duration_ns,
        status=view.status,
        problem=_unknown_kinds(events) or _half_taken_in(view, run_id),
        damage=damage,
        searched=" ".join(searched).lower(),
        missed=_missed(results),
        ribbon_json=json.dumps(_ribbon(results)),
        trace_json=json.dumps(_trace(view)),
        numbers_json=json.dumps(_numbers(results)),
    )


def _results(view: RunView) -> Results | None:
    """Return what was found; None where this edition can't read it."""
    try:
        return view.results()
    except BainlogError:
        return None


def _missed(results: Results | None) -> int | None:
    if results is None or not results.findings:
        return None
    return sum(found.verdict == "not met" for found in results.findings)


class ListedNumber(NamedTuple):
    """What was measured for a check of the whole batch, and its target [`unit`]."""

    label: str
    value: float
    unit: str
    low: float | None
    high: float | None


def _numbers(results: Results | None) -> dict[str, ListedNumber]:
    """Return the numbers of the checks that are not of one piece, by key and subject."""
    found: dict[str, ListedNumber] = {}
    for one in results.findings if results is not None else ():
        if one.value is not None and one.piece is None:
            name = f"{one.key} {one.subject}".strip()
            value = float(f"{one.value:.6g}")
            found.setdefault(name, ListedNumber(one.check, value, one.unit, one.low, one.high))
    return found


def _ribbon(results: Results | None) -> list[tuple[float, float, int]]:
    if results is None:
        return []
    missed = {found.stage for found in results.findings if found.verdict == "not met"}
    return [
        (round(stage.start_s, 1), round(stage.end_s, 1), int(stage.id in missed))
        for stage in results.stages
        if stage.start_s is not None and stage.end_s is not None
    ]


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
        f"Made by a newer version, or with a stage kind of your own: events of kind "
        f"{', '.join(kinds)[:200]} are left out here; update bainlog, or add that stage kind, "
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
