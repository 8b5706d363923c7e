"""The traces of a run with the evidence on them, and where good batches lie, lined up at an event.

Reads the run in one look; the stretch around the evidence of the first cause is shown first, the
rest by zooming out. Decides nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dashboard.graphs import Figure
from dashboard.learn.goodband import Band, GoodBands
from dashboard.links import Links
from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.palette import GROUNDS, Theme, see_through, trace_colour
from dashboard.runs import lanes, ribbon
from dashboard.runs.contents import lines_of, stages_of
from dashboard.runs.ribbon import Behind
from dashboard.runs.told import Told, draw_told
from dashboard.runs.window import Drawn, window
from dashboard.stores import Choices
from logger.review.why.explanation import Cause

AROUND_S = 60.0
"""Shown before and after the stages that the evidence is in [s]."""
EVENTS = {"pour": "the pour", "bath": "the first piece in"}
"""Where good batches are lined up, whichever is nearer to the evidence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where on the traces evidence lies: channel, from when to when [s].

    Attributes
    ----------
    value : float or None
        What was found there, in `unit`; None where it is no number of that channel.
    """

    channel: str | None
    from_s: float
    to_s: float
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinedUp:
    """The good batches to compare with, and when each event was in this run [s]."""

    good: tuple[str, ...] = ()
    events_s: dict[str, float] | None = None


def places_of(cause: Cause) -> list[Place]:
    """Return where on the traces a cause's evidence lies."""
    return [
        Place(
            channel=e.finding.channel,
            from_s=e.finding.from_s,
            to_s=e.finding.to_s,
            value=e.finding.value if e.finding.unit in ("degC", "g") else None,
            unit=e.finding.unit,
        )
        for e in cause.evidence
        if e.finding.from_s is not None and e.finding.to_s is not None
    ]


def evidence_figure(
    links: Links,
    run_id: str,
    places: list[list[Place]],
    choices: Choices,
    *,
    narrow: bool = False,
    bands: GoodBands | None = None,
    lined_up: LinedUp | None = None,
) -> tuple[Figure, list[Any]]:
    """Return the traces with each cause's evidence marked by the cause's number, and their words.

    Temperatures are all drawn, scales where evidence lies on them.

    Parameters
    ----------
    links : Links
        The way to the run files.
    run_id : str
        The run.
    places : list of list of Place
        Where the evidence of each cause lies.
    choices : Choices
        What the person chose to see.
    narrow : bool
        For a phone.
    bands : GoodBands or None
        Bands of good batches; None draws none.
    lined_up : LinedUp or None
        Which good batches, and this run's events.
    """
    asked = {place.channel for found in places for place in found}
    with links.open_run(run_id) as view, view.together():
        channels = [c for c in lines_of(view) if c.unit != "g" or c.id in asked]
        drawn = {c.id: window(view, c.id, None, None) for c in channels}
        about = ribbon.behind(view.results(), stages_of(view))
        end_s = view.duration_ns / 1e9
    theme, measures = choices.theme, choices.measures
    made = lanes.figure(channels, drawn, about, end_s, theme, measures, narrow=narrow)
    first = places[0] if places else []
    for number, found in enumerate(places, 1):
        for place in found:
            mark_place(made["layout"], number if len(places) > 1 else None, place, channels, theme)
    _say_values(made, first, channels, drawn, theme, measures)
    if first:
        span = _around(first, about, end_s)
        made["layout"]["xaxis"]["range"] = [canvas.x_of(at_s) for at_s in span]
        names = lanes.notes(channels, about, span, theme, measures, narrow=narrow)
        others = [n for n in made["layout"]["annotations"] if n.get("font", {}).get("size", 0) > 14]
        made["layout"]["annotations"] = [*names, *others]
    if bands is not None and lined_up is not None:
        _put_bands(made, first, channels, bands, lined_up, theme, measures)
    told = [Told(c.label, drawn[c.id].points, c.unit) for c in channels]
    return made, draw_told(told, measures, title="The traces at round times")


def event_of(places: Sequence[Place], events_s: dict[str, float]) -> str | None:
    """Return which of the events [s] is nearest to the evidence; None where the run has none."""
    if not places or not events_s:
        return None
    at_s = places[0].to_s
    return min(events_s, key=lambda event: abs(events_s[event] - at_s))


