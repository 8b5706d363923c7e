"""The pour: whether the amounts fit, and how long it takes.

Pure; used by logger.review.plan.batch_plan.
"""

from logger.batch.amounts import fat_percent, phase_g
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.kinds.registry import Stage
from logger.model.sheet import Sheet
from logger.review.plan.heat_plan import middle
from logger.review.plan.planned import Notebook
from logger.words.durations import about, exact_duration
from logger.words.values import exact_text, value_text

LONGEST_POUR_S = 7200.0
"""Nobody pours by hand for longer [s]: common practice, no source."""


def plan_stage(book: Notebook, sheet: Sheet, stage: Stage) -> None:
    """Predict the length of the pour, and say where the amounts do not fit it.

    Parameters
    ----------
    book : Notebook
        Takes what is found.
    sheet : Sheet
        All of it.
    stage : Stage
        The stage of this kind.
    """
    if not isinstance(stage, EmulsifyStage):
        return
    poured_g = phase_g(sheet, stage.pour)
    if poured_g <= 0.0:
        return
    band, fraction = stage.mass_g, fat_percent(sheet)
    if band is not None and band.low is not None and poured_g < band.low:
        book.trouble(
            "will not work",
            f"the sheet weighs {exact_text(poured_g, 'g')} of {stage.pour}, but the target is at "
            f"least {exact_text(band.low, 'g')} poured",
            "correct the ingredients or the pour",
            "sheet",
            stage=stage.id,
        )
    wanted = stage.fat_fraction_percent
    if wanted is not None and fraction is not None:
        low = -1e9 if wanted.low is None else wanted.low
        high = 1e9 if wanted.high is None else wanted.high
        if not low <= fraction <= high:
            book.trouble(
                "will not work",
                f"the ingredients give {value_text(fraction, '%')} fat, outside the target fat "
                "fraction",
                "correct the ingredients or the fat fraction",
                "sheet",
                stage=stage.id,
            )
    if stage.rate_g_min is not None and stage.rate_g_min.high:
        rate = middle(stage.rate_g_min)
        takes_s = 60.0 * poured_g / rate
        slowest = stage.rate_g_min.low
        book.predict(
            "pour_s",
            "length of the pour",
            takes_s,
            "s",
            f"{exact_text(poured_g, 'g')} at {exact_text(rate, 'g/min')} take "
            f"{exact_duration(round(takes_s))}",
            low=60.0 * poured_g / stage.rate_g_min.high,
            high=60.0 * poured_g / slowest if slowest else None,
            stage=stage.id,
        )
        quickest_s = 60.0 * poured_g / stage.rate_g_min.high
        if quickest_s > LONGEST_POUR_S:
            book.trouble(
                "will not work",
                f"{exact_text(poured_g, 'g')} of {stage.pour} take {about(quickest_s)} to pour "
                f"even at {exact_text(stage.rate_g_min.high, 'g/min')}",
                "correct the mass, its unit or the rate",
                "common practice, no source",
                stage=stage.id,
            )
