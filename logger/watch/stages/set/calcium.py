"""What is left of a bath's calcium after the pieces so far, and after what was poured.

Pure; used by the skin clock of the bath watcher.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from logger.batch.amounts import BathAmounts, CoatAmounts
from logger.science.calcium.inventory import (
    Bath,
    after_ladle_out,
    after_piece,
    after_top_up,
    fresh_bath,
)
from logger.science.gel.coating import Body, coat_volume_mm3
from logger.watch.stages.set.board import Piece

NO_BATH_SHARE = 0.5
"""A change of level by more of the bath than this is a vessel put on or taken off."""
DRAG_G = 1.5
"""Bath carried out by a piece [g]: 0.5 to 3 g, from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """A piece that has been in the bath: its coat, how far it set, whether it is out."""

    coat_mm: float
    set_fraction: float
    out: bool


def gone_of(pieces: Sequence[Piece], coat_of_mm: Callable[[int], float]) -> list[Gone]:
    """Return the rows of a bath as what they take from it; a skin that cannot be told counts as
    set through."""
    return [
        Gone(
            coat_mm=coat_of_mm(p.row.piece),
            set_fraction=1.0 if p.set_fraction is None else p.set_fraction,
            out=not p.inside,
        )
        for p in pieces
    ]


def left_after(
    amounts: BathAmounts,
    coat: CoatAmounts,
    body: Body,
    gone: Sequence[Gone],
    drag_g: float | None,
    others_g: Sequence[float],
) -> Bath:
    """Return the bath as it is now.

    Parameters
    ----------
    amounts : BathAmounts
        As it was made up.
    coat, body : CoatAmounts, Body
        What the pieces bring.
    gone : sequence of Gone
        Pieces so far, those still in included.
    drag_g : float or None
        Bath that leaves with a piece, as learned from this run [g].
    others_g : sequence of float
        Lasting changes that no piece explains [g]: water poured in, bath ladled out.

    Raises
    ------
    OutOfRangeError
        If more calcium has left than there was.
    """
    bath = fresh_bath(amounts.mass_g, amounts.mass_fraction, amounts.salt.anhydrous_g_mol)
    for change_g in others_g:
        if abs(change_g) > NO_BATH_SHARE * bath.mass_g:
            continue
        if change_g > 0.0:
            bath = after_top_up(bath, change_g, 0.0, amounts.salt.anhydrous_g_mol)
        else:
            bath = after_ladle_out(bath, -change_g)
    for piece in gone:
        bath = after_piece(
            bath,
            coat_volume_ml=coat_volume_mm3(piece.coat_mm, body) * 1e-3,
            capacity_mol_m3=coat.capacity_mol_m3,
            drag_g=(DRAG_G if drag_g is None else max(0.0, drag_g)) if piece.out else 0.0,
            set_fraction=min(1.0, piece.set_fraction),
        )
    return bath
