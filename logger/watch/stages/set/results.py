"""The rows of immersions and the table of pieces, as they stand in the results.

Pure; used by the bath watcher. What stands there is replaced at every tick: a row may turn out to
be another piece's.
"""

from collections.abc import Sequence
from typing import Any

from logger.model.finding import Verdict
from logger.watch.engine.contract import Context
from logger.watch.scale import pieces as formed
from logger.watch.stages.set.board import Piece, one_a_piece


def write(
    context: Context, channel: str | None, pieces: Sequence[Piece], verdicts: Sequence[Verdict]
) -> None:
    """Write the rows of one bath stage, and dwell and skin of each piece.

    Parameters
    ----------
    context : Context
        Of the bath stage.
    channel : str or None
        The bath scale.
    pieces : sequence of Piece
        All rows.
    verdicts : sequence of str
        Of their dwells.
    """
    results, stage_id = context.out.results, context.stage_id
    mine = [row_of(p, stage_id, channel, v) for p, v in zip(pieces, verdicts, strict=True)]
    others = [r for r in results.immersions if r.get("stage") != stage_id]
    results.immersions[:] = [*others, *mine]
    for facts in context.batch.pieces.values():
        facts.dwell_s = facts.set_fraction = None
    for piece in one_a_piece(list(pieces)):
        if piece.number is not None:
            facts = formed.facts_of(context.batch, piece.number)
            facts.dwell_s, facts.set_fraction = piece.row.dwell_s, piece.set_fraction
    formed.write(context)


def row_of(piece: Piece, stage: str, channel: str | None, verdict: Verdict) -> dict[str, Any]:
    """Return the row of an immersion for the results, JSON-ready.

    Where a gap hides a moment, the time is None and ``in_between_s`` or ``out_between_s`` holds the
    interval [s]; ``dwell_between_s`` then holds that of the dwell.
    """
    row = piece.row
    return {
        "stage": stage,
        "immersion": row.number,
        "piece": piece.number,
        "channel": channel,
        "in_s": row.in_s,
        "out_s": row.out_s,
        "dwell_s": row.dwell_s,
        "in_between_s": list(row.in_between_s) if row.in_between_s else None,
        "out_between_s": list(row.out_between_s) if row.out_between_s else None,
        "dwell_between_s": list(row.dwell_between_s) if row.dwell_between_s else None,
        "mass_in_g": row.mass_in_g,
        "mass_out_g": row.mass_out_g,
        "set_fraction": piece.set_fraction,
        "confidence": row.confidence,
        "ambiguous": row.ambiguous,
        "by_hand": row.by_hand,
        "candidates": [c.dwell_s for c in row.candidates],
        "verdict": verdict,
    }
