"""The form of a text as the browser draws it: rows, cards, warnings, predictions beside them.

Pure: text in, records out; ``assets/sheetform.js`` draws the cards. What the text says is
``logger.batch.form``'s, what is wrong and what to expect ``outlook``'s.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dashboard.measures import Measures
from dashboard.sheets.outlook import NAME, Look, amount_text, found_and_expected
from logger.batch.form.fields import Shape, table_fields
from logger.batch.form.reading import Form, StageCard, TableCard, Typed, form_of
from logger.batch.form.sums import Share, Warned, shares_of, warned
from logger.model.errors import InputError
from logger.model.kinds.registry import KINDS, kind_named
from logger.review.plan.planned import Plan
from logger.words.counts import count_text
from logger.words.fields import (
    card_title,
    ends_text,
    field_text,
    field_unit_text,
    only_in_text,
    path_text,
    tables_in_text,
    wrong_text,
)

_ENDS = ("low", "high")
_TONES = {"will not work": "stop", "mind": "warn", "note": "ask"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of the grid, every text ready to be shown.

    Attributes
    ----------
    id : str
        Its place in the text, counted from zero; the grid wants text.
    of_phase, of_batch : str
        Shares; empty while they can't be told.
    more : str
        What only the text has.
    wrong : dict
        What is wrong by column; ``""`` for all of the row.
    """

    id: str
    name: str
    phase: str
    amount: str
    tolerance: str
    price: str
    lot: str
    of_phase: str
    of_batch: str
    more: str
    wrong: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One input of a card."""

    path: tuple[str, ...]
    value: str
    label: str
    shape: Shape
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line of a card: one input, or both ends of a target."""

    label: str
    unit: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A stage, the head of the sheet or another table as a card.

    Attributes
    ----------
    outer : int
        Place of the table that it is in; -1 for none.
    """

    table: str
    place: int
    id: str
    title: str
    kind: str
    aside: str
    planned: str
    lines: tuple[Line, ...]
    more: str
    outer: int = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Says:
    """A sentence beside a field or at a card, with the tone that it is said in."""

    table: str
    place: int
    path: tuple[str, ...]
    tone: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of stage that can be added."""

    name: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """All that is drawn of a text.

    Attributes
    ----------
    cards : tuple of Card or None
        The head first; None while a cell is being typed in: they stay as they are.
    others : tuple of Card
        Sub-recipes with what goes into them, vessels, results, alternatives.
    entry : tuple of Line
        What else is said of an ingredient, its values left out.
    entries : tuple of dict
        Those values of each ingredient by path with points between; empty ones are left out.
    broken : str
        Why there is no form; empty where there is one.
    """

    rows: tuple[Row, ...] = ()
    cards: tuple[Card, ...] | None = ()
    others: tuple[Card, ...] = ()
    entry: tuple[Line, ...] = ()
    entries: tuple[dict[str, str], ...] = ()
    kinds: tuple[Kind, ...] = ()
    says: tuple[Says, ...] = ()
    sum_says: str = ""
    elsewhere: str = ""
    broken: str = ""


def shown(text: str, look: Look, measures: Measures, *, typing: bool = False) -> Shown:
    """Return what is drawn of a text.

    Parameters
    ----------
    text : str
        As it is saved up to now: what the fields hold.
    look : Look
        At the text with what is being typed.
    measures : Measures
        How numbers are written.
    typing : bool
        Whether something is being typed: the cards then stay as they are.
    """
    if look.checked is None:
        return Shown(broken="The text is too long for the form.")
    try:
        form = form_of(text, NAME)
    except InputError as cause:
        found, expected = found_and_expected(cause)
        said = wrong_text("", found, expected)
        return Shown(broken=f"The form is shown once this is corrected in the text. {said}")
    written = look.checked.written
    shares = shares_of(written) if written is not None else ()
    wrongs = warned(look.checked.wrongs, NAME)
    made = _made_by(form)
    return Shown(
        rows=_rows(form, shares, wrongs, measures),
        cards=None if typing else (_head(form), *map(_card, form.stages)),
        others=() if typing else tuple(_other(one, made) for one in form.others),
        entry=() if typing else _lines(_empty("ingredient"), made),
        entries=() if typing else tuple(map(_filled, form.entries)),
        kinds=tuple(Kind(name=k.name, title=k.title) for k in KINDS),
        says=(*_wrongs(wrongs, form), *(_expected(form, look.plan, measures) if look.plan else ())),
        sum_says=_sum_says(form, shares, measures),
        elsewhere=tables_in_text(form.elsewhere),
    )


def _rows(
    form: Form, shares: Sequence[Share], wrongs: Sequence[Warned], measures: Measures
) -> tuple[Row, ...]:
    wrong: dict[int, dict[str, str]] = {}
    for one in wrongs:
        if one.table == "ingredient":
            key = one.path[0] if one.path else ""
            wrong.setdefault(one.place, {}).setdefault(key, _said(one))
    return tuple(
        Row(
            id=str(row.place),
            name=row.name,
            phase=row.phase,
            amount=row.amount,
            tolerance=row.tolerance,
            price=row.price,
            lot=row.lot,
            of_phase=_share(share.of_phase_percent, measures),
            of_batch=_share(share.of_batch_percent, measures),
            more=only_in_text(row.more),
            wrong=wrong.get(row.place, {}),
        )
        for row, share in zip(form.ingredients, _as_many(shares, form), strict=True)
    )


