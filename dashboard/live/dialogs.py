"""The dialogs at the bench, start, note, undo, move and end, and what fills them when they open.

Their fields are made in the browser (``assets/asking.js``); what is asked and suggested comes from
``asking`` and ``acts``.
"""

from dataclasses import dataclass, replace
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, html, no_update

from dashboard.links import Links
from dashboard.live.acts import draw_acts, draw_move_dialog, draw_refused, draw_undo_dialog
from dashboard.live.asking import StartForm, end_form, start_form
from dashboard.measures import Measures, in_units
from dashboard.stores import Choices, decode, encode


def draw_dialogs() -> list[Any]:
    """Draw the dialogs, closed."""
    return [
        _dialog(
            "start-dialog",
            "Start a batch",
            [
                html.Label("Sheet", htmlFor="sheet-choice"),
                html.Select(id="sheet-choice", children=_sheets([], own=True)),
                html.Div(id="start-fields"),
                html.P(id="start-says", className="hint", role="status"),
            ],
            html.Button("Start batch", type="button", className="key main go", id="start-go"),
            wide=True,
        ),
        _dialog(
            "note-dialog",
            "Note",
            [
                html.Label("What happened?", htmlFor="note-text"),
                html.Textarea(id="note-text", rows=4, maxLength=4000),
            ],
            html.Button("Save note", type="button", className="key main go", id="note-go"),
        ),
        _dialog(
            "end-dialog",
            "How did it come out?",
            [
                html.Div(id="end-fields"),
                html.P(
                    "Recording stops and the run is saved. All this can also be said later, on "
                    "the run's page.",
                    className="hint",
                ),
            ],
            html.Button("End and save", type="button", className="key main go", id="end-go"),
            back=html.Button(
                "Resume batch",
                type="button",
                className="key",
                id="end-back",
                **{"data-closes": "1"},
            ),
            says=html.Span(id="end-says", className="soft", role="status"),
            wide=True,
        ),
        draw_undo_dialog(),
        draw_move_dialog(),
    ]


def _sheets(names: list[str], *, own: bool) -> list[html.Option]:
    """Draw the sheets to choose from; before them the one the recorder was started with, if any."""
    first = "The sheet this bench was started with" if own else "Choose a sheet"
    return [html.Option(first, value=""), *(html.Option(name, value=name) for name in names)]


def _dialog(
    name: str,
    title: str,
    inside: list[Any],
    go: html.Button,
    *,
    back: html.Button | None = None,
    says: html.Span | None = None,
    wide: bool = False,
) -> html.Dialog:
    return html.Dialog(
        id=name,
        className="dialog wide" if wide else "dialog",
        children=[
            html.H2(title, id=f"{name}-title"),
            html.Div(inside, className="dialog-rest"),
            draw_refused(),
            html.Div(
                [
                    back
                    or html.Button(
                        "Cancel", type="button", className="key", **{"data-closes": "1"}
                    ),
                    says,
                    go,
                ],
                className="answers",
            ),
        ],
        **{"aria-labelledby": f"{name}-title"},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A dialog that was opened: its name, and the sheet that is chosen in it, once one is."""

    name: str = ""
    sheet: str | None = None
    n: int | None = None


def register(app: Dash, links: Links) -> None:
    """Attach what fills the dialogs when they open."""
    for name in ("start", "end"):
        app.clientside_callback(ClientsideFunction("asking", name), Input(f"{name}-form", "data"))
    app.clientside_callback(ClientsideFunction("asking", "listed"), Input("undo-list", "children"))

    @app.callback(
        Output("sheet-choice", "children"),
        Output("start-form", "data"),
        Output("end-form", "data"),
        Output("undo-list", "children"),
        Input("opened", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _fill(data: Any, choices: Any) -> Any:
        opened, measures = decode(Opened, data) or Opened(), Choices.of(choices).measures
        sheets: Any = no_update
        start: Any = no_update
        end: Any = no_update
        acts: Any = no_update
        if opened.name == "start-dialog":
            if opened.sheet is None:
                sheets = _sheets(links.sheets(), own=links.own_sheet() is not None)
            start = encode(in_ounces(start_form(links, opened.sheet or ""), measures))
        elif opened.name == "end-dialog":
            end = encode(end_form(links))
        elif opened.name == "undo-dialog":
            state = links.state()
            acts = in_units(draw_acts(state.acts if state is not None else []), measures)
        return sheets, start, end, acts


def in_ounces(form: StartForm, measures: Measures) -> StartForm:
    """Return what is asked at the start with its amounts in the units that were chosen."""
    lots = [
        replace(
            lot,
            amount=measures.said(lot.amount),
            instead=[replace(one, amount=measures.said(one.amount)) for one in lot.instead],
        )
        for lot in form.lots
    ]
    return replace(form, lots=lots)
