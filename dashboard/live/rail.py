"""The stages as tickets on a rail: planned length, actual length, which one is under way.

Pure: state in, components out. A ticket is as wide as its stage is planned to be long, within
limits; the one under way fills up, and goes over when it takes longer.
"""

from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import clock


def draw_rail(state: dict[str, Any] | None) -> list[Any]:
    """Draw the tickets; a line of text when there is no sheet."""
    stages = state["stages"] if state else []
    if state is None or not stages:
        return [html.Li("The stages of the sheet hang here once a batch is started.")]
    return [_ticket(stage, state) for stage in stages]


def _ticket(stage: dict[str, Any], state: dict[str, Any]) -> html.Li:
    status = status_of(stage, state)
    planned_s = stage.get("planned_s")
    grow = min(max((planned_s or 300.0) / 300.0, 1.0), 4.0)
    spent_s = _spent_s(stage, state)
    share = min(spent_s / planned_s, 1.0) if spent_s is not None and planned_s else 0.0
    return html.Li(
        className=f"ticket is-{status}",
        style={"flexGrow": f"{grow:.1f}"},
        children=[
            html.Span(
                [symbol({"done": "good", "now": "do", "over": "wait"}.get(status, "none")),
                 html.Span(stage.get("title") or stage["id"])],
                className="ticket-name",
            ),
            html.Span(_times(status, spent_s, planned_s), className="ticket-time"),
            html.Span(className="ticket-fill", style={"width": f"{100.0 * share:.0f}%"}),
        ],
        **({"aria-current": "step"} if status in ("now", "over") else {}),
    )  # fmt: skip


def status_of(stage: dict[str, Any], state: dict[str, Any]) -> str:
    """Return ``ahead``, ``now``, ``over`` (under way, longer than planned), ``done``."""
    if stage.get("end_s") is not None:
        return "done"
    if stage.get("start_s") is None:
        return "ahead"
    if state["phase"] != "recording":
        return "done"
    planned_s = stage.get("planned_s")
    over = planned_s is not None and state["t_s"] - stage["start_s"] > planned_s
    return "over" if over else "now"


def _spent_s(stage: dict[str, Any], state: dict[str, Any]) -> float | None:
    if stage.get("start_s") is None:
        return None
    end_s = stage["end_s"] if stage.get("end_s") is not None else state["t_s"]
    return float(end_s - stage["start_s"])


def _times(status: str, spent_s: float | None, planned_s: float | None) -> str:
    plan = f" of {clock(planned_s)}" if planned_s else ""
    if status == "ahead":
        return f"{clock(planned_s)} planned" if planned_s else "to come"
    if status == "done":
        return f"took {clock(spent_s)}{plan}"
    over = " · over" if status == "over" else ""
    return f"{clock(spent_s)}{plan}{over}"
