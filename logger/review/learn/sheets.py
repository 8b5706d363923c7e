"""Batch sheets made from others: a first one, another size, what two revisions differ in.

Pure; sheets in, sheets and lists out. Sheets from runs are in logger.review.learn.learned.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from logger.batch.amounts import phase_g, pieces_of
from logger.model.errors import OutOfRangeError
from logger.model.kinds.registry import KINDS, Stage, kind_of
from logger.model.recipe.entry import Part, Price, Subrecipe
from logger.model.sheet import Ingredient, Sheet, SheetHead
from logger.model.written import Band, Written, field_unit
from logger.review.learn.sheet_text import quantity_text
from logger.words.bands import target_text
from logger.words.money import price_text

_FIGURES = 4


def template() -> str:
    """Return a commented sheet to begin with, set in the invented scenario."""
    text = files("logger.review").joinpath("template.sheet.toml").read_text(encoding="utf-8")
    head = text.replace("<kinds>", " ".join(kind.name for kind in KINDS if kind.in_batch))
    return head + "".join(kind.example for kind in KINDS if kind.in_first_sheet)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaled:
    """A sheet of another size, and what scaling could not decide."""

    sheet: Sheet
    mind: tuple[str, ...]


def scaled(sheet: Sheet, factor: float) -> Scaled:
    """Scale a sheet to another batch size.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    factor : float
        New mass over old [1], above 0.

    Returns
    -------
    Scaled
        Ingredients, poured mass and number of pieces scaled; temperatures, rates and dwells kept.

    Raises
    ------
    OutOfRangeError
        If the factor is not positive.
    """
    if not factor > 0.0:
        raise OutOfRangeError("scale factor", factor, "more than 0")
    mind = [
        "The vessels are unchanged: check that the batch fits and heats evenly",
        "The pour rate is unchanged: "
        f"{factor:.3g} times the mass takes {factor:.3g} times as long to pour",
    ]
    pieces = pieces_of(sheet)
    if pieces is not None and abs(pieces * factor - round(pieces * factor)) > 1e-6:
        mind.append(
            f"{pieces} pieces become {max(1, round(pieces * factor))}, so each weighs "
            f"{pieces * factor / max(1, round(pieces * factor)):.3g} of what it did"
        )
    return Scaled(
        sheet=sheet.model_copy(
            update={
                "sheet": _scaled_head(sheet.sheet, factor),
                "ingredient": [_scaled_ingredient(i, factor) for i in sheet.ingredient],
                "subrecipe": [_scaled_subrecipe(r, factor) for r in sheet.subrecipe],
                "stage": [_scaled_stage(s, factor) for s in sheet.stage],
            }
        ),
        mind=tuple(mind),
    )


def factor_for(sheet: Sheet, *, mass_g: float | None = None, pieces: int | None = None) -> float:
    """Return the factor that brings a sheet to a mass of filling or a number of pieces.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    mass_g : float, optional
        Mass of filling to reach [g]; counts where `pieces` is not given.
    pieces : int, optional
        Number of pieces to reach.

    Returns
    -------
    float
        New mass over old [1].

    Raises
    ------
    OutOfRangeError
        If the sheet has no such amount.
    """
    if pieces is not None:
        have = pieces_of(sheet)
        if not have:
            raise OutOfRangeError("pieces on the sheet", 0, "a stage with pieces = ...")
        return pieces / have
    filling_g = sum(phase_g(sheet, p) for p in ("fat", "water", "filling"))
    if mass_g is None or filling_g <= 0.0:
        raise OutOfRangeError("filling on the sheet [g]", filling_g, "fat, water or filling")
    return mass_g / filling_g


_OF_ITSELF = (
    "name", "substance", "fat", "salt", "purity_percent", "density_g_ml", "fat_content_percent",
    "water_content_percent", "allergens",
)  # fmt: skip
"""Fields that say what an ingredient is, rather than how much of it is wanted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing in which two sheets differ; empty text where a side does not have it."""

    where: str
    before: str
    after: str


def differences(before: Sheet, after: Sheet) -> list[Change]:
    """Return what differs between two sheets, ingredients by name and stages by id.

    Notes
    -----
    Name, revision, notes and the text of the change itself are left out. An ingredient that stands
    in for one of the same phase is one change, not one for each of its fields; the same fat or salt
    under another name is none.
    """
    again = _renamed(before, after)
    swaps = _swaps(before, after, again)
    old, new = dict(_entries(before, swaps, again)), dict(_entries(after, swaps, again))
    return [
        Change(where=where, before=old.get(where, ""), after=new.get(where, ""))
        for where in [*new, *(w for w in old if w not in new)]
        if old.get(where, "") != new.get(where, "")
    ]


def _gone_and_come(
    before: Sheet, after: Sheet
) -> Iterator[tuple[str, list[Ingredient], list[Ingredient]]]:
    """Yield the ingredients of each phase that only one of two sheets names."""
    old_names = {i.name for i in before.ingredient}
    new_names = {i.name for i in after.ingredient}
    for phase in dict.fromkeys(i.phase for i in before.ingredient):
        gone = [i for i in before.of_phase(phase) if i.name not in new_names]
        come = [i for i in after.of_phase(phase) if i.name not in old_names]
        yield phase, gone, come


def _renamed(before: Sheet, after: Sheet) -> dict[str, str]:
    """Return the old name of each fat and salt that only has another name now."""
    found: dict[str, str] = {}
    for _, gone, come in _gone_and_come(before, after):
        for one in come:
            same = (
                i.name
                for i in gone
                if (i.fat or i.salt)
                and (i.fat, i.salt) == (one.fat, one.salt)
                and i.name not in found.values()
            )
            old = next(same, None)
            if old is not None:
                found[one.name] = old
    return found


def _swaps(before: Sheet, after: Sheet, again: Mapping[str, str]) -> dict[str, str]:
    """Return the place of each ingredient that was exchanged for another, by either name."""
    found: dict[str, str] = {}
    for phase, gone_all, come_all in _gone_and_come(before, after):
        gone = [i.name for i in gone_all if i.name not in again.values()]
        come = [i.name for i in come_all if i.name not in again]
        for number, pair in enumerate(zip(gone, come, strict=False), start=1):
            place = f"{phase} ingredient" + (f" {number}" if number > 1 else "")
            found |= dict.fromkeys(pair, place)
    return found


def _entries(
    sheet: Sheet, swaps: Mapping[str, str], again: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    head = sheet.sheet
    yield "decision rule", head.decision_rule
    sizes = ("batch_g", "yield_g", "loss_percent")
    yield from _fields("batch", head, tuple(n for n in SheetHead.model_fields if n not in sizes))
    yield "order of the stages", ", ".join(s.id for s in sheet.stage)
    for ingredient in sheet.ingredient:
        place = swaps.get(ingredient.name)
        if place is None:
            yield from _fields(again.get(ingredient.name, ingredient.name), ingredient, ("name",))
        else:
            yield place, ingredient.name
            yield from _fields(place, ingredient, _OF_ITSELF)
    for added in sheet.to_taste:
        yield from _fields(f"{added.name} to taste", added, ("name", "amount"))
    for recipe in sheet.subrecipe:
        yield from _fields(f"sub-recipe {recipe.name}", recipe, ("name", "ingredient"))
        for part in recipe.ingredient:
            yield from _fields(f"sub-recipe {recipe.name}: {part.name}", part, ("name",))
    for vessel in sheet.vessel:
        yield from _fields(f"vessel {vessel.id}", vessel, ("id",))
    for stage in sheet.stage:
        yield from _fields(f"stage {stage.id}", stage, ("id", "title"))


def _fields(of: str, table: Written, without: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    for name, info in type(table).model_fields.items():
        value = getattr(table, name)
        if name not in without and value is not None and value != "":
            key = str(info.alias or name).replace("_", " ")
            yield f"{of}: {key}", _shown(value, name)


def _shown(value: Any, name: str) -> str:
    if isinstance(value, Band):
        return target_text(value)
    if isinstance(value, Price):
        return price_text(value.per_kg, value.currency)
    if isinstance(value, Written):
        return ", ".join(
            _shown(getattr(value, key), key)
            for key in type(value).model_fields
            if getattr(value, key) is not None
        )
    if isinstance(value, list):
        return ", ".join(_shown(v, name) for v in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return quantity_text(value, field_unit(name) or "")
    return str(value)


def _scaled_head(head: SheetHead, factor: float) -> SheetHead:
    sizes = {"batch_g": head.batch_g, "yield_g": head.yield_g}
    changes: dict[str, Any] = {k: _rounded(g * factor) for k, g in sizes.items() if g is not None}
    changes["revision"] = head.revision + 1
    changes["why"] = ""  # that of the last change says nothing about this one
    changes["change"] = f"scaled by {factor:.4g} from revision {head.revision}"
    return head.model_copy(update=changes)


def _scaled_ingredient(ingredient: Ingredient, factor: float) -> Ingredient:
    return ingredient.model_copy(update={"mass_g": _rounded(ingredient.mass_g * factor)})


def _scaled_subrecipe(recipe: Subrecipe, factor: float) -> Subrecipe:
    def part_of(part: Part) -> Part:
        if part.mass_g is None:
            return part
        return part.model_copy(update={"mass_g": _rounded(part.mass_g * factor)})

    size = {} if recipe.yield_g is None else {"yield_g": _rounded(recipe.yield_g * factor)}
    parts = [part_of(part) for part in recipe.ingredient]
    return recipe.model_copy(update={"ingredient": parts, **size})


def _scaled_stage(stage: Stage, factor: float) -> Stage:
    changes: dict[str, Any] = {}
    pieces = getattr(stage, "pieces", None)
    if pieces is not None:
        changes["pieces"] = max(1, round(pieces * factor))
    for field in kind_of(stage).grows:
        band = getattr(stage, field)
        if band is not None:
            ends = {"low": band.low, "high": band.high}
            changes[field] = band.model_copy(
                update={end: None if g is None else _rounded(g * factor) for end, g in ends.items()}
            )
    if getattr(stage, "piece_masses_g", None) is not None:
        changes["piece_masses_g"] = None
    return stage.model_copy(update=changes)


def _rounded(value: float) -> float:
    return float(f"{value:.{_FIGURES}g}")
