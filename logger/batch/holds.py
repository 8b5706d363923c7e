"""What a batch holds by what is written of its ingredients: fat, water, allergens.

Pure; used by logger.review.plan.recipe_plan and by commands that show a sheet. Of what nothing is
written nothing is known: shares become ranges, and an ingredient without ``allergens`` is named.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from logger.model.recipe.entry import Bought, Part
from logger.model.recipe.flatten import FOOD
from logger.model.sheet import Ingredient, Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """How much of a batch is fat or water: at least and at most [% by mass].

    Attributes
    ----------
    untold : tuple of str
        Ingredients of which it is not known; empty where both ends are the same.
    """

    low: float
    high: float
    untold: tuple[str, ...]


def fat_held(sheet: Sheet) -> Held | None:
    """Return the fat of fat, water and filling together; None where no ``fat_content`` says any."""
    return _held([(i, _fat_percent(i), _water_percent(i)) for i in _food(sheet)])


def water_held(sheet: Sheet) -> Held | None:
    """Return the water of fat, water and filling together; None where nothing says any."""
    if all(i.water_content_percent is None for i in _food(sheet)):
        return None
    return _held([(i, _water_percent(i), _fat_percent(i)) for i in _food(sheet)])


def _food(sheet: Sheet) -> list[Ingredient]:
    return [i for i in sheet.ingredient if i.phase in FOOD]


def _fat_percent(one: Ingredient) -> float | None:
    return 0.0 if one.substance == "water" else one.fat_content_percent


def _water_percent(one: Ingredient) -> float | None:
    return 100.0 if one.substance == "water" else one.water_content_percent


def _held(parts: list[tuple[Ingredient, float | None, float | None]]) -> Held | None:
    """Return the share of something of which each part holds so much, beside so much else."""
    total_g = sum(one.mass_g for one, _, _ in parts)
    if all(percent is None for one, percent, _ in parts if one.substance != "water"):
        return None
    low_g = sum(one.mass_g * percent for one, percent, _ in parts if percent is not None)
    open_g = sum(
        one.mass_g * (100.0 - (other or 0.0)) for one, percent, other in parts if percent is None
    )
    untold = tuple(one.name for one, percent, _ in parts if percent is None)
    return Held(low=low_g / total_g, high=(low_g + open_g) / total_g, untold=untold)


@dataclass(frozen=True, slots=True, kw_only=True)
class Allergens:
    """What a sheet says of allergens.

    Attributes
    ----------
    found : dict
        Names of the ingredients that hold it, by allergen, in the order of the sheet.
    untold : tuple of str
        Ingredients of which nothing is written; water is not named.
    """

    found: dict[str, list[str]]
    untold: tuple[str, ...]


def allergens_of(sheet: Sheet) -> Allergens | None:
    """Return the allergens of all that goes into a batch; None where no ingredient says any."""
    parts = list(_bought([*sheet.ingredient, *sheet.to_taste], sheet))
    if all(one.allergens is None for _, one in parts):
        return None
    found: dict[str, list[str]] = {}
    for name, one in parts:
        for allergen in one.allergens or []:
            found.setdefault(allergen, []).append(name)
    return Allergens(
        found=found, untold=tuple(dict.fromkeys(n for n, one in parts if one.allergens is None))
    )


def _bought(parts: Iterable[Part], sheet: Sheet) -> Iterator[tuple[str, Bought]]:
    """Give what was bought: of what is made ahead its ingredients, unless it says itself."""
    made = {recipe.name: recipe for recipe in sheet.subrecipe}
    left = list(parts)[::-1]
    while left:
        one = left.pop()
        recipe = made.get(one.subrecipe or "")
        if one.allergens is None and recipe is not None:
            left += recipe.ingredient[::-1]
        elif one.substance != "water":
            yield one.name, one
