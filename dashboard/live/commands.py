"""From a tapped button to the recorder and back: what was asked, what came of it.

A command counts only when the recorder has committed it; until then the page says nothing, and
when it is refused or unanswered the page says so in the recorder's own words.
"""

from typing import Any

from dashboard.links import Links
from logger.control.client import GoneError, RefusedError
from logger.model.event import OPERATOR_KINDS

KINDS = (*(kind for kind in OPERATOR_KINDS if kind != "run_start"), "start")
"""Commands a page may send."""

UNDOABLE = {"next", "stage", "mark", "confirm_piece", "accept", "piece_in", "piece_out"}
"""Commands whose message offers to take them back."""

SAID = {
    "start": "The batch has begun.",
    "run_end": "The batch is finished and saved.",
    "next": "Next stage.",
    "mark": "Marked.",
    "undo": "Taken back.",
    "note": "Note saved.",
    "ack": "Acknowledged.",
    "shelve": "Set aside for now. Clocks go on.",
    "unshelve": "Back in force.",
    "reset_latch": "Cleared.",
    "accept": "Done.",
    "decline": "Left as it was.",
    "confirm_piece": "Piece confirmed.",
    "piece_in": "Piece in.",
    "piece_out": "Piece out.",
}


def carry_out(links: Links, command: dict[str, Any]) -> dict[str, Any]:
    """Send one command and return what to tell the person.

    Parameters
    ----------
    command : dict
        ``{"do": kind, "about": {...}, "n": number}`` from the page.

    Returns
    -------
    dict
        ``{"n", "text", "tone", "undo"}``; `undo` is the event's number when it can be taken back.
    """
    do, about, number = command.get("do"), command.get("about") or {}, command.get("n")
    if do not in KINDS or not isinstance(about, dict):
        return {"n": number, "text": f"This screen has no command {do!r}.", "tone": "stop"}
    try:
        event = links.send(do, about)
    except RefusedError as cause:
        return {"n": number, "text": f"Not done. {cause}", "tone": "stop"}
    except GoneError as cause:
        text = f"Not known whether it was done: {cause}"
        return {"n": number, "text": text, "tone": "stop"}
    said = {"n": number, "text": SAID.get(do, "Saved."), "tone": "good", "do": do}
    if do == "run_end" and event.get("run"):
        said["run"] = str(event["run"])
    if do in UNDOABLE and event.get("seq"):
        said["undo"] = int(event["seq"])
    return said
