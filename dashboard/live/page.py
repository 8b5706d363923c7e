"""The page at the bench, and its callbacks.

One question a beat: the browser asks when the answer before it has come (``assets/bench.js``), one
callback answers with what changed, and only with that. Buttons carry their command in their
attributes; one callback sends it to the recorder and says what came of it.
"""

import hashlib
import json
from collections.abc import Callable
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update

from dashboard.graphs import blank_graph
from dashboard.links import Links
from dashboard.live import board, health, numbers, rail, sentence, table, trouble
from dashboard.live.commands import carry_out
from dashboard.live.controls import draw_controls, draw_dialogs, draw_sheets
from dashboard.live.drawing import strip, view
from dashboard.live.feed import Feed
from dashboard.measures import Measures
from dashboard.runs.told import Told
from logger.model.errors import BainlogError

SELDOM = {"now-health": 5, "now-ruler": 5, "now-table": 25}
"""Parts that are looked at only at every so manieth question: they change at each sample, and
nobody reads a table five times a second. The ages in it are counted in the browser."""

PARTS = (
    "now-sentence", "now-numbers", "now-rail", "now-alarms", "now-proposals", "now-board",
    "now-cautions", "now-health", "now-ports", "now-controls", "now-table", "now-voice",
    "now-ruler",
)  # fmt: skip
"""Ids of the parts of the page that are drawn anew when what they show has changed."""


def layout() -> html.Div:
    """Return the page without data."""
    return html.Div(
        id="bench-page",
        className="bench",
        children=[
            dcc.Store(id="ask"),
            dcc.Store(id="cursor", data={}),
            dcc.Store(id="answer"),
            dcc.Store(id="command"),
            dcc.Store(id="opened"),
            dcc.Store(id="said"),
            html.Div(
                [
                    html.Div(id="now-ruler", className="ruler"),
                    html.Ol(id="now-rail", className="rail", **{"aria-label": "Stages"}),
                ],
                className="rail-area",
            ),
            html.Div(className="cut-line", id="cut-line", role="alert", **{"data-cut": "0"}),
            html.Div(
                className="bench-main",
                children=[
                    html.Section(
                        id="now-sentence",
                        className="now",
                        role="status",
                        children=sentence.draw_sentence(WAITING),
                        **{"aria-label": "What now"},
                    ),
                    html.Div(id="now-numbers", className="tiles"),
                    _strip(),
                ],
            ),
            html.Div(
                className="bench-side",
                children=[
                    html.Ul(id="now-alarms", className="alarms", **{"aria-label": "Alarms"}),
                    html.Ul(id="now-proposals", className="alarms", **{"aria-label": "Proposals"}),
                    html.Section(id="now-board", className="plate-or-none"),
                    html.Div(id="now-cautions"),
                    html.Section(
                        [html.H2("Sensors"), html.Div(id="now-ports"), html.Div(id="now-health")],
                        className="plate sensors",
                    ),
                    html.Details(
                        [html.Summary("The traces as a table"), html.Div(id="now-table")],
                        id="table-fold",
                        className="as-table",
                    ),
                ],
            ),
            html.Div(id="now-controls", className="controls", children=draw_controls(None)),
            html.Div(id="toast", className="toast", role="status"),
            html.Div(id="now-voice", className="unseen", role="alert"),
            *draw_dialogs(),
        ],
    )


WAITING = {
    "phase": "recording",
    "view": {"tone": "wait", "say": "Looking for the recorder…", "more": []},
}
"""What stands on the page before the first answer."""


def _strip() -> html.Section:
    choices = [
        html.Button(name, type="button", className="chip", **{"data-window": name})
        for name in view.WINDOWS_S
    ]
    return html.Section(
        className="strip plate",
        children=[
            html.Div(
                className="strip-head",
                children=[
                    html.H2("Temperatures and scale", id="strip-title"),
                    html.P(
                        "Looking back. Recording goes on.", id="strip-back", role="status",
                        className="strip-back", hidden=True,
                    ),
                    html.Button(
                        "Back to live", type="button", id="back-to-live", className="chip strong",
                        hidden=True,
                    ),
                    html.Div(choices, className="chips", role="group",
                             **{"aria-label": "Time shown"}),
                ],
            ),
            blank_graph("strip", "strip-graph", doubleClick=False),
            html.P(id="strip-trouble", className="strip-trouble"),
        ],
    )  # fmt: skip


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    feed = Feed(links.open_run)
    app.clientside_callback(ClientsideFunction("bench", "answered"), Input("answer", "data"))
    app.clientside_callback(ClientsideFunction("bench", "said"), Input("said", "data"))

    @app.callback(
        Output("strip", "figure"),
        Output("strip", "extendData"),
        Output("cursor", "data"),
        Output("answer", "data"),
        *(Output(part, "children") for part in PARTS),
        Input("ask", "data"),
        State("cursor", "data"),
        State("choices", "data"),
        prevent_initial_call=True,
    )
    def _tick(ask: Any, cursor: Any, choices: Any) -> Any:
        return answer(links, feed, ask or {}, cursor or {}, choices or {})

    @app.callback(Output("said", "data"), Input("command", "data"), prevent_initial_call=True)
    def _command(command: Any) -> Any:
        return carry_out(links, command) if isinstance(command, dict) else no_update

    @app.callback(
        Output("sheet-choice", "children"), Input("opened", "data"), prevent_initial_call=True
    )
    def _sheets(opened: Any) -> Any:
        if not isinstance(opened, dict) or opened.get("name") != "start-dialog":
            return no_update
        return draw_sheets(links.sheets())


