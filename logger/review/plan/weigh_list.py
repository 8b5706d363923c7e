"""The weigh list of a sheet and what to do in its stages, as tables and as plain JSON values.

Pure; printed by ``sheet show``. Masses as on the sheet, shares of their phase, what is made ahead.
"""

from collections.abc import Iterator, Sequence

from logger.model.kinds.registry import Stage, title_of
from logger.model.recipe.entry import Part, Subrecipe
from logger.model.sheet import Ingredient, Sheet
from logger.words.durations import duration_text
from logger.words.steps import step_words
from logger.words.values import exact_text, value_text

List = tuple[str, list[str], list[list[str]]]
"""Title, heads and rows."""


def lists_of(sheet: Sheet) -> Iterator[List]:
    """Give each list: what is made ahead, what is weighed in, what is to taste, the stages."""
    for recipe in sheet.subrecipe:
        rows = [[p.name, _mass(p), _reach(p), *_bought(p)] for p in recipe.ingredient]
        yield f"Make first: {recipe.name}{_comes_to(recipe)}", _HEADS_AHEAD, rows
    rows = [
        [i.name, i.phase, _mass(i), _reach(i), _share(i, sheet), *_bought(i)]
        for i in sheet.ingredient
    ]
    yield "Weigh in", ["", "phase", "mass", "tolerance", "of its phase", *_HEADS_BOUGHT], rows
    if sheet.to_taste:
        yield "To taste", ["", "phase"], [[one.name, one.phase] for one in sheet.to_taste]
    if sheet.stage:
        steps = [[title_of(s), _planned(s), "; ".join(step_words(s))] for s in sheet.stage]
        yield "Stages", ["", "planned", "what to do"], steps


_HEADS_BOUGHT = ["lot", "best before", "allergens", "instead"]
_HEADS_AHEAD = ["", "mass", "tolerance", *_HEADS_BOUGHT]


def _comes_to(recipe: Subrecipe) -> str:
    if recipe.yield_g is not None:
        return f", comes to {value_text(recipe.yield_g, 'g')}"
    if recipe.loss_percent is not None:
        return f", loses {value_text(recipe.loss_percent, '%')}"
    return ""


def _planned(stage: Stage) -> str:
    return "" if stage.planned_s is None else duration_text(stage.planned_s)


def _mass(part: Part) -> str:
    return "to taste" if part.mass_g is None else value_text(part.mass_g, "g")


def _reach(part: Part) -> str:
    return (
        ""
        if part.tolerance_percent is None
        else exact_text(float(f"{part.tolerance_percent:.3g}"), "%")
    )


def _share(one: Ingredient, sheet: Sheet) -> str:
    phase_g = sum(i.mass_g for i in sheet.of_phase(one.phase))
    return value_text(100.0 * one.mass_g / phase_g, "%")


def _bought(part: Part) -> list[str]:
    allergens = "?" if part.allergens is None else ", ".join(part.allergens) or "none written"
    if part.allergens is None and part.substance == "water":
        allergens = ""
    return [
        part.lot,
        part.best_before.isoformat() if part.best_before is not None else "",
        allergens,
        "; ".join(
            f"{other.name} ({exact_text(other.ratio_percent, '%')})" for other in part.alternative
        ),
    ]


def listed_json(sheet: Sheet) -> dict[str, object]:
    """Return the lists as plain JSON values; None is unknown."""
    return {
        "sheet": sheet.sheet.name,
        "revision": sheet.sheet.revision,
        "weigh": _rows(sheet.ingredient),
        "to_taste": [{"name": one.name, "phase": one.phase} for one in sheet.to_taste],
        "ahead": [
            {"name": recipe.name, "weigh": _rows(recipe.ingredient)} for recipe in sheet.subrecipe
        ],
        "stages": [
            {"id": s.id, "planned_s": s.planned_s, "says": step_words(s)} for s in sheet.stage
        ],
    }


def _rows(parts: Sequence[Part]) -> list[dict[str, object]]:
    return [
        {
            "name": part.name,
            "phase": part.phase,
            "group": part.group,
            "mass_g": part.mass_g,
            "tolerance_percent": part.tolerance_percent,
            "allergens": part.allergens,
        }
        for part in parts
    ]
