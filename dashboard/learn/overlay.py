"""Traces of several runs laid over each other at a chosen event.

Pure given the pieces of trace; plain dictionaries in the form plotly draws. All lines have the
colour of their sensor; runs are told apart by width, dash and name. Accepted runs may be drawn as a
band from their lowest to their highest.
"""

import html
from typing import NamedTuple

import numpy as np

from dashboard.graphs import Figure
from dashboard.learn.goodband import Band
from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.palette import CLEAR, GROUNDS, Theme, see_through, trace_colour
from dashboard.points import Points
from logger.words.durations import clock

PENS = (
    ("solid", 2.0, 1.0),
    ("solid", 6.0, 0.6),
    ("8px,4px", 2.0, 1.0),
    ("2px,3px", 2.4, 1.0),
    ("12px,6px", 6.0, 0.6),
    ("12px,4px,2px,4px", 2.0, 1.0),
)
"""Dash, width [px] and share that covers [1] of each line in its order: thin, wide and pale."""
MOST = len(PENS)
"""No more runs than this are laid over each other."""


class Line(NamedTuple):
    """One run's trace, with time from the chosen event on."""

    name: str
    points: Points


def figure(
    lines: list[Line],
    good: Band | None,
    role: str,
    title: str,
    unit: str,
    theme: Theme,
    measures: Measures,
) -> Figure:
    """Return the figure.

    Parameters
    ----------
    lines : list of Line
        At most `MOST`.
    good : Band or None
        Lowest and highest of accepted runs.
    role : str
        Of the channel, for the colour.
    title, unit : str
        What is drawn, and the unit of its values.
    theme : str
        ``dark`` or ``light``.
    measures : Measures
        How numbers are written.
    """
    ground = GROUNDS[theme]
    axis = {
        "gridcolor": see_through(ground.line, 0.35),
        "zeroline": False,
        "tickfont": {"size": 14, "color": ground.soft},
    }
    traces = _band(good, unit, theme, measures)
    colour = trace_colour(role, theme)
    for line, (dash, width, share) in zip(lines, PENS, strict=False):
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": html.escape(line.name),
                "x": np.round(line.points.t_s / 60.0, 3),
                "y": np.asarray(measures.number(line.points.value, unit), dtype=np.float32),
                "connectgaps": False,
                "line": {"color": see_through(colour, share), "width": width, "dash": dash},
                "text": [clock(t_s) for t_s in line.points.t_s.tolist()],
                "hovertemplate": "%{fullData.name}: %{y:.2f} at %{text}<extra></extra>",
            }
        )
    said = (
        []
        if lines
        else [
            {
                "xref": "paper",
                "yref": "paper",
                "x": 0.5,
                "y": 0.6,
                "showarrow": False,
                "text": "No trace to draw yet.",
                "font": {"size": 18, "color": ground.soft},
            }
        ]
    )
    return {
        "data": traces,
        "layout": {
            "annotations": said,
            "paper_bgcolor": CLEAR,
            "plot_bgcolor": CLEAR,
            "font": {"family": canvas.FONT, "size": 14, "color": ground.ink},
            "margin": {"l": 60, "r": 16, "t": 10, "b": 50},
            "dragmode": "zoom",
            "xaxis": {**axis, "title": {"text": "minutes from there"}, "visible": bool(lines)},
            "yaxis": {
                **axis,
                "fixedrange": True,
                "visible": bool(lines),
                "title": {"text": f"{html.escape(title)} ({measures.unit(unit)})"},
            },
            "showlegend": False,
            "hoverlabel": {"bgcolor": ground.plate, "font": {"color": ground.ink}},
        },
    }


def _band(band: Band | None, unit: str, theme: Theme, measures: Measures) -> list[Figure]:
    if band is None:
        return []
    x = np.round(band.t_s / 60.0, 3)
    ends = [measures.number(end, unit) for end in (band.low, band.high)]
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "name": f"{band.runs} good batches, lowest to highest",
            "x": np.r_[x, x[::-1]],
            "y": np.r_[ends[0], ends[1][::-1]],
            "fill": "toself",
            "fillcolor": see_through(GROUNDS[theme].line, 0.3),
            "hoverinfo": "skip",
            "line": {"width": 1, "color": GROUNDS[theme].line},
        }
    ]
