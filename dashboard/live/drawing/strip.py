"""One step of the strip of traces: what an open page must be sent to be up to date.

Pure but for the feed. Takes the recorder's state, what the feed holds, and the page's own cursor;
gives a figure, or points to append, and the next cursor. All that a page has seen
stands in its cursor, so a lost answer, a hidden tab or a new server only means a larger next step.

History and tail are separate traces. The tail grows by the points since the cursor; when it is
long, or the window has moved on, history is drawn anew from all samples and the tail starts over.
"""

import dataclasses
import math
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from dashboard.graphs import Figure
from dashboard.live.drawing import canvas
from dashboard.live.drawing.furniture import (
    Rider,
    all_riders,
    furnish,
    gap_trace,
    gaps,
    marks,
    surroundings,
)
from dashboard.live.drawing.view import Ask, Ranges, View, lane_ranges, view_of
from dashboard.live.feed import Feed, Kept
from dashboard.palette import GROUNDS
from dashboard.points import GAP_S, Points, few, thinned
from dashboard.stores import Choices
from logger.model.state import State

HISTORY_POINTS, BEFORE_POINTS = 400, 120
"""About so many points of history a channel in the window, and before it for who looks back."""
TAIL_POINTS = 400
"""The tail starts over when it has so many points."""
LIVE_EDGE = 0.72
"""Where in the window the newest sample stands after the window moved; the rest is room for the
forecast and to grow into."""
PIXELS = 900
"""Width that the strip has on a wide screen, about [px]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cursor:
    """What a page has of the strip; kept by the page, handed back at each question.

    Attributes
    ----------
    key : str or None
        What the figure is of; None before there is one.
    turn : list of float or None
        Window of run time [s].
    ui : int
        Which live window the person asked for last.
    tail, step : int
        Points in the longest tail; questions answered since the last redraw.
    t_ns : dict
        Time of the last sample by channel id [ns].
    ranges : dict
        Range of each lane [unit shown].
    around : str
        What the drawing around the lines depends on.
    foreseen : list of str
        Channels that have room for a forecast.
    """

    key: str | None = None
    turn: list[float] | None = None
    ui: int = 0
    tail: int = 0
    step: int = 0
    t_ns: dict[str, int] = field(default_factory=dict)
    ranges: Ranges = field(default_factory=dict)
    around: str = ""
    foreseen: list[str] = field(default_factory=list)


class Extend(NamedTuple):
    """Points to append: by trace, which traces, and how many points each may hold."""

    update: dict[str, list[list[Any]]]
    numbers: list[int]
    limit: dict[str, list[int]]


class Step(NamedTuple):
    """What to send: a figure, points to append, or neither; and what the page has then."""

    figure: Figure | None
    extend: Extend | None
    cursor: Cursor


def step(state: State, feed: Feed, ask: Ask, cursor: Cursor, choices: Choices) -> Step:
    """Return what a page must be sent; see the module's words.

    Parameters
    ----------
    state : State
        The recorder's state.
    feed : Feed
        Samples and events of the run under way.
    ask : Ask
        What the page asks.
    cursor : Cursor
        What the page has.
    choices : Choices
        What the person chose to see.
    """
    run_id = state.run.id
    view = view_of(state, choices, ask)
    if state.phase == "idle" or run_id is None:
        if cursor.key == view.key:
            return Step(None, None, cursor)
        return Step(_blank(view, ask.ui), None, Cursor(key=view.key))
    kept = feed.follow(run_id, [c.id for c in view.channels], state.tares)
    fresh = cursor.key != view.key or cursor.turn is None
    turn = _turn(cursor.turn if not fresh else None, view, state.t_s)
    if ask.looking and not fresh and cursor.turn is not None:
        turn = cursor.turn  # a new window would take the person's own view away
    other = cursor.foreseen != view.foreseen
    due = fresh or other or turn != cursor.turn or cursor.tail > TAIL_POINTS
    now = _Now(state, feed, run_id, view, kept, turn)
    if due or ask.ui != cursor.ui:
        return _redraw(now, ask.ui)
    return _append(now, cursor)


class _Now(NamedTuple):
    """What a step is made of."""

    state: State
    feed: Feed
    run_id: str
    view: View
    kept: dict[str, Kept]
    turn: list[float]


def nothing(ask: Ask, cursor: Cursor, choices: Choices) -> Step:
    """Return what a page is sent that has seen no recorder yet; what it shows already stays.

    Parameters
    ----------
    ask : Ask
        What the page asks.
    cursor : Cursor
        What the page has.
    choices : Choices
        What the person chose to see.
    """
    view = view_of(State(), choices, ask)
    if cursor.key not in (None, *{"dark", "light"} - {view.theme}):
        return Step(None, None, cursor)  # traces of a recorder that is gone, or this very text
    return Step(_blank(view, 0), None, Cursor(key=view.theme))


def _turn(old: list[float] | None, view: View, t_s: float) -> list[float]:
    """Return the window [from, to] of run time; it moves on in steps, never at each sample."""
    if view.window_s == 0.0:
        if old is not None and t_s <= old[1] - 0.05 * (old[1] - old[0]):
            return old
        return [0.0, max(300.0, t_s / LIVE_EDGE)]
    if old is not None and old[0] <= t_s <= old[0] + 0.95 * view.window_s:
        return old
    start_s = max(0.0, t_s - LIVE_EDGE * view.window_s)
    return [start_s, start_s + view.window_s]


def _blank(view: View, ui: int) -> Figure:
    said = "The traces begin with the batch.<br>Each sensor can be<br>checked beforehand."
    empty = canvas.layout(
        view.theme, view.scale is not None, [0.0, 300.0], ui=ui, compact=view.compact
    )
    for axis in ("xaxis", "yaxis", "yaxis2"):
        empty[axis] = {"visible": False, "fixedrange": True}
    empty["annotations"] = [
        {
            "xref": "paper",
            "yref": "paper",
            "x": 0.5,
            "y": 0.5,
            "showarrow": False,
            "text": said,
            "font": {"size": 18, "color": GROUNDS[view.theme].soft},
        }
    ]
    return {"data": [], "layout": empty}


def _slots(view: View) -> list[Figure]:
    """All traces without data, in the order that `_append` and `_redraw` number them."""
    slots: list[Figure] = []
    for channel in view.channels:
        slots += [canvas.line(channel, view.theme, tail=tail) for tail in (False, True)]
    slots += [canvas.end_label(channel, view.theme) for channel in view.channels]
    for channel in view.channels:
        if channel.id in view.foreseen:
            slots += canvas.cone(channel, view.theme)
    return [*slots, gap_trace(view.theme), canvas.marks(view.theme)]


def _redraw(now: _Now, ui: int) -> Step:
    state, view, turn = now.state, now.view, now.turn
    slots = _slots(view)
    for place, channel in enumerate(view.channels):
        samples = now.kept[channel.id]
        drawn = _history(samples, turn)
        last = samples.between(samples.last_ns - 1)
        for slot, points in ((2 * place, drawn), (2 * place + 1, last)):
            slots[slot]["x"] = canvas.xs(points)
            slots[slot]["y"] = canvas.ys(points, channel.unit, view.measures)
    ranges = lane_ranges(view, now.kept, turn)
    for rider in all_riders(state, view, now.kept, ranges):
        slots[rider.number].update(x=rider.x, y=rider.y)
    events = now.feed.events(now.run_id)
    silent = gaps(now.kept, view, turn, state.t_s)
    foot = ranges["y"][0]
    slots[-2].update(x=silent, y=[None if at is None else foot for at in silent])
    happened = marks(events, now.kept, view, ranges)
    slots[-1].update(x=happened.x, y=happened.y, text=happened.text)
    slots[-1]["marker"] |= {"symbol": happened.symbol, "color": happened.color}
    layout = canvas.layout(view.theme, view.scale is not None, turn, ui=ui, compact=view.compact)
    layout["yaxis"]["range"] = ranges["y"]
    if view.scale:
        layout["yaxis2"]["range"] = ranges.get("y2", [0, 100])
    furnish(layout, state, view, turn)
    cursor = Cursor(
        key=view.key,
        turn=turn,
        ui=ui,
        t_ns={c.id: now.kept[c.id].last_ns for c in view.channels},
        ranges=ranges,
        around=surroundings(state, events, turn),
        foreseen=view.foreseen,
    )
    return Step({"data": slots, "layout": layout}, None, cursor)


def _history(samples: Kept, turn: list[float]) -> Points:
    """Return all samples thinned: finely in the window, coarsely before it."""
    edge_ns = int((turn[0] - 0.25 * (turn[1] - turn[0])) * 1e9)
    before = thinned(samples.between(-1, edge_ns), BEFORE_POINTS)
    inside = thinned(samples.between(edge_ns), HISTORY_POINTS)
    return Points(*(np.concatenate(parts) for parts in zip(before, inside, strict=True)))


def _append(now: _Now, cursor: Cursor) -> Step:
    view, turn = now.view, now.turn
    ranges = lane_ranges(view, now.kept, turn, cursor.ranges)
    around = surroundings(now.state, now.feed.events(now.run_id), turn)
    if ranges != cursor.ranges or around != cursor.around:
        return _redraw(now, cursor.ui)
    t_ns = dict(cursor.t_ns)
    extend = Extend({"x": [], "y": []}, [], {"x": [], "y": []})
    most = 0
    for place, channel in enumerate(view.channels):
        samples = now.kept[channel.id]
        before_ns = t_ns.get(channel.id, -1)
        new = samples.between(before_ns)
        if not new.t_s.size:
            continue
        t_ns[channel.id] = samples.last_ns
        if before_ns >= 0 and new.t_s[0] - before_ns / 1e9 > GAP_S:
            return _redraw(now, cursor.ui)  # with its mark
        points = few(new, _enough(new, turn))
        most = max(most, points.t_s.size)
        _add(
            extend,
            Rider(2 * place + 1, canvas.xs(points), canvas.ys(points, channel.unit, view.measures)),
            2 * TAIL_POINTS,
        )
    if not extend.numbers:
        return Step(None, None, cursor)
    number = cursor.step + 1
    for rider in all_riders(now.state, view, now.kept, ranges):
        if rider.x and (rider.number < 3 * len(view.channels) or number % 8 == 0):
            _add(extend, rider, len(rider.x))  # replaced whole: it may hold no more
    grown = dataclasses.replace(cursor, t_ns=t_ns, tail=cursor.tail + most, step=number)
    return Step(None, extend, grown)


def _enough(new: Points, turn: list[float]) -> int:
    """How many of some new samples are drawn: two for each pixel or so, at least four."""
    covered = float(new.t_s[-1] - new.t_s[0]) / (turn[1] - turn[0])
    return max(4, math.ceil(2 * PIXELS * covered))


def _add(extend: Extend, points: Rider, most: int) -> None:
    """Append points to a trace that may hold `most` of them."""
    for name, values in (("x", points.x), ("y", points.y)):
        extend.update[name].append(values)
        extend.limit[name].append(most)
    extend.numbers.append(points.number)
