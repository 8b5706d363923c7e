"""The soak: whether a binder gets its time.

Pure; used by logger.review.plan.batch_plan.
"""

from logger.batch.amounts import share_percent
from logger.model.kinds.hydrate import HydrateStage
from logger.model.kinds.record.stage import COMMON_PRACTICE
from logger.model.kinds.registry import Stage
from logger.model.sheet import Sheet
from logger.review.plan.planned import Notebook
from logger.words.durations import duration_text
from logger.words.values import value_text

SOAK_PERCENT, SOAK_S = 3.0, 3600.0
"""A binder at about 3 % needs about an hour to thicken fully: common practice, no source."""


def plan_stage(book: Notebook, sheet: Sheet, stage: Stage) -> None:
    """Say where the binder gets too little time.

    Parameters
    ----------
    book : Notebook
        Takes what is found.
    sheet : Sheet
        All of it.
    stage : Stage
        The stage of this kind.
    """
    if not isinstance(stage, HydrateStage):
        return
    percent = share_percent(sheet, "water", "binder")
    if percent is None or percent < 0.8 * SOAK_PERCENT:
        return
    planned_s = stage.time_s.low if stage.time_s is not None else stage.planned_s
    if planned_s is None or planned_s < SOAK_S:
        given = "no time" if planned_s is None else duration_text(planned_s)
        book.trouble(
            "mind",
            f"the binder is at {value_text(percent, '%')} and gets {given} to take up water",
            "let it soak about an hour, or make it overnight",
            COMMON_PRACTICE,
            stage=stage.id,
        )
