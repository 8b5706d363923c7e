"""What a run's events come to: corrections applied, what was said at the start, later notes.

Pure. Events stay as they were stored. A correction is an event of its own that names another one:
``undo`` takes it back, ``move`` gives it another time, ``go_on`` takes back the end of the run.
Used where a run is judged again and where its events are drawn.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from logger.model.event import ACTS, Event
from logger.model.rows import CorrectionRow, NoteRow, ResultRow, StartRow

MOVED_FROM = "moved_from_ns"
"""Key of a moved event's data: its own time [ns]."""
DATED = "at_ns"
"""Key of the data of a ``stage`` that was said later: when it began [ns]."""
SAID_LATER = "said_later"
"""Key of the data of an act that the engine takes at an earlier time than it was said: true."""
FIRST = "first_ns"
"""Key of the same data: when the stage had begun that it begins earlier [ns]."""
KEPT = "kept"
"""Key of a correction's data: which stage each later act keeps beginning, by its time [ns]."""
BEGINNINGS = ("stage", "next", "accept")
"""Acts that can begin a stage."""
_ENDS = ("run_end", "interrupted")


@dataclass(slots=True, kw_only=True)
class ActRow:
    """Something the operator did that stands, and can be taken back.

    Attributes
    ----------
    event : int
        Number of its event in the run file; 0 before it is stored.
    at_ns : int
        Time under which its event was stored [ns].
    kind : str
        One of `logger.model.event.ACTS`.
    t_s : float
        When it counts [s].
    was_s : float or None
        When its event was stored, where it was moved since [s].
    ends, begins : str
        Titles of the stages it ended and began, empty for none.
    stage : str
        Id of the stage it began.
    piece : int or None
        Piece it is about.
    text : str
        What was typed with it, or the question that it answers.
    said_later : bool
        It began its stage at an earlier time than it was said.
    first_s : float or None
        When its stage had begun, where it gave that an earlier start [s].
    """

    event: int = 0
    at_ns: int
    kind: str
    t_s: float
    was_s: float | None = None
    ends: str = ""
    begins: str = ""
    stage: str = ""
    piece: int | None = None
    text: str = ""
    said_later: bool = False
    first_s: float | None = None


def stamp_ns(event: Event) -> int:
    """Return the time under which an event was stored [ns], moved or not."""
    return int(event.data.get(MOVED_FROM, event.t_ns))


def corrected(events: Iterable[Event]) -> list[Event]:
    """Return a run's events as they count.

    Parameters
    ----------
    events : iterable of Event
        In the order of their numbers.

    Returns
    -------
    list of Event
        Without what was taken back, with what was moved at its new time, and without the
        corrections. An ``undo`` that names nothing is left to the engine: so older files have it.
    """
    counted: list[Event] = []
    for event in events:
        if event.kind == "go_on":
            counted = [e for e in counted if e.kind not in _ENDS]
        if not is_correction(event):
            counted.append(event)
            continue
        place = _place_of(counted, event)
        if place is None:
            continue
        kept = event.data.get(KEPT)
        kept = kept if isinstance(kept, dict) else {}
        if event.kind == "undo":
            del counted[place]
        else:
            to_ns = round(float(event.data["to_s"]) * 1e9)
            counted[place] = moved(pinned(counted[place], kept), to_ns)
        counted = [pinned(e, kept) for e in counted]
    return counted


def is_correction(event: Event) -> bool:
    """Whether an event corrects another one that it names."""
    if event.source != "operator" or not isinstance(event.data.get("at_ns"), int):
        return False
    if event.kind == "move":
        return isinstance(event.data.get("to_s"), int | float)
    return event.kind == "undo" and "was_s" in event.data


def moved(event: Event, to_ns: int) -> Event:
    """Return an event at another time [ns]; it keeps its own.

    One that began a stage at an earlier time than it was said is still said then.
    """
    if event.kind == "stage" and DATED in event.data and to_ns < event.t_ns:
        return replace(event, data={**event.data, DATED: to_ns})
    data = {key: value for key, value in event.data.items() if key != DATED}
    return replace(event, t_ns=to_ns, data={**data, MOVED_FROM: stamp_ns(event)})


