"""The page of one run: the verdict, the traces, findings by stage, pieces, how it came out.

The verdict comes first, then the traces; words and tables follow once they are drawn. Zooming asks
a route for what the window shows, and the browser puts the answer into the graph by itself: by way
of a callback it took twice as long. The answer says whether it is every reading.
"""

import contextlib
import threading
import uuid
from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

import dash_mantine_components as dmc
import flask
from dash import ClientsideFunction, Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard.graphs import blank_graph
from dashboard.learn.portraits import Portraits
from dashboard.links import Links
from dashboard.live.acts import draw_acts, draw_move_dialog
from dashboard.live.commands import Command, carry_out
from dashboard.measures import Measures, in_units
from dashboard.photos.drawing import draw_photos
from dashboard.runs import contents, legend, outcome
from dashboard.runs.handing import draw_hand_on
from dashboard.runs.head import draw_beside, draw_came, draw_checks, draw_head, draw_said
from dashboard.stores import Choices, decode, encode
from logger.model.errors import BainlogError
from logger.model.finding import Results
from logger.model.photos.row import photos_said
from logger.store.folder.entries import RunEntry, describe


def layout_for(links: Links, portraits: Portraits) -> Any:
    """Return the function that draws the page of a run by its id.

    Parameters
    ----------
    links : Links
        The way to recorder and run files.
    portraits : Portraits
        The causes that can be said of a rejected run.
    """

    def layout(run_id: str) -> html.Div:
        try:
            with links.open_run(run_id, tolerant=True) as view, view.together():
                entry = contents.entry_of(links, view, run_id)
                results, unread = contents.results_of(view)
                form = outcome.draw_form(outcome.form_of(view, results, portraits.causes()))
                photos = draw_photos(run_id, photos_said(view.events()))
        except (BainlogError, ValueError) as cause:
            return _missing(str(cause))
        entry = replace(entry, damage=(*entry.damage, *unread))
        return _page(entry, results, form, photos)

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


def _page(
    entry: RunEntry, results: Results | None, form: html.Section, photos: html.Section | None
) -> html.Div:
    return html.Div(
        className="plain-page wide run-page",
        children=[
            *(dcc.Store(id=f"run-{name}") for name in ("told", "command", "done", "drawn")),
            dcc.Store(id="run-id", data=entry.run_id),
            html.Div(draw_damage(entry.damage), id="run-damage", className="run-damage"),
            draw_head(entry, results),
            _traces(),
            html.Div(
                [
                    html.Div(
                        [html.Div(id="run-findings"), html.Div(photos, id="run-photos")],
                        className="run-left",
                    ),
                    html.Div(
                        [
                            html.Div(id="run-pieces"),
                            form,
                            html.Div(id="run-tables", className="run-tables"),
                            html.Details(
                                [html.Summary("What was done"), html.Div(id="run-acts")],
                                className="more-of acts-of-run",
                            ),
                        ],
                        className="run-side",
                    ),
                ],
                className="run-below",
            ),
            draw_move_dialog(),
            html.Div(id="toast", className="toast", role="status"),
            draw_hand_on(entry.run_id, ended=entry.status != "recording"),
        ],
    )


def _traces() -> html.Section:
    return html.Section(
        className="plate run-strip",
        children=[
            html.Div(
                [
                    html.H2("Traces"),
                    html.P(id="run-exact", className="soft", role="status"),
                    html.Button(
                        "Whole run", id="run-whole", type="button", className="chip strong"
                    ),
                    dmc.SegmentedControl(
                        id="run-show",
                        value="temps",
                        data=[{"value": k, "label": v} for k, v in contents.SHOWS.items()],
                        className="segments",
                        attributes={"root": {"aria-label": "What the graph shows"}},
                    ),
                ],
                className="strip-head",
            ),
            blank_graph("run-graph", "run-graph"),
            legend.layout("run-graph"),
            html.Div(id="run-words"),
        ],
    )


def draw_damage(damage: Sequence[str]) -> list[html.P]:
    """Say what of the run's file is damaged and therefore not on the page."""
    return [html.P(sentence) for sentence in damage]


