"""A graph in words and as a table, for those who do not see its lines.

Pure: pieces of trace in, components out. Values are read off the lines as they are drawn; a line
that breaks has no value there.
"""

from typing import Any, NamedTuple

import numpy as np
from dash import html

from dashboard.measures import Measures
from dashboard.points import Points
from logger.words.durations import clock

ROWS = 12
"""About so many times have a row."""
STEPS_S = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14_400, 43_200)


class Told(NamedTuple):
    """One line of a graph: its name, its samples, its unit."""

    name: str
    points: Points
    unit: str


def draw_told(lines: list[Told], measures: Measures, *, title: str) -> list[Any]:
    """Draw a summary of the lines, and their values at round times behind a tap.

    Parameters
    ----------
    lines : list of Told
        Lines of a graph.
    measures : Measures
        How numbers are written.
    title : str
        What the table is called.
    """
    there = [line for line in lines if np.isfinite(line.points.value).any()]
    if not there:
        return []
    return [
        html.Ul([html.Li(in_words(line, measures)) for line in there], className="graph-words"),
        html.Details(
            [html.Summary("The traces as a table"), _table(there, measures, title)],
            className="as-table",
        ),
    ]


def in_words(line: Told, measures: Measures) -> str:
    """Return a sentence: where a line begins and ends, its lowest and highest."""
    value = line.points.value[np.isfinite(line.points.value)]
    if not value.size:
        return f"{line.name}: no value."
    unit = measures.unit(line.unit)
    first, last, low, high = (
        measures.text(float(v), line.unit) for v in (value[0], value[-1], value.min(), value.max())
    )
    return f"{line.name}: from {first} to {last} {unit}, lowest {low}, highest {high}."


def _table(lines: list[Told], measures: Measures, title: str) -> html.Table:
    times_s = times_of(lines)
    heads = ["At", *(f"{line.name} ({measures.unit(line.unit)})" for line in lines)]
    columns = [[measures.text(at(line.points, t), line.unit) for t in times_s] for line in lines]
    return html.Table(
        className="plain-table",
        children=[
            html.Caption(title),
            html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
            html.Tbody(
                [
                    html.Tr([html.Th(clock(t), scope="row"), *(html.Td(v) for v in row)])
                    for t, *row in zip(times_s, *columns, strict=True)
                ]
            ),
        ],
    )


def times_of(lines: list[Told]) -> list[float]:
    """Return round times over all lines [s], about `ROWS` of them."""
    ends = [line.points.t_s[[0, -1]] for line in lines if line.points.t_s.size]
    low, high = min(e[0] for e in ends), max(e[1] for e in ends)
    step = next((s for s in STEPS_S if (high - low) / s <= ROWS), (high - low) / ROWS)
    return [float(t) for t in np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step]


def at(points: Points, t_s: float) -> float | None:
    """Return the value of a line at a time [s]; None where the line breaks or is not."""
    if not points.t_s.size or not points.t_s[0] <= t_s <= points.t_s[-1]:
        return None
    place = int(np.searchsorted(points.t_s, t_s))
    beside = points.value[max(place - 1, 0) : place + 1]
    if not np.isfinite(beside).all():
        return None
    found = float(np.interp(t_s, points.t_s, points.value))
    return found if np.isfinite(found) else None
