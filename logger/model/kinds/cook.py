"""Pan or oven."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import Check, Figure, Kind, Use
from logger.model.kinds.record.stage import StageBase
from logger.model.written import DurationS, TempBand


class CookStage(StageBase):
    """Pan or oven."""

    kind: Literal["cook"]
    core_c: Annotated[TempBand | None, Field(alias="core")] = None
    hold_s: Annotated[DurationS | None, Field(alias="hold")] = None
    """Time at or above the low core limit."""
    lethality: str | None = None
    """Name of a lethality table."""
    log_reduction: float | None = Field(default=None, gt=0)


COOK = Kind(
    name="cook",
    model=CookStage,
    title="Cook",
    hazard="Hot fat and steam",
    example="""
[[stage]]
id = "pan"
kind = "cook"
title = "Cook in the pan"
core = { low = "72 degC", high = "90 degC" }
hold = "15 s"
lethality = "fsis_1999_beef_6_5_log"
planned = "7 min"
""",
    uses=(Use(role="core", target="core_c"),),
    figures=(
        Figure(
            name="core_highest_c",
            label="highest core temperature",
            unit="degC",
            least=1.0,
            target="core_c",
            taken="highest core",
        ),
        Figure(
            name="core_spread_k",
            label="difference between the core probes at their highest",
            unit="K",
            least=1.0,
            taken="highest cores apart",
        ),
        Figure(name="cook_s", label="cooking time", unit="s", least=15.0, taken="length"),
    ),
    checks=(
        Check(key="cook.core_highest_c", unit="degC", sensors=("core",)),
        Check(key="cook.at_core_s", unit="s", subject="limit [degC]", sensors=("core",)),
        Check(key="cook.lethality_log", unit="log", sensors=("core",)),
    ),
    heats_or_chills=True,
)
