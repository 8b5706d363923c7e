"""A recipe to hand on: shares, grams, ounces and household measures, what to do, what may vary.

Pure; a sheet and good batches of it in, plain records out for the template ``recipe.typ``. A volume
is given only where the density is known; what may vary is what the sheet says, and what was seen.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.batch.amounts import phase_g, pieces_of
from logger.model.kinds.registry import Stage, title_of
from logger.model.recipe.entry import Part
from logger.model.recipe.flatten import FOOD
from logger.model.sheet import Sheet
from logger.model.written import Band
from logger.review.features.portrait import Portrait
from logger.review.papers.again import PHASES
from logger.review.papers.sheets.bought import (
    allergens_text,
    bought_text,
    change_text,
    comes_to,
    instead_text,
)
from logger.review.papers.sheets.cautions import cautions_of, hazards_of
from logger.review.papers.sheets.household import household_text
from logger.review.papers.sheets.seen import Seen, seen_in
from logger.review.papers.wanted import wanted
from logger.review.why.explanation import capital
from logger.words.bands import span_text
from logger.words.counts import count_text
from logger.words.durations import clock
from logger.words.steps import step_words
from logger.words.twofold import band_twofold, ounces_text, value_twofold
from logger.words.values import part_text, value_text, weighed_text

_WATER_G_ML = 1.0
"""Near enough for a spoon; 0.998 at 20 degC."""
TO_TASTE = "to taste"
UNSEEN = (
    "No good batch of this product is recorded here: how much it may vary is not known, beyond the "
    "targets of the sheet."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """An ingredient in every measure, how far it may vary by the sheet, and what else is known."""

    name: str
    note: str
    share: str
    mass: str
    ounces: str
    household: str
    varies: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The ingredients of a phase or a sub-recipe, and what their shares are of."""

    name: str
    aside: str
    of: str
    lines: list[Line]


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A stage: how long it takes, what to do, its targets in both systems, what can hurt."""

    number: str
    title: str
    planned: str
    says: list[str]
    targets: str
    hazards: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """All that the template asks for; every text is shown as it is."""

    name: str
    about: str
    change: str
    notes: str
    allergens: str
    groups: list[Group]
    measures: str
    works: list[Work]
    seen: list[Seen]
    batches: int
    seen_says: str
    cautions: list[str]
    footer: str


def recipe_of(sheet: Sheet, good: Sequence[Portrait], planned: Sequence[str]) -> Recipe:
    """Return what the recipe of a sheet says.

    Parameters
    ----------
    sheet : Sheet
        The plan of the batch.
    good : sequence of Portrait
        Accepted runs of its product, the latest first; may be none.
    planned : sequence of str
        Cautions of its plan.
    """
    head, seen = sheet.sheet, seen_in(sheet, good)
    groups = list(_groups(sheet))
    return Recipe(
        name=head.name,
        about=_about(sheet),
        change=change_text(sheet),
        notes=head.notes.strip(),
        allergens=allergens_text(sheet),
        groups=groups,
        measures=_measures(groups),
        works=[_work(sheet, n, stage) for n, stage in enumerate(sheet.stage, start=1)],
        seen=seen,
        batches=len(good),
        seen_says=_seen_says(good, seen),
        cautions=cautions_of(sheet, planned),
        footer=f"{head.name}, revision {head.revision}",
    )


def _about(sheet: Sheet) -> str:
    head, count = sheet.sheet, pieces_of(sheet)
    made_g = _food_g(sheet)
    said = [f"by {head.author}"] if head.author else []
    said.append(f"revision {head.revision}")
    said += [f"batch of {weighed_text(made_g)}"] if made_g > 0.0 else []
    said += [count_text(count, "piece")] if count else []
    if head.yield_g is not None:
        said.append(f"comes to {weighed_text(head.yield_g)}")
    elif head.loss_percent is not None:
        said.append(f"loses {value_text(head.loss_percent, '%')}")
    return " · ".join(said)


def _food_g(sheet: Sheet) -> float:
    return sum(phase_g(sheet, phase) for phase in FOOD)


def _groups(sheet: Sheet) -> Iterator[Group]:
    """Give what is made first, then each phase; what is eaten as the filling is of the batch."""
    for recipe in sheet.subrecipe:
        total_g = sum(part.mass_g or 0.0 for part in recipe.ingredient)
        yield Group(
            name=f"Make first: {recipe.name}",
            aside=". ".join(text for text in (comes_to(recipe), recipe.text.strip()) if text),
            of="of what goes in",
            lines=[_line(part, total_g) for part in recipe.ingredient],
        )
    for phase, title in PHASES.items():
        parts: list[Part] = [*sheet.of_phase(phase)]
        parts += [one for one in sheet.to_taste if one.phase == phase]
        food = phase in FOOD
        total_g = _food_g(sheet) if food else phase_g(sheet, phase)
        if parts:
            of = "of the batch" if food else f"of the {title.lower()}"
            lines = [_line(part, total_g) for part in parts]
            yield Group(name=title, aside="", of=of, lines=lines)


def _line(part: Part, total_g: float) -> Line:
    note = "; ".join(
        text for text in (bought_text(part, value_twofold), instead_text(part)) if text
    )
    mass_g, off = part.mass_g, part.tolerance_percent
    if mass_g is None:
        return Line(
            name=part.name, note=note, share="", mass=TO_TASTE, ounces="", household="", varies=""
        )
    low_g, high_g = (mass_g * (1.0 + way * (off or 0.0) / 100.0) for way in (-1.0, 1.0))
    return Line(
        name=part.name,
        note=note,
        share=part_text(100.0 * mass_g / total_g),
        mass=weighed_text(mass_g),
        ounces=ounces_text(mass_g),
        household=_household(part, mass_g),
        varies="" if off is None else span_text(max(low_g, 0.0), high_g, "g"),
    )


def _household(part: Part, mass_g: float) -> str:
    density_g_ml = part.density_g_ml
    if density_g_ml is None and part.substance == "water":
        density_g_ml = _WATER_G_ML
    return "" if density_g_ml is None else household_text(mass_g / density_g_ml)


def _measures(groups: Sequence[Group]) -> str:
    """Say what the household measures are, and why some have none."""
    lines = [line for group in groups for line in group.lines]
    if not any(line.household for line in lines):
        return "No household measures: no density is written, and a mass alone gives no volume."
    said = "A cup is 240 ml, a tablespoon 15 ml, a teaspoon 5 ml; rounded, so weigh where you can."
    if all(line.household for line in lines if line.ounces):
        return said
    return f"{said} None where no density is written."


def _work(sheet: Sheet, number: int, stage: Stage) -> Work:
    asked = list(wanted(stage))
    plain = [one.says for one in asked if one.band is None]
    return Work(
        number=str(number),
        title=title_of(stage),
        planned=clock(stage.planned_s) if stage.planned_s is not None else "",
        says=[*step_words(stage, _both), *([capital(", ".join(plain))] if plain else [])],
        targets="; ".join(f"{one.key} {_both(one.band)}" for one in asked if one.band is not None),
        hazards=hazards_of(sheet, stage),
    )


def _both(band: Band) -> str:
    return band_twofold(band.low, band.high, band.unit)


def _seen_says(good: Sequence[Portrait], seen: Sequence[Seen]) -> str:
    """Say what the numbers rest on, or that there are none."""
    if not good:
        return UNSEEN
    batches = count_text(len(good), "good batch", "good batches")
    if not seen:
        return f"{batches} recorded, but none measured a number that this sheet has a target for."
    return (
        f"Lowest to highest in {batches}: what worked here, not how far a batch may go. For core, "
        "cooling and holding keep to the limits of the sheet and to local codes."
    )
