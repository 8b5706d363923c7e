"""The grounds for a cause, drawn: numbers among those of the good runs, doubts, other candidates.

Pure: an explanation and portraits in, components out.
"""

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.measures import Measures
from dashboard.runs.bars import draw_place
from logger.model.finding import Finding
from logger.review.features.portrait import Portrait
from logger.review.why.evidence import Evidence
from logger.review.why.explanation import Cause, Explanation, capital
from logger.words.values import with_unit

MOST = 6
"""No more causes than this on the page."""


def draw_numbers(
    good: Sequence[Portrait], first: Cause | None, measures: Measures
) -> html.Section | None:
    """Draw the evidence of the first cause, each number among those of the good runs.

    Parameters
    ----------
    good : sequence of Portrait
        The good runs.
    first : Cause or None
        The cause; nothing is drawn without one.
    measures : Measures
        How numbers are written.
    """
    if first is None or not first.evidence:
        return None
    dots = [html.Span("● good batches", className="dot-good")] if good else []
    return html.Section(
        [
            html.H2(
                ["What differs", html.Span([*dots, " ◆ this run ┃ target"], className="aside")]
            ),
            html.Ul([draw_evidence(e, good, measures) for e in first.evidence], className="fls"),
        ]
    )


def draw_evidence(evidence: Evidence, good: Sequence[Portrait], measures: Measures) -> html.Li:
    """Draw one sign: what it is about, its value among those of the good runs, its target.

    Parameters
    ----------
    evidence : Evidence
        The sign.
    good : sequence of Portrait
        The good runs.
    measures : Measures
        How numbers are written.
    """
    found = evidence.finding
    doubt = "The sensor was faulty then. " if evidence.doubtful else ""
    name = capital(found.check)
    if found.value is None:
        return html.Li(
            html.P([html.Strong(f"{name}: "), doubt, found.evidence]), className="fl in-words"
        )
    among = _values(evidence, good)
    band = measures.band(found.low, found.high, found.unit)
    sort = "target"
    if found.source == "good batches":
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
    return f"good batches {low}" if low == high else f"good batches {low} to {high}"


def draw_against(found: Explanation, first: Cause | None) -> html.Section | None:
    """Draw what would show the cause wrong, and what was not measured."""
    said = [f"It is wrong if {first.mechanism.wrong_if}."] if first is not None else []
    said += [f"Not measured: {text}" for text in found.missing]
    if not said:
        return None
    return html.Section(
        [
            html.H2("What speaks against it"),
            html.Ul([html.Li(text) for text in said], className="dots"),
        ]
    )


def draw_others(found: Explanation) -> list[Any]:
    """Draw the candidates in short, what was ruled out, and what else is unlike the good runs."""
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
        _folded("Unlike the good batches", found.unlike),
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
                            html.Span(capital(shown), className="soft rank-shown"),
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
                    html.Span(score_text(cause), className="soft rank-score"),
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


def score_text(cause: Cause) -> str:
    """Write how strongly a cause is supported; one that can't be seen says so."""
    return f"score {round(100 * cause.score)} of 100" if cause.proven else "not measured"
