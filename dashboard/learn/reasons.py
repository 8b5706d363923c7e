"""The page that says why a run came out as it did: cause, remedy, evidence, doubts, the others.

Causes, scores and evidence come from ``logger.review.why.explain``; this page draws them.
"""

from dataclasses import dataclass
from typing import Any

from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from dashboard.graphs import blank_graph
from dashboard.learn.goodband import GoodBands
from dashboard.learn.grounds import draw_against, draw_numbers, draw_others, score_text
from dashboard.learn.portraits import Portraits
from dashboard.learn.shown import LinedUp, Place, evidence_figure, places_of
from dashboard.learn.together import address
from dashboard.links import Links
from dashboard.measures import Measures, in_units, unbroken
from dashboard.runs import legend
from dashboard.runs.head import draw_came
from dashboard.stores import Choices, decode, encode
from logger.model.errors import BainlogError
from logger.review.compare.compare import anchor_s
from logger.review.features.portrait import Portrait
from logger.review.why.explanation import Cause, Explanation, capital
from logger.store.folder.entries import RunEntry
from logger.words.counts import count_text
from logger.words.dates import moment_text

BESIDE = 3
"""Good runs compared with the one in question."""
LONG = 70
"""A headline of more letters is set smaller."""
EVENTS = ("pour", "bath")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What the page is drawn from.

    Attributes
    ----------
    entry : RunEntry or None
        The run in the list.
    found : Explanation
        Why it came out so.
    run : Portrait or None
        Its numbers.
    good : tuple of Portrait
        The good runs it is compared with.
    """

    found: Explanation
    entry: RunEntry | None = None
    run: Portrait | None = None
    good: tuple[Portrait, ...] = ()


def layout_for(links: Links, portraits: Portraits) -> Any:
    """Return the function that draws the page of a run by its id."""

    def layout(run_id: str) -> html.Div:
        try:
            shown = _shown(links, portraits, run_id)
            if shown is None:
                return _only("Not judged yet", "A run is explained once it has ended.")
        except (BainlogError, ValueError) as cause:
            return _only("This run can't be explained", str(cause))
        return draw_page(shown)

    return layout


def _shown(links: Links, portraits: Portraits, run_id: str) -> Shown | None:
    found = portraits.why(run_id)
    if found is None:
        return None
    good = [portraits.of(one) for one in found.compared_with]
    return Shown(
        found=found,
        entry=links.catalog().get(run_id),
        run=portraits.of(run_id),
        good=tuple(run for run in good if run is not None),
    )


def _only(title: str, text: str) -> html.Div:
    return html.Div(
        [html.H1(title), html.P(text), dcc.Link("All runs", href="/runs", className="key")],
        className="plain-page",
    )


def draw_page(shown: Shown) -> html.Div:
    """Draw the cause, the remedy, the evidence, what speaks against it, the other candidates."""
    found = shown.found
    first = found.causes[0] if found.causes else None
    return html.Div(
        className="plain-page wide why-page",
        children=[
            dcc.Store(id="why-run", data=found.run),
            dcc.Store(id="why-units", data=_units(Measures())),
            dcc.Store(id="why-places", data=encode(places_of(first)) if first else []),
            dcc.Store(id="why-lined-up", data=encode(_lined_up(shown))),
            _crumbs(shown),
            html.Div(_head(shown, Measures()), id="why-head", className="head-split"),
            html.Section(
                className="plate run-strip",
                children=[
                    html.H2(
                        [
                            "What shows it",
                            html.Span(id="why-aside", className="aside"),
                        ]
                    ),
                    blank_graph("why-graph", "run-graph"),
                    legend.layout("why-graph"),
                    html.Div(id="why-words", className="works"),
                ],
            ),
            html.Div(_grounds(shown, Measures()), id="why-grounds", className="head-split"),
        ],
    )


def _units(measures: Measures) -> str:
    return f"{measures.unit('degC')} {measures.unit('g')}"


def _head(shown: Shown, measures: Measures) -> list[Any]:
    first = shown.found.causes[0] if shown.found.causes else None
    parts = [_answer(shown, first), _next_time(shown.found.run, first)]
    return [in_units(part, measures) for part in parts]


def _grounds(shown: Shown, measures: Measures) -> list[Any]:
    found = shown.found
    first = found.causes[0] if found.causes else None
    left = [draw_numbers(shown.good, first, measures), draw_against(found, first)]
    parts = [
        html.Div(left, className="why-left"),
        html.Div(draw_others(found), className="why-right"),
    ]
    return [in_units(part, measures) for part in parts]


def _lined_up(shown: Shown) -> LinedUp:
    events = {e: anchor_s(shown.run, e) for e in EVENTS} if shown.run is not None else {}
    return LinedUp(
        good=tuple(run.run_id for run in shown.good),
        events_s={event: at_s for event, at_s in events.items() if at_s is not None},
    )


def _crumbs(shown: Shown) -> html.Nav:
    found, entry = shown.found, shown.entry
    when = moment_text(entry.started) if entry is not None else found.run
    count = len(found.compared_with)
    beside = address([*found.compared_with[:BESIDE], found.run])
    compared: list[Any] = (
        [
            f"compared with {count_text(count, 'good batch', 'good batches')} · ",
            dcc.Link("Compare with the latest", href=beside),
        ]
        if count
        else ["no good batch of this product yet to compare with"]
    )
    return html.Nav(
        [
            html.Ol(
                [
                    html.Li(dcc.Link("Runs", href="/runs")),
                    html.Li(dcc.Link(when, href=f"/runs/{found.run}")),
                    html.Li("Why", **{"aria-current": "page"}),
                ]
            ),
            html.P(compared, className="soft"),
        ],
        className="crumbs",
        **{"aria-label": "Where you are"},
    )


def _answer(shown: Shown, first: Cause | None) -> html.Div:
    found = shown.found
    came = draw_came(shown.entry) if shown.entry is not None else None
    because = None
    if first is not None:
        because = first.mechanism.because if first.proven else first.says
    return html.Div(
        [
            html.Div(
                [came, html.Span(score_text(first) if first else "", className="soft score")],
                className="came-row",
            ),
            html.H1(unbroken(found.says), className="long" if len(found.says) > LONG else ""),
            html.P(because, className="lead") if because else None,
        ],
        className="head-says",
    )


def _next_time(run_id: str, first: Cause | None) -> html.Section | None:
    if first is None:
        return None
    return html.Section(
        [
            html.H2("Next time"),
            html.P(f"{capital(first.mechanism.next_time)}.", className="remedy"),
            html.Div(
                [
                    dcc.Link(
                        "Make it again", href=f"/sheets?run={run_id}", className="key small main"
                    ),
                    dcc.Link("The whole run", href=f"/runs/{run_id}", className="key small"),
                ],
                className="answers wrap ways",
            ),
        ],
        className="plate next-card",
    )


def register(app: Dash, links: Links, portraits: Portraits) -> None:
    """Attach the page's callbacks to an app.

    Parameters
    ----------
    app : Dash
        The app.
    links : Links
        The way to the run files.
    portraits : Portraits
        Numbers of the finished runs.
    """
    legend.register(app, "why-graph")
    bands = GoodBands(links, portraits)

    @app.callback(
        Output("why-head", "children"),
        Output("why-grounds", "children"),
        Output("why-units", "data"),
        Input("choices", "data"),
        State("why-run", "data"),
        State("why-units", "data"),
    )
    def _chosen(choices: Any, run_id: str, drawn_in: Any) -> Any:
        measures = Choices.of(choices).measures
        units = _units(measures)
        shown = None if units == drawn_in else _shown(links, portraits, run_id)
        if shown is None:
            raise PreventUpdate
        return _head(shown, measures), _grounds(shown, measures), units

    @app.callback(
        Output("why-graph", "figure"),
        *legend.outputs("why-graph"),
        Output("why-words", "children"),
        Output("why-aside", "children"),
        Input("narrow", "data"),
        Input("choices", "data"),
        State("why-run", "data"),
        State("why-places", "data"),
        State("why-lined-up", "data"),
    )
    def _draw(narrow: Any, choices: Any, run_id: str, places: Any, lined_up: Any) -> Any:
        if narrow is None:  # not measured yet; comes at once
            raise PreventUpdate
        found = decode(list[Place], places) or []
        figure, words = evidence_figure(
            links,
            run_id,
            [found] if found else [],
            Choices.of(choices),
            narrow=bool(narrow),
            bands=bands,
            lined_up=decode(LinedUp, lined_up),
        )
        shaded = any("fill" in line for line in figure["data"])
        aside = (
            "shaded: lowest to highest of the good batches, lined up at the event" if shaded else ""
        )
        return figure, *legend.draw(figure), words, aside
