"""The acts of a file of events, checked as those that are sent to the recorder.

Pure. The checks are those of the control line (``logger.control``), and what only the order of the
acts can tell. Gets events in time order; what it refuses, ``importing`` shows with its row.
"""

from dataclasses import replace

from logger.control.acts import require_known
from logger.control.door import request_of
from logger.control.requests import Act, Next, Note, Outcome
from logger.model.errors import InputError
from logger.model.event import ACTS, Event
from logger.model.history import is_correction
from logger.model.sheet import Sheet

_AFTER_THE_END = (Note, Outcome)
_WRITE = {
    "piece_in": "write piece_in:3",
    "piece_out": "write piece_out:3",
    "outcome": "write 'accepted' as its text, or 'rejected: ' and the defects",
    "set_value": 'write data such as {"name": "mass_g.salt", "value": 5}',
    "register_piece": 'write data such as {"piece": 3, "mass_g": 42.1}',
    "confirm_piece": 'write data such as {"immersion": 1, "piece": 3}',
}
"""Right form of an event by its word."""


class ActsOfFile:
    """Checks the acts of one file, one after the other.

    Parameters
    ----------
    sheet : Sheet
        The sheet that the file is judged by.
    """

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._acts = 0
        self._ended = False

    def __call__(self, event: Event) -> Event:
        """Return an act as it is kept.

        Raises
        ------
        InputError
            If it cannot be, with what was found and what to write.
        """
        if event.kind == "run_start" or is_correction(event):
            return event
        try:
            return self._checked(event)
        except InputError as cause:
            if (form := _WRITE.get(event.kind)) is None:
                raise
            raise InputError(cause.where, cause.found, f"{cause.wanted}; {form}") from cause

    def _checked(self, event: Event) -> Event:
        data = dict(event.data)
        if event.kind == "stage" and "at_ns" in data:
            data["at_s"] = data.pop("at_ns") / 1e9
        asked = request_of(event.kind, data | {"text": event.text})
        if self._ended and not isinstance(asked, _AFTER_THE_END):
            wanted = "take it out, or give it a time before the end"
            raise InputError(event.kind, f"{event.kind} after run_end", wanted)
        self._ended |= event.kind == "run_end"
        if event.kind == "move" or (event.kind == "undo" and "event" in data):
            raise InputError(
                event.kind, "entries in a file have no numbers", "give the entry its time"
            )
        if event.kind == "undo":
            if not self._acts:
                raise InputError(event.kind, "nothing to take back", "take the row out")
            self._acts -= 1
        self._acts += event.kind in ACTS
        if not isinstance(asked, Act):
            return event
        if isinstance(asked, Next) and not self._sheet.stage:
            raise InputError(event.kind, "the sheet has no stage", "take the row out")
        require_known(asked, self._sheet)
        return replace(event, data=asked.data())
