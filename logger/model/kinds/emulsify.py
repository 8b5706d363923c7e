"""One phase is poured into the other."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import OWN, Check, Figure, Kind, Use
from logger.model.kinds.record.stage import StageBase
from logger.model.written import MassBand, PercentBand, RateBand, TempBand


class EmulsifyStage(StageBase):
    """One phase is poured into the other."""

    kind: Literal["emulsify"]
    pour: Literal["fat", "water"] = "fat"
    """The phase that is poured."""
    scale_under: Literal["receiving", "giving"] = "receiving"
    """Which vessel stands on the bowl scale."""
    rate_g_min: Annotated[RateBand | None, Field(alias="rate")] = None
    mass_g: Annotated[MassBand | None, Field(alias="mass")] = None
    emulsion_c: Annotated[TempBand | None, Field(alias="emulsion")] = None
    fat_fraction_percent: Annotated[PercentBand | None, Field(alias="fat_fraction")] = None
    """By mass."""


EMULSIFY = Kind(
    name="emulsify",
    model=EmulsifyStage,
    title="Emulsify",
    hazard="Hot fat, turning blades",
    example="""
[[stage]]
id = "combine"
kind = "emulsify"
title = "Pour the fat in, stir"
pour = "fat"                  # the phase that is poured
rate = { low = "60 g/min", high = "150 g/min" }
emulsion = { low = "40 degC", high = "54 degC" }
fat_fraction = { low = "32 %", high = "37 %" }
planned = "3 min"
""",
    uses=(Use(role="bowl_scale"), Use(role="emulsion", target="emulsion_c")),
    figures=(
        Figure(
            name="fat_lowest_c", label="lowest fat temperature in the pour", unit="degC", least=0.7
        ),
        Figure(
            name="mix_measured_c",
            label="emulsion temperature after the pour",
            unit="degC",
            least=0.7,
            target="emulsion_c",
        ),
        Figure(
            name="mix_miss_k", label="emulsion temperature above predicted", unit="K", least=1.2
        ),
        Figure(
            name="probes_apart_k",
            label="emulsion probe above water probe in one bowl",
            unit="K",
            least=0.4,
        ),
        Figure(
            name="fat_probe_apart_k",
            label="fat probe away from emulsion probe after the pour",
            unit="K",
            least=0.8,
        ),
        Figure(
            name="pour_rate_g_min",
            label="pour rate",
            unit="g/min",
            least=8.0,
            target="rate_g_min",
            judged_by="emulsify.pour_rate_g_min",
        ),
        Figure(name="pour_uneven_percent", label="unevenness of the pour", unit="%", least=5.0),
        Figure(
            name="poured_g",
            label="mass poured",
            unit="g",
            least=1.0,
            target="mass_g",
            judged_by="emulsify.poured_g",
        ),
        Figure(
            name="fat_fraction_percent",
            label="fat in the emulsion",
            unit="%",
            least=0.3,
            target="fat_fraction_percent",
        ),
    ),
    checks=(
        Check(key="emulsify.poured_g", unit="g", sensors=(OWN,)),
        Check(key="emulsify.pour_rate_g_min", unit="g/min", sensors=(OWN,)),
        Check(key="emulsify.fat_fraction_percent", unit="%", sensors=(OWN,)),
        Check(key="emulsify.emulsion_c", unit="degC", sensors=(OWN,)),
        Check(key="emulsify.above_setting_c", unit="degC", sensors=(OWN,)),
        Check(key="emulsify.above_melted_c", unit="degC", sensors=(OWN,)),
    ),
    grows=("mass_g",),
    in_first_sheet=True,
    heats_or_chills=True,
)
