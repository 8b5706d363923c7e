"""What stands around and upon the lines of the strip: stages, targets, events, names, forecasts.

Pure. ``surroundings`` tells whether stages, targets or events have changed, because only then are
they drawn anew. Names at the line ends and forecasts ride at the newest sample and are replaced
whole each time, by the numbers that the strip gives its traces.
"""

import html
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from dashboard.graphs import Figure
from dashboard.live.drawing import canvas
from dashboard.live.drawing.view import Ranges, View, label_share
from dashboard.live.feed import Kept
from dashboard.measures import Measures
from dashboard.palette import GROUNDS, Theme
from dashboard.points import GAP_S
from logger.model.event import Event, is_silence
from logger.model.state import State

GAP_PX, LEAST_GAP_PX = 7, 3.0
"""Height and least width of a mark of a time without readings."""
MOST_MARKS = 200
"""The latest events that are drawn."""
CAME, WENT = "octagon", "octagon-open"
"""Shapes of an alarm that came and of one that went away."""


def surroundings(state: State, events: list[Event], turn: list[float]) -> str:
    """Return what the drawing around the lines depends on; a redraw is due when it changes.

    Parameters
    ----------
    state : State
        The recorder's state.
    events : list of Event
        Of the run so far.
    turn : list of float
        Window of run time [s].
    """
    targets = [(c.id, c.low, c.high) for c in state.channels]
    happened = hash(tuple((e.seq, e.t_ns) for e in events if symbol_of(e)))
    begun = [(s.id, s.start_s) for s in state.stages]
    return repr((targets, happened, begun, names_at_right(state.t_s, turn), state.tares))


def names_at_right(t_s: float, turn: list[float]) -> bool:
    """Whether targets are named at the right edge; at the left once the lines' names come near.

    Parameters
    ----------
    t_s : float
        Run time now [s].
    turn : list of float
        Window of run time [s].
    """
    return t_s < turn[0] + 0.6 * (turn[1] - turn[0])


def furnish(layout: Figure, state: State, view: View, turn: list[float]) -> None:
    """Put bands and stage lines into a layout.

    Parameters
    ----------
    layout : dict
        Layout of the figure.
    state : State
        The recorder's state.
    view : View
        What the page draws.
    turn : list of float
        Window of run time [s].
    """
    begun = [s.start_s for s in state.stages if s.id == state.stage]
    from_s = begun[0] if begun and begun[0] is not None else turn[0]
    live = view.channels if state.phase == "recording" else []
    letters = int((view.width_px - canvas.BESIDE_PX) / canvas.LETTER_PX)
    at_right = names_at_right(state.t_s, turn)
    for shapes, names in (
        canvas.stage_lines(state.stages, turn, view.theme, letters),
        canvas.bands(live, from_s, turn, view.theme, view.measures, at_right=at_right),
    ):
        layout["shapes"] += shapes
        layout["annotations"] += names
    for name in layout["annotations"]:
        name["text"] = html.escape(name["text"])


def symbol_of(event: Event) -> str:
    """Return the shape an event is drawn with on the lines; empty for one that is not drawn."""
    if event.kind != "alarm":
        return canvas.MARKS.get(event.kind, "")
    if is_silence(str(event.data.get("alarm", ""))):
        return ""  # the gap in the line and its mark say it
    now, before = (str(event.data.get(name, "")) for name in ("state", "was"))
    if now.startswith("active") and not before.startswith("active"):
        return CAME
    return WENT if before.startswith("active") and not now.startswith("active") else ""


def text_of(event: Event, measures: Measures) -> str:
    """Return what an event says, in words; a note as it was typed."""
    text = event.text or event.kind.replace("_", " ")
    text = text if event.source == "operator" else measures.said(text)
    shape = symbol_of(event)
    if event.kind != "alarm" or shape not in (CAME, WENT):
        return text
    return f"Alarm: {text}" if shape == CAME else f"Cleared: {text}"


@dataclass(slots=True, kw_only=True)
class Marks:
    """Events as points of the strip: places on the axes, words, shapes, colours."""

    x: list[int] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    text: list[str] = field(default_factory=list)
    symbol: list[str] = field(default_factory=list)
    color: list[str] = field(default_factory=list)


def marks(events: list[Event], kept: dict[str, Kept], view: View, ranges: Ranges) -> Marks:
    """Return events and alarms as points on the line they are about, else at the lane's foot.

    Parameters
    ----------
    events : list of Event
        Of the run so far.
    kept : dict
        Samples by channel id.
    view : View
        What the page draws.
    ranges : dict
        Range of each lane [unit shown].
    """
    drawn = Marks()
    ground = GROUNDS[view.theme]
    by_id = {c.id: c for c in view.channels if c.unit == "degC"}
    for event in [e for e in events if symbol_of(e)][-MOST_MARKS:]:
        t_s = event.t_ns / 1e9
        channel = by_id.get(event.channel or "")
        samples = kept[channel.id] if channel else None
        value = samples.at(t_s) if samples else None
        if value is None and samples and event.kind == "alarm":
            value = samples.before(t_s)  # it may be about the values that do not come
        foot = ranges["y"][0] + 0.04 * (ranges["y"][1] - ranges["y"][0])
        height = foot if value is None else view.measures.number(value, "degC")
        if not ranges["y"][0] <= height <= ranges["y"][1]:
            height = foot
        drawn.x.append(canvas.x_of(t_s))
        drawn.y.append(round(height, 3))
        drawn.text.append(html.escape(text_of(event, view.measures))[:160])
        drawn.symbol.append(symbol_of(event))
        drawn.color.append(ground.stop if event.kind == "alarm" else ground.accent)
    return drawn


