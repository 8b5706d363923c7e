"""Pieces are formed and put on the bench scale one by one."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import OWN, Check, Figure, Kind, Use
from logger.model.kinds.record.stage import Count, Piece, StageBase
from logger.model.written import MassBand


class FormStage(StageBase):
    """Pieces are formed and put on the bench scale one by one."""

    kind: Literal["form"]
    pieces: Count | None = None
    piece: Piece | None = None
    mass_g: Annotated[MassBand | None, Field(alias="mass")] = None


def _of_pieces(which: str) -> Figure:
    return Figure(
        name=f"piece_{which}_g",
        label=f"{which} bare piece",
        unit="g",
        least=1.0,
        target="mass_g",
        judged_by="form.piece_g",
    )


FORM = Kind(
    name="form",
    model=FormStage,
    title="Form pieces",
    example="""
[[stage]]
id = "shape"
kind = "form"
title = "Shape the rolls"
pieces = 6
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
mass = { low = "52 g", high = "82 g" }
planned = "3 min"
""",
    uses=(Use(role="bench_scale"),),
    figures=(
        Figure(
            name="piece_g",
            label="mean mass of the bare pieces",
            unit="g",
            least=0.6,
            judged_by="form.piece_g",
        ),
        _of_pieces("lightest"),
        _of_pieces("heaviest"),
    ),
    checks=(
        Check(key="form.piece_g", unit="g", sensors=(OWN,)),
        Check(key="form.unweighed_g", unit="g", sensors=(OWN,)),
    ),
    tares=True,
)
