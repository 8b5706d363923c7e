"""Both phases are brought to temperature."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import Check, Figure, Kind, Use
from logger.model.kinds.record.stage import COMMON_PRACTICE, StageBase
from logger.model.written import Band, DeltaBand, DurationS, TempBand


class HeatStage(StageBase):
    """Both phases are brought to temperature."""

    kind: Literal["heat"]
    fat_c: Annotated[TempBand | None, Field(alias="fat")] = None
    water_c: Annotated[TempBand | None, Field(alias="water")] = None
    fat_above_water_k: Annotated[DeltaBand, Field(alias="fat_above_water")] = Band(
        low=-1.0, high=5.0, unit="K", source=COMMON_PRACTICE
    )
    mix_c: Annotated[TempBand | None, Field(alias="mix")] = None
    """Temperature wanted right after combining."""
    pour_after_s: Annotated[DurationS | None, Field(alias="pour_after")] = None
    """Planned time from the start of this stage to the pour."""


HEAT = Kind(
    name="heat",
    model=HeatStage,
    title="Heat",
    hazard="Hot fat: keep water out",
    example="""
[[stage]]
id = "warm"
kind = "heat"
title = "Melt the fat, warm the stock"
fat = { low = "47 degC", high = "58 degC" }
water = { low = "44 degC", high = "54 degC" }
fat_above_water = { low = "-1 K", high = "8 K" }
planned = "8 min"
""",
    uses=(Use(role="fat", target="fat_c"), Use(role="water", target="water_c")),
    figures=(
        Figure(
            name="fat_at_pour_c",
            label="fat temperature at the pour",
            unit="degC",
            least=0.7,
            target="fat_c",
        ),
        Figure(
            name="water_at_pour_c",
            label="water phase temperature at the pour",
            unit="degC",
            least=0.7,
            target="water_c",
        ),
        Figure(
            name="fat_above_water_k",
            label="fat above water at the pour",
            unit="K",
            least=0.8,
            target="fat_above_water_k",
        ),
        Figure(name="fat_highest_c", label="highest fat temperature", unit="degC", least=1.0),
        Figure(
            name="melting_plateau_c",
            label="temperature at which the fat melted",
            unit="degC",
            least=0.5,
        ),
        Figure(name="warm_s", label="warming time", unit="s", least=15.0),
        Figure(name="melt_to_pour_s", label="time from melted fat to pour", unit="s", least=15.0),
        Figure(
            name="mix_predicted_c",
            label="mixing temperature predicted",
            unit="degC",
            least=0.7,
            target="mix_c",
        ),
    ),
    checks=(
        Check(key="heat.fat_c", unit="degC", sensors=("fat",)),
        Check(key="heat.water_c", unit="degC", sensors=("water",)),
        Check(key="heat.fat_above_water_k", unit="K", sensors=("fat", "water")),
        Check(key="heat.fat_highest_c", unit="degC", sensors=("fat",)),
        Check(key="heat.mix_predicted_c", unit="degC", sensors=("fat", "water")),
    ),
    in_first_sheet=True,
    heats_or_chills=True,
)