def gap_trace(theme: Theme) -> Figure:
    """Return the trace of the times without readings, without data: grey marks at the axis."""
    return {
        "type": "scatter",
        "mode": "lines",
        "meta": "gaps",
        "x": [],
        "y": [],
        "line": {"color": GROUNDS[theme].line, "width": GAP_PX},
        "connectgaps": False,
        "hoverinfo": "skip",
    }


def gaps(kept: dict[str, Kept], view: View, turn: Sequence[float], t_s: float) -> list[int | None]:
    """Return from where to where each time without readings is marked, None between two.

    Gaps of several channels at once have one mark, and no two marks share a pixel.

    Parameters
    ----------
    kept : dict
        Samples by channel id.
    view : View
        What the page draws.
    turn : sequence of float
        Window of run time [s].
    t_s : float
        Run time now [s]; who is silent until then has a gap.
    """
    pixel_s = (turn[1] - turn[0]) / view.width_px
    spans = [span for c in view.channels for span in _silences(kept[c.id], t_s)]
    marked: list[list[float]] = []
    for from_s, to_s in sorted(spans):
        if marked and from_s <= marked[-1][1] + pixel_s:
            marked[-1][1] = max(marked[-1][1], to_s)
        else:
            marked.append([from_s, max(to_s, from_s + LEAST_GAP_PX * pixel_s)])
    drawn: list[int | None] = []
    for from_s, to_s in marked:
        drawn += [canvas.x_of(from_s), canvas.x_of(to_s), None]
    return drawn


def _silences(samples: Kept, t_s: float) -> list[tuple[float, float]]:
    """Return the stretches of run time without a value [s], up to now."""
    real = samples.t_ns[np.isfinite(samples.value)] / 1e9
    if not real.size:
        return []
    steps = np.diff(real)
    usual_s = float(np.median(steps)) if steps.size else 0.0
    long_s = max(GAP_S, 5.0 * usual_s)
    found = [(float(real[k]), float(real[k + 1])) for k in np.flatnonzero(steps > long_s)]
    return [*found, (float(real[-1]), t_s)] if t_s - real[-1] > long_s else found


class Rider(NamedTuple):
    """Points that replace those of one trace of the strip."""

    number: int
    x: list[int]
    y: list[float | None]


def all_riders(state: State, view: View, kept: dict[str, Kept], ranges: Ranges) -> list[Rider]:
    """Return the traces that are replaced whole each time: names at the ends, forecasts.

    Parameters
    ----------
    state : State
        The recorder's state.
    view : View
        What the page draws.
    kept : dict
        Samples by channel id.
    ranges : dict
        Range of each lane [unit shown].
    """
    count = len(view.channels)
    found: list[Rider] = []
    ends: dict[str, list[tuple[float, int]]] = {}
    for place, channel in enumerate(view.channels):
        last = kept[channel.id].between(kept[channel.id].last_ns - 1)
        if last.t_s.size and np.isfinite(last.value[-1]):
            height = view.measures.number(float(last.value[-1]), channel.unit)
            lane = canvas.lane(channel)
            low, high = ranges.get(lane, [height, height])
            inside = low <= height <= high
            at = canvas.x_of(float(last.t_s[-1]))
            found.append(Rider(2 * count + place, [at], [round(height, 3) if inside else None]))
            if inside:
                ends.setdefault(lane, []).append((height, len(found) - 1))
    for lane, heights in ends.items():
        _keep_apart(found, sorted(heights), ranges.get(lane), label_share(lane, view))
    return found + _cones(state, view)


def _keep_apart(
    found: list[Rider], heights: list[tuple[float, int]], span: list[float] | None, share: float
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
        found[at] = found[at]._replace(y=[round(max(placed[place] - over, low), 3)])


def _cones(state: State, view: View) -> list[Rider]:
    found = []
    number = 3 * len(view.channels)
    forecasts = {f.channel: f for f in state.view.forecasts}
    for channel in view.channels:
        if channel.id not in view.foreseen:
            continue
        forecast = forecasts.get(channel.id)
        rows = forecast.cone if forecast is not None else []
        t = [canvas.x_of(row[0]) for row in rows]
        low, likely, high = (
            [round(view.measures.number(row[k], channel.unit), 2) for row in rows]
            for k in (1, 2, 3)
        )
        found.append(Rider(number, t + t[::-1], [*low, *high[::-1]]))
        found.append(Rider(number + 1, t, [*likely]))
        number += 2
    return found
