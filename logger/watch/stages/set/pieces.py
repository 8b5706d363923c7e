"""The pieces of a bath: what they weigh and how they are coated, and each immersion of one.

Pure; used by the bath watcher and the modules beside it. A `Piece` joins a row of the detector
with what the physics and the sheet say of it. Times are seconds on the run's axis.
"""

import math
from dataclasses import dataclass
from statistics import median

from logger.batch.amounts import body_of, pieces_of
from logger.model.kinds.registry import kind_of
from logger.model.kinds.set import SetStage
from logger.science.gel.coating import coat_volume_mm3, volume_mm3
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Batch, Context
from logger.watch.stages.set.rows import Immersion

TAKE_OUT_S = 20.0
"""A piece is due this long before the sheet's longest dwell ends [s]: time to take it out."""
G_MM3 = 1e-3
"""Density of a piece [g/mm3]: about that of water; rough, no source."""
UNKNOWN_COAT_MM = 0.5
"""Stands for a coat of which nothing is known, where nothing is judged by it [mm]."""


def masses_in_g(context: Context, stage: SetStage) -> dict[int, float]:
    """Return the masses with which the pieces go in [g]: as weighed, else as the sheet says.

    A bare mass counts only where no coat comes on it: 8 g of coat would pass for another piece.
    """
    coated = any(kind_of(s).coats for s in context.sheet.stage)
    known = {
        n: p.coated_mass_g
        for n, p in context.batch.pieces.items()
        if p.coat_mass_g is not None or not coated
    }
    measured = {n: mass for n, mass in known.items() if mass is not None}
    return measured or dict(enumerate(stage.piece_masses_g or [], start=1))


def expected_pieces(context: Context, stage: SetStage) -> int | None:
    """Return how many pieces will come: as the stage says, as were formed, as the sheet says."""
    listed = len(stage.piece_masses_g or [])
    return stage.pieces or len(context.batch.pieces) or pieces_of(context.sheet) or listed or None


def usual_mass_g(context: Context, stage: SetStage) -> float | None:
    """Return what a piece weighs [g]: the middle of those weighed bare, else by its size.

    A coat comes on top where one is expected; both are about as dense as water.
    """
    body = body_of(context.sheet)
    facts = context.batch.pieces.values()
    bare_g = [p.bare_mass_g for p in facts if p.bare_mass_g is not None]
    if body is None:
        return median(bare_g) if bare_g else None
    coat_g = coat_volume_mm3(coat_of_mm(context.batch, stage, 0), body) * G_MM3
    return coat_g + (median(bare_g) if bare_g else volume_mm3(body) * G_MM3)


def planned_dwell_s(stage: SetStage) -> tuple[float, float] | None:
    """Return the shortest and the longest dwell that the sheet wants [s], if it has both."""
    dwell = stage.dwell_s
    if dwell is None or dwell.low is None or not dwell.high:
        return None
    return dwell.low, dwell.high


def coats_mm(batch: Batch) -> set[float]:
    """Return the thicknesses measured [mm]."""
    return {round(p.coat_mm, 3) for p in batch.pieces.values() if p.coat_mm}


def coat_of_mm(batch: Batch, stage: SetStage, piece: int) -> float:
    """Return the coat of a piece [mm]: as measured, as expected, or the thickest measured.

    Parameters
    ----------
    batch : Batch
        With the coats measured.
    stage : SetStage
        With the coat expected.
    piece : int
        Its number.
    """
    facts = batch.pieces.get(piece)
    if facts is not None and facts.coat_mm:
        return round(facts.coat_mm, 3)
    if stage.expected_coat_mm is not None:
        return stage.expected_coat_mm
    return max(coats_mm(batch), default=UNKNOWN_COAT_MM)


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
        """Whether it is uncertain which piece this is."""
        return self.row.ambiguous

    @property
    def matters(self) -> bool:
        """Whether a verdict depends on which piece this is.

        It does where a dwell that it may have is outside the sheet's, or the sheet has none.
        """
        dwells = [c.dwell_s for c in self.row.candidates]
        dwells += [self.row.dwell_s] if self.row.dwell_s is not None else []
        if (self.low_s is None and self.high_s is None) or not dwells:
            return True
        low_s, high_s = self.low_s or 0.0, math.inf if self.high_s is None else self.high_s
        return not all(low_s <= dwell_s <= high_s for dwell_s in dwells)

    @property
    def left_range_s(self) -> tuple[float, float] | None:
        """How long a piece in the bath needs until it has set [s]: early and late end of that."""
        if not self.inside or self.needed is None or self.left_s is None:
            return None
        done_s = (self.share or 0.0) ** 2 * self.needed.likely_s
        return max(0.0, self.needed.low_s - done_s), max(0.0, self.needed.high_s - done_s)

    def age_s(self, now_s: float) -> float | None:
        """Return how long it has been in by a time [s], or was in.

        Where a gap hides when it went in, that is the least.
        """
        in_s = came_at_s(self.row)
        if self.row.dwell_s is not None or in_s is None or not self.inside:
            return self.row.dwell_s
        return now_s - in_s

    def due_in_s(self, now_s: float) -> float | None:
        """Return how long until it should come out, from a time on [s]; negative when overdue.

        Due at the sheet's shortest dwell, or later once the skin has set by all that is known, but
        so that it can be taken out within its longest; without a sheet at the advised dwell.
        """
        age_s = self.age_s(now_s)
        if age_s is None or not self.inside:
            return None
        if self.low_s is None and self.high_s is None:
            return None if self.needed is None else self.needed.advised_s - age_s
        left_s = [] if self.low_s is None else [self.low_s - age_s]
        left = self.left_range_s
        if left is not None:
            left_s.append(left[1])
        if not left_s:
            return (self.high_s or 0.0) - age_s
        if self.high_s is None:
            return max(left_s)
        latest_s = max(self.low_s or 0.0, self.high_s - TAKE_OUT_S) - age_s
        return min(max(left_s), latest_s)

    def status(self, now_s: float) -> str:
        """Return its status at a time [s]: in, due, overdue, out or unsure."""
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
    """Return when a piece left the bath, or now while it is in [s]: no credit inside a gap."""
    if row.out_s is not None:
        return row.out_s
    return now_s if row.out_between_s is None else row.out_between_s[0]
