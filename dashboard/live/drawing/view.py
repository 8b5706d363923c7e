"""What one page draws of the recorder's state: which channels, which window, how large, how high.

Pure. Used by the strip of traces and all that stands on it. Channels with a target in this stage
have the room of their lane; an old range stays while it fits, so that the lines do not jump.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from dashboard.live.drawing import canvas
from dashboard.live.feed import Kept
from dashboard.measures import Measures
from dashboard.palette import Theme
from dashboard.stores import Choices
from logger.model.kinds.registry import kind_named
from logger.model.state import ChannelView, State

LABEL_PX = 18.0
"""Height of an end label."""
USUAL_PX, USUAL_WIDTH_PX = 270.0, 840.0
"""Height and width of the strip where the page does not tell them."""
LOW_PX = 180.0
"""A lower strip has no lane for a scale."""
WINDOWS_S = {"5 min": 300.0, "20 min": 1200.0, "all": 0.0}
"""Choices of the window; 0 is the whole run."""
LEAST_SPAN = {"y": 6.0, "y2": 40.0}
"""A lane is at least so high [K or g]."""

Ranges = dict[str, list[float]]
"""Lowest and highest value of each lane, in the unit shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What a page asks at a beat (``assets/bench.js``).

    Attributes
    ----------
    n : int or None
        Number of the question.
    window, scale : str or None
        Chosen window, and id of the chosen scale.
    ui : int
        Grows when the person asks for the live window again.
    looking : bool
        Whether the person looks back.
    table, sensors : bool
        Whether the table of the traces and that of the sensors are unfolded.
    compact : bool
        Whether the page is as narrow as a phone.
    height, width : float or None
        Of the strip [px].
    """

    n: int | None = None
    window: str | None = None
    scale: str | None = None
    ui: int = 0
    looking: bool = False
    table: bool = False
    sensors: bool = False
    compact: bool = False
    height: float | None = None
    width: float | None = None


class View(NamedTuple):
    """What one page draws."""

    channels: list[ChannelView]
    """Temperatures, then at most one scale."""
    scale: ChannelView | None
    theme: Theme
    measures: Measures
    window_s: float
    compact: bool
    height_px: float
    width_px: float
    foreseen: list[str]
    """Channels that may have a forecast: those with a target in this stage."""
    key: str


def view_of(state: State, choices: Choices, ask: Ask) -> View:
    """Return what a page draws.

    Parameters
    ----------
    state : State
        The recorder's state.
    choices : Choices
        What the person chose to see.
    ask : Ask
        What the page asks.
    """
    low = _pixels(ask.height, USUAL_PX) < LOW_PX
    scale = None if low else _scale(state, ask.scale)
    temps = [c for c in state.channels if c.unit == "degC"]
    channels = temps + ([scale] if scale else [])
    window_s = WINDOWS_S.get(ask.window or "", WINDOWS_S["20 min"])
    if state.phase == "ended":
        window_s = 0.0
    shown = [c.id for c in channels]
    parts = [state.run.id, state.phase == "ended", choices, window_s, ask.compact, shown]
    return View(
        channels=channels,
        scale=scale,
        theme=choices.theme,
        measures=choices.measures,
        window_s=window_s,
        compact=ask.compact,
        height_px=_pixels(ask.height, USUAL_PX),
        width_px=_pixels(ask.width, USUAL_WIDTH_PX),
        foreseen=_foreseen(state, temps),
        key=repr(parts),
    )


def _foreseen(state: State, temps: list[ChannelView]) -> list[str]:
    told = {f.channel for f in state.view.forecasts}
    return [c.id for c in temps if c.id in told or c.low is not None or c.high is not None]


def _pixels(told_px: float | None, usual_px: float) -> float:
    return told_px if told_px is not None and 60 <= told_px <= 4000 else usual_px


def label_share(lane: str, view: View) -> float:
    """Return the height of an end label as a share of its lane [1]."""
    part = canvas.LANES[lane] if view.scale else 1.0
    return LABEL_PX / (part * max(view.height_px - canvas.MARGIN_PX, 40.0))


def _scale(state: State, wanted: str | None) -> ChannelView | None:
    scales = [c for c in state.channels if c.unit == "g"]
    for channel in scales:
        if channel.id == wanted:
            return channel
    kind = kind_named(next((s.kind for s in state.stages if s.id == state.stage), ""))
    for channel in scales:
        if kind is not None and channel.role == kind.scale:
            return channel
    return scales[0] if scales else None


def lane_ranges(
    view: View, kept: dict[str, Kept], turn: list[float], old: Ranges | None = None
) -> Ranges:
    """Return the range of each lane; an old one stays while it fits.

    Parameters
    ----------
    view : View
        What the page draws.
    kept : dict
        Samples by channel id.
    turn : list of float
        Window of run time [s].
    old : dict or None
        Ranges so far [unit shown].
    """
    made: Ranges = {}
    start_ns, end_ns = int(turn[0] * 1e9), int(turn[1] * 1e9)
    for lane, least in LEAST_SPAN.items():
        ends: list[float] = []
        for channel in wanted(view, lane):
            values = kept[channel.id].between(start_ns, end_ns).value
            values = values[np.isfinite(values)]
            found = [float(values.min()), float(values.max())] if values.size else []
            found += [v for v in (channel.low, channel.high) if v is not None]
            ends += [view.measures.number(float(v), channel.unit) for v in found]
        if not ends:
            continue
        low, high = min(ends), max(ends)
        before = (old or {}).get(lane)
        if before and before[0] <= low and high <= before[1]:
            made[lane] = before
        else:
            unit = next(c.unit for c in view.channels if canvas.lane(c) == lane)
            span = view.measures.number(least, unit) - view.measures.number(0.0, unit)
            made[lane] = list(canvas.nice_range(low, high, span))
    made.setdefault("y", [0.0, 100.0])
    return made


def wanted(view: View, lane: str) -> list[ChannelView]:
    """Return the channels that a lane makes room for: those with a target, else all of it."""
    there = [c for c in view.channels if canvas.lane(c) == lane]
    with_target = [c for c in there if c.low is not None or c.high is not None]
    return with_target or there
