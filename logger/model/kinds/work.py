"""Work that nothing measures: words and a time."""

from typing import Annotated, Literal

from pydantic import Field

from logger.model.kinds.record.kind import Check, Figure, Kind
from logger.model.kinds.record.stage import StageBase
from logger.model.written import DurationBand


class WorkStage(StageBase):
    """Work that nothing measures: what to do stands in its text."""

    kind: Literal["work"]
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None


WORK = Kind(
    name="work",
    model=WorkStage,
    title="Work",
    example="""
[[stage]]
id = "chop"
kind = "work"
title = "Chop the roots"
text = "Peel and chop to 5 mm; keep cold."
equipment = ["board", "knife"]
time = { high = "10 min" }
planned = "6 min"
""",
    figures=(
        Figure(
            name="work_s",
            label="working time",
            unit="s",
            least=30.0,
            target="time_s",
            taken="length",
        ),
    ),
    checks=(Check(key="work.time_s", unit="s"),),
)
