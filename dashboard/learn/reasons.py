"""The page that says why a run came out as it did, with the evidence drawn on its trace.

Causes, ranks and evidence come from ``logger.review.why.explain``; this page draws them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from dashboard.graphs import Figure, blank_graph
from dashboard.learn.portraits import Portraits
from dashboard.learn.together import address
from dashboard.links import Links
from dashboard.live.drawing import canvas
from dashboard.live.sentence import symbol
from dashboard.palette import GROUNDS, Theme, see_through
from dashboard.runs import lanes, legend, ribbon
from dashboard.runs.contents import lines_of, stages_of
from dashboard.runs.told import Told, draw_told
from dashboard.runs.window import window
from dashboard.stores import Choices, decode, encode
from logger.model.errors import BainlogError
from logger.review.why.evidence import Evidence
from logger.review.why.explanation import Cause, Explanation
from logger.words.durations import clock

MOST = 6
"""No more causes than this on the page."""
BESIDE = 3
"""Good runs laid beside the one in question."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where on the traces evidence lies: channel, from when to when [s]."""

    channel: str | None
    from_s: float
    to_s: float


def layout_for(links: Links, portraits: Portraits) -> Any:
    """Return the function that draws the page of a run by its id."""

    def layout(run_id: str) -> html.Div:
        try:
            found = portraits.why(run_id)
        except (BainlogError, ValueError) as cause:
            return _only("This run can't be explained", str(cause))
        if found is None:
            return _only("Not judged yet", "A run is explained once it has ended.")
        return draw_page(run_id, found)

    return layout


def _only(title: str, text: str) -> html.Div:
    return html.Div(
        [html.H1(title), html.P(text), dcc.Link("All runs", href="/runs", className="key")],
        className="plain-page",
    )


def draw_page(run_id: str, found: Explanation) -> html.Div:
    """Draw the answer, the trace, each cause with its evidence, and what would have told more."""
    compared = (
        f"Compared with {len(found.compared_with)} good runs."
        if found.compared_with
        else "There is no good run of this product yet to compare it with."
    )
    return html.Div(
        className="plain-page wide",
        children=[
            dcc.Store(id="why-run", data=run_id),
            dcc.Store(
                id="why-places",
                data=encode([places_of(cause) for cause in found.causes[:MOST]]),
            ),
            html.H1("Why"),
            html.P(found.says, className="answer"),
            html.P(
                [compared, " ", dcc.Link("The whole run", href=f"/runs/{run_id}")], className="soft"
            ),
            _beside(run_id, found),
            html.Section(
                className="plate",
                children=[
                    html.H2("Where the evidence lies"),
                    html.P(_where_in_words(found), className="soft"),
                    blank_graph("why-graph", "run-graph"),
                    legend.layout("why-graph"),
                    html.Div(id="why-words", className="works"),
                ],
            ),
            html.Ol(
                [draw_cause(c, k) for k, c in enumerate(found.causes[:MOST], 1)], className="causes"
            ),
            _list("By piece", found.by_piece),
            _list("Not measured, would have helped", found.missing),
            _list("Unlike the good runs", found.unlike),
            _list("Ruled out by what was measured", _ruled_out(found)),
        ],
    )


def _ruled_out(found: Explanation) -> list[str]:
    """Return the candidates that a number speaks against, with it."""
    return [f"{_capital(c.title)}: {c.why}" for c in found.considered if c.standing == "ruled out"]


def _beside(run_id: str, found: Explanation) -> Any:
    """Link to the run beside good ones, where another fat or lot shows."""
    if not found.compared_with:
        return None
    beside = address([*found.compared_with[:BESIDE], run_id])
    return html.P(dcc.Link("Compare with the latest good runs", href=beside))


def _where_in_words(found: Explanation) -> str:
    """Say where the marks of the graph stand, by the number of their cause."""
    said = []
    for number, cause in enumerate(found.causes[:MOST], 1):
        spans = {f"{clock(p.from_s)} to {clock(p.to_s)}": None for p in places_of(cause)}
        if spans:
            said.append(f"{number}: {', '.join(spans)}.")
    if not said:
        return "No evidence has a place on the traces."
    return "Numbers match the causes below. " + " ".join(said)


def places_of(cause: Cause) -> list[Place]:
    """Return where on the traces a cause's evidence lies."""
    return [
        Place(channel=e.finding.channel, from_s=e.finding.from_s, to_s=e.finding.to_s)
        for e in cause.evidence
        if e.finding.from_s is not None and e.finding.to_s is not None
    ]


