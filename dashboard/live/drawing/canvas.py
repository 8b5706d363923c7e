"""What the strip of traces looks like: axes, lines, bands, marks.

Pure: plain dictionaries in the form plotly draws. Temperatures have the upper lane, the scale that
matters in the stage the lower. Run time is drawn as a date axis that begins at a midnight,
in milliseconds, because only those show hours, minutes and seconds.
"""

import datetime
import html
import math
from collections.abc import Sequence

import numpy as np

from dashboard.graphs import Figure
from dashboard.measures import Measures
from dashboard.palette import CLEAR, DASHES, GROUNDS, Theme, see_through, trace_colour
from dashboard.points import Points
from logger.model.kinds.registry import kind_named
from logger.model.rows import StageRow
from logger.model.state import ChannelView

MARKS = {
    "mark": "diamond",
    "note": "square",
    "pour_start": "triangle-right",
    "pour_end": "triangle-left",
    "immersion_in": "triangle-down",
    "immersion_out": "triangle-up",
    "piece_in": "triangle-down",
    "piece_out": "triangle-up",
    "setting_suspected": "star",
    "setting_confirmed": "star",
    "outcome": "square",
}
"""Events drawn on the lines, and the shape of each."""

FONT = '"Segoe UI", "Helvetica Neue", "Liberation Sans", Arial, sans-serif'
LANES = {"y": 0.64, "y2": 0.26}
"""Share of the height that each lane has where there are two."""
MARGIN_PX = 52
"""Height above and below the lanes."""
BESIDE_PX, LETTER_PX = 66, 7.3
"""Width beside the lanes, and of a letter of a stage's name."""
STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)

AXIS_START_MS = 864_000_000
"""Where run time 0 stands on the axis [ms]: at a midnight, and not near 0, because plotly reads a
number of four digits on a date axis as a year."""


def x_of(t_s: float) -> int:
    """Return a run time [s] as it stands on the axis [ms]."""
    return AXIS_START_MS + round(t_s * 1000.0)


def run_time_s(x: float | str) -> float:
    """Return the run time [s] of a place on the axis, in milliseconds [ms] or as a date.

    Raises
    ------
    ValueError
        If a text is neither.
    """
    try:
        at_ms = float(x)
    except ValueError:
        moment = datetime.datetime.fromisoformat(str(x)).replace(tzinfo=datetime.UTC)
        at_ms = moment.timestamp() * 1000.0
    return (at_ms - AXIS_START_MS) / 1000.0


def xs(points: Points) -> list[int]:
    """Return the times of a piece of trace as they stand on the axis [ms]."""
    found: list[int] = (np.rint(points.t_s * 1000.0).astype(np.int64) + AXIS_START_MS).tolist()
    return found


def ys(points: Points, unit: str, measures: Measures) -> list[float | None]:
    """Return the values of a piece of trace in the unit shown; None where the line breaks.

    Parameters
    ----------
    points : Points
        The piece.
    unit : str
        Unit of its values.
    measures : Measures
        How numbers are written.
    """
    shown = np.round(measures.number(points.value, unit), 3)
    return [v if v == v else None for v in shown.tolist()]


def line(channel: ChannelView, theme: Theme, *, tail: bool) -> Figure:
    """Return one trace of a channel without data.

    Parameters
    ----------
    channel : ChannelView
        The channel.
    theme : str
        ``dark`` or ``light``.
    tail : bool
        Its tail, which grows, or its history.
    """
    colour, role = trace_colour(channel.role, theme), channel.role
    return {
        "type": "scatter",
        "mode": "lines",
        "name": html.escape(channel.label or channel.id),
        "meta": f"{'tail' if tail else 'history'}:{channel.id}",
        "x": [],
        "y": [],
        "yaxis": lane(channel),
        "line": {"color": colour, "width": 2.5, "dash": DASHES.get(role, "solid")},
        "connectgaps": False,
        "hovertemplate": "%{fullData.name} %{y} at %{x|%-H:%M:%S}<extra></extra>",
    }


