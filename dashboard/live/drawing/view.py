"""What one page draws of the recorder's state: which channels, which window, how large.

Pure. Used by the strip of traces and all that stands on it.
"""

from typing import Any, NamedTuple

from dashboard.live.drawing import canvas
from dashboard.measures import Measures
from dashboard.palette import Theme
from logger.model.kinds.registry import kind_named

LABEL_PX = 18.0
"""Height of an end label."""
USUAL_PX = 270.0
"""Height of the strip where the page does not tell it."""
WINDOWS_S = {"5 min": 300.0, "20 min": 1200.0, "all": 0.0}
"""Choices of the window; 0 is the whole run."""


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
    foreseen: list[str]
    """Channels that may have a forecast: those with a target in this stage."""
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
    foreseen = _foreseen(state, temps)
    return View(
        channels, scale, theme, measures, window_s, compact, height_px, foreseen, repr(parts)
    )


def _foreseen(state: dict[str, Any], temps: list[dict[str, Any]]) -> list[str]:
    told = {f["channel"] for f in state.get("view", {}).get("forecasts", [])}
    return [
        c["id"]
        for c in temps
        if c["id"] in told or c.get("low") is not None or c.get("high") is not None
    ]


def _height_px(told: Any) -> float:
    return float(told) if isinstance(told, int | float) and 60 <= told <= 4000 else USUAL_PX


def label_share(lane: str, view: View) -> float:
    """Height of an end label as a share of its lane."""
    part = canvas.LANES[lane] if view.scale else 1.0
    return LABEL_PX / (part * max(view.height_px - canvas.MARGIN_PX, 40.0))


def _scale(state: dict[str, Any], wanted: str | None) -> dict[str, Any] | None:
    scales = [c for c in state["channels"] if c["unit"] == "g"]
    for channel in scales:
        if channel["id"] == wanted:
            return dict(channel)
    name = next((s["kind"] for s in state["stages"] if s["id"] == state["stage"]), "")
    kind = kind_named(name)
    for channel in scales:
        if kind is not None and channel["role"] == kind.scale:
            return dict(channel)
    return dict(scales[0]) if scales else None
