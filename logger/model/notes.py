"""The notes of a run: those judged with it, and those that were added when it was over.

Pure; results and events in, one list out.
"""

from collections.abc import Iterable

from logger.model.event import Event
from logger.model.rows import NoteRow


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