def _around(places: Sequence[Place], about: Behind, end_s: float) -> tuple[float, float]:
    """Return from where to where the stages of the evidence last, with a little more [s]."""
    first, last = min(p.from_s for p in places), max(p.to_s for p in places)
    low, high = first, last
    for stage in about.stages:
        if stage.start_s is None or stage.end_s is None:
            continue
        if stage.start_s < last and stage.end_s > first:
            low, high = min(low, stage.start_s), max(high, stage.end_s)
    return max(low - AROUND_S, 0.0), min(high + AROUND_S, max(end_s, 1.0))


def _put_bands(
    made: Figure,
    places: Sequence[Place],
    channels: list[lanes.Line],
    bands: GoodBands,
    lined_up: LinedUp,
    theme: Theme,
    measures: Measures,
) -> None:
    events_s = lined_up.events_s or {}
    event = event_of(places, events_s)
    if event is None:
        return
    asked = {place.channel for place in places}
    for channel in channels:
        if channel.id not in asked:
            continue
        band = bands.of(lined_up.good, channel.role, event)
        if band is not None:
            axis = lanes.axis_of(channel, channels)
            made["data"].insert(0, _band(band, channel, axis, events_s[event], theme, measures))


def _band(
    band: Band,
    channel: lanes.Line,
    axis: str,
    event_s: float,
    theme: Theme,
    measures: Measures,
) -> Figure:
    colour = trace_colour(channel.role, theme)
    x = np.rint((band.t_s + event_s) * 1000.0) + canvas.AXIS_START_MS
    ends = [measures.number(end, channel.unit) for end in (band.low, band.high)]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": f"{channel.label}, {band.runs} good batches",
        "meta": f"good:{channel.id}",
        "x": np.r_[x, x[::-1]],
        "y": np.r_[ends[0], ends[1][::-1]],
        "yaxis": axis,
        "fill": "toself",
        "fillcolor": see_through(colour, 0.22),
        "line": {"width": 0.5, "color": see_through(colour, 0.5)},
        "hoverinfo": "skip",
    }


def _say_values(
    made: Figure,
    places: Sequence[Place],
    channels: list[lanes.Line],
    drawn: dict[str, Drawn],
    theme: Theme,
    measures: Measures,
) -> None:
    """Write the first number found on a line of the graph beside its end."""
    for place in places:
        channel = next((c for c in channels if c.id == place.channel), None)
        if channel is None or place.value is None or place.unit != channel.unit:
            continue
        value = drawn[channel.id].points.value
        finite = value[np.isfinite(value)]
        if not finite.size or not finite.min() - 1.0 <= place.value <= finite.max() + 1.0:
            continue
        made["layout"]["annotations"].append(
            {
                "xref": "x",
                "x": canvas.x_of(place.to_s),
                "yref": lanes.axis_of(channel, channels),
                "y": float(measures.number(place.value, channel.unit)),
                "text": f"<b>{measures.plain(place.value, channel.unit)}</b>",
                "showarrow": False,
                "xanchor": "right",
                "yanchor": "bottom",
                "font": {"size": 16, "color": GROUNDS[theme].stop},
            }
        )
        return


def mark_place(
    layout: Figure,
    number: int | None,
    place: Place,
    channels: list[lanes.Line],
    theme: Theme,
) -> None:
    """Mark where evidence lies: its time over the height of its channel's lane.

    Parameters
    ----------
    layout : dict
        Layout of the figure.
    number : int or None
        Of the cause; None where there is one alone.
    place : Place
        Where it lies.
    channels : list of Line
        Lines of the figure.
    theme : str
        ``dark`` or ``light``.
    """
    accent = GROUNDS[theme].accent
    low, high = canvas.x_of(place.from_s), canvas.x_of(place.to_s)
    channel = next((c for c in channels if c.id == place.channel), None)
    axis = "paper" if channel is None else f"{lanes.axis_of(channel, channels)} domain"
    layout["shapes"].append(
        {
            "type": "rect",
            "xref": "x",
            "yref": axis,
            "x0": low,
            "x1": high,
            "y0": 0,
            "y1": 1,
            "layer": "below",
            "line": {"width": 1, "color": accent},
            "fillcolor": see_through(accent, 0.08),
        }
    )
    if number is None:
        return
    layout["annotations"].append(
        {
            "xref": "x",
            "x": low,
            "yref": axis,
            "y": 1.0 - 0.16 * ((number - 1) % 6),
            "text": f"<b>{number}</b>",
            "showarrow": False,
            "xanchor": "right",
            "yanchor": "top",
            "font": {"size": 18, "color": accent},
        }
    )
