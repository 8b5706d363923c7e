"""What a sub-recipe is made of: its ingredients for each gram that is used of it.

Pure. One that loses mass while it is made (a stock that boils down) is weighed in as one: what it
holds then is not what went in. So is one that is made ahead. A circle is refused with its names.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from logger.model.recipe.amount import Amount, amount_of
from logger.model.recipe.entry import Part, Subrecipe
from logger.model.recipe.shares import Line, masses_g
from logger.model.written import AtKeyError

_LABELS = {"subrecipe": "the sub-recipe", "base": "the base"}
_TINY = 1e-9

NO_AMOUNT = ("missing", "write how much: for example '180 g', '120 ml' or 'to taste'")
"""What is said of an ingredient without ``mass`` and ``amount``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A sub-recipe with its masses.

    Attributes
    ----------
    key : str
        Where it is written.
    recipe : Subrecipe
        As it is written.
    per_g : tuple of float or None
        Mass of each ingredient for each gram of it [g/g]; None to taste.
    whole : bool
        Whether it is weighed in as one.
    """

    key: str
    recipe: Subrecipe
    per_g: tuple[float | None, ...]
    whole: bool


def all_made(recipes: Sequence[Subrecipe]) -> dict[str, Made]:
    """Return the sub-recipes by name, each behind those that it needs.

    Raises
    ------
    AtKeyError
        If a name stands twice or stands for nothing, sub-recipes need each other in a circle, or
        the masses of one cannot be told.
    """
    by_name: dict[str, tuple[str, Subrecipe]] = {}
    for place, recipe in enumerate(recipes, start=1):
        key = f"subrecipe[{place}]"
        if recipe.name in by_name:
            raise AtKeyError(f"{key}.name", f"{recipe.name!r} is used twice", "give each its own")
        by_name[recipe.name] = key, recipe
    found: dict[str, Made] = {}
    for name in by_name:
        _add(name, by_name, found)
    return found


def _add(name: str, by_name: Mapping[str, tuple[str, Subrecipe]], found: dict[str, Made]) -> None:
    """Work out one and all that it needs; a list of what is under way, so that none is too deep."""
    under_way = [name]
    while under_way:
        key, recipe = by_name[under_way[-1]]
        needs = [
            (f"{key}.ingredient[{place}].subrecipe", part.subrecipe)
            for place, part in enumerate(recipe.ingredient, start=1)
            if part.subrecipe is not None and part.subrecipe not in found
        ]
        if not needs:
            found.setdefault(recipe.name, made_of(key, recipe))
            under_way.pop()
            continue
        where, needed = needs[0]
        if needed in under_way:
            circle = " → ".join([*under_way[under_way.index(needed) :], needed])
            raise AtKeyError(where, f"a circle: {circle}", "take one of them out")
        if needed not in by_name:
            raise AtKeyError(where, f"no sub-recipe {needed!r}", no_such(list(by_name)))
        under_way.append(needed)


def no_such(names: Sequence[str]) -> str:
    """Say which sub-recipes there are."""
    return f"write one of {', '.join(names)}" if names else "add a [[subrecipe]] of that name"


def made_of(key: str, recipe: Subrecipe) -> Made:
    """Return a sub-recipe with its masses.

    Parameters
    ----------
    key : str
        Where it is written.
    recipe : Subrecipe
        As it is written.

    Raises
    ------
    AtKeyError
        If its masses cannot be told.
    """
    lines, keys = [], [f"{key}.ingredient[{n}]" for n in range(1, len(recipe.ingredient) + 1)]
    amounts = [amount_at(where, part) for where, part in zip(keys, recipe.ingredient, strict=True)]
    for where, part, amount in zip(keys, recipe.ingredient, amounts, strict=True):
        if amount.to_taste:
            continue
        if amount.of in ("batch", "phase"):
            found = f"{part.amount!r} in a sub-recipe"
            wanted = f"write '{amount.middle:g} % of subrecipe', or a mass"
            raise AtKeyError(f"{where}.amount", found, wanted)
        lines.append(line_of(where, part, amount, amount.of or "", {"subrecipe"}))
    if not lines:
        raise AtKeyError(f"{key}.ingredient", "nothing with an amount", "add one")
    fixed = any(line.mass_g is not None for line in lines)
    masses = masses_g(lines, {} if fixed else {"subrecipe": 1.0}, _LABELS)
    into_g = sum(masses)
    out_g = into_g * (1.0 - (recipe.loss_percent or 0.0) / 100.0)
    if recipe.yield_g is not None:
        out_g = _yield_g(key, recipe.yield_g, into_g, fixed=fixed)
    left = iter(masses)
    return Made(
        key=key,
        recipe=recipe,
        per_g=tuple(None if amount.to_taste else next(left) / out_g for amount in amounts),
        whole=recipe.ahead or out_g < into_g * (1.0 - _TINY),
    )


def _yield_g(key: str, yield_g: float, into_g: float, *, fixed: bool) -> float:
    if not fixed:
        wanted = 'write loss = "10 %", or one ingredient as a mass'
        raise AtKeyError(f"{key}.yield", "a mass where all the rest are percents", wanted)
    if yield_g > into_g * (1.0 + 1e-6):
        found = f"{yield_g:.6g} g, more than the {into_g:.6g} g that go in"
        raise AtKeyError(f"{key}.yield", found, "add what is missing, such as water")
    return yield_g


def amount_at(key: str, part: Part) -> Amount:
    """Return how much of an ingredient a sheet asks for.

    Raises
    ------
    AtKeyError
        If it says neither ``mass`` nor ``amount``, or a sub-recipe is to taste.
    """
    if part.mass_g is not None:
        return Amount(low=part.mass_g, high=part.mass_g, unit="g")
    if part.amount is None:
        raise AtKeyError(f"{key}.mass", *NO_AMOUNT)
    found = amount_of(part.amount)
    if found.to_taste and part.subrecipe is not None:
        wanted = "write how much; add to taste what is in it"
        raise AtKeyError(f"{key}.amount", "a sub-recipe to taste", wanted)
    return found


def line_of(key: str, part: Part, amount: Amount, whole: str, counts_in: set[str]) -> Line:
    """Return an ingredient as it goes into the sums.

    Parameters
    ----------
    key : str
        Where it is written.
    part : Part
        The ingredient.
    amount : Amount
        How much of it, not to taste.
    whole : str
        What a percent is of.
    counts_in : set of str
        Wholes that it is a part of, beside the base.

    Raises
    ------
    AtKeyError
        If it is a volume without a density.
    """
    inside = frozenset(counts_in | ({"base"} if part.base else set()))
    where = f"{key}.amount" if part.mass_g is None else f"{key}.mass"
    if amount.unit == "%":
        share = amount.middle / 100.0
        return Line(key=where, name=part.name, mass_g=None, share=share, of=whole, counts_in=inside)
    mass_g = amount.middle
    if amount.unit == "ml":
        if part.density_g_ml is None:
            found = f"{part.amount!r} is a volume and {part.name!r} has no density"
            wanted = 'add density = "0.92 g/ml" (weigh 100 ml of it), or write its mass'
            raise AtKeyError(where, found, wanted)
        mass_g = float(f"{mass_g * part.density_g_ml:.10g}")
    return Line(key=where, name=part.name, mass_g=mass_g, counts_in=inside)
