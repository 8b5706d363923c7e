"""What is known of the formed pieces, and its table in the results.

Pure; shared by the watchers of forming, coating and the bath.
"""

from dataclasses import replace
from typing import Any

from logger.batch.facts import PieceFacts
from logger.model.event import Event
from logger.model.rows import PieceRow
from logger.science.gel.coating import Body, volume_mm3
from logger.watch.engine.contract import Batch, Context

FOOD_KG_M3 = 1050.0
"""Density of a filling: 900 to 1150 kg/m3, from memory; used only to know a piece from a tray."""
MOST_PIECES, MOST_G = 500, 1e5
"""As many pieces as a sheet may have; no piece is as heavy [g]."""
ALIKE = 3
"""Pieces from which on their mean mass is taken for that of the sheet's shape."""
BY_HAND = "typed by hand without an uncertainty"


def facts_of(batch: Batch, number: int) -> PieceFacts:
    """Return the facts of a piece; an unknown piece begins here."""
    return batch.pieces.setdefault(number, PieceFacts(number=number))


def rows(batch: Batch) -> list[PieceRow]:
    """Return the table of pieces, by number."""
    return [
        PieceRow(
            piece=number,
            bare_mass_g=known.bare_mass_g,
            coat_mass_g=known.coat_mass_g,
            coat_mm=known.coat_mm,
            dwell_s=known.dwell_s,
            set_fraction=known.set_fraction,
        )
        for number, known in sorted(batch.pieces.items())
    ]


def write(context: Context) -> None:
    """Put the table of pieces into the results."""
    context.out.results.pieces[:] = rows(context.batch)


def number_of(value: Any) -> int | None:
    """Return a piece's number, or None for what is none."""
    whole = isinstance(value, int) and not isinstance(value, bool)
    return value if whole and 1 <= value <= MOST_PIECES else None


def registered_by_hand(event: Event) -> tuple[int, float] | None:
    """Return piece and mass [g] of an event that registers one, or None."""
    piece, mass_g = number_of(event.data.get("piece")), event.data.get("mass_g")
    if event.kind != "register_piece" or piece is None:
        return None
    if isinstance(mass_g, bool) or not isinstance(mass_g, (int, float)):
        return None
    return (piece, float(mass_g)) if 0.0 < mass_g < MOST_G else None


def likely_mass_g(body: Body | None) -> float | None:
    """Return about what a piece of a shape weighs [g]; None without a shape."""
    return None if body is None else volume_mm3(body) * 1e-6 * FOOD_KG_M3


def sized(body: Body, bare_mass_g: float | None, masses_g: list[float]) -> Body:
    """Return the body of one piece: that of the sheet, larger or smaller with its mass.

    Parameters
    ----------
    body : Body
        Of the sheet; its dimensions in mm.
    bare_mass_g : float or None
        Mass of the piece [g].
    masses_g : list of float
        Masses of all pieces [g].

    Notes
    -----
    The sheet's size is taken for that of the mean piece, and all pieces for alike in shape and
    density: all lengths go with the cube root of mass. With fewer than three pieces it is the
    body of the sheet.
    """
    if bare_mass_g is None or len(masses_g) < ALIKE:
        return body
    scale = (bare_mass_g / (sum(masses_g) / len(masses_g))) ** (1.0 / 3.0)
    return replace(body, diameter_mm=body.diameter_mm * scale, length_mm=body.length_mm * scale)
