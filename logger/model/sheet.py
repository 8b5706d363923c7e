"""The batch sheet: ingredients, stages and their targets: ``*.sheet.toml``.

Pure data, validated; read by ``files.sheet_from_text``. Field names carry the unit, the keys in the
file do not. A stage names only the targets it has; what is missing is not judged, except where the
trade has a habit, whose default says ``common practice, no source``.
"""

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from logger.model.kinds.registry import Stage
from logger.model.quantity import PRICE_WANTED, price_per_kg, unit_of
from logger.model.written import HeatCapacityJK, MassG, Percent, TempC, Written

MOST_INGREDIENTS, MOST_STAGES, MOST_RESULTS = 500, 100, 50
"""Of one sheet; of vessels as many as of stages."""
Phase = Literal["fat", "water", "coat", "bath", "filling", "rinse"]
Salt = Literal[
    "calcium_chloride_anhydrous",
    "calcium_chloride_dihydrate",
    "calcium_chloride_hexahydrate",
    "calcium_lactate_pentahydrate",
    "calcium_gluconate_monohydrate",
]
DecisionRule = Literal["simple", "guarded", "guarded 5 %"]


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


def _a_unit(text: str) -> str:
    unit_of(text)
    return text


class Ingredient(Written):
    """One thing that is weighed in."""

    name: str = Field(min_length=1)
    phase: Phase
    mass_g: Annotated[MassG, Field(alias="mass", gt=0)]
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


class Vessel(Written):
    """A vessel whose heat counts."""

    id: str
    holds: Literal["fat", "water", "bowl", "bath"]
    mass_g: Annotated[MassG | None, Field(alias="mass", gt=0)] = None
    material: Literal["glass", "stainless steel", "aluminium", "polypropylene"] | None = None
    heat_capacity_j_k: Annotated[HeatCapacityJK | None, Field(alias="heat_capacity")] = None
    temp_c: Annotated[TempC | None, Field(alias="temp")] = None
    """Temperature before it is filled; None is that of the room."""


class DeclaredResult(Written):
    """Something that is measured or scored once the batch is made: a ``[[result]]`` table."""

    name: str = Field(min_length=1, max_length=60, pattern=r"^[^=]+$")
    unit: Annotated[str, AfterValidator(_a_unit)] = ""
    """As it is written and kept; empty for a pH or a score."""
    low: float | None = None
    """Lowest value there can be [`unit`]."""
    high: float | None = None
    """Highest value there can be [`unit`]."""
    by_taster: bool = False
    """Whether each value belongs to a person who tasted."""

    @model_validator(mode="after")
    def _a_range(self) -> "DeclaredResult":
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError(f"low {self.low:g} is not below high {self.high:g}")
        return self


class SheetHead(Written):
    """The ``[sheet]`` table."""

    name: str = Field(min_length=1)
    revision: int = Field(default=1, ge=1, le=999_999, strict=True)
    product: str = ""
    """Runs of one product are compared; empty is the name."""
    decision_rule: DecisionRule = "guarded"
    defects: list[str] = [
        "broken emulsion",
        "greasy",
        "grainy",
        "skin too thin",
        "skin tough",
        "skin burst",
        "leaking",
        "too soft",
        "off taste",
    ]
    notes: str = ""
    change: str = ""
    """What this revision changes."""


class Sheet(Written):
    """A whole batch sheet."""

    sheet: SheetHead
    ingredient: Annotated[list[Ingredient], Field(max_length=MOST_INGREDIENTS)] = []
    vessel: Annotated[list[Vessel], Field(max_length=MOST_STAGES)] = []
    stage: Annotated[list[Stage], Field(max_length=MOST_STAGES)] = []
    result: Annotated[list[DeclaredResult], Field(max_length=MOST_RESULTS)] = []

    @model_validator(mode="after")
    def _distinct(self) -> "Sheet":
        for table, key, ids in (
            ("stage", "id", [s.id for s in self.stage]),
            ("ingredient", "name", [i.name for i in self.ingredient]),
            ("result", "name", [r.name for r in self.result]),
        ):
            seen: set[str] = set()
            for place, found in enumerate(ids):
                if found in seen:
                    where = f"{table}[{place + 1}].{key}"
                    raise ValueError(f"{where}: {found!r} stands twice; give each its own")
                seen.add(found)
        return self

    def of_phase(self, phase: str) -> list[Ingredient]:
        """Return the ingredients of a phase."""
        return [i for i in self.ingredient if i.phase == phase]
