"""What a batch sheet will lead to, before anything is weighed.

Pure. Put together from the heat of mixing, the skin and its bath, and the amounts; each prediction
carries its reason and its source. What cannot be told is named with what is missing for it.
"""

import datetime
from collections.abc import Mapping

from logger.model.bench import Bench
from logger.model.sheet import Sheet
from logger.review.plan.batch_plan import plan_batch
from logger.review.plan.heat_plan import plan_heat
from logger.review.plan.planned import Notebook, Plan
from logger.review.plan.recipe_plan import plan_recipe
from logger.review.plan.skin_plan import plan_skin
from logger.science.fats.fats import Fat
from logger.science.gel.slabs import SlabTest

_ORDER = ("will not work", "mind", "note")


def plan(
    sheet: Sheet,
    bench: Bench | None,
    fats: Mapping[str, Fat],
    slabs: Mapping[str, SlabTest] | None = None,
    today: datetime.date | None = None,
) -> Plan:
    """Predict a batch and say what will not work.

    Parameters
    ----------
    sheet : Sheet
        The batch sheet.
    bench : Bench or None
        Where it will be made; None leaves out what cannot be measured there, and takes 21 degC for
        the room.
    fats : mapping
        Fats by key.
    slabs : mapping, optional
        Slab tests by folded name of the alginate.
    today : date, optional
        Compared with what is best before a day; None compares nothing.

    Returns
    -------
    Plan
        Predictions in the order of the work, troubles with the gravest first.
    """
    book = Notebook()
    if not sheet.ingredient:
        book.untold.append("amounts, cost and mixing temperature: the sheet has no ingredients")
    plan_heat(book, sheet, bench, fats)
    plan_batch(book, sheet, bench)
    plan_recipe(book, sheet, today)
    plan_skin(book, sheet, bench, slabs or {})
    book.troubles.sort(key=lambda t: _ORDER.index(t.weight))
    return Plan(
        sheet=sheet.sheet.name,
        revision=sheet.sheet.revision,
        predictions=tuple(book.predictions),
        troubles=tuple(book.troubles),
        untold=tuple(book.untold),
        cautions=tuple(dict.fromkeys(book.cautions)),
    )
