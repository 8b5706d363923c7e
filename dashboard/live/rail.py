"""The stages as one strip: as wide as each is planned to be long, filled as far as the batch is.

Pure: state in, components out. The stage under way has its whole name and its clock; the others a
short name where there is room for it, the whole one for a screen reader and on hover. The line of
the batch says how far it is by the plan.
"""

import json
from typing import Any

from dash import html

from dashboard.live.acts import ends_of, moving
from dashboard.live.sentence import symbol
from logger.model.history import ActRow
from logger.model.kinds.registry import kind_named
from logger.model.rows import StageRow
from logger.model.state import State
from logger.words.acts import end_name
from logger.words.durations import clock

USUAL_S = 300.0
"""Width of a stage without a planned time, as of one that is planned to take so long [s]."""
ON_TIME_S = 15.0
"""A stage that began so near its planned time is on time [s]."""


def draw_rail(state: State | None) -> list[Any]:
    """Draw the strip; a line of text when nothing is recorded, or the sheet has no stages."""
    if state is None or state.phase == "idle":
        says = "No recorder answers" if state is None else "No batch is running"
        return [html.Li(says, className="rail-empty")]
    if not state.stages:
        return [html.Li("This batch has no stages", className="rail-empty")]
    return [_ticket(stage, state) for stage in state.stages]


def _ticket(stage: StageRow, state: State) -> html.Li:
    status = status_of(stage, state)
    spent_s, planned_s = _spent_s(stage, state), stage.planned_s
    share = min(spent_s / planned_s, 1.0) if spent_s is not None and planned_s else 0.0
    title, times = stage.title or stage.id, _times(status, spent_s, planned_s)
    under_way = status in ("now", "over")
    inside = [
        html.Span(
            html.Span([symbol("good") if status == "done" else None, html.Span(short_name(stage))]),
            className="ticket-short",
            **{"aria-hidden": "true"},
        ),
        html.Span(title, className="ticket-name"),
        html.Span(times, className="ticket-time"),
        html.Span(className="ticket-fill", style={"width": f"{100.0 * share:.0f}%"})
        if under_way
        else None,
    ]
    ends = ends_of(stage, state.acts) if state.phase == "recording" else []
    return html.Li(
        className=f"ticket is-{status}",
        style={"flexGrow": f"{(planned_s or USUAL_S) / 60.0:.1f}"},
        title=f"{title}: {times}",
        children=[_mover(inside, stage, ends)] if ends else inside,
        **({"aria-current": "step"} if under_way else {}),
    )


def short_name(stage: StageRow) -> str:
    """Return what a stage is called where there is no room for its title."""
    kind = kind_named(stage.kind)
    return stage.id if kind is None else kind.word


def _mover(inside: list[Any], stage: StageRow, ends: list[ActRow]) -> html.Button:
    """A stage as a button: when it began and ended can be moved."""
    moves = [moving(act) for act in ends]
    for act, move in zip(ends, moves, strict=True):
        if act.stage != stage.id:
            move["what"] = end_name(stage.title or stage.id)
    return html.Button(
        inside, type="button", className="ticket-hit", **{"data-moves": json.dumps(moves)}
    )


def draw_batch(state: State | None) -> list[Any]:
    """Draw how far the batch is and how it keeps to its plan; empty without planned times."""
    stages = state.stages if state else []
    if state is None or state.phase == "idle" or not any(s.planned_s for s in stages):
        return []
    begins_s, at_s = {}, 0.0
    for stage in stages:
        begins_s[stage.id] = at_s
        at_s += stage.planned_s or 0.0
    late_s = next(
        (
            _late_s(s, begins_s[s.id], s.start_s, state.t_s)
            for s in stages
            if s.id == state.stage and s.start_s is not None and state.phase == "recording"
        ),
        None,
    )
    return [
        html.Span(f"Batch {clock(state.t_s)} of {clock(at_s)}"),
        html.Small(_kept(late_s) if late_s is not None else "planned"),
    ]


def _late_s(stage: StageRow, planned_start_s: float, start_s: float, now_s: float) -> float:
    """Return how late the batch is [s]: as its stage began, later once that is over its time."""
    late_s = start_s - planned_start_s
    if not stage.planned_s:
        return late_s
    return max(late_s, now_s - planned_start_s - stage.planned_s)


def _kept(late_s: float) -> str:
    """Say how much later or earlier [s] than planned the batch is."""
    if abs(late_s) < ON_TIME_S:
        return "on time"
    return f"{clock(abs(late_s))} {'behind' if late_s > 0 else 'ahead of'} plan"


def status_of(stage: StageRow, state: State) -> str:
    """Return ``ahead``, ``now``, ``over`` (under way, longer than planned), ``done``."""
    if stage.end_s is not None:
        return "done"
    if stage.start_s is None:
        return "ahead"
    if state.phase != "recording":
        return "done"
    planned_s = stage.planned_s
    spent_s = state.t_s - stage.start_s - stage.paused_s
    over = planned_s is not None and spent_s > planned_s
    return "over" if over else "now"


def _spent_s(stage: StageRow, state: State) -> float | None:
    if stage.start_s is None:
        return None
    end_s = stage.end_s if stage.end_s is not None else state.t_s
    return float(end_s - stage.start_s - stage.paused_s)


def _times(status: str, spent_s: float | None, planned_s: float | None) -> str:
    plan = f" of {clock(planned_s)}" if planned_s else ""
    if status == "ahead":
        return f"{clock(planned_s)} planned" if planned_s else "to come"
    if status == "done":
        return f"took {clock(spent_s)}{plan}"
    over = " · over" if status == "over" else ""
    return f"{clock(spent_s)}{plan}{over}"
