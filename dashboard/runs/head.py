"""The head of the page of one run: what it came to, what to do next time, where to go from here.

Pure: a run's entry, findings and explanation in, components out.
"""

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures, unbroken
from dashboard.runs import verdict
from dashboard.runs.card import came_out, said_of
from logger.model.finding import Results
from logger.review import headline
from logger.review.why.explanation import Explanation
from logger.store.folder.entries import RunEntry
from logger.words.dates import date_text, moment_text
from logger.words.durations import clock

NOT_ENDED = (
    "Not judged yet: this run was not ended. It is judged when it ends; one that was interrupted "
    "can be judged with: bainlog show"
)


def draw_head(entry: RunEntry, results: Results | None) -> html.Div:
    """Draw the head as far as the run file alone says it, with room for what `draw_said` adds.

    Parameters
    ----------
    entry : RunEntry
        The run.
    results : Results or None
        What was found; None for a run that was not ended.
    """
    return html.Div(
        [
            _crumbs(entry),
            html.Div(
                [
                    html.Div(
                        [
                            html.Div(draw_came(entry), id="run-came"),
                            html.Div(draw_said(entry, results, None, Measures()), id="run-says"),
                            _ways(entry),
                        ],
                        className="head-says",
                    ),
                    html.Div(draw_checks(results, Measures()), id="run-checks"),
                ],
                className="head-split",
            ),
        ],
        className="run-head",
    )


def _crumbs(entry: RunEntry) -> html.Nav:
    facts = [f"revision {entry.revision}", clock(entry.duration_ns / 1e9), *said_of(entry)]
    return html.Nav(
        [
            html.Ol(
                [
                    html.Li(dcc.Link("Runs", href="/runs")),
                    html.Li(entry.sheet),
                    html.Li(moment_text(entry.started), **{"aria-current": "page"}),
                ]
            ),
            html.P(" · ".join(facts), className="soft"),
            html.P(id="run-beside", className="beside-runs"),
        ],
        className="crumbs",
        **{"aria-label": "Where you are"},
    )


def draw_beside(runs: Sequence[RunEntry], run_id: str) -> list[Any]:
    """Draw the ways to the run before and the run after.

    Parameters
    ----------
    runs : sequence of RunEntry
        Of one product, newest first.
    run_id : str
        The run.
    """
    ids = [entry.run_id for entry in runs]
    if run_id not in ids:
        return []
    place = ids.index(run_id)
    found = {
        "Previous run": runs[place + 1 : place + 2],
        "Next run": runs[max(place - 1, 0) : place],
    }
    return [
        dcc.Link(f"{name}: {date_text(entry.started)}", href=f"/runs/{entry.run_id}")
        for name, others in found.items()
        for entry in others
    ]


def draw_came(entry: RunEntry) -> html.P:
    """Draw how a run came out, with its defects."""
    look, word = came_out(entry)
    return html.P([symbol(look), html.Span(word)], className=f"run-out pill look-{look}")


def draw_said(
    entry: RunEntry, results: Results | None, why: Explanation | None, measures: Measures
) -> list[Any]:
    """Draw the verdict in one sentence, and what to do next time.

    Parameters
    ----------
    entry : RunEntry
        The run.
    results : Results or None
        What was found.
    why : Explanation or None
        Of a run that was rejected, once it is worked out. Where no check was not met, its first
        cause is the verdict.
    measures : Measures
        How numbers are written.
    """
    if results is None:
        return [html.H1("Not judged yet"), html.P(NOT_ENDED, className="lead")]
    said = headline.said_of(results.findings, entry.outcome, why, measures)
    return [
        html.H1(unbroken(said.headline)),
        html.P(said.lead, className="lead") if said.lead else None,
        *_next_time(said.next_time),
    ]


def _next_time(text: str) -> list[Any]:
    if not text:
        return []
    return [
        html.Div(
            [html.H2("Next time"), html.P(text)],
            className="next-time",
        )
    ]


def _ways(entry: RunEntry) -> html.Div:
    run = entry.run_id
    rejected, main = entry.outcome == "rejected", " main" if entry.outcome is not None else ""
    ways = [("See why", f"/why/{run}"), ("Make it again", f"/sheets?run={run}")]
    (name, to), (other, there) = ways if rejected else ways[::-1]
    first = dcc.Link(name, href=to, className=f"key small{main}")
    second = dcc.Link(other, href=there, className="key small")
    report = html.A("Report", href=f"/runs/{run}/report", target="_blank", className="key small")
    shown = [first, second] if entry.status == "recording" else [first, report, second]
    return html.Div(
        [*shown, html.A("More ways to pass it on", href="#hand-on", className="more-ways")],
        className="answers wrap ways",
    )


def draw_checks(results: Results | None, measures: Measures) -> Sequence[Any]:
    """Draw how many checks stand how, and those that were not met.

    Parameters
    ----------
    results : Results or None
        What was found.
    measures : Measures
        How numbers are written.
    """
    if results is None or not results.findings:
        return []
    return [
        verdict.draw_counts(results.findings, len(results.stages)),
        verdict.draw_missed(results.findings, measures),
    ]
