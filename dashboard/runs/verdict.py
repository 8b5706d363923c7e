"""What a run came to, drawn: how many checks of each verdict, and those that were not met.

Pure: findings in, components out. The words are those of ``logger.review.headline``.
"""

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import Measures
from dashboard.runs.bars import draw_place
from logger.model.finding import Finding
from logger.review.headline import STANDINGS, Group, counted, groups
from logger.words.counts import count_text
from logger.words.durations import clock

MOST_SHOWN = 4
"""No more checks than this at the head of the page; the others are in their stages."""


def draw_counts(findings: Sequence[Finding], stages: int) -> html.Div:
    """Draw how many checks of each verdict there are, as a bar and in words.

    Parameters
    ----------
    findings : sequence of Finding
        Of the run.
    stages : int
        How many stages it has.
    """
    count = counted(findings)
    shown = ("not met", "too close", "met")
    bar = [
        html.Span(className=f"share look-{STANDINGS[name][0]}", style={"flexGrow": count[name]})
        for name in shown
        if name in count
    ]
    words = [
        html.Li([symbol(look), html.Span(f"{count[name]} {word}")], className=f"look-{look}")
        for name, (look, word) in STANDINGS.items()
        if name in count
    ]
    whole = f"{count_text(len(findings), 'check')}, {count_text(stages, 'stage')}"
    return html.Div(
        [
            html.Div(bar, className="shares", **{"aria-hidden": "true"}) if bar else None,
            html.Ul([*words, html.Li(whole, className="soft")], className="counts"),
        ]
    )


def draw_missed(findings: Sequence[Finding], measures: Measures) -> html.Div | None:
    """Draw the checks that were not met, each with its place on the trace; None for none."""
    found = groups(findings, "not met")
    if not found:
        return None
    left = len(found) - MOST_SHOWN
    more = None
    if left > 0:
        more = html.P(html.A(f"{left} more not met", href="#run-findings"), className="fl-more")
    return html.Div(
        [html.Ul([_row(g, measures) for g in found[:MOST_SHOWN]], className="fls"), more]
    )


def _row(group: Group, measures: Measures) -> html.Li:
    first = group.first
    values = [f.value for f in group.findings if f.value is not None]
    return html.Li(
        [
            html.Div(
                [
                    html.P(group.label, className="fl-name"),
                    html.P(
                        [f"target {group.target_text(measures)}", *place_of(group)],
                        className="soft fl-target",
                    ),
                ]
            ),
            draw_place(values, first.low, first.high, look="stop"),
            html.P(
                [
                    html.Span(group.value_text(measures), className="fl-value"),
                    html.Span(group.spread_text(measures), className="soft"),
                ],
                className="fl-found",
            ),
        ],
        className="fl bad",
    )


def place_of(group: Group) -> list[Any]:
    """Return the button that shows a check on the trace; nothing where it has no place there."""
    if group.from_s is None:
        return []
    to_s = group.to_s if group.to_s is not None else group.from_s
    return [
        " · ",
        html.Button(
            f"show at {clock(group.from_s)}",
            type="button",
            className="show-at",
            **{
                "data-from": f"{group.from_s:.3f}",
                "data-to": f"{to_s:.3f}",
                "aria-label": f"Show {group.label} on the traces, at {clock(group.from_s)}",
            },
        ),
    ]
