"""A CSV file of events beside imported readings: what a person said and when.

Takes a ``table`` and gives events; a word that is none of ours is kept as a note.
"""

import difflib
import itertools
import json
from typing import Any

from logger.model.event import OPERATOR_KINDS, Event
from logger.store.exchange.table import Table

MAX_EVENTS = 100_000
_NUMBERED = ("mark", "piece_in", "piece_out")


def read_events(table: Table, dated: bool, start_ns: int, report: list[str]) -> list[Event]:
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
    events: list[Event] = []
    for row, cells in table.body():
        if len(events) >= MAX_EVENTS:
            raise table.bad(row, None, f"more than {MAX_EVENTS} events", "split the file")
        t_ns = table.time(row, cells[0])[0] - shift_ns
        text = cells[at["text"]] if "text" in at else ""
        kind, data, text = _kind(table, row, at, cells, text, report)
        events.append(Event(t_ns=t_ns, kind=kind, source="operator", text=text, data=data))
    if any(b.t_ns < a.t_ns for a, b in itertools.pairwise(events)):
        report.append("events were out of order; sorted")
    return sorted(events, key=lambda e: e.t_ns)


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
        except (ValueError, TypeError, RecursionError) as cause:
            raise table.bad(
                row, at["data"], "that is no JSON object", 'such as {"piece": 1}'
            ) from cause
    if kind == "stage" and (rest.strip() or data.get("stage")):
        return "stage", data or {"stage": rest.strip()}, text
    if kind in _NUMBERED and rest.strip().isdecimal():
        return kind, data | {"piece": int(rest)}, text
    if word in OPERATOR_KINDS and word != "stage":
        return word, data, text
    near = difflib.get_close_matches(kind, OPERATOR_KINDS, n=1, cutoff=0.75)
    if near or not word:
        hint = f"did you mean {near[0]!r}? " if near else ""
        wanted = f"{hint}a stage starts with stage:<its id>, others are {', '.join(OPERATOR_KINDS)}"
        raise table.bad(row, at["event"], repr(word), wanted)
    report.append(f"{table.name}: row {row}: event {word!r} is kept as a note")
    return "note", data, f"{word}: {text}" if text else word
