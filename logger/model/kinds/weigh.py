"""Weighing in."""

from typing import Literal

from logger.model.kinds.record.kind import OWN, Check, Figure, Kind, Use
from logger.model.kinds.record.stage import StageBase


class WeighStage(StageBase):
    """Weighing in."""

    kind: Literal["weigh"]
    ingredients: list[str] | None = None
    """Names; None is all of the sheet in its order."""


def _off(name: str, what: str, least: float) -> Figure:
    return Figure(
        name=f"{name}_off_percent",
        label=f"{what} weighed in, difference from the sheet",
        unit="%",
        least=least,
    )


WEIGH = Kind(
    name="weigh",
    model=WeighStage,
    title="Weigh in",
    example="""
[[stage]]
id = "weigh"
kind = "weigh"
title = "Weigh in"
planned = "5 min"
""",
    uses=(Use(role="bench_scale"),),
    figures=(
        _off("fat", "fat", 0.5),
        _off("water", "water phase", 0.5),
        _off("binder", "binder", 1.0),
        _off("alginate", "alginate", 1.0),
        _off("salt", "calcium salt", 1.0),
    ),
    checks=(Check(key="weigh.mass_g", unit="g", subject="ingredient", sensors=(OWN,)),),
    in_first_sheet=True,
    weighs_in=True,
    tares=True,
)