def pinned(event: Event, kept: Mapping[str, object]) -> Event:
    """Return an act that began a stage as the start of that very stage.

    ``next`` begins what follows; once an act before it is corrected that would be another stage.

    Parameters
    ----------
    event : Event
        Any event.
    kept : mapping
        Ids of stages by the time under which their acts were stored [ns].
    """
    stage = kept.get(str(stamp_ns(event))) if event.kind in BEGINNINGS else None
    if not isinstance(stage, str):
        return event
    dated = {DATED: event.t_ns} if event.kind == "accept" else {}
    return replace(event, kind="stage", data={**dated, **event.data, "stage": stage})


def _place_of(events: list[Event], correction: Event) -> int | None:
    """Return where the act is that a correction names, by its number or else by its time."""
    number, at_ns = correction.data.get("event"), correction.data["at_ns"]
    acts = [place for place, event in enumerate(events) if event.kind in ACTS]
    for place in reversed(acts):
        if number and events[place].seq == number:
            return place
    return next((place for place in reversed(acts) if stamp_ns(events[place]) == at_ns), None)


def corrections(events: Iterable[Event]) -> list[CorrectionRow]:
    """Return the corrections of a run, in the order they were made."""
    return [
        CorrectionRow(
            event=int(e.data.get("event") or 0),
            says=e.text,
            was_s=float(e.data.get("was_s", 0.0)),
            to_s=float(e.data["to_s"]) if e.kind == "move" else None,
            by=str(e.data.get("by", "")),
            utc=str(e.data.get("utc", "")),
        )
        for e in events
        if is_correction(e)
    ]


def started_with(events: Iterable[Event]) -> StartRow:
    """Return what was said of a batch when it was started; an older run says nothing."""
    data = next((event.data for event in events if event.kind == "run_start"), {})
    return StartRow(
        operator=str(data.get("operator", "")),
        size=str(data.get("size", "")),
        lots=_texts(data.get("lots")),
        instead=_texts(data.get("instead")),
    )


def _texts(found: object) -> dict[str, str]:
    return {str(k): str(v) for k, v in found.items()} if isinstance(found, dict) else {}


def all_notes(judged: Iterable[NoteRow], events: Iterable[Event]) -> list[NoteRow]:
    """Return a run's notes, those added later after those of the batch.

    Parameters
    ----------
    judged : iterable of NoteRow
        Of the results.
    events : iterable of Event
        All events of the run file.
    """
    notes = list(judged)
    known = {(note.t_s, note.text) for note in notes}
    return notes + [
        NoteRow(t_s=event.t_ns / 1e9, text=event.text)
        for event in events
        if event.kind == "note" and (event.t_ns / 1e9, event.text) not in known
    ]


def piece_defects(events: Iterable[Event]) -> dict[int, tuple[str, ...]]:
    """Return the defects of single pieces, as they were said last; none in an older run."""
    said = [e.data["pieces"] for e in events if e.kind == "outcome" and "pieces" in e.data]
    rows = said[-1] if said and isinstance(said[-1], list) else []
    return {
        int(row["piece"]): tuple(str(defect) for defect in row.get("defects", ()))
        for row in rows
        if isinstance(row, dict) and isinstance(row.get("piece"), int)
    }


def said_because(events: Iterable[Event]) -> str:
    """Return the cause that was found, as it was said last; empty where nobody said, or the batch
    was accepted after all."""
    found = ""
    for event in events:
        if event.kind == "outcome":
            rejected = event.data.get("outcome") == "rejected"
            found = str(event.data.get("because", found)) if rejected else ""
    return found


def said_results(events: Iterable[Event]) -> list[ResultRow]:
    """Return what was measured or scored of a batch; a later value takes the place of an earlier
    one of the same name and taster."""
    found: dict[tuple[str, str], ResultRow] = {}
    for event in events:
        rows = event.data.get("results") if event.kind == "outcome" else None
        for row in rows if isinstance(rows, list) else []:
            if isinstance(row, dict) and isinstance(row.get("value"), int | float):
                one = ResultRow(
                    name=str(row.get("name", "")),
                    value=float(row["value"]),
                    unit=str(row.get("unit", "")),
                    by=str(row.get("by", "")),
                )
                found[one.name, one.by] = one
    return list(found.values())