def end_label(channel: ChannelView, theme: Theme) -> Figure:
    """Return the trace that holds the name at the end of a line, with a piece of its colour."""
    colour = trace_colour(channel.role, theme)
    name = html.escape(channel.label or channel.id)
    return {
        "type": "scatter",
        "mode": "text",
        "meta": f"end:{channel.id}",
        "x": [],
        "y": [],
        "text": f'<span style="color:{colour}">━</span> {name}',
        "yaxis": lane(channel),
        "textposition": "middle right",
        "textfont": {"size": 15, "color": GROUNDS[theme].ink},
        "cliponaxis": False,
        "hoverinfo": "skip",
    }


def cone(channel: ChannelView, theme: Theme) -> list[Figure]:
    """Return the two traces of a forecast: the likely line, and the cone about it."""
    colour = trace_colour(channel.role, theme)
    common = {"type": "scatter", "mode": "lines", "x": [], "y": [], "yaxis": lane(channel)}
    return [
        {
            **common,
            "meta": f"cone:{channel.id}",
            "fill": "toself",
            "fillcolor": see_through(colour, 0.22),
            "line": {"width": 1, "color": see_through(colour, 0.55)},
            "hoverinfo": "skip",
        },
        {
            **common,
            "meta": f"likely:{channel.id}",
            "line": {"width": 2, "color": colour, "dash": "2px,6px"},
            "hovertemplate": "likely %{y} at %{x|%-H:%M:%S}<extra></extra>",
        },
    ]


def marks(theme: Theme) -> Figure:
    """Return the trace of events on the lines, without data."""
    return {
        "type": "scatter",
        "mode": "markers",
        "meta": "events",
        "x": [],
        "y": [],
        "text": [],
        "marker": {
            "size": 13,
            "symbol": [],
            "color": GROUNDS[theme].accent,
            "line": {"width": 2, "color": GROUNDS[theme].plate},
        },
        "hovertemplate": "%{text} at %{x|%-H:%M:%S}<extra></extra>",
    }


def lane(channel: ChannelView) -> str:
    """Return the plotly name of the lane a channel is drawn in."""
    return "y2" if channel.unit == "g" else "y"


def layout(
    theme: Theme, with_scale: bool, turn: Sequence[float], *, ui: int = 0, compact: bool = False
) -> Figure:
    """Return the layout of the strip.

    Parameters
    ----------
    theme : str
        ``dark`` or ``light``.
    with_scale : bool
        Whether there is a lane for a scale.
    turn : sequence of float
        Window of run time drawn [s].
    ui : int
        The browser keeps the person's own window while it stays the same.
    compact : bool
        For a phone.
    """
    ground = GROUNDS[theme]
    axis = {
        "gridcolor": see_through(ground.line, 0.35),
        "zeroline": False,
        "fixedrange": True,
        "tickfont": {"size": 14, "color": ground.soft},
        "nticks": 6,
    }
    made: Figure = {
        "uirevision": ui,
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "font": {"family": FONT, "size": 14, "color": ground.ink},
        "margin": {"l": 46, "r": 12 if compact else 20, "t": 22, "b": 30},
        "showlegend": False,
        "dragmode": "pan",
        "hovermode": "closest",
        "hoverlabel": {"bgcolor": ground.plate, "font": {"color": ground.ink, "size": 14}},
        "xaxis": {
            **axis,
            "fixedrange": False,
            "type": "date",
            "range": [x_of(turn[0]), x_of(turn[1])],
            "tickformat": "%-M:%S" if turn[1] < 3600.0 else "%-H:%M:%S",
            "anchor": "y2" if with_scale else "y",
            "nticks": 5 if compact else 9,
        },
        "yaxis": {**axis, "domain": [1.0 - LANES["y"], 1.0] if with_scale else [0.0, 1.0]},
        "shapes": [],
        "annotations": [],
    }
    if with_scale:
        made["yaxis2"] = {**axis, "domain": [0.0, LANES["y2"]], "nticks": 4, "anchor": "x"}
    return made


def nice_range(low: float, high: float, least: float) -> tuple[float, float]:
    """Return a range of round numbers about two ends.

    Parameters
    ----------
    low, high : float
        Ends [unit shown].
    least : float
        Least width [unit shown].
    """
    middle, width = (low + high) / 2.0, max(high - low, least)
    low, high = middle - 0.56 * width, middle + 0.56 * width
    step = next((s for s in STEPS if (high - low) / s <= 12.0), STEPS[-1])
    return math.floor(low / step) * step, math.ceil(high / step) * step


