"""The row of large buttons: the one thing to do now, what is done often, and a menu of the rest.

Pure: state in, components out. At most one button has the accent, and it answers what the sentence
above asks; while the sentence asks to wait, none has it, nor has the end of a batch ever. Each
button carries its command and its key in its attributes; ``assets/bench.js`` does the rest, and
keeps a wet finger's double tap from counting twice.
"""

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

from dash import html

from dashboard.live.board import has_board, row_to_confirm
from dashboard.live.numbers import is_on_its_way
from dashboard.live.sentence import is_beginning
from logger.model.kinds.registry import kind_named
from logger.model.state import BoardRow, State
from logger.words.acts import act_text

Key = html.Button | None

NEARLY = 0.8
"""Share of the planned time from which a stage may be over [1]."""


def draw_controls(state: State | None) -> list[Any]:
    """Draw the buttons that make sense now."""
    if state is None:
        return []
    if state.phase != "recording":
        return _before(state)
    after, last = _after(state), state.acts[-1] if state.acts else None
    asked = _asked(state)
    on_row: list[Key] = [
        asked.key,
        _key(
            "Next stage",
            "next",
            do="next",
            about={"after": state.stage} if state.stage else {},
            key="n",
            main=asked.key is None and not _waits(state, asked) and _is_done(state),
            under=after,
        )
        if after
        else _key("End batch…", "end", opens="end-dialog", key="e"),
        _key("Mark", "mark", do="mark", key="m"),
        _key("Note", "note", opens="note-dialog", key="t"),
        _key(
            "Undo",
            "undo",
            opens="undo-dialog",
            key="u",
            tells=act_text(last) if last is not None else "",
        ),
    ]
    rest: list[html.Button | html.Div | None] = [
        None if asked.is_in else _piece_in(state) if has_board(state) else None,
        _confirm(state, key="" if asked.key is not None and not asked.is_in else "c"),
        _outs(state),
        _key("End batch…", "end", opens="end-dialog", key="e") if after else None,
    ]
    return [*on_row, _more([key for key in rest if key is not None])]


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
        _key(
            "Start batch",
            "start",
            opens="start-dialog",
            key="s",
            main=bool(state.channels) and not cut_off,
        ),
    ]


class Asked(NamedTuple):
    """What the sentence asks for about a piece: its button, the rows in the bath."""

    key: Key = None
    inside: tuple[BoardRow, ...] = ()
    is_in: bool = False
    """Whether it asks for a piece to be put in."""


def _asked(state: State) -> Asked:
    """Return what is asked for about a piece; a question of its own above comes before it."""
    inside = tuple(r for r in state.view.board if r.piece is not None and _is_in(r))
    if not has_board(state) or state.view.tone not in ("do", "stop"):
        return Asked(inside=inside)
    main = not _questions(state)
    if inside:
        first = next((r for r in inside if r.status in ("overdue", "due")), inside[0])
        key = _key(
            f"Piece {first.piece} is out",
            "good",
            do="piece_out",
            key="c",
            main=main,
            under=_by_itself(state),
            about={"piece": first.piece},
        )
        return Asked(key, inside)
    return Asked(_piece_in(state, main=main), inside, is_in=True)


def _is_in(row: BoardRow) -> bool:
    return row.inside


def _questions(state: State) -> bool:
    """Whether the bench asks something above: the answer has the accent."""
    return any(not proposal.taken for proposal in state.proposals)


def _waits(state: State, asked: Asked) -> bool:
    """Whether the next stage is not what is asked for now."""
    on_its_way = any(is_on_its_way(number, state) for number in state.view.numbers)
    unhurried = state.view.tone in ("calm", "do")
    held_up = on_its_way or not unhurried or _questions(state)
    return bool(asked.inside) or held_up or is_beginning(state)


def _is_done(state: State) -> bool:
    """Whether the stage may be over: all that is judged is met, or its planned time nearly up.

    What is weighed in is met one by one: there the time alone counts.
    """
    stage = next((s for s in state.stages if s.id == state.stage), None)
    kind = kind_named(stage.kind) if stage is not None else None
    if stage is None or stage.start_s is None or not stage.planned_s:
        return True
    judged = [n for n in state.view.numbers if n.low is not None or n.high is not None]
    met = bool(judged) and all(n.verdict == "met" for n in judged)
    if met and (kind is None or not kind.weighs_in):
        return True
    return state.t_s - stage.start_s >= NEARLY * stage.planned_s


def _by_itself(state: State) -> str:
    """Say that a scale sees a piece, where one does."""
    sees = any(c.role == "bath_scale" and c.status == "live" for c in state.channels)
    return "the scale also notices by itself" if sees else ""


def _piece_in(state: State, *, main: bool = False) -> html.Button:
    """The button for a piece that the scale does not see, or where there is none."""
    piece = max((r.piece for r in state.view.board if r.piece is not None), default=0) + 1
    return _key(
        f"Piece {piece} is in",
        "do",
        do="piece_in",
        key="p",
        main=main,
        under=_by_itself(state) if main else "",
        about={"piece": piece},
    )


def _outs(state: State) -> html.Div | None:
    """Draw a button for each piece in the bath, to say that it is out."""
    pieces = [r.piece for r in state.view.board if r.piece is not None and _is_in(r)]
    if not pieces:
        return None
    return html.Div(
        [
            html.Span("Out of the bath, piece:"),
            *(
                html.Button(
                    str(piece),
                    type="button",
                    className="key",
                    **{
                        "data-do": "piece_out",
                        "data-about": json.dumps({"piece": piece}),
                        "data-piece": str(piece),
                        "aria-label": f"Piece {piece} is out of the bath",
                    },
                )
                for piece in pieces
            ),
        ],
        className="menu-outs",
    )


def _confirm(state: State, *, key: str) -> Key:
    """Draw the button that says a piece is the one the board, or the question, takes it for."""
    row = row_to_confirm(state.view.board, state.proposals)
    if row is None:
        return None
    where = "is in" if row.inside else "came out"
    return _key(
        f"Confirm: piece {row.piece} {where}",
        "confirm",
        do="confirm_piece",
        key=key,
        about={"immersion": row.immersion, "piece": row.piece},
    )


def _more(keys: list[html.Button | html.Div]) -> html.Details | None:
    """Draw the menu of what is done rarely."""
    if not keys:
        return None
    return html.Details(
        [
            html.Summary("More", className="key"),
            html.Div(keys, className="menu-rest", role="group", **{"aria-label": "More"}),
        ],
        id="more-menu",
        className="menu",
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
    tells: str = "",
    main: bool = False,
    about: Mapping[str, object] | None = None,
) -> html.Button:
    attributes = {"data-key": key, "aria-keyshortcuts": key} if key else {}
    if do is not None:
        attributes |= {"data-do": do, "data-about": json.dumps(about or {})}
    if opens is not None:
        attributes["data-opens"] = opens
    if tells:
        attributes["title"] = tells
    return html.Button(
        id=f"do-{look}",
        type="button",
        className="key main" if main else "key",
        children=[
            html.Span(
                [
                    html.Span(label),
                    html.Small(under) if under else None,
                    html.Span(f" {tells}", className="unseen") if tells else None,
                ],
                className="key-label",
            ),
            html.Kbd(key.upper(), **{"aria-hidden": "true"}) if key else None,
        ],
        **attributes,
    )
