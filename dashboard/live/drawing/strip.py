"""One step of the strip of traces: what an open page must be sent to be up to date.

Takes the recorder's state, what the feed holds, and the page's own cursor; gives a figure or a
patch of it, or points to append, and the next cursor. All that a page has seen stands in its
cursor, so a lost answer, a hidden tab or a new server only means a larger next step.

History and tail are separate traces. The tail grows by the points since the cursor; when it is
long, or the window has moved on, history is drawn anew from all samples and the tail starts over.
"""

import math
from typing import Any, NamedTuple

import numpy as np
from dash import Patch

from dashboard.live.drawing import canvas
from dashboard.live.drawing.furniture import furnish, marks, surroundings
from dashboard.live.drawing.ranges import lane_ranges
from dashboard.live.drawing.riders import all_riders
from dashboard.live.drawing.view import View, view_of
from dashboard.live.feed import Feed, Kept, Points, few, thinned
from dashboard.palette import GROUNDS

HISTORY_POINTS, BEFORE_POINTS = 400, 120
"""About so many points of history a channel in the window, and before it for who looks back."""
TAIL_POINTS = 400
"""The tail starts over when it has so many points."""
LIVE_EDGE = 0.72
"""Where in the window the newest sample stands after the window moved; the rest is room for the
forecast and to grow into."""
PIXELS = 900
"""Width that the strip has on a wide screen, about [px]."""


class Step(NamedTuple):
    """What to send."""

    figure: Any
    """A whole figure, a patch, or None."""
    extend: list[Any] | None
    cursor: dict[str, Any]


def step(
    state: dict[str, Any],
    feed: Feed,
    ask: dict[str, Any],
    cursor: dict[str, Any],
    choices: dict[str, Any],
) -> Step:
    """Return what a page must be sent; see the module's words."""
    run_id = state["run"].get("id")
    view = view_of(state, choices, ask)
    if state["phase"] == "idle" or run_id is None:
        if cursor.get("key") == view.key:
            return Step(None, None, cursor)
        return Step(_blank(view, int(ask.get("ui", 0))), None, {"key": view.key})
    kept = feed.follow(run_id, [c["id"] for c in view.channels])
    fresh = cursor.get("key") != view.key
    turn = _turn(cursor.get("turn") if not fresh else None, view, state["t_s"])
    if ask.get("looking") and not fresh:
        turn = cursor["turn"]  # a new window would take the person's own view away
    other = cursor.get("foreseen") != view.foreseen
    due = fresh or other or turn != cursor.get("turn") or cursor.get("tail", 0) > TAIL_POINTS
    ui = int(ask.get("ui", 0))
    if due or ui != cursor.get("ui"):
        return _redraw(state, feed, view, kept, turn, ui, whole=fresh or other)
    return _append(state, feed, view, kept, cursor)


def nothing(ask: dict[str, Any], cursor: dict[str, Any], choices: dict[str, Any]) -> Step:
    """Return what a page is sent that has seen no recorder yet; what it shows already stays."""
    state: dict[str, Any] = {
        "phase": "idle",
        "run": {},
        "channels": [],
        "stages": [],
        "stage": None,
    }
    view = view_of(state, choices, ask)
    if cursor.get("key") not in (None, *{"dark", "light"} - {view.theme}):
        return Step(None, None, cursor)  # traces of a recorder that is gone, or this very text
    return Step(_blank(view, 0), None, {"key": view.theme})


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


def _blank(view: View, ui: int) -> dict[str, Any]:
    said = "The traces begin with the batch.<br>Each sensor can be<br>checked beforehand."
    empty = canvas.layout(view.theme, view.measures, view.scale, [0.0, 300.0], ui, view.compact)
    for axis in ("xaxis", "yaxis", "yaxis2"):
        empty[axis] = {"visible": False, "fixedrange": True}
    empty["annotations"] = [
        {"xref": "paper", "yref": "paper", "x": 0.5, "y": 0.5, "showarrow": False,
         "text": said,
         "font": {"size": 18, "color": GROUNDS[view.theme].soft}}
    ]  # fmt: skip
    return {"data": [], "layout": empty}


def _slots(view: View) -> list[dict[str, Any]]:
    """All traces without data, in the order that `_append` and `_redraw` number them."""
    slots: list[dict[str, Any]] = []
    for channel in view.channels:
        slots += [canvas.line(channel, view.theme, tail=tail) for tail in (False, True)]
    slots += [canvas.end_label(channel, view.theme) for channel in view.channels]
    for channel in view.channels:
        if channel["id"] in view.foreseen:
            slots += canvas.cone(channel, view.theme)
    slots.append(canvas.marks(view.theme))
    return slots


