"""How a batch came out, and notes added later: a form, and what it sends.

The recorder writes, never this page. Without a recorder the page says which command does it.
"""

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import html

from dashboard.answers import Committed
from dashboard.links import Links
from logger.control.client import GoneError, RefusedError
from logger.store.run.records import Outcome

LIMIT = {"input": {"maxLength": 4000}}
"""Longest text that the recorder takes."""
SAVED = "Saved."


def draw_form(outcome: Outcome, defects: list[str]) -> html.Section:
    """Draw the form, filled with what was said before; open while nothing was said."""
    said = outcome.outcome is not None
    return html.Section(
        className="form",
        children=[
            html.H2("How it came out"),
            html.P(outcome.note, className="run-note"),
            html.Details(
                [
                    html.Summary("Change how it came out" if said else "Say how it came out"),
                    *_fields(outcome, defects),
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
            html.P(id="out-said", role="status", className="said"),
        ],
    )


def _fields(outcome: Outcome, defects: list[str]) -> list[Any]:
    return [
        dmc.RadioGroup(
            id="out-came",
            value=outcome.outcome,
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
            value=list(outcome.defects),
            label="What is wrong with it",
            size="md",
            mt="md",
            children=html.Div(
                [dmc.Checkbox(label=name, value=name, size="md") for name in defects],
                className="defects",
            ),
        ),
        dmc.Textarea(
            id="out-text",
            label="In your own words",
            value=outcome.note,
            size="md",
            autosize=True,
            minRows=2,
            attributes=LIMIT,
            mt="md",
        ),
        html.Button("Save", id="out-save", type="button", className="key small"),
    ]


def save_outcome(links: Links, run_id: str, came: str | None, defects: list[str], text: str) -> str:
    """Send the outcome; return what to tell the person.

    Parameters
    ----------
    links : Links
        The way to the recorder.
    run_id : str
        The run.
    came : str or None
        ``accepted`` or ``rejected``.
    defects : list of str
        From the sheet's list.
    text : str
        In the person's own words.
    """
    if came not in ("accepted", "rejected"):
        return "Say first whether it is accepted or rejected."
    data = {"run": run_id, "outcome": came, "defects": defects, "text": text}
    return _sent(links, "outcome", data, f"bainlog outcome {run_id} {came}")


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
