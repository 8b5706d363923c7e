"""One step of the strip of traces: what an open page must be sent to be up to date.

Takes the recorder's state, what the feed holds, and the page's own cursor; gives a figure or a
patch of it, or points to append, and the next cursor. All that a page has seen stands in its
cursor, so a lost answer, a hidden tab or a new server only means a larger next step.

History and tail are separate traces. The tail grows by the points since the cursor; when it is
long, or the window has moved on, history is drawn anew from all samples and the tail starts over.
"""

import html
import math
from typing import Any, NamedTuple

import numpy as np
from dash import Patch

from dashboard.live import canvas
from dashboard.live.feed import Feed, Kept, Points, few, thinned
from dashboard.measures import Measures
from dashboard.palette import GROUNDS, Theme

HISTORY_POINTS = 500
"""About so many points of history a channel in the window, and half as many before it."""
TAIL_POINTS = 600
"""The tail starts over when it has so many points."""
LIVE_EDGE = 0.72
"""Where in the window the newest sample stands after the window moved; the rest is room for the
forecast and to grow into."""
MOST_MARKS = 200
"""The latest events that are drawn."""
PIXELS = 900
"""Width that the strip has on a wide screen, about [px]."""
LABEL_PX = 18.0
"""Height of an end label."""
USUAL_PX = 270.0
"""Height of the strip where the page does not tell it."""
WINDOWS_S = {"5 min": 300.0, "20 min": 1200.0, "all": 0.0}
"""Choices of the window; 0 is the whole run."""


class Step(NamedTuple):
    """What to send."""

    figure: Any
    """A whole figure, a patch, or None."""
    extend: list[Any] | None
    cursor: dict[str, Any]


class View(NamedTuple):
    """What one page draws."""

    channels: list[dict[str, Any]]
    """Temperatures, then at most one scale."""
    scale: dict[str, Any] | None
    theme: Theme
    measures: Measures
    window_s: float
    compact: bool
    height_px: float
    key: str


def view_of(state: dict[str, Any], choices: dict[str, Any], ask: dict[str, Any]) -> View:
    """Return what a page draws, from the state, the kept choices and what the page asks."""
    theme: Theme = "light" if choices.get("theme") == "light" else "dark"
    measures = Measures.of(choices)
    scale = _scale(state, ask.get("scale"))
    temps = [c for c in state["channels"] if c["unit"] == "degC"]
    channels = temps + ([scale] if scale else [])
    window_s = WINDOWS_S.get(str(ask.get("window")), WINDOWS_S["20 min"])
    if state["phase"] == "ended":
        window_s = 0.0
    compact = bool(ask.get("compact"))
    parts = [state["run"].get("id"), state["phase"] == "ended", theme, measures, window_s, compact,
             [c["id"] for c in channels]]  # fmt: skip
    height_px = _height_px(ask.get("height"))
    return View(channels, scale, theme, measures, window_s, compact, height_px, repr(parts))


def _height_px(told: Any) -> float:
    return float(told) if isinstance(told, int | float) and 60 <= told <= 4000 else USUAL_PX


def _label_share(lane: str, view: View) -> float:
    """Height of an end label as a share of its lane."""
    part = canvas.LANES[lane] if view.scale else 1.0
    return LABEL_PX / (part * max(view.height_px - canvas.MARGIN_PX, 40.0))


