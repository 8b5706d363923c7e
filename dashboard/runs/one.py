"""The page of one run: whole trace, findings by stage, dwells, alarms, notes, how it came out.

Zooming asks for what the window shows; the answer says whether it is every reading.
"""

import threading
import uuid
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, Patch, State, dcc, html, no_update

from dashboard.links import Links
from dashboard.live import canvas
from dashboard.live.sentence import symbol
from dashboard.measures import Measures, clock
from dashboard.palette import Theme
from dashboard.runs import lanes, outcome, tables
from dashboard.runs.card import came_out
from dashboard.runs.handing import draw_hand_on
from dashboard.runs.window import Drawn, beside, window
from logger.model.errors import BainlogError
from logger.store.catalog import describe

EXACT_SAYS = "Every reading of this window is drawn."
SAMPLED_SAYS = "Sampled: the lowest and highest of each stretch. Zoom in to see every reading."


def layout_for(links: Links) -> Any:
    """Return the function that draws the page of a run by its id."""

    def layout(run_id: str) -> html.Div:
        try:
            with links.open_run(run_id) as view:
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


def _page(entry: Any, form: html.Section) -> html.Div:
    row = entry.as_json()
    facts = (
        f"{row['started'][:16].replace('T', ' ')} · {clock(row['duration_s'])} · run {row['id']}"
    )
    return html.Div(
        className="plain-page wide",
        children=[
            dcc.Store(id="run-id", data=row["id"]),
            dcc.Store(id="run-told"),
            dcc.Store(id="run-zoom"),
            dcc.Store(id="run-narrow"),
            html.H1(f"{row['sheet']}, revision {row['revision']}"),
            html.P(facts, className="soft"),
            html.Div(
                [
                    html.Div(draw_came(row), id="run-came"),
                    html.Div(
                        [
                            dcc.Link("Why it came out so", href=f"/why/{row['id']}",
                                     className="key small"),
                            dcc.Link("A sheet from this run", href=f"/sheets?run={row['id']}",
                                     className="key small"),
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
                            html.Button("Whole run", id="run-whole", type="button",
                                        className="chip strong"),
                        ],
                        className="strip-head",
                    ),
                    dcc.Graph(
                        id="run-graph", responsive=True, className="run-graph",
                        figure={"data": [], "layout": {"paper_bgcolor": "rgba(0,0,0,0)"}},
                        config={"displayModeBar": False, "scrollZoom": False, "showTips": False},
                    ),
                    html.P("Drag across the traces to look closer.", className="soft"),
                ],
            ),
            html.Div(
                [html.Div(id="run-tables", className="run-tables"), form], className="run-below"
            ),
            draw_hand_on(row["id"], ended=row["status"] != "recording"),
        ],
    )  # fmt: skip


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    gate = threading.Lock()
    app.clientside_callback(
        ClientsideFunction("pages", "narrow"),
        Output("run-narrow", "data"),
        Input("run-id", "data"),
    )
    app.clientside_callback(
        ClientsideFunction("pages", "zoomed"),
        Output("run-zoom", "data"),
        Input("run-graph", "relayoutData"),
    )

    @app.callback(
        Output("run-graph", "figure"),
        Output("run-exact", "children"),
        Output("run-tables", "children"),
        Input("run-narrow", "data"),
        Input("choices", "data"),
        Input("run-whole", "n_clicks"),
        State("run-id", "data"),
    )
    def _whole(narrow: Any, choices: Any, _clicks: Any, run_id: str) -> Any:
        if narrow is None:  # not measured yet; comes at once
            return no_update, no_update, no_update
        with gate:
            return draw_whole(links, run_id, choices or {}, narrow=bool(narrow))

    @app.callback(
        Output("run-graph", "figure", allow_duplicate=True),
        Output("run-exact", "children", allow_duplicate=True),
        Input("run-zoom", "data"),
        State("run-id", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _zoom(moved: Any, run_id: str, choices: Any) -> Any:
        span = span_of(moved)
        if span is None:
            return no_update, no_update
        with gate:
            return draw_window(links, run_id, span, Measures.of(choices))

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
        with gate, links.open_run(run_id) as view:
            row = describe(view, run_id).as_json()
            return draw_came(row), _tables_of(view, Measures.of(choices))


def _told(said: str) -> Any:
    """A fresh mark after something was saved, so that the page is read again."""
    return uuid.uuid4().hex if said == outcome.SAVED else no_update


def draw_came(row: dict[str, Any]) -> html.P:
    """Draw how a run came out, with its defects."""
    look, word = came_out(row)
    return html.P([symbol(look), html.Span(word)], className=f"run-out look-{look}")


def span_of(moved: Any) -> tuple[float | None, float | None] | None:
    """Return the window [s] that a relayout message tells; None when it is not about time."""
    if not isinstance(moved, dict):
        return None
    if moved.get("xaxis.autorange"):
        return None, None
    try:
        ends = [moved[f"xaxis.range[{k}]"] for k in (0, 1)]
        low, high = (canvas.run_time_s(end) for end in ends)
    except (KeyError, ValueError, TypeError):
        return None
    return (low, high) if high > low else None


def channels_of(view: Any) -> list[dict[str, Any]]:
    """Return the run's channels as the figure needs them."""
    return [
        {"id": c.id, "role": c.role, "label": c.name, "unit": c.unit} for c in view.bench().channel
    ]


def _lines_of(view: Any) -> list[dict[str, Any]]:
    """Return the channels, then what is kept beside their readings, as lines of the figure."""
    channels = channels_of(view)
    results = view.results()
    kept = {row["channel"] for row in results.derived} if results is not None else set()
    return channels + [
        {**c, "id": f"{c['id']} without lag", "label": f"{c['label']}, lag taken off",
         "beside": c["id"]}
        for c in channels
        if c["id"] in kept
    ]  # fmt: skip


def _piece(
    view: Any, channel: dict[str, Any], span: tuple[float | None, float | None] = (None, None)
) -> Drawn:
    of = channel.get("beside")
    return window(view, channel["id"], *span) if of is None else beside(view, of, *span)


def draw_whole(
    links: Links, run_id: str, choices: dict[str, Any], *, narrow: bool = False
) -> tuple[Any, str, list[Any]]:
    """Return the figure of the whole run, what it shows, and the tables."""
    theme: Theme = "light" if choices.get("theme") == "light" else "dark"
    measures = Measures.of(choices)
    with links.open_run(run_id) as view, view.together():
        channels = _lines_of(view)
        drawn = {c["id"]: _piece(view, c) for c in channels}
        stages = _stages_of(view)
        made = lanes.figure(
            channels, drawn, stages, view.duration_ns / 1e9, theme, measures, narrow=narrow
        )
        return made, _exactness(drawn), _tables_of(view, measures)


def _stages_of(view: Any) -> list[dict[str, Any]]:
    """Return the stages of a run with the titles of its sheet."""
    results = view.results()
    titles = {stage.id: stage.title for stage in view.sheet().stage}
    return [
        {**stage, "title": titles.get(stage["id"]) or stage["id"]}
        for stage in (results.stages if results else [])
    ]


def _tables_of(view: Any, measures: Measures) -> list[Any]:
    notes = [{"t_s": e.t_ns / 1e9, "text": e.text} for e in view.events() if e.kind == "note"]
    return draw_tables(view.results(), _stages_of(view), notes, measures)


def draw_tables(
    results: Any, stages: list[dict[str, Any]], notes: list[dict[str, Any]], measures: Measures
) -> list[Any]:
    """Return the tables; a run without results says why."""
    if results is None:
        return [
            html.P("This run was not ended, so nothing is judged yet. It is judged when it ends; "
                   "a run that was cut off can be judged with: bainlog show"),
            tables.draw_notes(notes),
        ]  # fmt: skip
    findings = tables.draw_findings(results.findings, stages, measures)
    return [
        html.H2("Findings"),
        *(findings if isinstance(findings, list) else [findings]),
        tables.draw_dwells(results.immersions),
        tables.draw_pours(results.pours, measures),
        tables.draw_alarms(results.alarms),
        tables.draw_gaps(results.gaps),
        tables.draw_notes(notes),
    ]


def draw_window(
    links: Links, run_id: str, span: tuple[float | None, float | None], measures: Measures
) -> tuple[Patch, str]:
    """Return a patch of the figure for a window, and what it shows."""
    patch = Patch()
    with links.open_run(run_id) as view, view.together():
        channels = _lines_of(view)
        drawn = {c["id"]: _piece(view, c, span) for c in channels}
    for place, channel in enumerate(channels):
        for name, values in lanes.data_of(channel, drawn[channel["id"]], measures).items():
            patch["data"][place][name] = values
    return patch, _exactness(drawn)


def _exactness(drawn: dict[str, Drawn]) -> str:
    return EXACT_SAYS if all(d.exact for d in drawn.values()) else SAMPLED_SAYS
