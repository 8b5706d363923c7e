"""What an operator's event says of a piece in the bath.

Pure.
"""

import math
from collections.abc import Sequence

from logger.model.event import Event
from logger.watch.scale import pieces as formed
from logger.watch.stages.set.rows import Immersion


def operator_statement(event: Event) -> tuple[str, int] | None:
    """Return what a ``piece_in`` or ``piece_out`` says: ``in`` or ``out``, and which piece."""
    piece = formed.number_of(event.data.get("piece"))
    if piece is None or event.kind not in ("piece_in", "piece_out"):
        return None
    return ("in" if event.kind == "piece_in" else "out"), piece


def mark_statement(
    piece: int | None, rows: Sequence[Immersion], expected: int | None
) -> tuple[str, int] | None:
    """Return what a mark without a scale means.

    Parameters
    ----------
    piece : int or None
        The piece it names.
    rows : sequence of Immersion
        All so far.
    expected : int or None
        How many pieces there are, if known.

    Returns
    -------
    tuple or None
        The named piece goes in, or comes out where it is in. Without a name the next one goes in
        until all are in, then the one that has been in longest comes out; None once all were in
        and are out: there is no further piece.
    """
    inside = [r for r in rows if r.out_s is None and r.out_between_s is None]
    if piece is not None:
        return ("out" if any(r.piece == piece for r in inside) else "in"), piece
    all_in = expected is not None and len({r.piece for r in rows}) >= expected
    if inside and (expected is None or all_in):
        first = min(inside, key=lambda r: r.in_s if r.in_s is not None else -math.inf)
        return "out", first.piece
    return None if all_in else ("in", max((r.piece for r in rows), default=0) + 1)
