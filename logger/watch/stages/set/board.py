"""The bath board and the sentences of the bath: each piece, what is due next, what is overdue.

Pure; used by the bath watcher, whose rows it words. Times are seconds on the run's axis.
"""

import math
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

from logger.model.state import Tone
from logger.science.gel.dwell import NeededDwell
from logger.watch.stages.set.immersion.assignment import Immersion

SOON_S = 20.0
"""A piece is called this long before it is due [s]: time to dry a hand."""
UNSURE_BELOW = 0.8

_news = attrgetter(
    "piece", "in_s", "out_s", "dwell_s", "ambiguous", "at_start", "in_between_s", "out_between_s",
    "dwell_between_s", "lifted_s", "by_hand",
)  # fmt: skip
"""What of a row counts as news."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One row: what the detector says, what the physics says, what the sheet wants.

    Attributes
    ----------
    row : Immersion
        From the detector.
    share : float or None
        Share of the skin that the gel front could pass, above 1 with time to spare.
    left_s : float or None
        Until it has set [s].
    needed : NeededDwell or None
        For a piece in the bath.
    low_s, high_s : float or None
        The sheet's dwell.
    """

    row: Immersion
    share: float | None
    left_s: float | None
    needed: NeededDwell | None
    low_s: float | None
    high_s: float | None

    @property
    def number(self) -> int | None:
        """Number of the piece; None for one more than there are."""
        return self.row.piece or None

    @property
    def name(self) -> str:
        """How it is called at the head of a sentence."""
        return "A piece" if self.number is None else f"Piece {self.number}"

    @property
    def inside(self) -> bool:
        """Whether it is in the bath now."""
        return self.row.out_s is None and self.row.out_between_s is None

    @property
    def set_fraction(self) -> float | None:
        """Share of the skin that has set, at most 1."""
        return None if self.share is None else min(1.0, self.share)

    @property
    def unsure(self) -> bool:
        """Whether it cannot be told which piece this is."""
        return self.row.ambiguous

    @property
    def matters(self) -> bool:
        """Whether a verdict hangs on which piece this is: a dwell it may have lies outside the
        sheet's, or the sheet has none."""
        dwells = [c.dwell_s for c in self.row.candidates]
        dwells += [self.row.dwell_s] if self.row.dwell_s is not None else []
        if (self.low_s is None and self.high_s is None) or not dwells:
            return True
        low_s, high_s = self.low_s or 0.0, math.inf if self.high_s is None else self.high_s
        return not all(low_s <= dwell_s <= high_s for dwell_s in dwells)

    def age_s(self, now_s: float) -> float | None:
        """How long it has been in, or was in [s]; at least, where a gap hides when it went in."""
        in_s = came_at_s(self.row)
        if self.row.dwell_s is not None or in_s is None or not self.inside:
            return self.row.dwell_s
        return now_s - in_s

    def due_in_s(self, now_s: float) -> float | None:
        """How long until it should come out [s], negative when it should have: the sheet's shortest
        dwell, or later once the skin has likely set, but within its longest; without a sheet the
        advised dwell."""
        age_s = self.age_s(now_s)
        if age_s is None or not self.inside:
            return None
        if self.low_s is None and self.high_s is None:
            return None if self.needed is None else self.needed.advised_s - age_s
        left_s = [] if self.low_s is None else [self.low_s - age_s]
        if self.left_s:
            left_s.append(self.left_s)
        if not left_s:
            return (self.high_s or 0.0) - age_s
        latest_s = math.inf if self.high_s is None else self.high_s - age_s
        return min(max(left_s), latest_s)

    def status(self, now_s: float) -> str:
        """in, due, overdue, out or unsure."""
        if not self.inside:
            return "unsure" if self.unsure else "out"
        age_s, due_s = self.age_s(now_s), self.due_in_s(now_s)
        if age_s is not None and self.high_s is not None and age_s > self.high_s:
            return "overdue"
        return "due" if due_s is not None and due_s <= 0.0 else "in"


def one_a_piece(pieces: list[Piece]) -> list[Piece]:
    """Return the row by which each piece is judged: of one that was in twice, the longer dwell."""
    longest: dict[int, Piece] = {}
    for piece in pieces:
        before = longest.get(piece.row.piece)
        if before is None or (piece.row.dwell_s or 0.0) > (before.row.dwell_s or 0.0):
            longest[piece.row.piece] = piece
    return list(longest.values())


def came_at_s(row: Immersion) -> float | None:
    """Return when a piece went in [s]: no credit inside a gap; None where nothing says it."""
    if row.in_s is not None or row.in_between_s is None:
        return row.in_s
    return row.in_between_s[1]