def _as_many(shares: Sequence[Share], form: Form) -> Sequence[Share]:
    many = len(form.ingredients)
    return shares if len(shares) == many else [Share()] * many


def _share(percent: float | None, measures: Measures) -> str:
    return "" if percent is None else measures.text(percent, "%")


def _sum_says(form: Form, shares: Sequence[Share], measures: Measures) -> str:
    said = count_text(len(form.ingredients), "ingredient")
    masses = [s.mass_g for s in shares if s.of_batch_percent is not None and s.mass_g is not None]
    if masses:
        said += f", {measures.value(sum(masses), 'g')} to eat, coat not counted"
    return said


def _head(form: Form) -> Card:
    return Card(
        table="sheet",
        place=0,
        id="",
        title="About the sheet",
        kind="",
        aside=", ".join(t.value for t in form.head[:1] if t.value),
        planned="",
        lines=_lines(form.head),
        more="",
    )


def _card(stage: StageCard) -> Card:
    kind = kind_named(stage.kind)
    planned = next((t.value for t in stage.values if t.field.path == ("planned",)), "")
    lines = _lines(stage.values)
    own = [line for line in lines if len(line.cells) == len(_ENDS)]
    aside = [_target(line) for line in own if any(cell.value for cell in line.cells)]
    return Card(
        table="stage",
        place=stage.place,
        id=stage.id,
        title=stage.title or (kind.title if kind else stage.id),
        kind=kind.word.lower() if kind else stage.kind,
        aside="; ".join(aside),
        planned=planned,
        lines=lines,
        more=only_in_text(stage.more),
    )


def _made_by(form: Form) -> tuple[str, ...]:
    """Return the names of the sub-recipes: what an ingredient may be made by."""
    return tuple(one.value("name") for one in form.others if one.table == "subrecipe")


def _empty(table: str) -> list[Typed]:
    named = ("name", "amount")  # they are in the row
    return [Typed(field=one) for one in table_fields(table) if one.path[0] not in named]


def _filled(entry: TableCard) -> dict[str, str]:
    return {".".join(one.field.path): one.value for one in entry.values if one.value}


def _other(card: TableCard, made: Sequence[str]) -> Card:
    title = card.value("name") or card.value("id")
    return Card(
        table=card.table,
        place=card.place,
        id=str(card.place),
        title=card_title(card.table, title),
        kind=card_title(card.table, "") if title else "",
        aside=card.value("amount") or card.value("ratio") or card.value("unit"),
        planned="",
        lines=_lines(card.values, made),
        more=only_in_text(card.more),
        outer=card.outer if card.inner >= 0 else -1,
    )


def _target(line: Line) -> str:
    """Return a target as the sheet writes it."""
    low, high = (cell.value for cell in line.cells)
    return f"{line.label} {ends_text(low, high)}"


def _lines(values: Sequence[Typed], made: Sequence[str] = ()) -> tuple[Line, ...]:
    found = list[Line]()
    for typed in values:
        path = typed.field.path
        is_made = path == ("subrecipe",)
        cell = Cell(
            path=path,
            value=typed.value,
            label=path_text(path),
            shape="choice" if is_made else typed.field.shape,
            choices=_with(made, typed.value) if is_made else typed.field.choices,
        )
        before = found[-1].cells[0].path if found else ()
        if path[-1] == "high" and before == (*path[:-1], "low") and len(path) > 1:
            found[-1] = Line(
                label=found[-1].label, unit=found[-1].unit, cells=(*found[-1].cells, cell)
            )
            continue
        band = len(path) > 1 and path[-1] in _ENDS
        label = field_text(path[0]) if band else path_text(path)
        found.append(Line(label=label, unit=field_unit_text(typed.field.unit), cells=(cell,)))
    return tuple(found)


def _with(names: Sequence[str], value: str) -> tuple[str, ...]:
    return (*names, value) if value and value not in names else tuple(names)


def _said(one: Warned) -> str:
    found, expected = found_and_expected(one.wrong)
    return wrong_text(path_text(one.path) if one.path else "", found, expected)


def _wrongs(wrongs: Sequence[Warned], form: Form) -> tuple[Says, ...]:
    """Return what is wrong, each with the place that its table has through the whole text."""
    places = {(one.table, one.outer, one.inner): one.place for one in form.others}
    return tuple(
        Says(
            table=one.table,
            place=places.get((one.table, one.place, one.inner), one.place),
            path=one.path,
            tone="stop",
            text=_said(one),
        )
        for one in wrongs
        if one.table
    )


def _expected(form: Form, plan: Plan, measures: Measures) -> tuple[Says, ...]:
    """Return what to expect and to mind of each stage, at its card."""
    places: Mapping[str | None, int] = {stage.id: stage.place for stage in form.stages}
    found = [
        Says(
            table="stage",
            place=places[trouble.stage],
            path=(),
            tone=_TONES[trouble.weight],
            text=wrong_text("", trouble.says, trouble.do),
        )
        for trouble in plan.troubles
        if trouble.stage in places
    ]
    found += [
        Says(
            table="stage",
            place=places[one.stage],
            path=(),
            tone="good",
            text=f"{one.label[:1].upper()}{one.label[1:]}: {amount_text(one, measures)}",
        )
        for one in plan.predictions
        if one.stage in places
    ]
    return tuple(found)
