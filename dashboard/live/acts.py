"""What was done in a run, to be taken back or moved: a list, and the dialog that asks for a time.

Pure: rows in, components out. Used by the page at the bench and by the page of one run.
``assets/asking.js`` does the rest.
"""

import json
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from logger.model.event import LAST_ACTS, MOVABLE
from logger.model.history import ActRow
from logger.model.rows import StageRow
from logger.words.acts import act_name, act_text, before_text, undo_text

MOST_EARLIER = 30
"""Acts before the last ones that are listed, to be moved."""
STEPS = ((-60, "−1 min"), (-10, "−10 s"), (10, "+10 s"), (60, "+1 min"))
_SAME_S = 1e-6


def draw_acts(acts: list[ActRow], run: str = "") -> list[Any]:
    """Draw the acts that stand, the last first; those that can be taken back have a button.

    Parameters
    ----------
    acts : list of ActRow
        In the order they were done.
    run : str
        A finished run; empty for the one under way.
    """
    last, before = acts[-LAST_ACTS:], acts[:-LAST_ACTS]
    earlier = [act for act in before if _can_move(act)][-MOST_EARLIER:]
    if not last:
        return [html.P("Nothing to take back yet.", className="hint")]
    return [
        html.Ul(
            [_row(act, run, can_undo=True, is_last=act is last[-1]) for act in reversed(last)],
            className="acts",
        ),
        html.H3("Earlier") if earlier else None,
        html.Ul([_row(act, run) for act in reversed(earlier)], className="acts")
        if earlier
        else None,
    ]


def _row(act: ActRow, run: str, *, can_undo: bool = False, is_last: bool = False) -> html.Li:
    before = before_text(act)
    was = html.Small(before) if before else None
    says = [was] if is_last else [html.Span(act_text(act)), was]
    back = html.Button(
        [symbol("undo"), html.Span(undo_text(act) if is_last else "Take back")],
        type="button",
        id="undo-last" if is_last else f"undo-{act.event}",
        className="key small main" if is_last else "key small",
        **{
            "data-do": "undo",
            "data-about": json.dumps(_about(act, run)),
            "data-closes": "1",
            "aria-label": undo_text(act),
        },
    )
    return html.Li(
        [
            html.P(says) if any(says) else None,
            html.Div([back if can_undo else None, _move_button(act, run)], className="answers"),
        ],
        className="act is-last" if is_last else "act",
    )


def _about(act: ActRow, run: str) -> dict[str, object]:
    return {"event": act.event, "run": run} if run else {"event": act.event}


def _move_button(act: ActRow, run: str) -> html.Button | None:
    if not _can_move(act) or not act.event:
        return None
    return html.Button(
        "Move",
        type="button",
        className="key small",
        **{"data-moves": json.dumps([moving(act, run)]), "aria-label": f"Move: {act_text(act)}"},
    )


def _can_move(act: ActRow) -> bool:
    return act.kind in MOVABLE or bool(act.stage)


def moving(act: ActRow, run: str = "") -> dict[str, object]:
    """Return what the dialog must know of an act that is to be moved.

    Parameters
    ----------
    act : ActRow
        The act.
    run : str
        A finished run; empty for the one under way.
    """
    return {**_about(act, run), "t_s": act.t_s, "what": act_name(act)}


def ends_of(stage: StageRow, acts: list[ActRow]) -> list[ActRow]:
    """Return the acts that began and ended a stage, as far as somebody did."""
    began = [a for a in acts if a.stage == stage.id and _at(a, stage.start_s)]
    ended = [a for a in acts if (a.stage or a.ends) and _at(a, stage.end_s)]
    return [*began[:1], *ended[:1]]


def _at(act: ActRow, t_s: float | None) -> bool:
    return t_s is not None and abs(act.t_s - t_s) < _SAME_S and act.event > 0


def draw_undo_dialog() -> html.Dialog:
    """Draw the dialog that lists what can be taken back; it is filled when it opens."""
    return html.Dialog(
        id="undo-dialog",
        className="dialog tall",
        children=[
            html.H2("Take back or move", id="undo-dialog-title"),
            html.Div(id="undo-list", className="dialog-rest"),
            html.Div(
                [html.Button("Close", type="button", className="key", **{"data-closes": "1"})],
                className="answers",
            ),
        ],
        **{"aria-labelledby": "undo-dialog-title"},
    )


def draw_refused() -> html.P:
    """Draw the place of a dialog that says why what it asked for was not done."""
    return html.P(className="refused", role="alert")


def draw_move_dialog() -> html.Dialog:
    """Draw the dialog that asks when something was done; its field is made in the browser."""
    return html.Dialog(
        id="move-dialog",
        className="dialog",
        children=[
            html.H2("Move", id="move-dialog-title"),
            html.Div(id="move-which", className="chips", role="group", **{"aria-label": "Which"}),
            html.Div(id="move-field"),
            html.Div(
                [
                    html.Button(
                        name, type="button", className="key small", **{"data-step": str(step_s)}
                    )
                    for step_s, name in STEPS
                ],
                className="steps-row",
            ),
            html.P(id="move-says", className="hint", role="status"),
            draw_refused(),
            html.Div(
                [
                    html.Button("Cancel", type="button", className="key", **{"data-closes": "1"}),
                    html.Button("Move it", type="button", className="key main go", id="move-go"),
                ],
                className="answers",
            ),
        ],
        **{"aria-labelledby": "move-dialog-title"},
    )
