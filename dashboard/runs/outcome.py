"""How a batch came out, and notes added later: a form, and what it sends.

The recorder writes, never this page. Without a recorder the page says which command does it.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard.answers import Committed
from dashboard.links import Links
from dashboard.photos.drawing import draw_add
from logger.batch.results import typed_result
from logger.control.client import GoneError, RefusedError
from logger.model.errors import BainlogError
from logger.model.finding import Results
from logger.model.history import piece_defects, said_because, said_results
from logger.model.rows import ResultRow
from logger.model.sheet import DeclaredResult
from logger.review.why.explanation import capital
from logger.store.run.records import Outcome
from logger.store.run.view import RunView
from logger.words.values import exact_text

LIMIT = {"input": {"maxLength": 4000}}
"""Longest text that the recorder takes."""
NAME = {"input": {"maxLength": 200}}
SAVED = "Saved."
NO_CAUSE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What the form shows: what can be said of a run, and what was said before.

    Attributes
    ----------
    defects : tuple of str
        To choose from: those of the sheet, then those that were added.
    pieces : tuple of int
        Numbers of the pieces.
    by_piece : mapping
        Defects of single pieces.
    declared : tuple of DeclaredResult
        Results of the sheet.
    measured : tuple of ResultRow
        Those that are known.
    causes : mapping
        Causes to choose from, by id.
    because : str
        Id of the cause that was found; empty where nobody said.
    """

    outcome: Outcome
    defects: tuple[str, ...] = ()
    pieces: tuple[int, ...] = ()
    by_piece: Mapping[int, Sequence[str]]
    declared: tuple[DeclaredResult, ...] = ()
    measured: tuple[ResultRow, ...] = ()
    causes: Mapping[str, str]
    because: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Saying:
    """What a person filled in.

    Attributes
    ----------
    came : str or None
        ``accepted`` or ``rejected``.
    defects : tuple of str
        Of the batch.
    by_defect : mapping
        Numbers of the pieces that have a defect.
    results : mapping
        As typed, by the name of the result.
    because : str
        Id of the cause that was found; empty is none.
    text : str
        In the person's own words.
    """

    came: str | None
    defects: tuple[str, ...] = ()
    by_defect: Mapping[str, Sequence[str]]
    results: Mapping[str, str]
    because: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """The form's lists with one more defect: its boxes, all defects, those that are ticked."""

    ticks: list[dmc.Checkbox]
    defects: tuple[str, ...]
    picked: tuple[str, ...]


def form_of(view: RunView, results: Results | None, causes: Mapping[str, str]) -> Form:
    """Return the form of a run.

    Parameters
    ----------
    view : RunView
        The run.
    results : Results or None
        What was found.
    causes : mapping
        Causes to choose from, by id.
    """
    sheet, came, events = view.sheet(), view.outcome(), view.events()
    by_piece = piece_defects(events)
    said = [*sheet.sheet.defects, *came.defects, *(d for of in by_piece.values() for d in of)]
    numbers: set[int | None] = set(by_piece)
    if results is not None:
        numbers |= {p.piece for p in results.pieces} | {i.piece for i in results.immersions}
    return Form(
        outcome=came,
        defects=tuple(dict.fromkeys(said)),
        pieces=tuple(sorted(n for n in numbers if n)),
        by_piece=by_piece,
        declared=tuple(sheet.result),
        measured=tuple(said_results(events)),
        causes=causes,
        because=said_because(events),
    )


def draw_form(form: Form) -> html.Section:
    """Draw the form, filled with what was said before; open while nothing was said."""
    said = form.outcome.outcome is not None
    return html.Section(
        className="form",
        children=[
            html.H2("How it came out"),
            html.P(form.outcome.note, className="run-note"),
            html.Details(
                [
                    html.Summary("Change how it came out" if said else "Say how it came out"),
                    *_fields(form),
                ],
                open=not said,
                className="more-of",
            ),
            html.Details(
                [
                    html.Summary("Add a note"),
                    dmc.Textarea(
                        id="late-note",
                        label="Note",
                        size="md",
                        autosize=True,
                        minRows=2,
                        attributes=LIMIT,
                    ),
                    html.Button("Save note", id="late-save", type="button", className="key small"),
                ],
                className="more-of",
            ),
            draw_add(form.pieces),
            html.P(id="out-said", role="status", className="said"),
        ],
    )


def _fields(form: Form) -> list[Any]:
    came = form.outcome
    return [
        dmc.RadioGroup(
            id="out-came",
            value=came.outcome,
            label="This batch is",
            size="md",
            children=dmc.Group(
                [dmc.Radio(label=word, value=word, size="md") for word in ("accepted", "rejected")],
                mt="xs",
                gap="xl",
            ),
        ),
        dmc.CheckboxGroup(
            id="out-defects",
            value=list(came.defects),
            label="What is wrong with it",
            size="md",
            mt="md",
            children=html.Div(_ticks(form.defects), id="out-list", className="defects"),
        ),
        html.Div(
            [
                dmc.TextInput(id="out-new", label="Another defect", size="md", attributes=NAME),
                html.Button("Add", id="out-add", type="button", className="key small"),
            ],
            className="add-defect",
        ),
        *_pieces(form),
        *(_result(one, form.measured) for one in form.declared),
        dmc.Select(
            id="out-because",
            label="Cause that was found",
            data=[
                {"value": NO_CAUSE, "label": "Not known"},
                *({"value": k, "label": capital(v)} for k, v in form.causes.items()),
            ],
            value=form.because or NO_CAUSE,
            searchable=True,
            allowDeselect=False,
            size="md",
            mt="md",
        ),
        dmc.Textarea(
            id="out-text",
            label="In your own words",
            value=came.note,
            size="md",
            autosize=True,
            minRows=2,
            attributes=LIMIT,
            mt="md",
        ),
        html.Button("Save", id="out-save", type="button", className="key small"),
    ]


