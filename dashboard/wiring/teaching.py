"""An instrument that nobody knows yet: point at the number in its line, say its unit, save.

Draws the lines that the recorder heard; the recorder makes the line format, tries it and keeps it.
"""

from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboard.answers import Done, Heard, Survey
from dashboard.links import Links
from dashboard.stores import decode, encode
from dashboard.wiring.answering import unit_chips
from dashboard.wiring.checking import sent


@dataclass(frozen=True, slots=True, kw_only=True)
class Picked:
    """The number that somebody pointed at."""

    port: str
    line: int
    number: int
    text: str


def layout() -> html.Div:
    """Return the section without data; it is hidden while every instrument is known."""
    return html.Div(
        className="teach",
        children=[
            dcc.Store(id="teach-of"),
            html.Div(
                id="teach",
                hidden=True,
                children=[
                    html.H3("Teach it"),
                    html.P(
                        "bainlog doesn't know these lines. Point at the number that the display "
                        "shows, say its unit, and save."
                    ),
                    html.Div(id="teach-lines", className="teach-lines"),
                    dmc.ChipGroup(id="teach-number", children=[]),
                    unit_chips("teach"),
                    html.Div(
                        [
                            _words("teach-moving", "Word for a moving value, if any", "US"),
                            _words("teach-missing", "Word for a missing probe, if any", "OPEN"),
                        ],
                        className="answers wrap at-foot",
                    ),
                    html.Button(
                        "Save",
                        id="teach-save",
                        type="button",
                        className="key main",
                        disabled=True,
                    ),
                ],
            ),
            html.P(id="teach-says", role="status", className="said"),
        ],
    )


def _words(name: str, label: str, sample: str) -> html.Div:
    field = dmc.TextInput(id=name, label=label, placeholder=sample, size="lg")
    return html.Div(field, className="filter")


def register(app: Dash, links: Links) -> None:
    """Attach the section's callbacks to an app."""

    @app.callback(
        Output("teach", "hidden"),
        Output("teach-lines", "children"),
        Output("teach-number", "children"),
        Output("teach-of", "data"),
        Input("wiring-beat", "n_intervals"),
        State("teach-of", "data"),
    )
    def _lines(_beat: Any, of: Any) -> Any:
        answer = sent(links, "survey", {}, Survey)[0]
        one = unknown(answer)
        drawn = encode(one) if one is not None else None
        if drawn == of:
            return (no_update,) * 4
        if one is None:
            return True, [], [], None
        return False, draw_lines(one), draw_numbers(one), drawn

    @app.callback(
        Output("teach-says", "children"),
        Output("teach-save", "disabled"),
        Input("teach-number", "value"),
        State("teach-of", "data"),
        prevent_initial_call=True,
    )
    def _pick(number: Any, of: Any) -> Any:
        picked = picked_of(decode(Heard, of), number)
        if picked is None:
            return no_update, no_update
        return f"The display shows {picked.text}.", False

    @app.callback(
        Output("teach-says", "children", allow_duplicate=True),
        Output("teach-save", "disabled", allow_duplicate=True),
        Input("teach-save", "n_clicks"),
        State("teach-number", "value"),
        State("teach-of", "data"),
        State("teach-unit", "value"),
        State("teach-moving", "value"),
        State("teach-missing", "value"),
        prevent_initial_call=True,
    )
    def _save(clicks: Any, number: Any, of: Any, unit: Any, moving: Any, missing: Any) -> Any:
        picked = picked_of(decode(Heard, of), number)
        if not clicks or picked is None:
            return no_update, no_update
        about = {
            "port": picked.port,
            "line": picked.line,
            "number": picked.number,
            "text": picked.text,
            "unit": unit or "",
            "moving": str(moving or "").split(),
            "missing": str(missing or "").split(),
        }
        answer, says = sent(links, "teach", about, Done)
        return (answer.says, True) if answer else (f"Not saved. {says}", False)


def unknown(answer: Survey | None) -> Heard | None:
    """Return the first instrument with numbers to point at, None while there is none."""
    heard = answer.heard if answer is not None and not answer.busy else []
    return next((one for one in heard if one.lines), None)


def draw_lines(one: Heard) -> list[Any]:
    """Draw the lines but the last one, which is pointed at."""
    lines = ["".join(piece.text for piece in line.pieces) for line in one.lines[:-1]]
    return [html.P(one.device, className="soft"), *(html.Code(line) for line in lines)]


def draw_numbers(one: Heard) -> list[Any]:
    """Draw the last line; each of its numbers can be chosen."""
    parts: list[Any] = [
        dmc.Chip(piece.text.strip(), value=str(piece.number), size="lg")
        if piece.number
        else html.Code(piece.text)
        for piece in one.lines[-1].pieces
    ]
    return [html.Div(parts, className="teach-line")]


def picked_of(one: Heard | None, number: object) -> Picked | None:
    """Return the number of the last line that somebody pointed at.

    Parameters
    ----------
    one : Heard or None
        The instrument.
    number : object
        Which of the numbers of the line, as the page has it.
    """
    if one is None or not one.lines:
        return None
    for piece in one.lines[-1].pieces:
        if piece.number and str(piece.number) == number:
            line = one.lines[-1].line
            return Picked(port=one.device, line=line, number=piece.number, text=piece.text.strip())
    return None