def register(app: Dash, links: Links, portraits: Portraits) -> None:
    """Attach the page's callbacks to an app.

    Parameters
    ----------
    app : Dash
        The app.
    links : Links
        The way to recorder and run files.
    portraits : Portraits
        Numbers of the finished runs, for the cause of a rejected one.
    """
    gate = threading.Lock()
    legend.register(app, "run-graph")
    app.clientside_callback(
        ClientsideFunction("pages", "attend"),
        Input("run-graph", "figure"),
        State("run-id", "data"),
        State("choices", "data"),
        State("narrow", "data"),
        State("run-show", "value"),
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
        Input("run-show", "value"),
        State("run-id", "data"),
    )
    def _whole(narrow: Any, choices: Any, _clicks: Any, done: Any, show: Any, run_id: str) -> Any:
        refused = isinstance(done, dict) and ctx.triggered_id == "run-done" and not done.get("do")
        if narrow is None or refused:  # not measured yet, which comes at once; or nothing changed
            raise PreventUpdate
        with gate:
            figure, says = contents.draw_whole(
                links, run_id, Choices.of(choices), narrow=bool(narrow), show=str(show)
            )
        return figure, *legend.draw(figure), says, uuid.uuid4().hex

    @app.callback(
        Output("run-words", "children"),
        Output("run-findings", "children"),
        Output("run-pieces", "children"),
        Output("run-tables", "children"),
        Output("run-acts", "children"),
        Input("run-drawn", "data"),
        State("run-id", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _words(_drawn: Any, run_id: str, choices: Any) -> Any:
        with gate:
            measures = Choices.of(choices).measures
            words, below = contents.draw_words(links, run_id, measures, portraits.causes())
            found = (below.findings, below.pieces, below.tables)
            return words, *found, draw_done(links, run_id)

    @app.callback(
        Output("run-says", "children"),
        Output("run-checks", "children"),
        Output("run-beside", "children"),
        Output("run-damage", "children"),
        Input("run-drawn", "data"),
        Input("run-told", "data"),
        State("run-id", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _verdict(_drawn: Any, _told: Any, run_id: str, choices: Any) -> Any:
        return draw_verdict(links, portraits, run_id, Choices.of(choices).measures)

    app.clientside_callback(ClientsideFunction("bench", "said"), Input("run-done", "data"))
    app.clientside_callback(
        ClientsideFunction("photo", "fields"),
        Output("photo-fields", "role"),
        Input("photo-pieces", "data"),
    )

    @app.callback(
        Output("run-done", "data"), Input("run-command", "data"), prevent_initial_call=True
    )
    def _correct(command: Any) -> Any:
        asked = decode(Command, command)
        if asked is None or asked.do not in ("undo", "move"):
            return no_update
        return encode(carry_out(links, asked))

    _answer_windows(app.server, links, gate)

    @app.callback(
        Output("out-said", "children"),
        Output("run-told", "data"),
        Input("out-results", "data"),
        State("run-id", "data"),
        State("out-came", "value"),
        State("out-defects", "value"),
        State("out-by-defect", "data"),
        State("out-because", "value"),
        State("out-text", "value"),
        prevent_initial_call=True,
    )
    def _outcome(
        typed: Any, run_id: str, came: Any, defects: Any, pieces: Any, because: Any, text: Any
    ) -> Any:
        saying = outcome.Saying(
            came=came,
            defects=tuple(defects or ()),
            by_defect=pieces or {},
            results={str(name): str(said) for name, said in typed["typed"].items()},
            because="" if because == outcome.NO_CAUSE else str(because or ""),
            text=str(text or ""),
        )
        said = outcome.save_outcome(links, run_id, saying)
        return said, _told(said)

    app.clientside_callback(
        ClientsideFunction("pages", "results"),
        Output("out-results", "data"),
        Input("out-save", "n_clicks"),
        prevent_initial_call=True,
    )

    @app.callback(
        Output("out-list", "children"),
        Output("out-piece-defect", "data"),
        Output("out-defects", "value"),
        Output("out-new", "value"),
        Input("out-add", "n_clicks"),
        State("out-new", "value"),
        State("out-piece-defect", "data"),
        State("out-defects", "value"),
        prevent_initial_call=True,
    )
    def _add(_clicks: Any, typed: Any, known: Any, picked: Any) -> Any:
        new = outcome.with_new(str(typed or ""), known or (), picked or ())
        return new.ticks, list(new.defects), list(new.picked), ""

    app.clientside_callback(
        ClientsideFunction("pages", "pieces"),
        Output("out-pieces", "value"),
        Output("out-by-defect", "data"),
        Input("out-piece-defect", "value"),
        Input("out-pieces", "value"),
        State("out-by-defect", "data"),
        prevent_initial_call=True,
    )

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
        Output("run-photos", "children"),
        Output("run-tables", "children", allow_duplicate=True),
        Input("run-told", "data"),
        State("run-id", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _again(told: Any, run_id: str, choices: Any) -> Any:
        if told is None:
            return no_update, no_update, no_update
        with gate, links.open_run(run_id, tolerant=True) as view:
            entry = describe(view, run_id)
            photos = draw_photos(run_id, photos_said(view.events()))
            found = contents.below(view, Choices.of(choices).measures, portraits.causes())
            return draw_came(entry), photos, found.tables


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
    return draw_acts(acts, run_id)


def draw_verdict(
    links: Links, portraits: Portraits, run_id: str, measures: Measures
) -> tuple[list[Any], Sequence[Any], list[Any], list[html.P]]:
    """Draw the verdict, the checks behind it, the ways to the runs beside it, what is damaged.

    Of a rejected run its first cause is looked for as well.

    Parameters
    ----------
    links : Links
        The way to the run files.
    portraits : Portraits
        Numbers of the finished runs, for the cause.
    run_id : str
        The run.
    measures : Measures
        How numbers are written.
    """
    with links.open_run(run_id, tolerant=True) as view:
        entry, (results, unread) = describe(view, run_id), contents.results_of(view)
    why = None
    if entry.outcome == "rejected" and results is not None:
        with contextlib.suppress(BainlogError, ValueError):
            why = portraits.why(run_id)
    beside = draw_beside(links.catalog().runs(product=entry.product), run_id)
    damage = draw_damage((*entry.damage, *unread))
    said, checks = draw_said(entry, results, why, measures), draw_checks(results, measures)
    return in_units(said, measures), in_units(checks, measures), beside, damage


def _answer_windows(server: flask.Flask, links: Links, gate: threading.Lock) -> None:
    @server.get("/runs/<run_id>/window")
    def _window(run_id: str) -> Any:
        asked = flask.request.args
        try:
            with gate:
                narrow = asked.get("narrow") == "true"
                look = Choices.of(asked)
                show = asked.get("show", contents.BOTH)
                span = contents.span_of(asked)
                return asdict(
                    contents.draw_window(links, run_id, span, look, narrow=narrow, show=show)
                )
        except BainlogError as cause:
            return flask.Response(f"{cause}\n", status=404, mimetype="text/plain")


def _told(said: str) -> Any:
    """A fresh mark after something was saved, so that the page is read again."""
    return uuid.uuid4().hex if said == outcome.SAVED else no_update
