"""Fridge or freezer."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import Check, Figure, Kind, Use
from logger.model.kinds.record.stage import StageBase
from logger.model.written import DurationBand, TempBand


class ChillStage(StageBase):
    """Fridge or freezer."""

    kind: Literal["chill"]
    core_c: Annotated[TempBand | None, Field(alias="core")] = None
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    rule_set: str | None = None
    """Name of a cooling rule set."""


CHILL = Kind(
    name="chill",
    model=ChillStage,
    title="Chill",
    hazard="Food rules of your kitchen",
    example="""
[[stage]]
id = "firm"
kind = "chill"
title = "Firm up in the fridge"
core = { high = "5 degC" }
time = { low = "6 min" }
rule_set = "food_code_cooked"
planned = "90 min"
""",
    uses=(Use(role="core", target="core_c"),),
    figures=(
        Figure(
            name="core_after_chill_c",
            label="core temperature after chilling",
            unit="degC",
            least=0.6,
            target="core_c",
            taken="core at the end",
        ),
        Figure(
            name="core_chilled_spread_k",
            label="difference between the core probes after chilling",
            unit="K",
            least=1.0,
            taken="cores at the end apart",
        ),
        Figure(
            name="chill_s",
            label="chilling time",
            unit="s",
            least=15.0,
            target="time_s",
            taken="length",
        ),
    ),
    checks=(
        Check(key="chill.core_end_c", unit="degC", sensors=("core",)),
        Check(key="chill.time_s", unit="s"),
        Check(key="chill.cooling_s", unit="s", subject="limit [degC]", sensors=("core",)),
        Check(key="chill.rule_set", unit="s"),
    ),
    rule_sets="cooling",
    heats_or_chills=True,
)
