"""A correction as an event: which act, its time before, who corrects it and when.

Pure. Acts come from the engine's results; what cannot be corrected is refused in words.
"""

import datetime
import math
from collections.abc import Sequence

from logger.control.requests import Move, Undo
from logger.model.errors import InputError
from logger.model.event import LAST_ACTS, MOVABLE, Event
from logger.model.history import KEPT, ActRow
from logger.model.rows import ImmersionRow
from logger.watch.stages.set.immersion.detector import LABEL_REACH_S
from logger.words.acts import act_name, act_text, moved_text, taken_back_text
from logger.words.durations import clock, clock_or_between


def correction(
    asked: Undo | Move,
    acts: Sequence[ActRow],
    *,
    t_ns: int,
    last_s: float,
    utc_ns: int,
    by: str = "",
    immersions: Sequence[ImmersionRow] = (),
) -> Event:
    """Return the event of a correction.

    Parameters
    ----------
    asked : Undo or Move
        What is asked.
    acts : sequence of ActRow
        Those that stand, in the order they were done.
    t_ns : int
        When it is asked, on the run's axis [ns].
    last_s : float
        Latest time that an act can have [s].
    utc_ns : int
        When it is asked [ns since 1970].
    by : str
        Who asks, where the request does not say so.
    immersions : sequence of ImmersionRow, optional
        What is known of the pieces in the bath.

    Raises
    ------
    InputError
        If there is no such act, or it cannot be corrected like that.
    """
    act = _named(asked, acts)
    data = {
        "event": act.event,
        "at_ns": act.at_ns,
        "was_s": act.t_s,
        "what": act_name(act),
        "by": asked.by or by,
        "utc": datetime.datetime.fromtimestamp(utc_ns // 1_000_000_000, datetime.UTC).isoformat(),
        KEPT: _kept(act, acts, own=isinstance(asked, Move)),
    }
    if isinstance(asked, Move):
        _require_place(act, acts, asked.to_s, last_s)
        _require_dwell(act, immersions, asked.to_s)
        data["to_s"] = asked.to_s
        text = moved_text(act, asked.to_s)
    else:
        text = taken_back_text(act)
    return Event(t_ns=t_ns, kind=asked.do, source="operator", text=text, data=data)


def _named(asked: Undo | Move, acts: Sequence[ActRow]) -> ActRow:
    if asked.event is None:
        if not acts:
            raise InputError(asked.do, "nothing was done that can be taken back", "")
        return acts[-1]
    act = next((a for a in acts if a.event == asked.event), None)
    if act is None:
        raise InputError(asked.do, f"there is no entry {asked.event}", "see the list of entries")
    if isinstance(asked, Move) and act.kind not in MOVABLE and not act.stage:
        raise InputError(asked.do, f"the time of {act_name(act)} can't be moved", "take it back")
    if isinstance(asked, Undo) and act not in acts[-LAST_ACTS:]:
        raise InputError(
            asked.do,
            f"{act_text(act)} is not among the last {LAST_ACTS} entries",
            "move it, or take back later ones first",
        )
    return act


def _kept(act: ActRow, acts: Sequence[ActRow], *, own: bool) -> dict[str, str]:
    """Return which stage each later act began, by its time [ns], and with `own` this act.

    One that was moved, or said later, names its stage itself.
    """
    later = (a for a in acts if a.t_s >= act.t_s and a is not act and a.was_s is None)
    kept = {str(a.at_ns): a.stage for a in later if a.stage}
    return {str(act.at_ns): act.stage, **kept} if own and act.stage else kept


def _require_place(act: ActRow, acts: Sequence[ActRow], to_s: float, last_s: float) -> None:
    """Refuse a time outside the run, or past the stage before or after."""
    if not 0.0 <= to_s <= last_s:
        raise InputError("move", f"{clock(to_s)} is outside the run", f"0:00 to {clock(last_s)}")
    if not act.stage and not act.ends:
        return
    bounds = sorted((a for a in acts if (a.stage or a.ends) and a is not act), key=lambda a: a.t_s)
    before = [a for a in bounds if a.t_s <= act.t_s]
    after = [a for a in bounds if a.t_s > act.t_s]
    if before and to_s <= before[-1].t_s:
        raise InputError(
            "move", f"{clock(to_s)} is before the {act_text(before[-1])}", "choose a later time"
        )
    if after and to_s >= after[0].t_s:
        raise InputError(
            "move", f"{clock(to_s)} is after the {act_text(after[0])}", "choose an earlier time"
        )


def _require_dwell(act: ActRow, immersions: Sequence[ImmersionRow], to_s: float) -> None:
    """Refuse a time of a piece in or out that its dwell could not follow.

    It can't end before it began; and what the scale saw is timed by the scale, so that a word only
    says which piece it was: then its time must be near to where another one came or left.
    """
    if act.kind not in ("piece_in", "piece_out") or act.piece is None:
        return
    comes = act.kind == "piece_in"
    own = [row for row in immersions if row.piece == act.piece]
    row = min(own, key=lambda r: _off_s(r, act.t_s, comes=comes), default=None)
    if row is None:
        return
    other_s = _end_s(row, comes=not comes)
    if other_s is not None and (to_s >= other_s if comes else to_s <= other_s):
        other = "is after" if comes else "is before"
        did = "came out" if comes else "went in"
        found = f"{clock(to_s)} {other} piece {act.piece} {did}, {clock(other_s)}"
        raise InputError("move", found, f"choose {'an earlier' if comes else 'a later'} time")
    between_s = row.in_between_s if comes else row.out_between_s
    if row.by_hand or _end_s(row, comes=comes) is None:
        return
    if between_s is not None and between_s[0] <= to_s <= between_s[1]:
        return
    nearest = min(immersions, key=lambda r: _off_s(r, to_s, comes=comes))
    if nearest.piece == act.piece or _off_s(nearest, to_s, comes=comes) > LABEL_REACH_S:
        did = "went in" if comes else "came out"
        when = clock_or_between(row.in_s if comes else row.out_s, between_s)
        found = f"by the scale, piece {act.piece} {did} at {when}; its dwell goes by that"
        raise InputError("move", found, "leave it, or take it back if it was another piece")


def _end_s(row: ImmersionRow, *, comes: bool) -> float | None:
    """Return when a piece came or left [s]: of an interval the end towards the piece's stay."""
    if comes:
        return row.in_s if row.in_between_s is None else row.in_between_s[0]
    return row.out_s if row.out_between_s is None else row.out_between_s[1]


def _off_s(row: ImmersionRow, t_s: float, *, comes: bool) -> float:
    """Return how far a time [s] is from where a piece came or left [s]."""
    at_s = _end_s(row, comes=comes)
    return math.inf if at_s is None else abs(at_s - t_s)
