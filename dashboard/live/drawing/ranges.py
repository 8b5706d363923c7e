"""From where to where each lane of the strip reaches.

Pure. Channels with a target in this stage have the room; an old range stays while it fits, so that
the lines do not jump.
"""

from typing import Any

import numpy as np

from dashboard.live.drawing import canvas
from dashboard.live.drawing.view import View
from dashboard.live.feed import Kept


def lane_ranges(
    state: dict[str, Any],
    view: View,
    kept: dict[str, Kept],
    turn: list[float],
    old: dict[str, list[float]] | None = None,
) -> dict[str, list[float]]:
    """Return the range of each lane; an old one stays while it fits."""
    made: dict[str, list[float]] = {}
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
            made[lane] = before
        else:
            unit = next(c["unit"] for c in view.channels if canvas.lane(c) == lane)
            span = view.measures.number(least, unit) - view.measures.number(0.0, unit)
            made[lane] = list(canvas.nice_range(low, high, span))
    made.setdefault("y", [0.0, 100.0])
    return made


def wanted(view: View, lane: str) -> list[dict[str, Any]]:
    """Return the channels that a lane makes room for: those with a target, else all of it."""
    there = [c for c in view.channels if canvas.lane(c) == lane]
    with_target = [c for c in there if c.get("low") is not None or c.get("high") is not None]
    return with_target or there