def answer(
    links: Links, feed: Feed, ask: dict[str, Any], cursor: dict[str, Any], choices: dict[str, Any]
) -> tuple[Any, ...]:
    """Return what a page must be sent, in the order of the callback's outputs."""
    state = links.state()
    measures = Measures.of(choices)
    known = cursor.get("parts", {})
    first = state is None and links.is_new()
    left_out = _left_out(known, state, choices, ask)
    shown = ([], []) if "now-table" in left_out else _shown(state, feed, ask, choices)
    drawn = draw_parts(state, measures, left_out, first=first, shown=shown)
    marks = known | {part: _mark(made) for part, made in drawn.items()}
    parts = [drawn[p] if p in drawn and marks[p] != known.get(p) else no_update for p in PARTS]
    marks["looks"] = _looks(state, choices)
    stepped, trouble_text = _stepped(state, feed, ask, cursor, choices)
    told = {
        "n": ask.get("n"),
        "gone": state is None,
        "phase": state["phase"] if state else "gone",
        "t_s": state["t_s"] if state else None,
        "speed": (state["recorder"].get("clock_speed") or 1.0) if state else 1.0,
        "seen": {c["id"]: c["t_s"] for c in state["channels"]} if state else {},
        "trouble": trouble_text,
    }
    figure = no_update if stepped.figure is None else stepped.figure
    extend = no_update if stepped.extend is None else stepped.extend
    return figure, extend, {"strip": stepped.cursor, "parts": marks}, told, *parts


def draw_parts(
    state: dict[str, Any] | None,
    measures: Measures,
    left_out: frozenset[str] = frozenset(),
    *,
    first: bool = False,
    shown: tuple[list[Told], list[Any]] = ([], []),
) -> dict[str, Any]:
    """Draw each part of the page by its id, but those left out; `shown` is what the strip shows."""
    makers: dict[str, Callable[[], Any]] = {
        "now-sentence": lambda: sentence.draw_sentence(state, first=first),
        "now-numbers": lambda: numbers.draw_numbers(state, measures),
        "now-rail": lambda: rail.draw_rail(state),
        "now-alarms": lambda: trouble.draw_trouble(state),
        "now-proposals": lambda: trouble.draw_proposals(state),
        "now-board": lambda: board.draw_board(state),
        "now-cautions": lambda: sentence.draw_cautions(state),
        "now-health": lambda: health.draw_health(state, measures),
        "now-ports": lambda: health.draw_ports(state),
        "now-controls": lambda: draw_controls(state),
        "now-table": lambda: table.draw_table(state, measures, *shown),
        "now-ruler": lambda: rail.draw_ruler(state),
        "now-voice": lambda: " ".join(trouble.new_ones(state)),
    }
    return {part: make() for part, make in makers.items() if part not in left_out}


def _looks(state: dict[str, Any] | None, choices: dict[str, Any]) -> str:
    """What makes even a part that is seldom drawn be drawn at once."""
    status = [(c["id"], c["status"]) for c in state["channels"]] if state else None
    return repr((status, Measures.of(choices)))


def _left_out(
    known: dict[str, str],
    state: dict[str, Any] | None,
    choices: dict[str, Any],
    ask: dict[str, Any],
) -> frozenset[str]:
    """Return the parts that a page has well enough for now; a table that is folded is not drawn."""
    folded = frozenset() if ask.get("table") else frozenset({"now-table"})
    number = ask.get("n")
    if known.get("looks") != _looks(state, choices) or not isinstance(number, int):
        return folded
    return folded | {part for part, every in SELDOM.items() if part in known and number % every}


def _shown(
    state: dict[str, Any] | None, feed: Feed, ask: dict[str, Any], choices: dict[str, Any]
) -> tuple[list[Told], list[Any]]:
    """Return the lines and events that the strip shows, as far as the run file can be read."""
    run_id = (state or {}).get("run", {}).get("id")
    if state is None or state["phase"] == "idle" or run_id is None:
        return [], []
    channels = view.view_of(state, choices, ask).channels
    try:
        kept = feed.follow(run_id, [c["id"] for c in channels])
        events = feed.events(run_id)
    except (BainlogError, KeyError):
        return [], []
    lines = [Told(c["label"] or c["id"], kept[c["id"]].between(-1), c["unit"]) for c in channels]
    return lines, events


def _stepped(
    state: dict[str, Any] | None,
    feed: Feed,
    ask: dict[str, Any],
    cursor: dict[str, Any],
    choices: dict[str, Any],
) -> tuple[strip.Step, str]:
    """Return the strip's step; a run file that does not open must not take the page down."""
    before = cursor.get("strip", {})
    if state is None:
        return strip.nothing(ask, before, choices), ""
    try:
        return strip.step(state, feed, ask, before, choices), ""
    except (BainlogError, KeyError) as cause:
        return strip.Step(None, None, before), f"The traces can't be read: {cause}"


def _mark(made: Any) -> str:
    """A short mark of a drawn part, to tell whether a page has it already."""
    text = json.dumps(made, default=lambda part: part.to_plotly_json(), ensure_ascii=False)
    return hashlib.blake2b(text.encode(), digest_size=6).hexdigest()