def _ticks(defects: Sequence[str]) -> list[dmc.Checkbox]:
    return [dmc.Checkbox(label=name, value=name, size="md") for name in defects]


def _pieces(form: Form) -> list[Any]:
    """Draw a defect to choose and the pieces to tap that have it."""
    by_defect: dict[str, list[str]] = {}
    for piece, defects in form.by_piece.items():
        for defect in defects:
            by_defect.setdefault(defect, []).append(str(piece))
    first = next(iter(by_defect), form.defects[0] if form.defects else None)
    return [
        dcc.Store(id="out-by-defect", data=by_defect),
        dcc.Store(id="out-results"),
        html.Div(
            [
                dmc.Select(
                    id="out-piece-defect",
                    label="Single pieces with",
                    data=list(form.defects),
                    value=first,
                    allowDeselect=False,
                    size="md",
                    mt="md",
                ),
                dmc.ChipGroup(
                    id="out-pieces",
                    multiple=True,
                    value=by_defect.get(first or "", []),
                    children=html.Div(
                        [dmc.Chip(str(n), value=str(n), size="lg") for n in form.pieces],
                        className="piece-taps",
                    ),
                ),
            ],
            hidden=not form.pieces or not form.defects,
        ),
    ]


def _result(one: DeclaredResult, measured: Sequence[ResultRow]) -> dmc.TextInput:
    """Draw the field of a result; of a score the next taster's."""
    known = None if one.by_taster else next((r for r in measured if r.name == one.name), None)
    label = capital(one.name) + (f", {one.unit}" if one.unit else "")
    return dmc.TextInput(
        label=label,
        value="" if known is None else exact_text(known.value, one.unit),
        placeholder="such as 7 by Ada" if one.by_taster else "",
        size="md",
        mt="md",
        attributes={"input": {**NAME["input"], "data-result": one.name}},
    )


def with_new(typed: str, known: Sequence[str], picked: Sequence[str]) -> Added:
    """Return the lists with one more defect, which is ticked.

    Parameters
    ----------
    typed : str
        The defect.
    known : sequence of str
        Those that can be chosen.
    picked : sequence of str
        Those that are ticked.
    """
    name = typed.strip()
    found = tuple(dict.fromkeys([*known, *([name] if name else [])]))
    ticked = tuple(dict.fromkeys([*picked, *([name] if name else [])]))
    return Added(ticks=_ticks(found), defects=found, picked=ticked)


def save_outcome(links: Links, run_id: str, said: Saying) -> str:
    """Send the outcome; return what to tell the person.

    Parameters
    ----------
    links : Links
        The way to the recorder.
    run_id : str
        The run.
    said : Saying
        What the person filled in.
    """
    if said.came not in ("accepted", "rejected"):
        return "First say whether it is accepted or rejected."
    try:
        with links.open_run(run_id, tolerant=True) as view:
            sheet, events = view.sheet(), view.events()
        results = typed(said.results, sheet.result, said_results(events))
    except BainlogError as cause:
        return f"Not saved. {cause}"
    by_piece: dict[int, list[str]] = {}
    for defect, pieces in said.by_defect.items():
        for piece in pieces:
            by_piece.setdefault(int(piece), []).append(defect)
    named = [*said.defects, *(d for d, pieces in said.by_defect.items() if pieces)]
    new = [d for d in dict.fromkeys(named) if d not in sheet.sheet.defects]
    data: dict[str, object] = {
        "run": run_id, "outcome": said.came, "defects": list(said.defects), "text": said.text,
    }  # fmt: skip
    if new:
        data["new_defects"] = new
    if by_piece or piece_defects(events):
        data["pieces"] = [{"piece": n, "defects": by_piece[n]} for n in sorted(by_piece)]
    if results:
        data["results"] = [asdict(row) for row in results]
    if said.came == "rejected" and said.because != said_because(events):
        data["because"] = said.because
    return _sent(links, "outcome", data, f"bainlog outcome {run_id} {said.came}")


def typed(
    said: Mapping[str, str], declared: Sequence[DeclaredResult], known: Sequence[ResultRow]
) -> list[ResultRow]:
    """Return the results that are new or others than before; a bare number has the field's unit.

    Parameters
    ----------
    said : mapping
        What stands in each field, by the name of the result.
    declared : sequence of DeclaredResult
        Those of the sheet.
    known : sequence of ResultRow
        What was said before.

    Raises
    ------
    InputError
        If a text is no such result.
    """
    found = []
    for one in declared:
        text = said.get(one.name, "").strip()
        if not text:
            continue
        bare = one.unit and not one.by_taster and _is_number(text)
        row = typed_result(capital(one.name), f"{text} {one.unit}" if bare else text, one)
        found += [row] if row not in known else []
    return found


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[+-]?[0-9.]+", text) is not None


def save_note(links: Links, run_id: str, text: str) -> str:
    """Send a note; return what to tell the person.

    Parameters
    ----------
    links : Links
        The way to the recorder.
    run_id : str
        The run.
    text : str
        The note.
    """
    if not text.strip():
        return "The note is empty."
    return _sent(links, "note", {"run": run_id, "text": text.strip()}, "bainlog start")


def _sent(links: Links, kind: str, about: Mapping[str, object], command: str) -> str:
    try:
        links.send(kind, about, Committed)
    except RefusedError as cause:
        return f"Not saved. {cause}"
    except GoneError:
        return f"Not saved: no recorder runs for this data folder. Use: {command}"
    return SAVED
