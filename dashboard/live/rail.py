"""The stages as tickets on a rail, and a ruler over them: what was planned above what happened.

Pure: state in, components out. A ticket is as wide as its stage is planned to be long, within
limits; the one under way fills up, and goes over when it takes longer. Both lines of the ruler have
the same scale of time, so that what slipped is seen.
"""

import json
from typing import Any

from dash import html

from dashboard.live.acts import ends_of, moving
from dashboard.live.sentence import symbol
from logger.model.history import ActRow
from logger.model.rows import StageRow
from logger.model.state import State
from logger.words.acts import end_name
from logger.words.durations import clock


def draw_rail(state: State | None) -> list[Any]:
    """Draw the tickets; a line of text when there is no sheet."""
    stages = state.stages if state else []
    if state is None or not stages:
        return [html.Li("The stages of the sheet hang here once a batch is started.")]
    return [_ticket(stage, state) for stage in stages]


def _ticket(stage: StageRow, state: State) -> html.Li:
    status = status_of(stage, state)
    planned_s = stage.planned_s
    grow = min(max((planned_s or 300.0) / 300.0, 1.0), 4.0)
    spent_s = _spent_s(stage, state)
    share = min(spent_s / planned_s, 1.0) if spent_s is not None and planned_s else 0.0
    inside = [
        html.Span(
            [
                symbol({"done": "good", "now": "do", "over": "wait"}.get(status, "none")),
                html.Span(stage.title or stage.id),
            ],
            className="ticket-name",
        ),
        html.Span(_times(status, spent_s, planned_s), className="ticket-time"),
        html.Span(className="ticket-fill", style={"width": f"{100.0 * share:.0f}%"}),
    ]
    ends = ends_of(stage, state.acts) if state.phase == "recording" else []
    return html.Li(
        className=f"ticket is-{status}",
        style={"flexGrow": f"{grow:.1f}"},
        children=[_mover(inside, stage, ends)] if ends else inside,
        **({"aria-current": "step"} if status in ("now", "over") else {}),
    )


def _mover(inside: list[Any], stage: StageRow, ends: list[ActRow]) -> html.Button:
    """A ticket as a button: when its stage began and ended can be moved."""
    moves = [moving(act) for act in ends]
    for act, move in zip(ends, moves, strict=True):
        if act.stage != stage.id:
            move["what"] = end_name(stage.title or stage.id)
    return html.Button(
        inside,
        type="button",
        className="ticket-hit",
        title="Move the start or the end",
        **{"data-moves": json.dumps(moves)},
    )


def draw_ruler(state: State | None) -> list[Any]:
    """Draw the whole batch as planned above the batch so far; empty without planned times."""
    stages = state.stages if state else []
    if state is None or state.phase == "idle" or not any(s.planned_s for s in stages):
        return []
    planned, at_s = [], 0.0
    for stage in stages:
        planned.append((at_s, at_s + (stage.planned_s or 0.0)))
        at_s = planned[-1][1]
    actual = [
        (stage.start_s, stage.start_s + (_spent_s(stage, state) or 0.0))
        for stage in stages
        if stage.start_s is not None
    ]
    end_s = max(at_s, state.t_s, 1.0)
    under_way = state.stage if state.phase == "recording" else None
    return [
        html.Div(
            [_bars(planned, end_s, "planned"), _bars(actual, end_s, "actual")],
            className="ruler-bars",
            **{"aria-hidden": "true"},
        ),
        html.P(_against_plan(stages, planned, under_way, state.t_s), className="ruler-says"),
    ]


def _bars(spans: list[tuple[float, float]], end_s: float, look: str) -> html.Div:
    return html.Div(
        [
            html.Span(
                style={
                    "left": f"{100.0 * low_s / end_s:.2f}%",
                    "width": f"{100.0 * max(high_s - low_s, 0.0) / end_s:.2f}%",
                }
            )
            for low_s, high_s in spans
        ],
        className=f"ruler-bar is-{look}",
    )


def _against_plan(
    stages: list[StageRow],
    planned: list[tuple[float, float]],
    under_way: str | None,
    t_s: float,
) -> str:
    """Say how far the batch is and how much later or earlier than planned its stage began."""
    said = f"{clock(t_s)} of {clock(planned[-1][1])} planned"
    for stage, (low_s, _) in zip(stages, planned, strict=True):
        if stage.id == under_way and stage.start_s is not None:
            late_s = stage.start_s - low_s
            if abs(late_s) >= 15.0:
                word = "later" if late_s > 0 else "earlier"
                said += f" · this stage began {clock(abs(late_s))} {word}"
    return said


def status_of(stage: StageRow, state: State) -> str:
    """Return ``ahead``, ``now``, ``over`` (under way, longer than planned), ``done``."""
    if stage.end_s is not None:
        return "done"
    if stage.start_s is None:
        return "ahead"
    if state.phase != "recording":
        return "done"
    planned_s = stage.planned_s
    over = planned_s is not None and state.t_s - stage.start_s > planned_s
    return "over" if over else "now"


def _spent_s(stage: StageRow, state: State) -> float | None:
    if stage.start_s is None:
        return None
    end_s = stage.end_s if stage.end_s is not None else state.t_s
    return float(end_s - stage.start_s)


def _times(status: str, spent_s: float | None, planned_s: float | None) -> str:
    plan = f" of {clock(planned_s)}" if planned_s else ""
    if status == "ahead":
        return f"{clock(planned_s)} planned" if planned_s else "to come"
    if status == "done":
        return f"took {clock(spent_s)}{plan}"
    over = " · over" if status == "over" else ""
    return f"{clock(spent_s)}{plan}{over}"
