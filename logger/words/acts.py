"""What an operator did, by name: "start of Pour the fat in, 12:04".

Pure text. Every screen, command and message that speaks of an act asks here.
"""

from logger.model.history import ActRow
from logger.words.durations import clock

_NAMES = {
    "stage": "change of stage",
    "next": "next stage",
    "mark": "mark",
    "foot_mark": "mark",
    "confirm_piece": "confirmed piece",
    "register_piece": "mass by hand",
    "accept": "yes to a question",
    "decline": "no to a question",
    "set_value": "value by hand",
}
_ANSWERS = {"accept": "yes", "decline": "no"}


def act_name(act: ActRow) -> str:
    """Return what an act is called: ``"start of Warm both"``, ``"piece 2 in"``, ``"mark"``.

    An answer is called by its question, but where it began or ended a stage.
    """
    if act.begins:
        return f"{'start' if act.first_s is None else 'earlier start'} of {act.begins}"
    if act.ends:
        return end_name(act.ends)
    if act.kind in ("piece_in", "piece_out"):
        piece = "piece" if act.piece is None else f"piece {act.piece}"
        return f"{piece} {'in' if act.kind == 'piece_in' else 'out'}"
    if act.kind in _ANSWERS and act.text:
        asked, mark, _ = act.text.partition("?")
        return f"{_ANSWERS[act.kind]} to “{asked}{mark}”"
    name = _NAMES.get(act.kind, act.kind.replace("_", " "))
    return name if act.piece is None else f"{name} {act.piece}"


def end_name(title: str) -> str:
    """Return what the end of a stage is called."""
    return f"end of {title}"


def before_text(act: ActRow) -> str:
    """Return when an act counted before, or was said, where that is another time; else nothing."""
    if act.first_s is not None:
        return f"first at {clock(act.first_s)}"
    if act.was_s is None:
        return ""
    return f"{'said' if act.said_later else 'first'} at {clock(act.was_s)}"


def act_text(act: ActRow) -> str:
    """Return an act with its time on the run's clock: ``"start of Warm both, 12:04"``."""
    return f"{act_name(act)}, {clock(act.t_s)}"


def undo_text(act: ActRow) -> str:
    """Return what a button says that takes an act back: ``"Undo: start of Warm both, 12:04"``."""
    return f"Undo: {act_text(act)}"


def taken_back_text(act: ActRow) -> str:
    """Return what is said once an act is taken back."""
    again = "" if act.first_s is None else f"; it begins at {clock(act.first_s)} again"
    return f"Taken back: {act_text(act)}{again}"


def moved_text(act: ActRow, to_s: float) -> str:
    """Return what is said once an act has another time [s]: from when to when."""
    return f"Moved: {act_name(act)}, from {clock(act.t_s)} to {clock(to_s)}"
