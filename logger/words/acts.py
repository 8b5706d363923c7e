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


def act_name(act: ActRow) -> str:
    """Return what an act is called: ``"start of Warm both"``, ``"piece 2 in"``, ``"mark"``."""
    if act.begins:
        return f"start of {act.begins}"
    if act.ends:
        return end_name(act.ends)
    if act.kind in ("piece_in", "piece_out"):
        piece = "piece" if act.piece is None else f"piece {act.piece}"
        return f"{piece} {'in' if act.kind == 'piece_in' else 'out'}"
    name = _NAMES.get(act.kind, act.kind.replace("_", " "))
    return name if act.piece is None else f"{name} {act.piece}"


def end_name(title: str) -> str:
    """Return what the end of a stage is called."""
    return f"end of {title}"


def act_text(act: ActRow) -> str:
    """Return an act with its time on the run's clock: ``"start of Warm both, 12:04"``."""
    return f"{act_name(act)}, {clock(act.t_s)}"


def undo_text(act: ActRow) -> str:
    """Return what a button says that takes an act back: ``"Undo: start of Warm both, 12:04"``."""
    return f"Undo: {act_text(act)}"


def taken_back_text(act: ActRow) -> str:
    """Return what is said once an act is taken back."""
    return f"Taken back: {act_text(act)}"


def moved_text(act: ActRow, to_s: float) -> str:
    """Return what is said once an act has another time [s]: from when to when."""
    return f"Moved: {act_name(act)}, from {clock(act.t_s)} to {clock(to_s)}"
