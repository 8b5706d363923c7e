"""What is wrong with the text of a sheet, what to expect of it, and what it changes: drawn.

Pure: text in, components out. Reading is ``logger.review.plan.known``'s, predicting
``logger.review.plan.plan``'s; each is done once for a text.
"""

import datetime
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures, in_units
from logger.batch.form.meant import meant_by
from logger.model.errors import BainlogError, InputError
from logger.model.files import CORRECT_IT, sheet_from_text
from logger.model.lines import line_of
from logger.model.recipe.checked import CheckedSheet, sheet_wrongs
from logger.review.learn.sheets import differences
from logger.review.plan.known import Fats, Slabs, checked
from logger.review.plan.plan import plan
from logger.review.plan.planned import Plan, Prediction, Trouble
from logger.words.digits import DASH
from logger.words.values import places_of

WEIGHTS = {"will not work": "stop", "mind": "warn", "note": "ask"}
MOST_TEXT = 200_000
MOST_WRONGS = 12
NAME = "this sheet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A text, read once.

    Attributes
    ----------
    checked : CheckedSheet or None
        None for a text that is too long to be read.
    plan : Plan or None
        None for a text that is not valid, or where no forecast is possible.
    why_not : str
        Why no forecast is possible.
    """

    text: str
    checked: CheckedSheet | None = None
    plan: Plan | None = None
    why_not: str = ""


def look_at(text: str, fats: Fats, slabs: Slabs, today: datetime.date | None = None) -> Look:
    """Read a text and predict what comes of it.

    Parameters
    ----------
    text : str
        Text of the sheet.
    fats : mapping
        Fats by key.
    slabs : mapping
        Latest slab test of each alginate.
    today : date, optional
        Compared with what is best before a day.
    """
    if len(text) > MOST_TEXT:
        return Look(text=text)
    found = checked(text, NAME, fats)
    if found.sheet is None:
        return Look(text=text, checked=found)
    try:
        made = plan(found.sheet, None, fats, slabs, today)
    except (BainlogError, ValueError) as cause:
        return Look(text=text, checked=found, why_not=str(cause))
    return Look(text=text, checked=found, plan=made)


def draw_wrongs(look: Look) -> list[Any]:
    """Draw what is wrong with a text, each with its line, what stands there and what would do."""
    if look.checked is None:
        return [html.H2("Too long"), html.P("A sheet has at most 200 000 characters.")]
    wrongs = look.checked.wrongs
    if not wrongs:
        return []
    many = f"{len(wrongs)} things to correct" if len(wrongs) > 1 else "One thing to correct"
    drawn = [_wrong(wrong, look.text, _offers(look.text, wrong)) for wrong in wrongs[:MOST_WRONGS]]
    return [
        html.H2([symbol("stop"), f" {many}"], className="sheet-wrong"),
        html.Ol(drawn, className="wrongs"),
        *([html.P(f"And {left} more.")] if (left := len(wrongs) - MOST_WRONGS) > 0 else []),
    ]


def _offers(text: str, wrong: InputError) -> list[html.Button]:
    """Return a button for each thing that an amount with a comma may mean: a tap writes it."""
    return [
        html.Button(
            f"Write {change.value}",
            type="button",
            className="key small",
            **{"data-change": json.dumps(asdict(change))},
        )
        for change in meant_by(text, NAME, wrong)
    ]


def _wrong(wrong: InputError, text: str, offers: list[html.Button]) -> html.Li:
    path = wrong.where.removeprefix(NAME).removeprefix(": ")
    line = line_of(text, path or wrong.found)
    where: list[Any] = [html.B(f"Line {line}")] if line is not None else []
    where += [html.Code(path)] if path else []
    parts = zip(("Found", "Expected"), found_and_expected(wrong), strict=True)
    return html.Li(
        [
            html.P(where, className="wrong-where"),
            html.Dl([html.Div([html.Dt(head), html.Dd(said)]) for head, said in parts if said]),
            *([html.Div(offers, className="answers wrap")] if offers else []),
        ]
    )


def found_and_expected(wrong: InputError) -> tuple[str, str]:
    """Return what stands there and what would do; the latter is empty where the former says it."""
    return wrong.found, wrong.wanted if wrong.wanted != CORRECT_IT else ""


def draw_plan(look: Look, measures: Measures) -> list[Any]:
    """Draw what to expect of a sheet; nothing for a text that is not valid.

    Parameters
    ----------
    look : Look
        At the text.
    measures : Measures
        How numbers are written.
    """
    found = look.plan
    if found is None and look.why_not:
        return [html.H2([symbol("stop"), " No forecast possible"]), html.P(look.why_not)]
    if found is None:
        return [html.P("What to expect is shown once the text is valid.")]
    said = [
        html.Ul([_trouble(t) for t in found.troubles], className="evidence"),
        _predictions(found.predictions, measures),
        _list("Can't tell", found.untold),
        _list("Caution", found.cautions),
    ]
    head = html.H2([symbol("good"), f" {found.sheet}, revision {found.revision}"])
    return [head, *(in_units(part, measures) for part in said)]


def _trouble(trouble: Trouble) -> html.Li:
    where = f" [{trouble.stage}]" if trouble.stage else ""
    return html.Li(
        [
            symbol(WEIGHTS[trouble.weight]),
            html.Span(
                [
                    html.B(f"{trouble.weight}{where}: "),
                    f"{trouble.says}. ",
                    f"{trouble.do[:1].upper()}{trouble.do[1:]}.",
                ]
            ),
        ]
    )


def _predictions(predictions: Sequence[Prediction], measures: Measures) -> Any:
    rows = [
        html.Tr(
            [
                html.Th(p.label, scope="row"),
                html.Td(amount_text(p, measures), className="amount"),
                html.Td([p.says, " ", html.Small(p.source, className="soft")]),
            ]
        )
        for p in predictions
    ]
    if not rows:
        return None
    heads = [html.Th(t, scope="col") for t in ("What to expect", "Likely", "Why")]
    return html.Table(
        [
            html.Caption("What to expect from this sheet", className="unseen"),
            html.Thead(html.Tr(heads)),
            html.Tbody(rows),
        ],
        className="plain-table folding",
    )


def amount_text(found: Prediction, measures: Measures) -> str:
    """Return the likely value of a prediction, else its range, else a dash."""
    if found.value is not None:
        return measures.value(found.value, found.unit)
    low, high = (
        None if end is None else round(end, places_of(end, found.unit))
        for end in (found.low, found.high)
    )
    return measures.band(low, high, found.unit) or DASH


def _list(title: str, texts: Sequence[str]) -> Any:
    if not texts:
        return None
    return html.Div([html.H2(title), html.Ul([html.Li(text) for text in texts], className="dots")])


def draw_changes(before: str, after: str, named: str) -> Any:
    """Draw in what a text differs from an earlier one.

    Parameters
    ----------
    before, after : str
        Texts of sheets.
    named : str
        What the earlier one is called.
    """
    try:
        found = differences(sheet_from_text(before, named), sheet_from_text(after, NAME))
    except (BainlogError, ValueError) as cause:
        if sheet_wrongs(after, NAME):
            return html.P("The comparison appears once the text is valid.")
        return html.P(f"They can't be compared. {cause}")
    if not found:
        return html.P(f"Nothing but name, notes or comments differs from {named}.")
    rows = [
        html.Tr([html.Th(c.where, scope="row"), html.Td(c.before or "–"), html.Td(c.after or "–")])
        for c in found
    ]
    heads = [html.Th(t, scope="col") for t in ("Where", named.capitalize(), "In the text now")]
    return html.Table(
        [
            html.Caption(f"What differs from {named}", className="unseen"),
            html.Thead(html.Tr(heads)),
            html.Tbody(rows),
        ],
        className="plain-table folding",
    )
