"""The page that says why a run came out as it did: cause, remedy, evidence, doubts, the others.

Causes, scores and evidence come from ``logger.review.why.explain``; this page draws them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate

from dashboard.graphs import blank_graph
from dashboard.learn.goodband import GoodBands
from dashboard.learn.portraits import Portraits
from dashboard.learn.shown import LinedUp, Place, evidence_figure, places_of
from dashboard.learn.together import address
from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.runs import legend
from dashboard.runs.bars import draw_place
from dashboard.runs.head import draw_came
from dashboard.stores import Choices, decode, encode
from logger.model.errors import BainlogError
from logger.model.finding import Finding
from logger.review.compare.compare import anchor_s
from logger.review.features.portrait import Portrait
from logger.review.why.evidence import Evidence
from logger.review.why.explanation import Cause, Explanation, capital
from logger.store.folder.entries import RunEntry
from logger.words.counts import count_text
from logger.words.dates import moment_text
from logger.words.values import with_unit

MOST = 6
"""No more causes than this on the page."""
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
            found = portraits.why(run_id)
            if found is None:
                return _only("Not judged yet", "A run is explained once it has ended.")
            good = [portraits.of(one) for one in found.compared_with]
            shown = Shown(
                found=found,
                entry=links.catalog().get(run_id),
                run=portraits.of(run_id),
                good=tuple(run for run in good if run is not None),
            )
        except (BainlogError, ValueError) as cause:
            return _only("This run can't be explained", str(cause))
        return draw_page(shown)

    return layout


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
            dcc.Store(id="why-places", data=encode(places_of(first)) if first else []),
            dcc.Store(id="why-lined-up", data=encode(_lined_up(shown))),
            _crumbs(shown),
            html.Div([_answer(shown, first), _next_time(found.run, first)], className="head-split"),
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
            html.Div(
                [
                    html.Div(
                        [_numbers(shown, first), _against(found, first)], className="why-left"
                    ),
                    html.Div(_others(found), className="why-right"),
                ],
                className="head-split",
            ),
        ],
    )


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
            f"compared with {count_text(count, 'good run')} · ",
            dcc.Link("Compare with the latest", href=beside),
        ]
        if count
        else ["no good run of this product yet to compare with"]
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
                [came, html.Span(_score(first) if first else "", className="soft score")],
                className="came-row",
            ),
            html.H1(found.says, className="long" if len(found.says) > LONG else ""),
            html.P(because, className="lead") if because else None,
        ],
        className="head-says",
    )


def _score(cause: Cause) -> str:
    return f"score {round(100 * cause.score)} of 100" if cause.proven else "cannot be seen"


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


def _numbers(shown: Shown, first: Cause | None) -> html.Section | None:
    """Draw the evidence of the first cause, each number among those of the good runs."""
    if first is None or not first.evidence:
        return None
    dots = [html.Span("● good runs", className="dot-good")] if shown.good else []
    return html.Section(
        [
            html.H2(
                ["What differs", html.Span([*dots, " ◆ this run ┃ target"], className="aside")]
            ),
            html.Ul([draw_evidence(e, shown.good) for e in first.evidence], className="fls"),
        ]
    )


def draw_evidence(evidence: Evidence, good: Sequence[Portrait]) -> html.Li:
    """Draw one sign: what it is about, its value among those of the good runs, its target."""
    found, measures = evidence.finding, Measures()
    doubt = "The sensor was faulty then. " if evidence.doubtful else ""
    name = capital(found.check)
    if found.value is None:
        return html.Li(
            html.P([html.Strong(f"{name}: "), doubt, found.evidence]), className="fl in-words"
        )
    among = _values(evidence, good)
    band = measures.band(found.low, found.high, found.unit)
    sort = "target"
    if found.source == "good runs":
        sort, band = "typical", _typical(found, measures)
    look = "stop" if evidence.kind == "limit" or found.verdict == "not met" else "plain"
    usual = _usual(among, found.unit, measures)
    return html.Li(
        [
            html.Div(
                [
                    html.P(name, className="fl-name"),
                    html.P(f"{doubt}{sort} {band}" if band else doubt, className="soft fl-target"),
                ]
            ),
            draw_place([found.value], found.low, found.high, look=look, among=among),
            html.P(
                [
                    html.Span(
                        measures.value(found.value, found.unit, found.expanded_uncertainty),
                        className=f"fl-value look-{look}",
                    ),
                    html.Span(usual, className="soft"),
                ],
                className="fl-found",
            ),
        ],
        className="fl",
    )


def _typical(found: Finding, measures: Measures) -> str:
    """Write where the next good run is expected, to the place of the value."""
    ends = [
        measures.text(end, found.unit, found.expanded_uncertainty)
        for end in (found.low, found.high)
        if end is not None
    ]
    unit = "" if found.unit == "s" else measures.unit(found.unit)
    return with_unit(" to ".join(ends), unit) if ends else ""


def _values(evidence: Evidence, good: Sequence[Portrait]) -> list[float]:
    if evidence.sign.what != "feature":
        return []
    features = [run.features.get(evidence.sign.of) for run in good]
    return [f.value for f in features if f is not None and f.value is not None]


def _usual(among: Sequence[float], unit: str, measures: Measures) -> str:
    if not among:
        return ""
    low, high = (measures.text(v, unit) for v in (min(among), max(among)))
    return f"good runs {low}" if low == high else f"good runs {low} to {high}"


def _against(found: Explanation, first: Cause | None) -> html.Section | None:
    """Draw what would show the cause wrong, and what was not measured."""
    said = [f"It is wrong if {first.mechanism.wrong_if}."] if first is not None else []
    said += [f"Not measured, would have helped: {text}" for text in found.missing]
    if not said:
        return None
    return html.Section(
        [
            html.H2("What speaks against it"),
            html.Ul([html.Li(text) for text in said], className="dots"),
        ]
    )


def _others(found: Explanation) -> list[Any]:
    out = [c for c in found.considered if c.standing == "ruled out"]
    ranked = html.Section(
        [
            html.H2(
                ["Causes, ranked", html.Span("each checked against this run", className="aside")]
            ),
            html.Ol(
                [draw_cause(c, k) for k, c in enumerate(found.causes[:MOST], 1)],
                className="ranked",
            ),
        ]
    )
    return [
        ranked if found.causes else None,
        _folded("Ruled out", [f"{capital(c.title)}: {c.why}" for c in out]),
        _folded("By piece", found.by_piece),
        _folded("Unlike the good runs", found.unlike),
    ]


def draw_cause(cause: Cause, number: int) -> html.Li:
    """Draw one candidate in short, with its reason and remedy behind a press."""
    known = cause.mechanism
    shown = cause.evidence[0].finding.evidence if cause.evidence else cause.says
    share = f"{round(100 * cause.score)}%"
    return html.Li(
        [
            html.Span(str(number), className="rank-number"),
            html.Details(
                [
                    html.Summary(
                        [
                            html.Span(capital(known.cause), className="rank-name"),
                            html.Span(shown, className="soft rank-shown"),
                        ]
                    ),
                    html.P(known.because if cause.proven else cause.says),
                    html.P(f"Next time: {known.next_time}."),
                    html.P(f"Wrong if {known.wrong_if}."),
                    html.P(f"Source: {known.source}", className="soft"),
                ],
            ),
            html.Div(
                [
                    html.Div(
                        html.Span(style={"width": share}),
                        className="rank-bar",
                        **{"aria-hidden": "true"},
                    ),
                    html.Span(_score(cause), className="soft rank-score"),
                ],
                className="rank-of",
            ),
        ],
        className="rank" + ("" if number > 1 else " first"),
    )


def _folded(title: str, texts: Sequence[str]) -> html.Details | None:
    if not texts:
        return None
    return html.Details(
        [
            html.Summary(f"{title} ({len(texts)})"),
            html.Ul([html.Li(text) for text in texts], className="dots"),
        ],
        className="more-of",
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