def draw_cause(cause: Cause, number: int) -> html.Li:
    """Draw one suspect with its evidence."""
    rank = f"score {round(100 * cause.score)} of 100" if cause.proven else "cannot be seen"
    return html.Li(
        className="plate cause",
        children=[
            html.H2(f"{number}. {_capital(cause.mechanism.cause)}"),
            html.P(f"{rank} · stage {cause.stage or 'unknown'}", className="soft"),
            html.P(cause.mechanism.because if cause.proven else cause.says, className="cause-says"),
            html.Ul([_evidence(e) for e in cause.evidence[:5]], className="evidence"),
            html.P(f"Next time: {cause.mechanism.next_time}."),
            html.P(f"Wrong if {cause.mechanism.wrong_if}."),
            html.Details(
                [
                    html.Summary("Where this is known from"),
                    html.P(cause.mechanism.source, className="soft"),
                ],
                className="as-table",
            ),
        ],
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _evidence(evidence: Evidence) -> html.Li:
    found = evidence.finding
    where = (
        f" ({clock(found.from_s)} to {clock(found.to_s)})"
        if found.from_s is not None and found.to_s is not None
        else ""
    )
    doubt = " The channel was faulty then." if evidence.doubtful else ""
    look = {"limit": "stop", "unlike": "warn", "pieces": "warn", "difference": "ask"}.get(
        evidence.kind, "none"
    )
    return html.Li([symbol(look), html.Span(f"{found.evidence}{where}{doubt}")])


def _list(title: str, texts: Sequence[str]) -> Any:
    if not texts:
        return None
    return html.Section([html.H2(title), html.Ul([html.Li(text) for text in texts])])


def register(app: Dash, links: Links) -> None:
    """Attach the page's callbacks to an app."""
    legend.register(app, "why-graph")

    @app.callback(
        Output("why-graph", "figure"),
        *legend.outputs("why-graph"),
        Output("why-words", "children"),
        Input("narrow", "data"),
        Input("choices", "data"),
        State("why-run", "data"),
        State("why-places", "data"),
    )
    def _draw(narrow: Any, choices: Any, run_id: str, places: Any) -> Any:
        if narrow is None:  # not measured yet; comes at once
            raise PreventUpdate
        figure, words = evidence_figure(
            links,
            run_id,
            decode(list[list[Place]], places) or [],
            Choices.of(choices),
            narrow=bool(narrow),
        )
        return figure, *legend.draw(figure), words


def evidence_figure(
    links: Links,
    run_id: str,
    places: list[list[Place]],
    choices: Choices,
    *,
    narrow: bool = False,
) -> tuple[Figure, list[Any]]:
    """Return the traces with each cause's evidence marked by the cause's number, and their words.

    Temperatures are all drawn, scales where evidence lies on them.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run_id : str
        The run.
    places : list of list of Place
        Where the evidence of each cause lies.
    choices : Choices
        What the person chose to see.
    narrow : bool
        For a phone.
    """
    asked = {place.channel for found in places for place in found}
    with links.open_run(run_id) as view, view.together():
        channels = [c for c in lines_of(view) if c.unit != "g" or c.id in asked]
        drawn = {c.id: window(view, c.id, None, None) for c in channels}
        about = ribbon.behind(view.results(), stages_of(view))
        end_s = view.duration_ns / 1e9
    theme, measures = choices.theme, choices.measures
    made = lanes.figure(channels, drawn, about, end_s, theme, measures, narrow=narrow)
    for number, found in enumerate(places, 1):
        for place in found:
            mark_place(made["layout"], number, place, channels, theme)
    told = [Told(c.label, drawn[c.id].points, c.unit) for c in channels]
    return made, draw_told(told, measures, title="The traces at round times")


def mark_place(
    layout: Figure,
    number: int,
    place: Place,
    channels: list[lanes.Line],
    theme: Theme,
) -> None:
    """Mark where evidence lies: its time over the height of its channel's lane.

    Parameters
    ----------
    layout : dict
        Layout of the figure.
    number : int
        Of the cause.
    place : Place
        Where it lies.
    channels : list of Line
        Lines of the figure.
    theme : str
        ``dark`` or ``light``.
    """
    accent = GROUNDS[theme].accent
    low, high = canvas.x_of(place.from_s), canvas.x_of(place.to_s)
    channel = next((c for c in channels if c.id == place.channel), None)
    axis = "paper" if channel is None else f"{lanes.axis_of(channel, channels)} domain"
    layout["shapes"].append(
        {
            "type": "rect",
            "xref": "x",
            "yref": axis,
            "x0": low,
            "x1": high,
            "y0": 0,
            "y1": 1,
            "layer": "below",
            "line": {"width": 1.5, "color": accent},
            "fillcolor": see_through(accent, 0.16),
        }
    )
    layout["annotations"].append(
        {
            "xref": "x",
            "x": low,
            "yref": axis,
            "y": 1.0 - 0.16 * ((number - 1) % 6),
            "text": f"<b>{number}</b>",
            "showarrow": False,
            "xanchor": "right",
            "yanchor": "top",
            "font": {"size": 18, "color": accent},
        }
    )
