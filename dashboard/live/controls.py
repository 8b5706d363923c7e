"""The row of large buttons.

Pure: state in, components out. Each button carries its command and its key in its attributes;
``assets/bench.js`` does the rest, and keeps a wet finger's double tap from counting twice.
"""

import json
from collections.abc import Mapping
from typing import Any

from dash import html

from dashboard.live.board import row_to_confirm
from dashboard.live.sentence import symbol
from logger.model.state import State
from logger.words.acts import act_text


def draw_controls(state: State | None) -> list[Any]:
    """Draw the buttons that make sense now."""
    if state is None:
        return []
    if state.phase != "recording":
        return _before(state)
    after = _after(state)
    last = state.acts[-1] if state.acts else None
    return [
        _key("Next stage", "next", do="next", key="n", main=True, under=after) if after else None,
        _confirm(state),
        _key("Mark", "mark", do="mark", key="m"),
        _key("Note", "note", opens="note-dialog", key="t"),
        _key(
            "Undo",
            "undo",
            opens="undo-dialog",
            key="u",
            under=act_text(last) if last is not None else "",
        ),
        _key("End batch", "end", opens="end-dialog", key="e"),
    ]


def _before(state: State) -> list[Any]:
    """Draw the buttons while nothing is recorded: a batch that was cut off comes first."""
    left = state.go_on
    cut_off = left is not None and left.interrupted
    return [
        _key(
            "Go on",
            "next",
            do="go_on",
            key="g",
            main=cut_off,
            under=f"with the batch of {left.at}",
            about={"run": left.run},
        )
        if left is not None
        else None,
        _key("Start batch", "start", opens="start-dialog", key="s", main=not cut_off),
    ]


def _confirm(state: State) -> html.Button | None:
    """Draw the button that says a piece is the one the board, or the question, takes it for."""
    row = row_to_confirm(state.view.board, state.proposals)
    if row is None:
        return None
    where = "is in" if row.out_s is None else "came out"
    return _key(
        "Confirm piece",
        "good",
        do="confirm_piece",
        key="c",
        under=f"{row.piece} {where}",
        about={"immersion": row.immersion, "piece": row.piece},
    )


def _after(state: State) -> str:
    """Return the name of the stage that comes next; empty in the last one."""
    ids = [stage.id for stage in state.stages]
    place = ids.index(state.stage) + 1 if state.stage in ids else 0
    if place >= len(ids):
        return ""
    return state.stages[place].title or ids[place]


def _key(
    label: str,
    look: str,
    *,
    do: str | None = None,
    opens: str | None = None,
    key: str = "",
    under: str = "",
    main: bool = False,
    about: Mapping[str, object] | None = None,
) -> html.Button:
    attributes = {"data-key": key, "aria-keyshortcuts": key}
    if do is not None:
        attributes |= {"data-do": do, "data-about": json.dumps(about or {})}
    if opens is not None:
        attributes["data-opens"] = opens
    return html.Button(
        id=f"do-{look}",
        type="button",
        className="key main" if main else "key",
        children=[
            symbol(look),
            html.Span(
                [html.Span(label), html.Small(under) if under else None], className="key-label"
            ),
            html.Kbd(key.upper(), **{"aria-hidden": "true"}),
        ],
        **attributes,
    )
