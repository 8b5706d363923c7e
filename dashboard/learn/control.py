"""One number over the runs of a product, in the order they were made: a control chart.

Draws what the list of runs keeps of the checks; limits come from ``logger.science``' control chart
of single values, from the accepted runs alone.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html

from dashboard.links import Links
from dashboard.measures import Measures
from dashboard.stores import Choices
from logger.review.compare.overruns import Chart, charts_of
from logger.review.why.explanation import capital
from logger.store.folder.entries import RunEntry
from logger.words.counts import count_text
from logger.words.dates import date_text

MOST_RUNS = 60
"""So many of the latest runs are drawn."""
APART = 0.16
"""Two lines with names are at least so far apart, share of what the values reach over."""
ROOM = 0.08
"""Left free above and below, share of the height."""


def layout() -> html.Section:
    """Return the place of the chart, hidden until there is one."""
    return html.Section(
        [
            html.Div(
                [
                    html.H2(id="control-title"),
                    dmc.Select(
                        id="control-number",
                        data=[],
                        size="md",
                        searchable=True,
                        placeholder="Other number",
                        className="control-pick",
                        attributes={"input": {"aria-label": "Other number"}},
                    ),
                ],
                className="control-head",
            ),
            html.Div(id="control-chart"),
        ],
        id="control",
        className="plate control",
        hidden=True,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What the chart shows: its title, the numbers to choose from, and the drawing."""

    title: list[Any]
    options: list[dict[str, str]]
    chart: list[Any]


def register(app: Dash, links: Links) -> None:
    """Attach the chart's callback to an app."""

    @app.callback(
        Output("control-title", "children"),
        Output("control-number", "data"),
        Output("control-chart", "children"),
        Output("control", "hidden"),
        Input("control-number", "value"),
        Input("choices", "data"),
        Input("runs-page", "total"),
    )
    def _chart(number: Any, choices: Any, _listed: Any) -> Any:
        shown = draw(links, number if isinstance(number, str) else "", Choices.of(choices).measures)
        if shown is None:
            return [], [], [], True
        return shown.title, shown.options, shown.chart, False


def draw(links: Links, number: str, measures: Measures) -> Shown | None:
    """Return the chart of the product with the most runs; None where there are too few.

    Parameters
    ----------
    links : Links
        The way to the list of runs.
    number : str
        Name of the number; empty for the one that is farthest out.
    measures : Measures
        How numbers are written.
    """
    ended = [entry for entry in links.catalog().runs() if entry.ended_utc_ns is not None]
    products = Counter(entry.product for entry in ended)
    if not products:
        return None
    product, _ = products.most_common(1)[0]
    runs = [entry for entry in ended if entry.product == product][:MOST_RUNS][::-1]
    kept = links.catalog().numbers([entry.run_id for entry in runs])
    charts = charts_of(
        [kept.get(entry.run_id, {}) for entry in runs],
        [entry.outcome == "accepted" for entry in runs],
    )
    if not charts:
        return None
    chart = charts.get(number) or next(iter(charts.values()))
    good = count_text(chart.good, "good batch", "good batches")
    aside = f"{product} · band: control limits of {good}"
    return Shown(
        title=[capital(chart.label), html.Span(aside, className="aside")],
        options=[{"value": name, "label": capital(one.label)} for name, one in charts.items()],
        chart=_drawn(chart, runs, measures),
    )


def _drawn(chart: Chart, runs: Sequence[RunEntry], measures: Measures) -> list[Any]:
    values = [value for value in chart.values if value is not None]
    ends = [e for e in (chart.low, chart.high) if e is not None]
    reach = [*values, *ends, chart.limits.low, chart.limits.high]
    low, width = min(reach), (max(reach) - min(reach)) or 1.0

    def top(value: float) -> str:
        return f"{100.0 * (1.0 - ROOM - (1.0 - 2.0 * ROOM) * (value - low) / width):.1f}%"

    lines = {"high": chart.high, "low": chart.low, "mean": chart.limits.mean}
    marks, named = [], list[float]()
    for kind, end in lines.items():
        if end is None:
            continue
        apart = all(abs(end - other) > APART * width for other in named)
        named += [end] if apart else []
        says = html.Span(_says(kind, end, chart, measures)) if apart else None
        marks.append(html.Span(says, className=f"control-line is-{kind}", style={"top": top(end)}))
    span = (top(chart.limits.high), top(chart.limits.low))
    band = html.Span(
        className="control-band",
        style={"top": span[0], "bottom": f"calc(100% - {span[1]})"},
    )
    last = max(len(runs) - 1, 1)
    dots = [
        html.Span(
            className=f"control-dot{' far' if place in chart.far else ''}"
            f"{'' if runs[place].outcome == 'accepted' else ' open'}",
            style={"left": f"{100.0 * place / last:.1f}%", "top": top(value)},
        )
        for place, value in enumerate(chart.values)
        if value is not None
    ]
    area = html.Div(
        [html.Div([band, *marks, *dots], className="control-area")],
        className="control-room",
        role="img",
        **{"aria-label": _in_words(chart, measures)},
    )
    days = html.P(
        [html.Span(date_text(runs[0].started)), html.Span(date_text(runs[-1].started))],
        className="control-days soft",
    )
    return [area, days, _far(chart, runs, measures)]


def _says(kind: str, end: float, chart: Chart, measures: Measures) -> str:
    word = "mean" if kind == "mean" else "target"
    return f"{word} {measures.text(end, chart.unit)}"


def _in_words(chart: Chart, measures: Measures) -> str:
    limits = measures.band(chart.limits.low, chart.limits.high, chart.unit)
    count = count_text(sum(value is not None for value in chart.values), "run")
    mean = measures.value(chart.limits.mean, chart.unit)
    far = count_text(len(chart.far), "run") if chart.far else "no run"
    return f"{capital(chart.label)} of {count}: mean {mean}, control limits {limits}, {far} outside"


def _far(chart: Chart, runs: Sequence[RunEntry], measures: Measures) -> html.P:
    if not chart.far:
        return html.P("No run is outside the control limits.", className="soft")
    links: list[Any] = ["Outside the control limits: "]
    for place in chart.far:
        run, value = runs[place], chart.values[place]
        text = f"{measures.value(value, chart.unit)} on {date_text(run.started)}"
        links += [", " if len(links) > 1 else "", dcc.Link(text, href=f"/runs/{run.run_id}")]
    return html.P([*links, ". Open dot: not accepted."], className="control-far")
