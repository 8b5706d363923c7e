"""The page of one run: whole trace, findings by stage, dwells, alarms, notes, how it came out.

The traces come first, words and tables after them. Zooming asks a route for what the window shows,
and the browser puts the answer into the graph by itself: by way of a callback it took twice as
long. The answer says whether it is every reading.
"""

import threading
import uuid
from dataclasses import asdict
from typing import Any

import flask
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard.graphs import blank_graph
from dashboard.links import Links
from dashboard.live.acts import draw_acts, draw_move_dialog
from dashboard.live.commands import Command, carry_out
from dashboard.live.sentence import symbol
from dashboard.runs import legend, outcome
from dashboard.runs.card import came_out, said_of
from dashboard.runs.contents import (
    draw_whole,
    draw_window,
    draw_words,
    span_of,
    tables_of,
)
from dashboard.runs.handing import draw_hand_on
from dashboard.stores import Choices, decode, encode
from logger.model.errors import BainlogError
from logger.store.folder.entries import RunEntry, describe
from logger.words.durations import clock


def layout_for(links: Links) -> Any:
    """Return the function that draws the page of a run by its id."""

    def layout(run_id: str) -> html.Div:
        try:
            with links.open_run(run_id, tolerant=True) as view:
                entry = describe(view, run_id)
                form = outcome.draw_form(view.outcome(), view.sheet().sheet.defects)
        except (BainlogError, ValueError) as cause:
            return _missing(str(cause))
        return _page(entry, form)

    return layout


def _missing(why: str) -> html.Div:
    return html.Div(
        className="plain-page",
        children=[
            html.H1("This run can't be opened"),
            html.P(why),
            dcc.Link("All runs", href="/runs", className="key"),
        ],
    )


def _page(entry: RunEntry, form: html.Section) -> html.Div:
    facts = " · ".join(
        [
            entry.started[:16].replace("T", " "),
            clock(entry.duration_ns / 1e9),
            *said_of(entry),
            f"run {entry.run_id}",
        ]
    )
    return html.Div(
        className="plain-page wide",
        children=[
            dcc.Store(id="run-id", data=entry.run_id),
            dcc.Store(id="run-told"),
            dcc.Store(id="run-command"),
            dcc.Store(id="run-done"),
            dcc.Store(id="run-drawn"),
            html.H1(f"{entry.sheet}, revision {entry.revision}"),
            html.P(facts, className="soft"),
            draw_damage(entry),
            html.Div(
                [
                    html.Div(draw_came(entry), id="run-came"),
                    html.Div(
                        [
                            dcc.Link(
                                "Why it came out so",
                                href=f"/why/{entry.run_id}",
                                className="key small",
                            ),
                            dcc.Link(
                                "A sheet from this run",
                                href=f"/sheets?run={entry.run_id}",
                                className="key small",
                            ),
                        ],
                        className="answers wrap",
                    ),
                ],
                className="answers spread-out wrap",
            ),
            html.Section(
                className="plate run-strip",
                children=[
                    html.Div(
                        [
                            html.H2("Traces"),
                            html.P(id="run-exact", className="soft", role="status"),
                            html.Button(
                                "Whole run", id="run-whole", type="button", className="chip strong"
                            ),
                        ],
                        className="strip-head",
                    ),
                    blank_graph("run-graph", "run-graph"),
                    html.P("Drag across the traces to look closer.", className="soft"),
                    legend.layout("run-graph"),
                    html.Div(id="run-words"),
                ],
            ),
            html.Div(
                [
                    html.Div(id="run-tables", className="run-tables"),
                    html.Div([form, html.Div(id="run-acts")], className="run-side"),
                ],
                className="run-below",
            ),
            draw_move_dialog(),
            html.Div(id="toast", className="toast", role="status"),
            draw_hand_on(entry.run_id, ended=entry.status != "recording"),
        ],
    )


