"""Kept warm or cold."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import Check, Figure, Kind, Use
from logger.model.kinds.record.stage import StageBase
from logger.model.written import DurationBand, TempBand


class HoldStage(StageBase):
    """Kept warm or cold."""

    kind: Literal["hold"]
    core_c: Annotated[TempBand | None, Field(alias="core")] = None
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    rule_set: str | None = None
    """Name of a holding rule set."""


HOLD = Kind(
    name="hold",
    model=HoldStage,
    title="Hold",
    hazard="Food rules of your kitchen",
    example="""
[[stage]]
id = "keep"
kind = "hold"
title = "Keep warm"
core = { low = "57 degC" }
time = { low = "1 min", high = "30 min" }
rule_set = "food_code_hot"
planned = "4 min"
""",
    uses=(Use(role="core", target="core_c"),),
    figures=(
        Figure(
            name="hold_s",
            label="holding time",
            unit="s",
            least=15.0,
            target="time_s",
            taken="length",
        ),
    ),
    checks=(
        Check(key="hold.core_c", unit="degC", sensors=("core",)),
        Check(key="hold.core_by_rule_c", unit="degC", sensors=("core",)),
        Check(key="hold.time_s", unit="s"),
        Check(key="hold.time_by_rule_s", unit="s"),
        Check(key="hold.rule_set", unit="s"),
    ),
    rule_sets="holding",
    heats_or_chills=True,
)
