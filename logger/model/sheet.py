"""The batch sheet: ingredients, stages and their targets: ``*.sheet.toml``.

Pure data, validated; read by ``files.sheet_from_text``. Field names carry the unit, the keys in the
file do not. A stage names only the targets it has; what is missing is not judged, except where the
trade has a habit, whose default says ``common practice, no source``.
"""

from typing import Annotated, Any, Literal, Union

from pydantic import BeforeValidator, Field, model_validator

from logger.model.quantity import price_per_kg
from logger.model.written import (
    Band,
    DeltaBand,
    DurationBand,
    DurationS,
    HeatCapacityJK,
    LengthBand,
    LengthMm,
    MassBand,
    MassG,
    Percent,
    PercentBand,
    RateBand,
    TempBand,
    TempC,
    Written,
)

COMMON_PRACTICE = "common practice, no source"

Phase = Literal["fat", "water", "coat", "bath", "filling", "rinse"]
Salt = Literal[
    "calcium_chloride_anhydrous",
    "calcium_chloride_dihydrate",
    "calcium_chloride_hexahydrate",
    "calcium_lactate_pentahydrate",
    "calcium_gluconate_monohydrate",
]
DecisionRule = Literal["simple", "guarded", "guarded 5 %"]


Count = Annotated[int, Field(strict=True, gt=0, le=500)]
"""A number of pieces."""


class Price(Written):
    """Price per mass."""

    per_kg: float
    currency: str


def _price(value: Any) -> Any:
    if isinstance(value, str):
        per_kg, currency = price_per_kg(value)
        return {"per_kg": per_kg, "currency": currency}
    if value is not None and not isinstance(value, (dict, Price)):
        raise ValueError(f"{value!r} is not a price per mass, such as '14.20 EUR/kg'")
    return value


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


class Piece(Written):
    """Shape and bare size of the formed pieces."""

    body: Literal["cylinder", "sphere", "patty"]
    diameter_mm: Annotated[LengthMm, Field(alias="diameter")]
    length_mm: Annotated[LengthMm | None, Field(alias="length")] = None
    """Overall length with round ends (cylinder) or thickness (patty)."""

    @model_validator(mode="after")
    def _has_length(self) -> "Piece":
        if self.body != "sphere" and self.length_mm is None:
            raise ValueError(f"a {self.body} needs a length")
        if self.body == "cylinder" and (self.length_mm or 0.0) < self.diameter_mm:
            raise ValueError(
                "a cylinder with round ends is at least as long as it is thick: length "
                f"{self.length_mm:g} mm, diameter {self.diameter_mm:g} mm"
            )
        return self


class StageBase(Written):
    """What every stage has."""

    id: str = Field(pattern=r"[a-z0-9_-]+")
    title: str = ""
    planned_s: Annotated[DurationS | None, Field(alias="planned")] = None
    """Planned length."""
    ends: Literal["operator", "sheet", "bench"] = "operator"
    """Who ends it: the operator, the sheet's rule (its time is up or all checks are met), or what
    the bench sees (as a proposal)."""


class WeighStage(StageBase):
    """Weighing in."""

    kind: Literal["weigh"]
    ingredients: list[str] | None = None
    """Names; None is all of the sheet in its order."""


class HydrateStage(StageBase):
    """A binder or alginate takes up water."""

    kind: Literal["hydrate"]
    ingredient: str | None = None
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    temp_c: Annotated[TempBand | None, Field(alias="temp")] = None
    channel: str | None = None
    """Channel id of the probe in it."""


class HeatStage(StageBase):
    """Both phases are brought to temperature."""

    kind: Literal["heat"]
    fat_c: Annotated[TempBand | None, Field(alias="fat")] = None
    water_c: Annotated[TempBand | None, Field(alias="water")] = None
    fat_above_water_k: Annotated[DeltaBand, Field(alias="fat_above_water")] = Band(
        low=-1.0, high=5.0, unit="K", source=COMMON_PRACTICE
    )
    mix_c: Annotated[TempBand | None, Field(alias="mix")] = None
    """Temperature wanted right after combining."""
    pour_after_s: Annotated[DurationS | None, Field(alias="pour_after")] = None
    """Planned time from the start of this stage to the pour."""


class EmulsifyStage(StageBase):
    """One phase is poured into the other."""

    kind: Literal["emulsify"]
    pour: Literal["fat", "water"] = "fat"
    """The phase that is poured."""
    scale_under: Literal["receiving", "giving"] = "receiving"
    """Which vessel stands on the bowl scale."""
    rate_g_min: Annotated[RateBand | None, Field(alias="rate")] = None
    mass_g: Annotated[MassBand | None, Field(alias="mass")] = None
    emulsion_c: Annotated[TempBand | None, Field(alias="emulsion")] = None
    fat_fraction_percent: Annotated[PercentBand | None, Field(alias="fat_fraction")] = None
    """By mass."""


