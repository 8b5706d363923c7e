"""One ingredient as a sheet writes it, what is known of it as bought, and sub-recipes.

Plain data, validated. What is not written is unknown: an ingredient without ``allergens`` is not
free of them, ``allergens = []`` is.
"""

import datetime
import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from logger.model.quantity import PRICE_WANTED, price_per_kg
from logger.model.recipe.allergens import allergen
from logger.model.recipe.amount import amount_of
from logger.model.written import AtKeyError, DensityGMl, MassG, Percent, Sparse, TempC, Written

MOST_PARTS = 100
"""Ingredients of one sub-recipe."""
MOST_G = 1e7
"""Most of one ingredient [g], or [ml]: ten tonnes; what is more is a slip."""
TOO_MUCH = "more than a kitchen weighs; correct the number or its unit"
Phase = Literal["fat", "water", "coat", "bath", "filling", "rinse"]
Salt = Literal[
    "calcium_chloride_anhydrous",
    "calcium_chloride_dihydrate",
    "calcium_chloride_hexahydrate",
    "calcium_lactate_pentahydrate",
    "calcium_gluconate_monohydrate",
]
_DAY_FIRST = re.compile(r"(\d{1,2})[./](\d{1,2})[./](\d{4})")


class Price(Written):
    """Price per mass."""

    per_kg: float
    currency: str


def _price(value: Any) -> Any:
    if isinstance(value, str):
        per_kg, currency = price_per_kg(value)
        return {"per_kg": per_kg, "currency": currency}
    if value is not None and not isinstance(value, (dict, Price)):
        raise ValueError(f"{value!r} is not a price per mass; {PRICE_WANTED}")
    return value


def _date(value: Any) -> Any:
    if isinstance(value, str):
        try:
            return datetime.date.fromisoformat(value)
        except ValueError as cause:
            day = _DAY_FIRST.fullmatch(value.strip())
            form = f"{day[3]}-{int(day[2]):02}-{int(day[1]):02}" if day else "2026-12-24"
            raise ValueError(f"{value!r} is no date; write year, month, day: {form}") from cause
    if isinstance(value, datetime.datetime) or not isinstance(value, (datetime.date, type(None))):
        raise ValueError(f"{value!s} is no date; write year, month, day: 2026-12-24")
    return value


def _weighable(mass_g: float | None) -> float | None:
    if mass_g is not None and mass_g > MOST_G:
        raise ValueError(f"{mass_g / 1000.0:g} kg is {TOO_MUCH}")
    return mass_g


def _amount(text: str) -> str:
    found = amount_of(text)
    if found.unit in ("g", "ml") and found.high > MOST_G:
        raise ValueError(f"{text!r} is {TOO_MUCH}")
    return text


Allergen = Annotated[str, AfterValidator(allergen)]
Amount = Annotated[str, AfterValidator(_amount)]


class Bought(Sparse):
    """What an ingredient is like as it was bought; None and empty text are unknown."""

    density_g_ml: Annotated[DensityGMl | None, Field(alias="density")] = None
    """For a volume; at the temperature at which it is measured out."""
    fat_content_percent: Annotated[Percent | None, Field(alias="fat_content", ge=0, le=100)] = None
    water_content_percent: Annotated[Percent | None, Field(alias="water_content", ge=0, le=100)] = (
        None
    )
    temp_c: Annotated[TempC | None, Field(alias="temp")] = None
    grade: str = ""
    allergens: list[Allergen] | None = None
    """Of EU 1169/2011, Annex II; an empty list is none of them."""
    best_before: Annotated[datetime.date | None, BeforeValidator(_date)] = None

    @model_validator(mode="after")
    def _of_one_whole(self) -> "Bought":
        fat, water = self.fat_content_percent or 0.0, self.water_content_percent or 0.0
        if fat + water > 100.0:
            found = f"fat_content {fat:g} % and water_content {water:g} % are more than all"
            raise ValueError(f"{found}; correct one of them")
        return self


class Named(Sparse):
    """What an ingredient is."""

    name: str = Field(min_length=1)
    phase: Phase | None = None
    mass_g: Annotated[MassG | None, Field(alias="mass", gt=0), AfterValidator(_weighable)] = None
    tolerance_percent: Annotated[Percent | None, Field(alias="tolerance", gt=0)] = None
    substance: Literal["water", "alginate", "binder", "citrate", "salt", "other"] | None = None
    """What the science needs to know of it; a fat or a calcium salt is named by the next two."""
    fat: str | None = None
    """Key of the fat in the fats file."""
    salt: Salt | None = None
    """Calcium salt with its hydrate."""
    purity_percent: Annotated[Percent, Field(alias="purity", gt=0, le=100)] = 100.0
    lot: str = ""
    price: Annotated[Price | None, BeforeValidator(_price)] = None


class StandIn(Sparse):
    """What an alternative is."""

    name: str = Field(min_length=1)
    ratio_percent: Annotated[Percent, Field(alias="ratio", gt=0, le=1000)] = 100.0
    """Mass of it for the mass of what it stands in for."""
    fat: str | None = None
    salt: Salt | None = None
    note: str = ""


class Alternative(Bought, StandIn):
    """What may stand in for an ingredient."""

    later = frozenset(Bought.model_fields)


class Part(Bought, Named):
    """An ingredient of a sub-recipe; its phase is that of what uses the sub-recipe."""

    later = frozenset(
        {*Bought.model_fields, "amount", "base", "part", "group", "subrecipe", "alternative"}
    )

    amount: Amount | None = None
    """In place of ``mass``: what `amount_of` reads."""
    base: bool = False
    """Whether it is of what baker's percents are percents of."""
    part: str = ""
    """Which part it is of an ingredient that stands several times, such as ``first``."""
    group: str = ""
    """Heading under which it is listed; what comes from a sub-recipe has its name."""
    subrecipe: str | None = None
    """Name of the sub-recipe that it is made by."""
    alternative: Annotated[list[Alternative], Field(max_length=20)] = []

    @model_validator(mode="after")
    def _how_much(self) -> "Part":
        if self.mass_g is not None and self.amount is not None:
            raise AtKeyError("amount", "mass and amount", "keep one of them")
        ranged = self.amount is not None and amount_of(self.amount).reach_percent is not None
        if self.tolerance_percent is not None and ranged:
            raise AtKeyError("tolerance", "a range has its own", "take it out, or the range")
        return self


class Entry(Part):
    """An ingredient of the batch."""

    phase: Phase


class Subrecipe(Sparse):
    """Something made of other ingredients: a stock, an oleogel, a premix."""

    name: str = Field(min_length=1)
    ingredient: Annotated[list[Part], Field(min_length=1, max_length=MOST_PARTS)]
    ahead: bool = False
    """Whether it is made ahead and weighed in as one; what loses mass always is."""
    yield_g: Annotated[MassG | None, Field(alias="yield", gt=0)] = None
    """Mass that its ingredients give."""
    loss_percent: Annotated[Percent | None, Field(alias="loss", gt=0, lt=100)] = None
    """What its ingredients lose in the making."""
    text: str = ""
    """How it is made."""

    @model_validator(mode="after")
    def _one_way(self) -> "Subrecipe":
        if self.yield_g is not None and self.loss_percent is not None:
            raise AtKeyError("loss", "yield and loss", "keep one of them")
        for place, part in enumerate(self.ingredient, start=1):
            if part.phase is not None:
                wanted = "take it out: the phase is that of the ingredient made by the sub-recipe"
                raise AtKeyError(f"ingredient[{place}].phase", repr(part.phase), wanted)
        return self
