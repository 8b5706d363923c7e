"""The events of a CSV file from elsewhere, checked cell by cell.

An event whose word is none of ours is kept as a note.
"""

import difflib
import itertools
import json
import re
from collections.abc import Callable
from typing import Any

from logger.model.errors import InputError
from logger.model.event import OPERATOR_KINDS, Event
from logger.store.exchange.checked import act_wrong
from logger.store.exchange.table import Table

MAX_EVENTS = 100_000
MAX_REMARKS = 20
"""Most remarks on events that are kept as notes; further ones are counted."""
Check = Callable[[Event], Event]
"""Returns an event of a file as it is kept, or refuses it."""
_NUMBERED = ("mark", "piece_in", "piece_out")


def read_events(
    table: Table, dated: bool, start_ns: int, report: list[str], check: Check | None = None
) -> list[Event]:
    """Return the events of a table in time order.

    Parameters
    ----------
    table : Table
        ``time_s`` or ``time``, ``event``, and perhaps ``text`` and ``data`` (JSON).
    dated : bool
        Whether the readings have ``time``, so that the events may.
    start_ns : int
        UTC at axis time 0 of dated readings [ns since 1970].
    report : list of str
        What was sorted out is added here.
    check : callable or None
        As `read_csv` takes it.

    Raises
    ------
    InputError
        With row and column.
    """
    names = [name.lower() for name in table.head]
    if "event" not in names:
        raise table.bad(1, None, "no column event", "the columns are time_s, event, text")
    if table.dated and not dated:
        raise table.bad(1, 0, "time", "the readings have time_s; give that here too")
    shift_ns = start_ns if table.dated else 0
    at: dict[str, int] = {
        name: names.index(name) for name in ("event", "text", "data") if name in names
    }
    events: list[tuple[int, Event]] = []
    before = len(report)
    for row, cells in table.body():
        if len(events) >= MAX_EVENTS:
            raise table.bad(row, None, f"more than {MAX_EVENTS} events", "split the file")
        t_ns = table.time(row, cells[0])[0] - shift_ns
        text = cells[at["text"]] if "text" in at else ""
        kind, data, text = _kind(table, row, at, cells, text, report)
        event = Event(t_ns=t_ns, kind=kind, source="operator", text=text, data=data)
        events.append((row, event))
    if (more := len(report) - before - MAX_REMARKS) > 0:
        report[before + MAX_REMARKS :] = [f"{table.name}: {more} more events are kept as notes"]
    if any(b.t_ns < a.t_ns for (_, a), (_, b) in itertools.pairwise(events)):
        report.append("events were out of order; sorted")
    events.sort(key=lambda one: one[1].t_ns)
    return [_checked(table, row, at["event"], event, check) for row, event in events]


def _checked(table: Table, row: int, place: int, event: Event, check: Check | None) -> Event:
    """Return an event as it is kept; what cannot be is refused at its row."""
    try:
        return event if check is None else check(event)
    except InputError as cause:
        raise table.bad(row, place, cause.found, cause.wanted) from cause


def _in_text(kind: str, text: str) -> tuple[dict[str, Any], str]:
    """Return what the text of an act says where its data does not, and what is left of the text."""
    if kind == "outcome":
        came, _, defects = text.partition(":")
        said: dict[str, Any] = {"outcome": came.strip()}
        found = [defect.strip() for defect in defects.split(",") if defect.strip()]
        return said | ({"defects": found} if found else {}), ""
    if kind in ("piece_in", "piece_out") and re.fullmatch(r"\s*[+-]?[0-9]{1,18}\s*", text):
        return {"piece": int(text)}, ""
    return {}, text


def _kind(
    table: Table, row: int, at: dict[str, int], cells: list[str], text: str, report: list[str]
) -> tuple[str, dict[str, Any], str]:
    """Return kind, data and text of an event; a word that is none of ours becomes a note."""
    word = cells[at["event"]].strip()
    kind, _, rest = word.partition(":")
    data: dict[str, Any] = {}
    if "data" in at and cells[at["data"]].strip():
        try:
            data = dict(json.loads(cells[at["data"]]))
            if (wrong := act_wrong(data)) is not None:
                raise table.bad(row, at["data"], wrong, 'such as {"piece": 1}')
        except InputError:
            raise
        except (ValueError, TypeError, RecursionError) as cause:
            raise table.bad(
                row, at["data"], "that is not a JSON object", 'such as {"piece": 1}'
            ) from cause
    if kind == "stage" and (rest.strip() or data.get("stage")):
        return "stage", data or {"stage": rest.strip()}, text
    if not data and word in OPERATOR_KINDS:
        data, text = _in_text(word, text)
    if kind in _NUMBERED and rest.strip().isdecimal():
        return kind, data | {"piece": int(rest)}, text
    if word in OPERATOR_KINDS and word != "stage":
        return word, data, text
    near = difflib.get_close_matches(kind, OPERATOR_KINDS, n=1, cutoff=0.75)
    if near or not word:
        hint = f"did you mean {near[0]!r}? " if near else ""
        wanted = f"{hint}a stage starts with stage:<its id>, others are {', '.join(OPERATOR_KINDS)}"
        raise table.bad(row, at["event"], repr(word[:60]), wanted)
    report.append(f"{table.name}: row {row}: event {word[:60]!r} is kept as a note")
    return "note", data, f"{word}: {text}" if text else word
