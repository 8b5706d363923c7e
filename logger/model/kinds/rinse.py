"""Fresh water."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import Check, Figure, Kind, Use
from logger.model.kinds.record.stage import StageBase
from logger.model.written import DurationBand


class RinseStage(StageBase):
    """Fresh water."""

    kind: Literal["rinse"]
    dwell_s: Annotated[DurationBand | None, Field(alias="dwell")] = None


RINSE = Kind(
    name="rinse",
    model=RinseStage,
    title="Rinse",
    hazard="Wet skin spits in hot oil",
    example="""
[[stage]]
id = "rinse"
kind = "rinse"
title = "Rinse"
dwell = { low = "1 min", high = "3 min" }
planned = "2 min"
""",
    uses=(Use(role="bench_scale", needed=False),),
    figures=(
        Figure(
            name="rinse_s",
            label="rinsing time",
            unit="s",
            least=5.0,
            target="dwell_s",
            taken="length",
        ),
    ),
    checks=(Check(key="rinse.dwell_s", unit="s"),),
    in_first_sheet=True,
    leaves_wet=True,
)
