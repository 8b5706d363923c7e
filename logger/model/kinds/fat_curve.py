"""A melted fat cools with a probe in it, to learn its own setting limits."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import Check, Kind, Use
from logger.model.kinds.record.stage import StageBase
from logger.model.written import TempC


class FatCurveStage(StageBase):
    """A melted fat cools with a probe in it, to learn its own setting limits."""

    kind: Literal["fat_curve"]
    fat: str
    """Key under which the result is saved."""
    until_c: Annotated[TempC | None, Field(alias="until")] = None


FAT_CURVE = Kind(
    name="fat_curve",
    model=FatCurveStage,
    title="Setting curve of a fat",
    hazard="Hot fat",
    example="""
[[stage]]
id = "learn"
kind = "fat_curve"
title = "Let the fat set with a probe in it"
fat = "cocoa_butter"
until = "15 degC"
""",
    uses=(Use(role="fat"),),
    checks=(
        Check(key="fat_curve.onset_c", unit="degC", sensors=("fat",)),
        Check(
            key="fat_curve.plateau_c", unit="degC", subject="point of the curve", sensors=("fat",)
        ),
    ),
    in_batch=False,
    heats_or_chills=True,
)