def draw_damage(entry: RunEntry) -> html.Div:
    """Say what of the run's file is damaged and therefore not on the page."""
    return html.Div([html.P(sentence) for sentence in entry.damage], className="run-damage")


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    gate = threading.Lock()
    legend.register(app, "run-graph")
    app.clientside_callback(
        ClientsideFunction("pages", "attend"),
        Input("run-graph", "figure"),
        State("run-id", "data"),
        State("choices", "data"),
        State("narrow", "data"),
    )

    @app.callback(
        Output("run-graph", "figure"),
        *legend.outputs("run-graph"),
        Output("run-exact", "children"),
        Output("run-drawn", "data"),
        Input("narrow", "data"),
        Input("choices", "data"),
        Input("run-whole", "n_clicks"),
        Input("run-done", "data"),
        State("run-id", "data"),
    )
    def _whole(narrow: Any, choices: Any, _clicks: Any, done: Any, run_id: str) -> Any:
        refused = isinstance(done, dict) and ctx.triggered_id == "run-done" and not done.get("do")
        if narrow is None or refused:  # not measured yet, which comes at once; or nothing changed
            raise PreventUpdate
        with gate:
            figure, says = draw_whole(links, run_id, Choices.of(choices), narrow=bool(narrow))
        return figure, *legend.draw(figure), says, uuid.uuid4().hex

    @app.callback(
        Output("run-words", "children"),
        Output("run-tables", "children"),
        Output("run-acts", "children"),
        Input("run-drawn", "data"),
        State("run-id", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _words(_drawn: Any, run_id: str, choices: Any) -> Any:
        with gate:
            words, tables = draw_words(links, run_id, Choices.of(choices).measures)
            return words, tables, draw_done(links, run_id)

    app.clientside_callback(ClientsideFunction("bench", "said"), Input("run-done", "data"))

    @app.callback(Output("run-done", "data"), Input("run-command", "data"))
    def _correct(command: Any) -> Any:
        asked = decode(Command, command)
        if asked is None or asked.do not in ("undo", "move"):
            return no_update
        return encode(carry_out(links, asked))

    _answer_windows(app.server, links, gate)

    @app.callback(
        Output("out-said", "children"),
        Output("run-told", "data"),
        Input("out-save", "n_clicks"),
        State("run-id", "data"),
        State("out-came", "value"),
        State("out-defects", "value"),
        State("out-text", "value"),
        prevent_initial_call=True,
    )
    def _outcome(_clicks: Any, run_id: str, came: Any, defects: Any, text: Any) -> Any:
        said = outcome.save_outcome(links, run_id, came, list(defects or []), str(text or ""))
        return said, _told(said)

    @app.callback(
        Output("out-said", "children", allow_duplicate=True),
        Output("late-note", "value"),
        Output("run-told", "data", allow_duplicate=True),
        Input("late-save", "n_clicks"),
        State("run-id", "data"),
        State("late-note", "value"),
        prevent_initial_call=True,
    )
    def _note(_clicks: Any, run_id: str, text: Any) -> Any:
        said = outcome.save_note(links, run_id, str(text or ""))
        return said, "" if said == outcome.SAVED else no_update, _told(said)

    @app.callback(
        Output("run-came", "children"),
        Output("run-tables", "children", allow_duplicate=True),
        Input("run-told", "data"),
        State("run-id", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _again(told: Any, run_id: str, choices: Any) -> Any:
        if told is None:
            return no_update, no_update
        with gate, links.open_run(run_id, tolerant=True) as view:
            entry = describe(view, run_id)
            return draw_came(entry), tables_of(view, Choices.of(choices).measures)


def draw_done(links: Links, run_id: str) -> Any:
    """Draw what was done in an ended run, to be taken back or moved.

    Parameters
    ----------
    links : Links
        The way to the run file.
    run_id : str
        The run.
    """
    with links.open_run(run_id, tolerant=True) as view:
        results = view.results()
    if results is None or not results.acts:
        return None
    acts = sorted(results.acts, key=lambda act: act.at_ns)
    return html.Section(
        [html.H2("What was done"), *draw_acts(acts, run_id)], className="plate acts-of-run"
    )


def _answer_windows(server: flask.Flask, links: Links, gate: threading.Lock) -> None:
    @server.get("/runs/<run_id>/window")
    def _window(run_id: str) -> Any:
        asked = flask.request.args
        try:
            with gate:
                narrow = asked.get("narrow") == "true"
                look = Choices.of(asked)
                return asdict(draw_window(links, run_id, span_of(asked), look, narrow=narrow))
        except BainlogError as cause:
            return flask.Response(f"{cause}\n", status=404, mimetype="text/plain")


def _told(said: str) -> Any:
    """A fresh mark after something was saved, so that the page is read again."""
    return uuid.uuid4().hex if said == outcome.SAVED else no_update


def draw_came(entry: RunEntry) -> html.P:
    """Draw how a run came out, with its defects."""
    look, word = came_out(entry)
    return html.P([symbol(look), html.Span(word)], className=f"run-out look-{look}")
