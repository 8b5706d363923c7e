"""What a batch costs: in all, for a piece and for a kg, from prices and masses.

Pure; used by logger.watch.stages.weigh.weighed for what was weighed in and by
logger.review.plan.batch_plan for what the sheet wants.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from logger.model.recipe.entry import Part, Price, Subrecipe
from logger.model.recipe.flatten import FOOD
from logger.model.sheet import Sheet
from logger.words.money import money_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What some masses cost.

    Attributes
    ----------
    currency : str
        Of all prices.
    batch : float
        All that has a price [currency].
    counted, among : int
        How many ingredients with a price are in it, and how many the sheet has.
    piece, kg : float or None
        For a piece, and for a kg of filling; None where neither can be told, as long as an
        ingredient with a price is not in it.
    without : tuple of str
        Ingredients that have no price; water is not named.
    """

    currency: str
    batch: float
    piece: float | None
    kg: float | None
    without: tuple[str, ...]
    counted: int = 0
    among: int = 0

    def says(self) -> str:
        """Say it in a sentence."""
        left_out = f"; {', '.join(self.without)} without a price" if self.without else ""
        if self.counted < self.among:
            so_far = money_text(self.batch, self.currency)
            counted = f"{self.counted} of {self.among} ingredients with a price"
            return f"Cost so far: {so_far} for {counted}{left_out}"
        parts = [f"{money_text(self.batch, self.currency)} for the batch"]
        if self.piece is not None:
            parts.append(f"{money_text(self.piece, self.currency)} a piece")
        if self.kg is not None:
            parts.append(f"{money_text(self.kg, self.currency)} a kg of filling")
        return f"Cost: {', '.join(parts)}{left_out}"


def currencies(sheet: Sheet) -> list[str]:
    """Return the currencies of the prices of a sheet, sorted."""
    return sorted({price.currency for price in _prices(sheet).values()})


def _prices(sheet: Sheet) -> dict[str, Price]:
    """Return the prices of a sheet's ingredients by name: their own, else of what they are made."""
    made = {recipe.name: recipe for recipe in sheet.subrecipe}
    found = {one.name: _price(one, made) for one in sheet.ingredient}
    return {name: price for name, price in found.items() if price is not None}


def _price(part: Part, made: Mapping[str, Subrecipe]) -> Price | None:
    """Return the price of a part; of what is made ahead only where all of it has one."""
    recipe = made.get(part.subrecipe or "")
    if part.price is not None or recipe is None:
        return part.price
    weighed = [one for one in recipe.ingredient if one.mass_g is not None]
    prices = [(one, _price(one, made)) for one in weighed]
    paid = [(one, price) for one, price in prices if price is not None]
    free = [one for one, price in prices if price is None and one.substance == "water"]
    currencies_of = {price.currency for _, price in paid}
    if len(paid) + len(free) < len(weighed) or len(currencies_of) != 1:
        return None
    total = sum((one.mass_g or 0.0) * price.per_kg for one, price in paid)
    comes_g = recipe.yield_g
    if comes_g is None:
        kept = 1.0 - (recipe.loss_percent or 0.0) / 100.0
        comes_g = kept * sum(one.mass_g or 0.0 for one in weighed)
    return Price(per_kg=total / comes_g, currency=currencies_of.pop())


def cost_of(sheet: Sheet, masses_g: Mapping[str, float], pieces: int | None) -> Cost | None:
    """Return what masses cost; None without a price, or with prices in two currencies.

    Parameters
    ----------
    sheet : Sheet
        Its ingredients with prices.
    masses_g : mapping
        Mass of each ingredient by name [g]; what is not in it is not counted.
    pieces : int or None
        How many pieces are made of it.
    """
    prices = _prices(sheet)
    known = sorted({price.currency for price in prices.values()})
    there = [i for i in sheet.ingredient if masses_g.get(i.name, 0.0) > 0.0]
    if len(known) != 1 or not there:
        return None
    batch = sum(
        masses_g[i.name] / 1000.0 * prices[i.name].per_kg for i in there if i.name in prices
    )
    priced = [i for i in sheet.ingredient if i.name in prices]
    counted = sum(1 for i in priced if i in there)
    whole = counted == len(priced)
    food_g = sum(masses_g[i.name] for i in there if i.phase in FOOD)
    return Cost(
        currency=known[0],
        batch=batch,
        piece=batch / pieces if pieces and whole else None,
        kg=1000.0 * batch / food_g if food_g > 0.0 and whole else None,
        without=tuple(i.name for i in there if i.name not in prices and i.substance != "water"),
        counted=counted,
        among=len(priced),
    )
