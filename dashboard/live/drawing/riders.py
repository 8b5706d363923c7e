"""What rides at the newest sample and is replaced whole each time: names at the line ends, cones.

Pure. Gives (number of the trace, its x and y) in the order in which the strip numbers its traces.
"""

from typing import Any

import numpy as np

from dashboard.live.drawing import canvas
from dashboard.live.drawing.view import View, label_share
from dashboard.live.feed import Kept


def all_riders(
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
        _keep_apart(found, sorted(heights), ranges.get(lane), label_share(lane, view))
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
        if channel["id"] not in view.foreseen:
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