class FormStage(StageBase):
    """Pieces are formed and put on the bench scale one by one."""

    kind: Literal["form"]
    pieces: Count | None = None
    piece: Piece | None = None
    mass_g: Annotated[MassBand | None, Field(alias="mass")] = None


class ChillStage(StageBase):
    """Fridge or freezer."""

    kind: Literal["chill"]
    core_c: Annotated[TempBand | None, Field(alias="core")] = None
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    rule_set: str | None = None
    """Name of a cooling rule set."""


class CoatStage(StageBase):
    """Pieces are dipped in alginate."""

    kind: Literal["coat"]
    pieces: Count | None = None
    piece: Piece | None = None
    scale_holds: Literal["piece", "vessel"] = "piece"
    """What is weighed before and after a dip."""
    pickup_g: Annotated[MassBand | None, Field(alias="pickup")] = None
    thickness_mm: Annotated[LengthBand | None, Field(alias="thickness")] = None


class SetStage(StageBase):
    """Pieces set in the calcium bath."""

    kind: Literal["set"]
    bath_c: Annotated[TempBand | None, Field(alias="bath")] = None
    dwell_s: Annotated[DurationBand | None, Field(alias="dwell")] = None
    pieces: Count | None = None
    piece: Piece | None = None
    piece_masses_g: list[Annotated[MassG, Field(gt=0)]] | None = Field(
        default=None, alias="piece_masses"
    )
    """Registered masses, where no form or coat stage measured them."""
    stirred: bool = False
    expected_coat_mm: Annotated[LengthMm | None, Field(alias="expected_coat")] = None
    """Coat thickness to plan with before one is measured."""


class RinseStage(StageBase):
    """Fresh water."""

    kind: Literal["rinse"]
    dwell_s: Annotated[DurationBand | None, Field(alias="dwell")] = None


class DryStage(StageBase):
    """Surface water goes."""

    kind: Literal["dry"]
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    loss_percent: Annotated[PercentBand | None, Field(alias="loss")] = None
    """Mass lost, of the drained piece."""


class CookStage(StageBase):
    """Pan or oven."""

    kind: Literal["cook"]
    core_c: Annotated[TempBand | None, Field(alias="core")] = None
    hold_s: Annotated[DurationS | None, Field(alias="hold")] = None
    """Time at or above the low core limit."""
    lethality: str | None = None
    """Name of a lethality table."""
    log_reduction: float | None = Field(default=None, gt=0)


class HoldStage(StageBase):
    """Kept warm or cold."""

    kind: Literal["hold"]
    core_c: Annotated[TempBand | None, Field(alias="core")] = None
    time_s: Annotated[DurationBand | None, Field(alias="time")] = None
    rule_set: str | None = None


class FatCurveStage(StageBase):
    """A melted fat cools with a probe in it, to learn its own setting limits."""

    kind: Literal["fat_curve"]
    fat: str
    """Key under which the result is saved."""
    until_c: Annotated[TempC | None, Field(alias="until")] = None


Stage = Annotated[
    Union[  # noqa: UP007 - one kind a line reads better than a chain of bars
        WeighStage,
        HydrateStage,
        HeatStage,
        EmulsifyStage,
        FormStage,
        ChillStage,
        CoatStage,
        SetStage,
        RinseStage,
        DryStage,
        CookStage,
        HoldStage,
        FatCurveStage,
    ],
    Field(discriminator="kind"),
]


class SheetHead(Written):
    """The ``[sheet]`` table."""

    name: str = Field(min_length=1)
    revision: int = Field(default=1, ge=1, strict=True)
    product: str = ""
    """Runs of one product are compared; empty is the name."""
    decision_rule: DecisionRule = "guarded"
    defects: list[str] = [
        "broken emulsion", "greasy", "grainy", "skin too thin", "skin tough", "skin burst",
        "leaking", "too soft", "off taste",
    ]  # fmt: skip
    notes: str = ""
    change: str = ""
    """What this revision changes."""


class Sheet(Written):
    """A whole batch sheet."""

    sheet: SheetHead
    ingredient: list[Ingredient] = []
    vessel: list[Vessel] = []
    stage: list[Stage] = []

    @model_validator(mode="after")
    def _distinct(self) -> "Sheet":
        for table, key, ids in (
            ("stage", "id", [s.id for s in self.stage]),
            ("ingredient", "name", [i.name for i in self.ingredient]),
        ):
            for place, found in enumerate(ids):
                if found in ids[:place]:
                    where = f"{table}[{place + 1}].{key}"
                    raise ValueError(f"{where}: {found!r} stands twice; give each its own")
        return self

    def of_phase(self, phase: str) -> list[Ingredient]:
        """Return the ingredients of a phase."""
        return [i for i in self.ingredient if i.phase == phase]
