"""Pieces set in the calcium bath."""

from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, model_validator

from logger.model.kinds.record.kind import Check, Figure, Kind, Use
from logger.model.kinds.record.stage import Count, Piece, StageBase
from logger.model.written import (
    AtKeyError,
    DurationBand,
    LengthMm,
    MassG,
    TempBand,
    by_hand,
)


class SetStage(StageBase):
    """Pieces set in the calcium bath."""

    kind: Literal["set"]
    bath_c: Annotated[TempBand | None, Field(alias="bath")] = None
    dwell_s: Annotated[DurationBand | None, Field(alias="dwell")] = None
    pieces: Count | None = None
    piece: Piece | None = None
    piece_masses_g: list[Annotated[MassG, Field(gt=0)]] | None = Field(
        default=None, alias="piece_masses"
    )
    """Registered masses, where no form or coat stage measured them."""
    stirred: bool = False
    expected_coat_mm: Annotated[LengthMm | None, Field(alias="expected_coat")] = None
    """Coat thickness to plan with before one is measured."""

    @model_validator(mode="after")
    def _a_mass_a_piece(self, info: ValidationInfo) -> "SetStage":
        masses, pieces = self.piece_masses_g, self.pieces
        if by_hand(info) and None not in (masses, pieces) and len(masses or ()) != pieces:
            found = f"masses of {len(masses or ())} pieces, and there are {pieces}"
            raise AtKeyError("piece_masses", found, "write one for each piece")
        return self


def _dwell(which: str, target: str | None = "dwell_s") -> Figure:
    return Figure(
        name=f"dwell_{which}_s", label=f"{which} dwell", unit="s", least=8.0, target=target
    )


SET = Kind(
    name="set",
    model=SetStage,
    title="Set in calcium",
    hazard="Calcium salt: wear gloves and eye protection",
    example="""
[[stage]]
id = "skin"
kind = "set"
title = "Set the skin in calcium"
bath = { low = "16 degC", high = "24 degC" }
dwell = { low = "6 min", high = "12 min" }
stirred = true
expected_coat = "0.6 mm"
planned = "12 min"
""",
    uses=(Use(role="bath_scale"), Use(role="bath", target="bath_c")),
    figures=(
        _dwell("shortest"),
        _dwell("mean", target=None),
        _dwell("longest"),
        Figure(
            name="set_fraction_percent",
            label="skin set through, lowest piece",
            unit="%",
            least=1.5,
            judged_by="set.skin_percent",
        ),
        Figure(name="bath_c", label="bath temperature", unit="degC", least=0.7, target="bath_c"),
        Figure(
            name="bath_spread_k", label="difference between the bath probes", unit="K", least=0.7
        ),
        Figure(
            name="bath_start_g",
            label="bath mass before the first piece",
            unit="g",
            least=2.0,
        ),
        Figure(name="piece_in_g", label="mean mass of the pieces going in", unit="g", least=0.6),
        Figure(
            name="bath_left_percent",
            label="calcium strength left",
            unit="%",
            least=2.0,
            judged_by="set.calcium_left_percent",
        ),
    ),
    checks=(
        Check(key="set.dwell_s", unit="s"),
        Check(key="set.unseen_dwell_s", unit="s"),
        Check(key="set.skin_percent", unit="%", sensors=("bath", "bench_scale")),
        Check(key="set.bath_c", unit="degC", sensors=("bath",)),
        Check(key="set.calcium_wanted_percent", unit="%", sensors=("bench_scale",)),
        Check(key="set.calcium_left_percent", unit="%", sensors=("bench_scale",)),
    ),
    in_first_sheet=True,
    has_board=True,
    leaves_wet=True,
)