def _redraw(
    state: dict[str, Any],
    feed: Feed,
    view: View,
    kept: dict[str, Kept],
    turn: list[float],
    ui: int,
    *,
    whole: bool,
) -> Step:
    slots = _slots(view)
    cursors: dict[str, int] = {}
    for place, channel in enumerate(view.channels):
        samples = kept[channel["id"]]
        cursors[channel["id"]] = samples.last_ns
        drawn = _history(samples, turn)
        last = samples.between(samples.last_ns - 1)
        for slot, points in ((2 * place, drawn), (2 * place + 1, last)):
            slots[slot]["x"] = canvas.xs(points)
            slots[slot]["y"] = canvas.ys(points, channel["unit"], view.measures)
    ranges = lane_ranges(state, view, kept, turn)
    for number, update in all_riders(state, view, kept, ranges):
        slots[number].update(update)
    events = feed.events(state["run"]["id"])
    slots[-1].update(marks(events, kept, view, ranges))
    looks = {name: slots[-1].pop(name) for name in ("symbol", "color")}
    slots[-1]["marker"] = {**slots[-1]["marker"], **looks}
    layout = canvas.layout(view.theme, view.measures, view.scale, turn, ui, view.compact)
    layout["yaxis"]["range"] = ranges["y"]
    if view.scale:
        layout["yaxis2"]["range"] = ranges.get("y2", [0, 100])
    furnish(layout, state, view, turn)
    cursor = {
        "key": view.key, "turn": turn, "ui": ui, "tail": 0, "t": cursors, "ranges": ranges,
        "around": surroundings(state, events, turn), "step": 0, "foreseen": view.foreseen,
    }  # fmt: skip
    if whole:
        return Step({"data": slots, "layout": layout}, None, cursor)
    return Step(_as_patch(slots, layout), None, cursor)


def _as_patch(slots: list[dict[str, Any]], layout: dict[str, Any]) -> Patch:
    """Return a patch that puts new points, marks and layout into a page's figure."""
    patch = Patch()
    for number, trace in enumerate(slots):
        for name in ("x", "y"):
            patch["data"][number][name] = trace[name]
    last = len(slots) - 1
    patch["data"][last]["text"] = slots[last]["text"]
    for name in ("symbol", "color"):
        patch["data"][last]["marker"][name] = slots[last]["marker"][name]
    patch["layout"] = layout
    return patch


def _history(samples: Kept, turn: list[float]) -> Points:
    """Return all samples thinned: finely in the window, coarsely before it."""
    edge_ns = int((turn[0] - 0.25 * (turn[1] - turn[0])) * 1e9)
    before = thinned(samples.between(-1, edge_ns), BEFORE_POINTS)
    inside = thinned(samples.between(edge_ns), HISTORY_POINTS)
    return Points(*(np.concatenate(parts) for parts in zip(before, inside, strict=True)))


def _append(
    state: dict[str, Any], feed: Feed, view: View, kept: dict[str, Kept], cursor: dict[str, Any]
) -> Step:
    ranges = lane_ranges(state, view, kept, cursor["turn"], cursor["ranges"])
    around = surroundings(state, feed.events(state["run"]["id"]), cursor["turn"])
    if ranges != cursor["ranges"] or around != cursor["around"]:
        return _redraw(state, feed, view, kept, cursor["turn"], cursor["ui"], whole=False)
    cursors = dict(cursor["t"])
    x: list[Any] = []
    y: list[Any] = []
    numbers: list[int] = []
    most = 0
    for place, channel in enumerate(view.channels):
        samples = kept[channel["id"]]
        new = samples.between(cursors.get(channel["id"], -1))
        if not new.t_s.size:
            continue
        before = cursors.get(channel["id"], -1) / 1e9
        cursors[channel["id"]] = samples.last_ns
        points = _joined(few(new, _enough(new, cursor["turn"])), before)
        most = max(most, points.t_s.size)
        x.append(canvas.xs(points))
        y.append(canvas.ys(points, channel["unit"], view.measures))
        numbers.append(2 * place + 1)
    if not numbers:
        return Step(None, None, cursor)
    update: dict[str, Any] = {"x": x, "y": y}
    limit = {"x": [TAIL_POINTS * 2] * len(x), "y": [TAIL_POINTS * 2] * len(x)}
    riders = [(n, u) for n, u in all_riders(state, view, kept, ranges) if u["x"]]
    extend = [update, numbers, limit]
    grown = {**cursor, "t": cursors, "tail": cursor["tail"] + most, "step": cursor["step"] + 1}
    for number, rider in riders:
        if number < 3 * len(view.channels) or grown["step"] % 8 == 0:
            _ride(extend, number, {"x": rider["x"], "y": rider["y"]})
    return Step(None, extend, grown)


def _enough(new: Points, turn: list[float]) -> int:
    """How many of some new samples are drawn: two for each pixel or so, at least four."""
    covered = float(new.t_s[-1] - new.t_s[0]) / (turn[1] - turn[0])
    return max(4, math.ceil(2 * PIXELS * covered))


def _ride(extend: list[Any], number: int, rider: dict[str, Any]) -> None:
    """Add a trace that is replaced whole: as many new points as it may hold."""
    update, numbers, limit = extend
    for name in ("x", "y"):
        update[name].append(rider[name])
        limit[name].append(len(rider["x"]))
    numbers.append(number)


def _joined(points: Points, before_s: float) -> Points:
    """Put a break ahead of points that come long after the ones before."""
    if before_s < 0 or points.t_s[0] - before_s <= 2.5:
        return points
    middle = (before_s + points.t_s[0]) / 2.0
    return Points(np.insert(points.t_s, 0, middle), np.insert(points.value, 0, np.nan))