def bands(
    channels: list[ChannelView],
    from_s: float,
    turn: Sequence[float],
    theme: Theme,
    measures: Measures,
    *,
    at_right: bool = True,
) -> tuple[list[Figure], list[Figure]]:
    """Return (shapes, annotations) of the target bands of the stage under way.

    Parameters
    ----------
    channels : list of ChannelView
        Those that are drawn.
    from_s : float
        When the stage began [s].
    turn : sequence of float
        Window of run time drawn [s].
    theme : str
        ``dark`` or ``light``.
    measures : Measures
        How numbers are written.
    at_right : bool
        Whether a band is named at the right end of the window, under its upper edge.
    """
    shapes: list[Figure] = []
    names: list[Figure] = []
    for channel in channels:
        low, high = channel.low, channel.high
        if low is None and high is None:
            continue
        colour = trace_colour(channel.role, theme)
        edges = [measures.number(float(v), channel.unit) for v in (low, high) if v is not None]
        common = {"xref": "x", "yref": lane(channel), "x0": x_of(from_s), "x1": x_of(turn[1])}
        if len(edges) == 2:
            shapes.append(
                {
                    **common,
                    "type": "rect",
                    "y0": edges[0],
                    "y1": edges[1],
                    "layer": "below",
                    "fillcolor": see_through(colour, 0.13),
                    "line": {"width": 0},
                }
            )
        shapes += [
            {
                **common,
                "type": "line",
                "y0": edge,
                "y1": edge,
                "layer": "below",
                "line": {"color": see_through(colour, 0.8), "width": 1.5, "dash": "8px,5px"},
            }
            for edge in edges
        ]
        names.append(
            {
                "xref": "x",
                "x": x_of(turn[1] if at_right else turn[0]),
                "xanchor": "right" if at_right else "left",
                "yref": lane(channel),
                "y": edges[-1],
                "yanchor": "top",
                "text": f"{channel.label} {measures.band(low, high, channel.unit)}",
                "showarrow": False,
                "font": {"size": 13, "color": GROUNDS[theme].soft},
            }
        )
    return shapes, names


def stage_lines(
    stages: Sequence[StageRow],
    turn: Sequence[float],
    theme: Theme,
    letters: int,
) -> tuple[list[Figure], list[Figure]]:
    """Return (shapes, annotations) of where each stage began.

    Parameters
    ----------
    stages : sequence of StageRow
        Of the run; those not begun are left out.
    turn : sequence of float
        Window of run time drawn [s].
    theme : str
        ``dark`` or ``light``.
    letters : int
        How many fit over the whole width; a name that has no room is the kind's word, or none.
    """
    ground = GROUNDS[theme]
    begun = [(s, s.start_s) for s in stages if s.start_s is not None]
    shapes: list[Figure] = [
        {
            "type": "line",
            "xref": "x",
            "yref": "paper",
            "x0": x_of(start_s),
            "x1": x_of(start_s),
            "y0": 0,
            "y1": 1,
            "layer": "below",
            "line": {"color": ground.line, "width": 1.5},
        }
        for _, start_s in begun
    ]
    names: list[Figure] = []
    ends_s = [*(start_s for _, start_s in begun), turn[1]][1:]
    for (stage, begun_s), next_s in zip(begun, ends_s, strict=True):
        start_s = max(begun_s, turn[0])
        room = int((next_s - start_s) / (turn[1] - turn[0]) * letters)
        kind = kind_named(stage.kind)
        names_of_it = [stage.title or stage.id, *([kind.word] if kind is not None else [])]
        name = next((one for one in names_of_it if len(one) <= room), "")
        if not name:
            continue
        names.append(
            {
                "xref": "x",
                "x": x_of(start_s),
                "xanchor": "left",
                "yref": "paper",
                "y": 1.0,
                "yanchor": "bottom",
                "text": name,
                "showarrow": False,
                "font": {"size": 13, "color": ground.soft},
            }
        )
    return shapes, names
