"""What stands in for an ingredient in one batch, in its place on the list and in the stages.

Pure; the alternatives are those that the sheet names. Nothing of the first is taken over that was
said of it as bought: lot, price, purity, contents and allergens are the alternative's, or unknown.
"""

from collections.abc import Mapping
from typing import Any

from logger.model.errors import InputError
from logger.model.kinds.registry import Stage
from logger.model.recipe.entry import Bought
from logger.model.sheet import Ingredient, Sheet


def with_instead(sheet: Sheet, instead: Mapping[str, str]) -> Sheet:
    """Return a sheet with alternatives in the place of ingredients.

    Parameters
    ----------
    sheet : Sheet
        As it was read.
    instead : mapping
        Names of alternatives by that of the ingredient.

    Raises
    ------
    InputError
        If the sheet has no such ingredient, or no such alternative to it, or has it already.
    """
    if not instead:
        return sheet
    known = {one.name: one for one in sheet.ingredient}
    taken = {name: _taken(known, name, other) for name, other in instead.items()}
    return sheet.model_copy(
        update={
            "ingredient": [taken.get(one.name, one) for one in sheet.ingredient],
            "stage": [_renamed(stage, instead) for stage in sheet.stage],
        }
    )


def _taken(known: Mapping[str, Ingredient], name: str, wanted: str) -> Ingredient:
    one = known.get(name)
    if one is None:
        names = ", ".join(other.name for other in known.values() if other.alternative)
        found = f"{names} may be replaced" if names else "nothing on it may be replaced"
        raise InputError("start", f"no ingredient {name[:60]!r}", f"by the sheet {found}")
    other = next((o for o in one.alternative if o.name == wanted), None)
    if other is None:
        names = ", ".join(o.name for o in one.alternative) or "no alternative"
        raise InputError("start", f"{wanted[:60]!r} for {name!r}", f"the sheet has {names}")
    if wanted in known:
        raise InputError("start", f"{wanted!r} for {name!r}", "the sheet has it already: change it")
    return Ingredient(
        name=other.name,
        phase=one.phase,
        mass_g=one.mass_g * other.ratio_percent / 100.0,
        tolerance_percent=one.tolerance_percent,
        substance=one.substance,
        fat=other.fat,
        salt=other.salt,
        group=one.group,
        **{field: getattr(other, field) for field in Bought.model_fields},
    )


def _renamed(stage: Stage, instead: Mapping[str, str]) -> Stage:
    changes: dict[str, Any] = {}
    several: list[str] | None = getattr(stage, "ingredients", None)
    if several is not None:
        changes["ingredients"] = [instead.get(name, name) for name in several]
    one: str | None = getattr(stage, "ingredient", None)
    if one is not None and one in instead:
        changes["ingredient"] = instead[one]
    return stage.model_copy(update=changes) if changes else stage
