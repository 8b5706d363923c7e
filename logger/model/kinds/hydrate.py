"""A binder or alginate takes up water."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import OWN, Check, Figure, Kind
from logger.model.kinds.record.stage import StageBase
from logger.model.written import DurationBand, TempBand


class HydrateStage(StageBase):
    """A binder or alginate takes up water."""

    kind: Literal["hydrate"]
    ingredient: str | None = None
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    temp_c: Annotated[TempBand | None, Field(alias="temp")] = None
    channel: str | None = None
    """Channel id of the probe in it."""


HYDRATE = Kind(
    name="hydrate",
    model=HydrateStage,
    title="Hydrate",
    example="""
[[stage]]
id = "soak"
kind = "hydrate"
title = "Let the binder soak"
ingredient = "barley malt binder"
time = { low = "10 min", high = "60 min" }
planned = "15 min"
""",
    figures=(
        Figure(
            name="hydrate_s",
            label="time to take up water",
            unit="s",
            least=15.0,
            target="time_s",
            taken="length",
        ),
    ),
    checks=(
        Check(key="hydrate.time_s", unit="s", subject="ingredient"),
        Check(key="hydrate.lowest_c", unit="degC", sensors=(OWN,)),
        Check(key="hydrate.highest_c", unit="degC", sensors=(OWN,)),
    ),
    own_channel_target="temp_c",
    in_first_sheet=True,
)
