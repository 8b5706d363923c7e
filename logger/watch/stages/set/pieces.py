"""The masses and coats with which pieces go into the bath, as far as they are known.

Pure; used by the bath watcher.
"""

from logger.batch.amounts import pieces_of
from logger.model.sheet import SetStage
from logger.watch.engine.contract import Batch, Context

UNKNOWN_COAT_MM = 0.5
"""Stands for a coat of which nothing is known, where nothing is judged by it [mm]."""


def masses_in_g(context: Context, stage: SetStage) -> dict[int, float]:
    """Return the masses with which the pieces go in [g]: as weighed, else as the sheet says.

    A bare mass counts only where no coat comes on it: 8 g of coat would pass for another piece.
    """
    coated = any(s.kind == "coat" for s in context.sheet.stage)
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
    told = stage.pieces or len(context.batch.pieces) or pieces_of(context.sheet) or listed
    return told or None


def coats_mm(batch: Batch) -> set[float]:
    """Return the thicknesses measured [mm]."""
    return {round(p.coat_mm, 3) for p in batch.pieces.values() if p.coat_mm}


def coat_of_mm(batch: Batch, stage: SetStage, piece: int) -> float:
    """Return the coat of a piece [mm]: as measured, as expected, or the thickest measured."""
    facts = batch.pieces.get(piece)
    if facts is not None and facts.coat_mm:
        return round(facts.coat_mm, 3)
    if stage.expected_coat_mm is not None:
        return stage.expected_coat_mm
    return max(coats_mm(batch), default=UNKNOWN_COAT_MM)
