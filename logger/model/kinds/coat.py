"""Pieces are dipped in alginate."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import OWN, Check, Figure, Kind, Use
from logger.model.kinds.record.stage import Count, Piece, StageBase
from logger.model.written import LengthBand, MassBand


class CoatStage(StageBase):
    """Pieces are dipped in alginate."""

    kind: Literal["coat"]
    pieces: Count | None = None
    piece: Piece | None = None
    scale_holds: Literal["piece", "vessel"] = "piece"
    """What is weighed before and after a dip."""
    pickup_g: Annotated[MassBand | None, Field(alias="pickup")] = None
    thickness_mm: Annotated[LengthBand | None, Field(alias="thickness")] = None
    thickest: Annotated[float, Field(ge=1.0, le=2.0, allow_inf_nan=False)] | None = None
    """Thickness at the thickest place over the mean, as measured on cut pieces [1]."""


def _of_pieces(name: str, label: str, unit: str, least: float, target: str) -> Figure:
    check = "coat.thickness_mm" if unit == "mm" else "coat.mass_g"
    return Figure(name=name, label=label, unit=unit, least=least, target=target, judged_by=check)


COAT = Kind(
    name="coat",
    model=CoatStage,
    title="Coat",
    example="""
[[stage]]
id = "coat"
kind = "coat"
title = "Dip in alginate"
pieces = 6
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
thickness = { low = "0.4 mm", high = "0.8 mm" }
# thickest = 1.15          # thickest place over the mean, as measured on cut pieces
planned = "3 min"
""",
    uses=(Use(role="bench_scale"),),
    figures=(
        Figure(
            name="coat_mm",
            label="mean coat thickness",
            unit="mm",
            least=0.02,
            judged_by="coat.thickness_mm",
        ),
        _of_pieces("coat_thinnest_mm", "thinnest coat", "mm", 0.03, "thickness_mm"),
        _of_pieces("coat_thickest_mm", "thickest coat", "mm", 0.03, "thickness_mm"),
        Figure(
            name="coat_g",
            label="mean coat mass",
            unit="g",
            least=0.2,
            judged_by="coat.mass_g",
        ),
        _of_pieces("coat_lightest_g", "lightest coat", "g", 0.3, "pickup_g"),
        _of_pieces("coat_heaviest_g", "heaviest coat", "g", 0.3, "pickup_g"),
        Figure(name="coat_spread_percent", label="spread of the coats", unit="%", least=2.0),
    ),
    checks=(
        Check(key="coat.mass_g", unit="g", sensors=(OWN,)),
        Check(key="coat.thickness_mm", unit="mm", sensors=(OWN,)),
    ),
    in_first_sheet=True,
    tares=True,
    coats=True,
)