def left_at_s(row: Immersion, now_s: float) -> float:
    """Return when a piece left the bath [s], for its skin: no credit inside a gap; now while it is
    in."""
    if row.out_s is not None:
        return row.out_s
    return now_s if row.out_between_s is None else row.out_between_s[0]


def board(pieces: list[Piece], now_s: float) -> list[dict[str, Any]]:
    """Return the rows of the board: those in the bath by what is due next, then those out."""

    def order(piece: Piece) -> tuple[bool, float, int]:
        due_s = piece.due_in_s(now_s)
        return (not piece.inside, due_s if due_s is not None else 0.0, piece.row.number)

    return [_row(p, now_s) for p in sorted(pieces, key=order)]


def _row(piece: Piece, now_s: float) -> dict[str, Any]:
    row = piece.row
    left = None
    if piece.inside and piece.needed is not None and piece.left_s is not None:
        spare = piece.needed.likely_s
        left = [
            piece.left_s * piece.needed.low_s / spare,
            piece.left_s * piece.needed.high_s / spare,
        ]
    return {
        "immersion": row.number,
        "piece": piece.number,
        "in_s": row.in_s,
        "out_s": row.out_s,
        "dwell_s": piece.age_s(now_s),
        "low_s": piece.low_s,
        "high_s": piece.high_s,
        "set_fraction": piece.set_fraction,
        "left_s": left,
        "says": _says(piece, left, now_s),
        "status": piece.status(now_s),
        "candidates": [c.dwell_s for c in row.candidates],
    }


def _says(piece: Piece, left: list[float] | None, now_s: float) -> str:
    if piece.unsure and not piece.inside:
        dwells = sorted({c.dwell_s for c in piece.row.candidates} | {piece.row.dwell_s or 0.0})
        told = " or ".join(clock(dwell_s) for dwell_s in dwells if dwell_s > 0.0)
        return f"which piece? in for {told}" if told else "which piece?"
    if piece.set_fraction is None:
        return ""
    if piece.set_fraction >= 1.0:
        # The share is that of the likely coat: only past the range of the needed time is it sure.
        age_s, needed = piece.age_s(now_s), piece.needed
        sure = needed is None or age_s is None or age_s >= needed.high_s
        return "skin set through" if sure else "skin likely set through"
    says = f"skin {piece.set_fraction:.0%} through"
    return f"{says}, {span(*left)} more" if left is not None else says


def sentence(pieces: list[Piece], now_s: float, expected: int | None) -> tuple[str, Tone]:
    """Return what to do now, and its tone."""
    inside = [p for p in pieces if p.inside]
    late = [p for p in inside if p.status(now_s) == "overdue"]
    due = [p for p in inside if p.status(now_s) == "due"]
    if late:
        return f"{_names(late)} too long in the bath: take out now.", "stop"
    if due:
        return f"{_names(due)} due: take out, shake once, hold three seconds.", "do"
    if not pieces:
        return "Put the pieces into the bath, one after the other.", "do"
    if not inside:
        through = len({p.row.piece for p in pieces})
        if expected is not None and through < expected:
            verb = "is" if through == 1 else "are"
            return f"{through} of {expected} pieces {verb} through. Put the next one in.", "do"
        return "All pieces are out of the bath.", "calm"
    timed = [(p.due_in_s(now_s), p) for p in inside]
    known = [(d, p) for d, p in timed if d is not None]
    if not known:
        return f"{len(inside)} in the bath; nothing says how long.", "wait"
    due_s, first = min(known, key=lambda pair: pair[0])
    if due_s <= SOON_S:
        return f"{first.name} next, in {due_s:.0f} s.", "do"
    return f"{first.name} is next, in {clock(due_s)}.", "wait"


def _names(pieces: list[Piece]) -> str:
    numbers = sorted(p.row.piece for p in pieces)
    if len(numbers) == 1:
        return f"Piece {numbers[0]} is"
    return f"Pieces {', '.join(map(str, numbers[:-1]))} and {numbers[-1]} are"


def clock(duration_s: float) -> str:
    """Return a duration as said at a bench: ``40 s``, ``3 min``."""
    return f"{duration_s:.0f} s" if duration_s < 90.0 else f"{duration_s / 60.0:.0f} min"


def span(low_s: float, high_s: float) -> str:
    """Return a range of time: ``2 to 3 min``."""
    if high_s < 90.0:
        return f"{low_s:.0f} to {high_s:.0f} s"
    return f"{low_s / 60.0:.0f} to {high_s / 60.0:.0f} min"


def same_news(a: Immersion, b: Immersion) -> bool:
    """Return whether two rows tell the same: how sure it is, and masses, are no news."""
    return a is b or _news(a) == _news(b)
