"""The batch sheet: ingredients, stages and their targets: ``*.sheet.toml``.

Pure data, validated; read by ``files.sheet_from_text``. What a person writes is a `WrittenSheet`;
all rooms get a `Sheet`, whose ingredients are those that are weighed, each with its mass. Field
names carry the unit, the keys in the file do not. A stage names only the targets it has; what is
missing is not judged, except where the trade has a habit, whose default says ``common practice, no
source``.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationError, model_validator

from logger.model.kinds.registry import Stage
from logger.model.quantity import unit_of
from logger.model.recipe.entry import Entry, Subrecipe
from logger.model.recipe.flatten import MOST_WEIGHED, flattened
from logger.model.written import (
    AtKeyError,
    HeatCapacityJK,
    MassG,
    Percent,
    Sparse,
    TempC,
    Written,
)

MOST_INGREDIENTS, MOST_STAGES, MOST_RESULTS, MOST_SUBRECIPES = 500, 100, 50, 100
"""Of one sheet; of vessels as many as of stages."""
DecisionRule = Literal["simple", "guarded", "guarded 5 %"]


def _a_unit(text: str) -> str:
    unit_of(text)
    return text


class Ingredient(Entry):
    """One thing that is weighed in, under a name of its own."""

    mass_g: Annotated[MassG, Field(alias="mass", gt=0)]


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


class SheetHead(Sparse):
    """The ``[sheet]`` table."""

    later = frozenset({"author", "why", "batch_g", "yield_g", "loss_percent"})

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
    why: str = ""
    """What the change is for."""
    author: str = ""
    batch_g: Annotated[MassG | None, Field(alias="batch", gt=0)] = None
    """Mass of fat, water and filling together: what percents of the batch are of."""
    yield_g: Annotated[MassG | None, Field(alias="yield", gt=0)] = None
    """Mass of what is served or sold of it."""
    loss_percent: Annotated[Percent | None, Field(alias="loss", gt=0, lt=100)] = None
    """What a batch loses until then: drip, cooking, trimmings."""

    @model_validator(mode="after")
    def _one_loss(self) -> "SheetHead":
        if self.yield_g is not None and self.loss_percent is not None:
            raise AtKeyError("loss", "yield and loss", "keep one of them")
        return self


def _require_own(tables: Iterable[tuple[str, str, list[str]]]) -> None:
    for table, key, ids in tables:
        seen: set[str] = set()
        for place, found in enumerate(ids):
            if found in seen:
                where = f"{table}[{place + 1}].{key}"
                raise ValueError(f"{where}: {found!r} is used twice; give each its own")
            seen.add(found)


class WrittenSheet(Written):
    """A batch sheet as a person writes it."""

    sheet: SheetHead
    ingredient: Annotated[list[Entry], Field(max_length=MOST_INGREDIENTS)] = []
    subrecipe: Annotated[list[Subrecipe], Field(max_length=MOST_SUBRECIPES)] = []
    vessel: Annotated[list[Vessel], Field(max_length=MOST_STAGES)] = []
    stage: Annotated[list[Stage], Field(max_length=MOST_STAGES)] = []
    result: Annotated[list[DeclaredResult], Field(max_length=MOST_RESULTS)] = []

    @model_validator(mode="after")
    def _distinct(self) -> "WrittenSheet":
        _require_own(
            (
                ("stage", "id", [s.id for s in self.stage]),
                ("result", "name", [r.name for r in self.result]),
            )
        )
        return self


class Sheet(Sparse):
    """A whole batch sheet, its ingredients as they are weighed in."""

    later = frozenset({"to_taste", "subrecipe"})

    sheet: SheetHead
    ingredient: Annotated[list[Ingredient], Field(max_length=MOST_WEIGHED)] = []
    vessel: Annotated[list[Vessel], Field(max_length=MOST_STAGES)] = []
    stage: Annotated[list[Stage], Field(max_length=MOST_STAGES)] = []
    result: Annotated[list[DeclaredResult], Field(max_length=MOST_RESULTS)] = []
    to_taste: Annotated[list[Entry], Field(max_length=MOST_WEIGHED)] = []
    """What is added without a mass; it is in no sum."""
    subrecipe: Annotated[list[Subrecipe], Field(max_length=MOST_SUBRECIPES)] = []
    """What is made ahead, at the size that the batch needs, in the order of the making."""

    @model_validator(mode="after")
    def _distinct(self) -> "Sheet":
        _require_own(
            (
                ("stage", "id", [s.id for s in self.stage]),
                ("ingredient", "name", [i.name for i in self.ingredient]),
                ("result", "name", [r.name for r in self.result]),
            )
        )
        return self

    def of_phase(self, phase: str) -> list[Ingredient]:
        """Return the ingredients of a phase."""
        return [i for i in self.ingredient if i.phase == phase]


def as_weighed(written: WrittenSheet) -> Sheet:
    """Return a sheet with its ingredients as they are weighed in.

    Raises
    ------
    AtKeyError
        If an amount or a name does not come to one thing to weigh.
    """
    try:
        flat = flattened(written.ingredient, written.subrecipe, written.sheet.batch_g)
        weighed = [Ingredient(**{n: getattr(i, n) for n in _FIELDS}) for i in flat.weighed]
    except (ValidationError, ZeroDivisionError) as cause:  # 1e-320 g of 1e300 kg
        found = "an amount that no scale weighs"
        raise AtKeyError("ingredient", found, "correct the smallest and the largest") from cause
    names = {one.name for one in weighed}
    return Sheet(
        sheet=written.sheet,
        ingredient=weighed,
        vessel=written.vessel,
        stage=[_with_names(stage, flat.called, names) for stage in written.stage],
        result=written.result,
        to_taste=flat.to_taste,
        subrecipe=flat.ahead,
    )


def _with_names(stage: Stage, called: Mapping[str, list[str]], names: Collection[str]) -> Stage:
    """Return a stage that speaks of ingredients by the names that the weigh list gives them.

    A field means the same in every kind that has it.
    """
    changes: dict[str, Any] = {}
    several: list[str] | None = getattr(stage, "ingredients", None)
    if several is not None and not set(names).issuperset(several):
        once = dict.fromkeys(several)
        told = [[name] if name in names else called.get(name, [name]) for name in once]
        changes["ingredients"] = list(dict.fromkeys(own for some in told for own in some))
    one: str | None = getattr(stage, "ingredient", None)
    if one is not None and one not in names and len(called.get(one, [])) == 1:
        changes["ingredient"] = called[one][0]
    return stage.model_copy(update=changes) if changes else stage


_FIELDS = tuple(Ingredient.model_fields)
