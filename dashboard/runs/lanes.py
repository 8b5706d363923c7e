"""The figure of a whole run: temperatures above, each scale in a lane of its own below.

Pure given the pieces of trace; plain dictionaries in the form plotly draws.
"""

import html
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.graphs import Figure
from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.palette import DASHES, GROUNDS, Theme, see_through, trace_colour
from dashboard.runs import ribbon
from dashboard.runs.ribbon import Behind
from dashboard.runs.window import Drawn

LEAST_G = 20.0
"""A scale's lane is at least so high [g]."""
GAP = 0.04
"""Between two lanes, share of the height."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the figure of a run.

    Attributes
    ----------
    id, role, label, unit : str
        Of its channel.
    beside : str or None
        Channel whose trace without lag it is.
    """

    id: str
    role: str
    label: str
    unit: str
    beside: str | None = None


def figure(
    channels: list[Line],
    drawn: dict[str, Drawn],
    about: Behind,
    end_s: float,
    theme: Theme,
    measures: Measures,
    *,
    narrow: bool = False,
) -> Figure:
    """Return the figure.

    Parameters
    ----------
    channels : list of Line
        In the order of the bench; one beside another is shown once its name is ticked.
    drawn : dict
        Piece of trace by the id of its line.
    about : Behind
        Stages, targets and events.
    end_s : float
        Length of the run [s].
    theme : str
        ``dark`` or ``light``.
    measures : Measures
        How numbers are written.
    narrow : bool
        For a phone: names cut shorter, less margin.
    """
    lanes = _lanes(channels, measures)
    span = [0.0, max(end_s, 1.0)]
    layout = canvas.layout(theme, False, [0.0, 1.02 * span[1]])
    layout |= {
        "dragmode": "zoom",
        "margin": {"l": 44, "r": 8, "t": 30, "b": 30}
        if narrow
        else {"l": 60, "r": 24, "t": 30, "b": 34},
        "shapes": _shapes(channels, drawn, about, span[1], theme, measures),
        "annotations": notes(channels, about, span, theme, measures, narrow=narrow),
    }
    layout["xaxis"] |= {"anchor": _axis(lanes[-1][0], "y"), "nticks": 5 if narrow else 10}
    ground = GROUNDS[theme]
    scales = [c for c in channels if c.unit == "g"]
    for number, (low, high), _ in lanes:
        layout[_axis(number, "yaxis")] = {
            "domain": [low, high],
            "gridcolor": see_through(ground.line, 0.3),
            "zeroline": False,
            "fixedrange": True,
            "nticks": 6 if number == 1 else 3,
            "anchor": "x",
            "tickfont": {"size": 14, "color": ground.soft},
        }
        include = (
            _least_range(scales[number - 2], drawn, measures)
            if number > 1
            else [float(measures.number(edge, "degC")) for edge in about.edges_c]
        )
        layout[_axis(number, "yaxis")]["autorangeoptions"] = {"include": include}
    traces = []
    for channel in channels:
        trace = _trace(channel, theme, _lane_of(channel, channels))
        trace.update(data_of(channel, drawn[channel.id], measures))
        traces.append(trace)
    return {"data": traces, "layout": layout}


def _shapes(
    channels: list[Line],
    drawn: dict[str, Drawn],
    about: Behind,
    end_s: float,
    theme: Theme,
    measures: Measures,
) -> list[Figure]:
    warm = [c for c in channels if c.unit == "degC" and c.beside is None]
    values = [v[np.isfinite(v)] for c in warm for v in [drawn[c.id].points.value]]
    ends = [float(end) for v in values if v.size for end in (v.min(), v.max())]
    axes = {c.id: (c.role, axis_of(c, channels)) for c in warm}
    reach = (min(ends), max(ends)) if ends else (0.0, 0.0)
    return ribbon.shapes(about, axes, end_s, reach, theme, measures)


def notes(
    channels: list[Line],
    about: Behind,
    span: Sequence[float],
    theme: Theme,
    measures: Measures,
    *,
    narrow: bool = False,
) -> list[Figure]:
    """Return the names of the stages in a window, and the title of each lane.

    Parameters
    ----------
    channels : list of Line
        In the order of the bench.
    about : Behind
        Stages, targets and events.
    span : sequence of float
        Window of run time [s].
    theme : str
        ``dark`` or ``light``.
    measures : Measures
        How numbers are written.
    narrow : bool
        For a phone.
    """
    names = ribbon.names(about, span, theme, narrow=narrow)
    titles = [
        {
            "xref": "paper",
            "x": 0.004,
            "xanchor": "left",
            "yref": "paper",
            "y": high,
            "yanchor": "top",
            "text": html.escape(title),
            "showarrow": False,
            "font": {"size": 14, "color": GROUNDS[theme].soft},
        }
        for _, (_, high), title in _lanes(channels, measures)
    ]
    return names + titles


def data_of(channel: Line, drawn: Drawn, measures: Measures) -> Figure:
    """Return x and y of one trace as arrays, which travel in binary.

    Parameters
    ----------
    channel : Line
        The line.
    drawn : Drawn
        Its piece of trace.
    measures : Measures
        How numbers are written.
    """
    shown = measures.number(drawn.points.value, channel.unit)
    x = np.rint(drawn.points.t_s * 1000.0) + canvas.AXIS_START_MS
    return {"x": x, "y": np.asarray(shown, dtype=np.float32)}


def _lanes(channels: list[Line], measures: Measures) -> list[tuple[int, tuple[float, float], str]]:
    """Return (number, domain, title) of each lane from the top."""
    scales = [c for c in channels if c.unit == "g"]
    share = min(0.22, 0.5 / max(len(scales), 1))
    low = share * len(scales)
    lanes = [(1, (low + (GAP if scales else 0.0), 1.0), measures.unit("degC"))]
    for place, scale in enumerate(scales):
        top = low - share * place
        lanes.append(
            (
                place + 2,
                (max(top - share, 0.0), top - GAP),
                f"{scale.label} ({measures.unit('g')})",
            )
        )
    return lanes


def _least_range(scale: Line, drawn: dict[str, Drawn], measures: Measures) -> list[float]:
    """Return two values that a scale's lane holds at least: an idle scale stays a flat line."""
    value = drawn[scale.id].points.value
    value = value[np.isfinite(value)]
    middle = float((value.min() + value.max()) / 2.0) if value.size else 0.0
    return [float(measures.number(middle + half, "g")) for half in (-LEAST_G / 2, LEAST_G / 2)]


def _lane_of(channel: Line, channels: list[Line]) -> int:
    scales = [c.id for c in channels if c.unit == "g"]
    return scales.index(channel.id) + 2 if channel.id in scales else 1


def axis_of(channel: Line, channels: list[Line]) -> str:
    """Return the plotly name of the lane that a channel is drawn in."""
    return _axis(_lane_of(channel, channels), "y")


def _axis(number: int, name: str) -> str:
    return name if number == 1 else f"{name}{number}"


def _trace(channel: Line, theme: Theme, lane: int) -> Figure:
    role = channel.role
    return {
        "type": "scatter",
        "mode": "lines",
        "name": html.escape(channel.label),
        "meta": channel.id,
        "yaxis": _axis(lane, "y"),
        "line": {
            "color": trace_colour(role, theme),
            "width": 1.2 if channel.beside else 1.8,
            "dash": "dot" if channel.beside else DASHES.get(role, "solid"),
        },
        "visible": not channel.beside,
        "connectgaps": False,
        "hovertemplate": "%{fullData.name} %{y:.2f} at %{x|%-H:%M:%S}<extra></extra>",
    }