def _scale(state: dict[str, Any], wanted: str | None) -> dict[str, Any] | None:
    scales = [c for c in state["channels"] if c["unit"] == "g"]
    for channel in scales:
        if channel["id"] == wanted:
            return dict(channel)
    kind = next((s["kind"] for s in state["stages"] if s["id"] == state["stage"]), "")
    for channel in scales:
        if channel["role"] == canvas.SCALE_OF_KIND.get(kind):
            return dict(channel)
    return dict(scales[0]) if scales else None


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
    due = fresh or turn != cursor.get("turn") or cursor.get("tail", 0) > TAIL_POINTS
    ui = int(ask.get("ui", 0))
    if due or ui != cursor.get("ui"):
        return _redraw(state, feed, view, kept, turn, ui, whole=fresh)
    return _append(state, feed, view, kept, cursor)


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
    empty = canvas.layout(view.theme, view.measures, view.scale, [0.0, 300.0], ui, view.compact)
    for axis in ("xaxis", "yaxis", "yaxis2"):
        empty[axis] = {"visible": False, "fixedrange": True}
    empty["annotations"] = [
        {"xref": "paper", "yref": "paper", "x": 0.5, "y": 0.5, "showarrow": False,
         "text": "The traces begin with the batch.<br>Each sensor can be checked beforehand.",
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
        if channel["unit"] == "degC":
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
    ranges = _ranges(state, view, kept, turn)
    for number, update in _riders(state, view, kept, ranges):
        slots[number].update(update)
    events = feed.events(state["run"]["id"])
    slots[-1].update(_marks(events, kept, view, ranges))
    slots[-1]["marker"] = {**slots[-1]["marker"], "symbol": slots[-1].pop("symbol")}
    layout = canvas.layout(view.theme, view.measures, view.scale, turn, ui, view.compact)
    layout["yaxis"]["range"] = ranges["y"]
    if view.scale:
        layout["yaxis2"]["range"] = ranges.get("y2", [0, 100])
    _furnish(layout, state, view, turn)
    cursor = {
        "key": view.key, "turn": turn, "ui": ui, "tail": 0, "t": cursors, "ranges": ranges,
        "around": _around(state, events), "step": 0,
    }  # fmt: skip
    if whole:
        return Step({"data": slots, "layout": layout}, None, cursor)
    patch = Patch()
    for number, trace in enumerate(slots):
        for name in ("x", "y"):
            patch["data"][number][name] = trace[name]
    patch["data"][len(slots) - 1]["text"] = slots[-1]["text"]
    patch["data"][len(slots) - 1]["marker"]["symbol"] = slots[-1]["marker"]["symbol"]
    patch["layout"] = layout
    return Step(patch, None, cursor)


def _history(samples: Kept, turn: list[float]) -> Points:
    """Return all samples thinned: finely in the window, coarsely before it."""
    edge_ns = int((turn[0] - 0.25 * (turn[1] - turn[0])) * 1e9)
    before = thinned(samples.between(-1, edge_ns), HISTORY_POINTS // 2)
    inside = thinned(samples.between(edge_ns), HISTORY_POINTS)
    return Points(*(np.concatenate(parts) for parts in zip(before, inside, strict=True)))


def _append(
    state: dict[str, Any], feed: Feed, view: View, kept: dict[str, Kept], cursor: dict[str, Any]
) -> Step:
    ranges = _ranges(state, view, kept, cursor["turn"], cursor["ranges"])
    around = _around(state, feed.events(state["run"]["id"]))
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
    riders = [(n, u) for n, u in _riders(state, view, kept, ranges) if u["x"]]
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


def _riders(
    state: dict[str, Any], view: View, kept: dict[str, Kept], ranges: dict[str, list[float]]
) -> list[tuple[int, dict[str, Any]]]:
    """Traces that are replaced whole each time: labels at the ends, forecasts."""
    count = len(view.channels)
    found: list[tuple[int, dict[str, Any]]] = []
    ends: dict[str, list[tuple[float, int]]] = {}
    for place, channel in enumerate(view.channels):
        last = kept[channel["id"]].between(kept[channel["id"]].last_ns - 1)
        if last.t_s.size and np.isfinite(last.value[-1]):
            height = view.measures.number(float(last.value[-1]), channel["unit"])
            lane = canvas.lane(channel)
            low, high = ranges.get(lane, [height, height])
            inside = low <= height <= high
            found.append(
                (2 * count + place,
                 {"x": [canvas.x_of(float(last.t_s[-1]))],
                  "y": [round(height, 3) if inside else None]})
            )  # fmt: skip
            if inside:
                ends.setdefault(lane, []).append((height, len(found) - 1))
    for lane, heights in ends.items():
        _keep_apart(found, sorted(heights), ranges.get(lane), _label_share(lane, view))
    return found + _cones(state, view)


def _keep_apart(
    found: list[tuple[int, dict[str, Any]]],
    heights: list[tuple[float, int]],
    span: list[float] | None,
    share: float,
) -> None:
    """Move end labels up or down so that none stands on another."""
    if not span:
        return
    least = share * (span[1] - span[0])
    placed = [height for height, _ in heights]
    for place in range(1, len(placed)):
        placed[place] = max(placed[place], placed[place - 1] + least)
    over = (placed[-1] - heights[-1][0]) / 2.0
    floor = span[0] + 0.3 * least
    for place, (_, at) in enumerate(heights):
        low = floor + place * least
        found[at][1]["y"] = [round(max(placed[place] - over, low), 3)]


def _cones(state: dict[str, Any], view: View) -> list[tuple[int, dict[str, Any]]]:
    found = []
    number = 3 * len(view.channels)
    forecasts = {f["channel"]: f for f in state["view"]["forecasts"]}
    for channel in view.channels:
        if channel["unit"] != "degC":
            continue
        rows = [
            row
            for row in forecasts.get(channel["id"], {}).get("cone") or []
            if all(v is not None for v in row)
        ]
        unit, measures = channel["unit"], view.measures
        t = [canvas.x_of(row[0]) for row in rows]
        low, likely, high = (
            [round(measures.number(float(row[k]), unit), 2) for row in rows] for k in (1, 2, 3)
        )
        found.append((number, {"x": t + t[::-1], "y": low + high[::-1]}))
        found.append((number + 1, {"x": t, "y": likely}))
        number += 2
    return found


def _ranges(
    state: dict[str, Any],
    view: View,
    kept: dict[str, Kept],
    turn: list[float],
    old: dict[str, list[float]] | None = None,
) -> dict[str, list[float]]:
    """Return the range of each lane; an old one stays while it fits."""
    ranges: dict[str, list[float]] = {}
    for lane, least in (("y", 6.0), ("y2", 40.0)):
        ends: list[float] = []
        for channel in wanted(view, lane):
            start_ns, end_ns = int(turn[0] * 1e9), int(turn[1] * 1e9)
            values = kept[channel["id"]].between(start_ns, end_ns).value
            values = values[np.isfinite(values)]
            found = [float(values.min()), float(values.max())] if values.size else []
            found += [v for v in (channel.get("low"), channel.get("high")) if v is not None]
            ends += [view.measures.number(float(v), channel["unit"]) for v in found]
        if not ends:
            continue
        low, high = min(ends), max(ends)
        before = (old or {}).get(lane)
        if before and before[0] <= low and high <= before[1]:
            ranges[lane] = before
        else:
            unit = next(c["unit"] for c in view.channels if canvas.lane(c) == lane)
            span = view.measures.number(least, unit) - view.measures.number(0.0, unit)
            ranges[lane] = list(canvas.nice_range(low, high, span))
    ranges.setdefault("y", [0.0, 100.0])
    return ranges


def wanted(view: View, lane: str) -> list[dict[str, Any]]:
    """Return the channels that a lane makes room for: those with a target, else all of it."""
    there = [c for c in view.channels if canvas.lane(c) == lane]
    with_target = [c for c in there if c.get("low") is not None or c.get("high") is not None]
    return with_target or there


def _around(state: dict[str, Any], events: list[Any]) -> str:
    """What the drawing around the lines depends on; a redraw is due when it changes."""
    targets = [(c["id"], c.get("low"), c.get("high")) for c in state["channels"]]
    last = max((e.seq for e in events if e.kind in canvas.MARKS), default=0)
    begun = [(s["id"], s.get("start_s")) for s in state["stages"]]
    return repr((targets, last, begun))


def _furnish(layout: dict[str, Any], state: dict[str, Any], view: View, turn: list[float]) -> None:
    """Put bands and stage lines into a layout."""
    begun = [s["start_s"] for s in state["stages"] if s["id"] == state["stage"]]
    from_s = begun[0] if begun and begun[0] is not None else turn[0]
    live = view.channels if state["phase"] == "recording" else []
    for shapes, names in (
        canvas.stage_lines(state["stages"], turn, view.theme),
        canvas.bands(live, from_s, turn, view.theme, view.measures),
    ):
        layout["shapes"] += shapes
        layout["annotations"] += names
    for name in layout["annotations"]:
        name["text"] = html.escape(name["text"])


def _marks(
    events: list[Any], kept: dict[str, Kept], view: View, ranges: dict[str, list[float]]
) -> dict[str, list[Any]]:
    """Return the events as points on the line they are about, else at the foot of the lane."""
    drawn: dict[str, list[Any]] = {"x": [], "y": [], "text": [], "symbol": []}
    by_id = {c["id"]: c for c in view.channels if c["unit"] == "degC"}
    for event in [e for e in events if e.kind in canvas.MARKS][-MOST_MARKS:]:
        t_s = event.t_ns / 1e9
        channel = by_id.get(event.channel or "")
        value = kept[channel["id"]].at(t_s) if channel else None
        foot = ranges["y"][0] + 0.04 * (ranges["y"][1] - ranges["y"][0])
        height = foot if value is None else view.measures.number(value, "degC")
        drawn["x"].append(canvas.x_of(t_s))
        drawn["y"].append(round(height, 3))
        drawn["text"].append(html.escape(event.text or event.kind.replace("_", " "))[:160])
        drawn["symbol"].append(canvas.MARKS[event.kind])
    return drawn
