"""Surface water goes."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import OWN, Check, Figure, Kind, Use
from logger.model.kinds.record.stage import StageBase
from logger.model.written import DurationBand, PercentBand


class DryStage(StageBase):
    """Surface water goes."""

    kind: Literal["dry"]
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    loss_percent: Annotated[PercentBand | None, Field(alias="loss")] = None
    """Mass lost, of the drained piece."""


DRY = Kind(
    name="dry",
    model=DryStage,
    title="Dry",
    hazard="A wet gel spits in hot oil",
    example="""
[[stage]]
id = "air"
kind = "dry"
title = "Dry on the rack under the fan"
time = { low = "5 min", high = "12 min" }
loss = { low = "0.8 %", high = "3 %" }
planned = "7 min"
""",
    uses=(Use(role="bench_scale"),),
    figures=(
        Figure(
            name="dry_s",
            label="drying time",
            unit="s",
            least=15.0,
            target="time_s",
            taken="length",
        ),
        Figure(
            name="dry_loss_percent",
            label="mass lost in drying",
            unit="%",
            least=0.05,
            target="loss_percent",
            judged_by="dry.lost_percent",
        ),
    ),
    checks=(
        Check(key="dry.lost_percent", unit="%", sensors=(OWN,)),
        Check(key="dry.time_s", unit="s"),
    ),
    tares=True,
    dries=True,
)
