"""What a sheet's recipe comes to: fat, water, allergens, yield, and what is made ahead.

Pure; used by logger.review.plan.plan. A sheet that says nothing of these gets nothing of them.
"""

import datetime

from logger.batch.amounts import phase_g
from logger.batch.holds import Held, allergens_of, fat_held, water_held
from logger.model.recipe.flatten import FOOD
from logger.model.sheet import Sheet
from logger.review.plan.planned import Notebook
from logger.words.bands import span_text
from logger.words.dates import date_text
from logger.words.values import value_text

ANNEX_II = "Regulation (EU) No 1169/2011, Annex II"
_TOGETHER = 1e-6


def plan_recipe(book: Notebook, sheet: Sheet, today: datetime.date | None) -> None:
    """Say what the ingredients hold, what comes out, and what is made first.

    Parameters
    ----------
    book : Notebook
        What is found is written into it.
    sheet : Sheet
        The plan of the batch.
    today : date or None
        Compared with what is best before a day.
    """
    _held(book, "fat_held_percent", "fat in the batch", fat_held(sheet))
    _held(book, "water_held_percent", "water in the batch", water_held(sheet))
    _yield(book, sheet)
    if sheet.to_taste:
        names = ", ".join(one.name for one in sheet.to_taste)
        book.untold.append(f"how much {names}: added to taste, not counted in any sum")
    for recipe in sheet.subrecipe:
        need = next((i for i in sheet.ingredient if i.subrecipe == recipe.name), None)
        much = f", {value_text(need.mass_g, 'g')}" if need is not None else ""
        book.trouble(
            "note",
            f"{recipe.name} is made ahead{much}",
            "make it first; 'bainlog sheet show' lists what goes into it",
            "the sheet",
        )
    _allergens(book, sheet)
    if today is not None:
        _past(book, sheet, today)


def _past(book: Notebook, sheet: Sheet, today: datetime.date) -> None:
    """Name what is past the day that is written for it: that day itself still counts."""
    parts = [*sheet.ingredient, *sheet.to_taste]
    ahead = [part for recipe in sheet.subrecipe for part in recipe.ingredient]
    for part in (*parts, *ahead):
        if part.best_before is not None and part.best_before < today:
            book.trouble(
                "mind",
                f"{part.name} was best before {date_text(part.best_before.isoformat())}",
                "take another lot, or decide by your local rules; write the new date down",
                "best_before of the sheet",
            )


def _held(book: Notebook, name: str, label: str, held: Held | None) -> None:
    if held is None:
        return
    if held.high - held.low <= _TOGETHER:
        says = f"{label}: {value_text(held.low, '%')} of fat, water phase and filling, by mass"
        book.predict(name, label, held.low, "%", says, "contents as written in the sheet")
        return
    untold = f"nothing is written for {', '.join(held.untold)}"
    says = f"{label}: {span_text(held.low, held.high, '%')}; {untold}"
    source = "contents as written in the sheet"
    book.predict(name, label, None, "%", says, source, low=held.low, high=held.high)


def _yield(book: Notebook, sheet: Sheet) -> None:
    made_g = sum(phase_g(sheet, phase) for phase in FOOD)
    yield_g, loss_percent = sheet.sheet.yield_g, sheet.sheet.loss_percent
    if loss_percent is not None and made_g > 0.0:
        yield_g = made_g * (1.0 - loss_percent / 100.0)
    if yield_g is None or not made_g > 0.0:
        return
    lost = value_text(max(0.0, 100.0 * (1.0 - yield_g / made_g)), "%")
    says = f"{value_text(yield_g, 'g')} of {value_text(made_g, 'g')}: {lost} is lost"
    book.predict("yield_g", "yield", yield_g, "g", says, "yield or loss as written in the sheet")
    if yield_g > made_g * (1.0 + _TOGETHER):
        says = f"the yield is more than what goes in, {value_text(made_g, 'g')}"
        book.trouble("mind", says, "correct the yield, or an amount", "masses of the sheet")


def _allergens(book: Notebook, sheet: Sheet) -> None:
    found = allergens_of(sheet)
    if found is None:
        return
    listed = "; ".join(f"{name} ({', '.join(of)})" for name, of in found.found.items())
    says = f"allergens as written: {listed}" if listed else "no allergen is written"
    do = "name them to everyone who eats it, by your local rules"
    if found.untold:
        do += f"; nothing is written for {', '.join(found.untold)}: read their labels"
    book.trouble("note", says, do, ANNEX_II)
