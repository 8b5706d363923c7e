"""How a batch came out, and notes added later: a form, and what it sends.

The recorder writes, never this page. Without a recorder the page says which command does it.
"""

from collections.abc import Mapping

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
    """Draw the form, filled with what was said before."""
    return html.Section(
        className="plate form",
        children=[
            html.H2("How it came out"),
            dmc.RadioGroup(
                id="out-came",
                value=outcome.outcome,
                label="This batch is",
                size="lg",
                children=dmc.Group(
                    [
                        dmc.Radio(label=word, value=word, size="lg")
                        for word in ("accepted", "rejected")
                    ],
                    mt="xs",
                    gap="xl",
                ),
            ),
            dmc.CheckboxGroup(
                id="out-defects",
                value=list(outcome.defects),
                label="What is wrong with it",
                size="lg",
                mt="md",
                children=html.Div(
                    [dmc.Checkbox(label=name, value=name, size="lg") for name in defects],
                    className="defects",
                ),
            ),
            dmc.Textarea(
                id="out-text",
                label="In your own words",
                value=outcome.note,
                size="lg",
                autosize=True,
                minRows=2,
                attributes=LIMIT,
                mt="md",
            ),
            html.Button("Save", id="out-save", type="button", className="key main"),
            html.H2("Add a note"),
            dmc.Textarea(
                id="late-note", label="Note", size="lg", autosize=True, minRows=2, attributes=LIMIT
            ),
            html.Button("Save note", id="late-save", type="button", className="key"),
            html.P(id="out-said", role="status", className="said"),
        ],
    )


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
