"""The notes of a run: those judged with it, and those that were added when it was over.

Pure; results and events in, one list out.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from logger.model.event import Event


def all_notes(judged: Iterable[Mapping[str, Any]], events: Iterable[Event]) -> list[dict[str, Any]]:
    """Return a run's notes, those added later after those of the batch.

    Parameters
    ----------
    judged : iterable of mapping
        ``notes`` of the results: ``{"t_s", "text", "stage"}``.
    events : iterable of Event
        All events of the run file.
    """
    notes = [dict(note) for note in judged]
    known = {(note.get("t_s"), note.get("text")) for note in notes}
    return notes + [
        {"t_s": event.t_ns / 1e9, "text": event.text, "stage": None}
        for event in events
        if event.kind == "note" and (event.t_ns / 1e9, event.text) not in known
    ]
