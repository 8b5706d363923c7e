"""What stands around the lines of the strip: stage lines, target bands, events and alarms.

Pure. ``surroundings`` tells whether any of it has changed, because only then is it drawn anew.
"""

import html
from typing import Any

from dashboard.live.drawing import canvas
from dashboard.live.drawing.view import View
from dashboard.live.feed import Kept
from dashboard.palette import GROUNDS

MOST_MARKS = 200
"""The latest events that are drawn."""
CAME, WENT = "octagon", "octagon-open"
"""Shapes of an alarm that came and of one that went away."""


def surroundings(state: dict[str, Any], events: list[Any], turn: list[float]) -> str:
    """What the drawing around the lines depends on; a redraw is due when it changes."""
    targets = [(c["id"], c.get("low"), c.get("high")) for c in state["channels"]]
    last = max((e.seq for e in events if symbol_of(e)), default=0)
    begun = [(s["id"], s.get("start_s")) for s in state["stages"]]
    return repr((targets, last, begun, names_at_right(state["t_s"], turn)))


def names_at_right(t_s: float, turn: list[float]) -> bool:
    """Whether targets are named at the right edge; at the left one once the lines' names come
    near it."""
    return t_s < turn[0] + 0.6 * (turn[1] - turn[0])


def furnish(layout: dict[str, Any], state: dict[str, Any], view: View, turn: list[float]) -> None:
    """Put bands and stage lines into a layout."""
    begun = [s["start_s"] for s in state["stages"] if s["id"] == state["stage"]]
    from_s = begun[0] if begun and begun[0] is not None else turn[0]
    live = view.channels if state["phase"] == "recording" else []
    letters = canvas.NARROW_LETTERS if view.compact else canvas.NAME_LETTERS
    at_right = names_at_right(state["t_s"], turn)
    for shapes, names in (
        canvas.stage_lines(state["stages"], turn, view.theme, letters),
        canvas.bands(live, from_s, turn, view.theme, view.measures, at_right=at_right),
    ):
        layout["shapes"] += shapes
        layout["annotations"] += names
    for name in layout["annotations"]:
        name["text"] = html.escape(name["text"])


def symbol_of(event: Any) -> str:
    """Return the shape an event is drawn with on the lines; empty for one that is not drawn."""
    if event.kind != "alarm":
        return canvas.MARKS.get(event.kind, "")
    now, before = (str(event.data.get(name, "")) for name in ("state", "was"))
    if now.startswith("active") and not before.startswith("active"):
        return CAME
    return WENT if before.startswith("active") and not now.startswith("active") else ""


def text_of(event: Any) -> str:
    """Return what an event says, in words."""
    text = event.text or event.kind.replace("_", " ")
    shape = symbol_of(event)
    if event.kind != "alarm" or shape not in (CAME, WENT):
        return str(text)
    return f"Alarm: {text}" if shape == CAME else f"No longer so: {text}"


def marks(
    events: list[Any], kept: dict[str, Kept], view: View, ranges: dict[str, list[float]]
) -> dict[str, list[Any]]:
    """Return events and alarms as points on the line they are about, else at the lane's foot."""
    drawn: dict[str, list[Any]] = {"x": [], "y": [], "text": [], "symbol": [], "color": []}
    ground = GROUNDS[view.theme]
    by_id = {c["id"]: c for c in view.channels if c["unit"] == "degC"}
    for event in [e for e in events if symbol_of(e)][-MOST_MARKS:]:
        t_s = event.t_ns / 1e9
        channel = by_id.get(event.channel or "")
        samples = kept[channel["id"]] if channel else None
        value = samples.at(t_s) if samples else None
        if value is None and samples and event.kind == "alarm":
            value = samples.before(t_s)  # it may be about the values that do not come
        foot = ranges["y"][0] + 0.04 * (ranges["y"][1] - ranges["y"][0])
        height = foot if value is None else view.measures.number(value, "degC")
        if not ranges["y"][0] <= height <= ranges["y"][1]:
            height = foot
        drawn["x"].append(canvas.x_of(t_s))
        drawn["y"].append(round(height, 3))
        drawn["text"].append(html.escape(text_of(event))[:160])
        drawn["symbol"].append(symbol_of(event))
        drawn["color"].append(ground.stop if event.kind == "alarm" else ground.accent)
    return drawn
