"""The batch card: what a sheet says for a day at the bench, to tick off and to write on.

Pure; a sheet in, plain records out for the template ``card.typ``. Nothing of the sheet is left
out: what the paper has no room for goes to a second page.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from logger.batch.amounts import pieces_of
from logger.model.kinds.registry import Stage, kind_of, title_of
from logger.model.recipe.entry import Part
from logger.model.sheet import Sheet
from logger.review.papers.again import PHASES
from logger.review.papers.sheets.bought import (
    allergens_text,
    bought_text,
    change_text,
    comes_to,
    instead_text,
)
from logger.review.papers.sheets.cautions import cautions_of, hazards_of
from logger.review.papers.sheets.code import code_svg
from logger.review.papers.wanted import wanted
from logger.review.why.explanation import capital
from logger.words.counts import count_text
from logger.words.durations import clock
from logger.words.steps import step_words
from logger.words.values import tolerance_text, unit_text, weighed_text

MOST_TIMED, MOST_JUDGED = 24, 12
"""Pieces with a place of their own on the card: for their times, and for how they came out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One thing to weigh: how much, how far it may be off, and what else is known of it."""

    name: str
    mass: str
    tolerance: str
    lot: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """What is weighed together, under a heading."""

    name: str
    aside: str
    rows: list[Row]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A target with a place for the value beside it."""

    name: str
    target: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A stage: what to do, targets with blanks, what can hurt, the pieces that are timed."""

    number: str
    title: str
    planned: str
    says: list[str]
    blanks: list[Blank]
    hazards: list[str]
    pieces: list[str]
    more_pieces: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """All that the template asks for; every text is shown as it is."""

    name: str
    about: str
    change: str
    last: str
    code: str
    place: str
    groups: list[Group]
    steps: list[Step]
    pieces: list[str]
    more_pieces: str
    defects: str
    results: list[Blank]
    allergens: str
    cautions: list[str]
    footer: str


def card_of(sheet: Sheet, planned: Sequence[str], address: str = "", last: str = "") -> Card:
    """Return what the card of a sheet says.

    Parameters
    ----------
    sheet : Sheet
        The plan of the batch.
    planned : sequence of str
        Cautions of its plan.
    address : str
        Where the sheet opens on this network's page; empty draws no code.
    last : str
        What the last run left to mind; empty for none.
    """
    head, count = sheet.sheet, pieces_of(sheet)
    pieces = [str(number) for number in range(1, min(count or 0, MOST_JUDGED) + 1)]
    return Card(
        name=head.name,
        about=_about(sheet, count),
        change=change_text(sheet),
        last=last,
        code=code_svg(address) if address else "",
        place=urlsplit(address).netloc,
        groups=list(_groups(sheet)),
        steps=[_step(sheet, n, stage) for n, stage in enumerate(sheet.stage, start=1)],
        pieces=pieces,
        more_pieces=_more(count, MOST_JUDGED),
        defects=", ".join(head.defects),
        results=[Blank(name=r.name, target=unit_text(r.unit)) for r in sheet.result],
        allergens=allergens_text(sheet),
        cautions=cautions_of(sheet, planned),
        footer=f"{head.name}, revision {head.revision}",
    )


def _about(sheet: Sheet, count: int | None) -> str:
    head = sheet.sheet
    said = [f"revision {head.revision}"]
    said += [count_text(count, "piece")] if count else []
    planned_s = sum(stage.planned_s or 0.0 for stage in sheet.stage)
    said += [f"{clock(planned_s)} planned"] if planned_s else []
    return " · ".join([*said, *([head.author] if head.author else [])])


def _groups(sheet: Sheet) -> list[Group]:
    """Return what is made first, then each phase; what is to taste has no mass."""
    found = [
        Group(
            name=f"Make first: {recipe.name}",
            aside=", ".join(text for text in (comes_to(recipe), recipe.text.strip()) if text),
            rows=[_row(part) for part in recipe.ingredient],
        )
        for recipe in sheet.subrecipe
    ]
    for phase, title in PHASES.items():
        rows: list[Part] = [*sheet.of_phase(phase)]
        rows += [one for one in sheet.to_taste if one.phase == phase]
        if rows:
            found.append(Group(name=title, aside="", rows=[_row(part) for part in rows]))
    return found


def _row(part: Part) -> Row:
    off = part.tolerance_percent
    return Row(
        name=part.name,
        mass="" if part.mass_g is None else weighed_text(part.mass_g),
        tolerance="to taste" if part.mass_g is None else "" if off is None else tolerance_text(off),
        lot=part.lot,
        note="; ".join(text for text in (bought_text(part), instead_text(part)) if text),
    )


def _step(sheet: Sheet, number: int, stage: Stage) -> Step:
    asked, kind = list(wanted(stage)), kind_of(stage)
    plain = [one.says for one in asked if one.band is None]
    count = (getattr(stage, "pieces", None) or pieces_of(sheet) or 0) if kind.has_board else 0
    return Step(
        number=str(number),
        title=title_of(stage),
        planned=clock(stage.planned_s) if stage.planned_s is not None else "",
        says=[*step_words(stage), *([capital(", ".join(plain))] if plain else [])],
        blanks=[Blank(name=one.key, target=one.text) for one in asked if one.band is not None],
        hazards=hazards_of(sheet, stage),
        pieces=[str(number) for number in range(1, min(count, MOST_TIMED) + 1)],
        more_pieces=_more(count, MOST_TIMED),
    )


def _more(count: int | None, most: int) -> str:
    """Say how many pieces have no place of their own."""
    left = (count or 0) - most
    return f"{count_text(left, 'more piece')}: write on the back" if left > 0 else ""
