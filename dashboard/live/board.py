"""The bath board: each piece in the bath, since when, when it is due.

Pure: state in, components out. Rows are tall enough for a wet finger.
"""

import json
from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from logger.model.kinds.registry import kind_named
from logger.model.state import BoardRow, Proposal, State
from logger.words.durations import clock

STATUS = {
    "in": ("wait", "in the bath"),
    "due": ("do", "take it out"),
    "overdue": ("stop", "too long"),
    "out": ("good", "out"),
    "unsure": ("warn", "which piece?"),
}


def draw_board(state: State | None) -> list[Any]:
    """Draw the board; an empty list but in a bath stage, or once a piece has been in."""
    if not state or state.phase != "recording":
        return []
    rows = state.view.board
    kind = kind_named(next((s.kind for s in state.stages if s.id == state.stage), ""))
    if not rows and (kind is None or not kind.has_board):
        return []
    inside = sum(1 for row in rows if row.out_s is None)
    return [
        html.Div(
            [html.H2(f"Bath board · {inside} in", id="board-title"), _by_hand(rows)],
            className="board-head",
        ),
        _table(rows) if rows else html.P("No piece yet. The scale under the bath sees them."),
    ]


def _by_hand(rows: list[BoardRow]) -> html.Button:
    """The button for a piece that the scale does not see, or where there is none."""
    piece = max((r.piece for r in rows if r.piece is not None), default=0) + 1
    return html.Button(
        [html.Span(f"Piece {piece} in"), html.Kbd("P", **{"aria-hidden": "true"})],
        type="button",
        className="key small",
        **{
            "data-do": "piece_in",
            "data-about": json.dumps({"piece": piece}),
            "data-key": "p",
            "aria-keyshortcuts": "p",
        },
    )


def _table(rows: list[BoardRow]) -> html.Table:
    unsure = sorted({r.piece for r in rows if r.piece is not None and r.status == "unsure"})
    return html.Table(
        className="board",
        children=[
            html.Caption("Pieces in the bath", className="unseen"),
            html.Thead(
                html.Tr(
                    [html.Th(t, scope="col") for t in ("Piece", "In bath", "Now")] + [html.Td("")]
                )
            ),
            html.Tbody([_row(row, unsure) for row in rows]),
        ],
    )


def row_to_confirm(rows: list[BoardRow], proposals: Sequence[Proposal] = ()) -> BoardRow | None:
    """Return the row that a person would confirm now.

    Parameters
    ----------
    rows : list of BoardRow
        The board.
    proposals : sequence of Proposal
        What is asked beside it: the first question about a piece names the row.

    Returns
    -------
    BoardRow or None
        The one asked for; else an unsure one, else the latest to change.
    """
    named = [r for r in rows if r.piece is not None]
    asked = [p.data.get("immersion") for p in proposals if p.what == "piece"]
    unsure = [row for row in named if row.status == "unsure"]
    first = [row for row in named if asked and row.immersion == asked[0]]
    return max(first or unsure or named, key=_changed_s, default=None)


def _changed_s(row: BoardRow) -> float:
    return max((t for t in (row.in_s, row.out_s) if t is not None), default=0.0)


def _row(row: BoardRow, unsure: list[int]) -> html.Tr:
    look, word = STATUS.get(row.status, ("none", row.status))
    piece = row.piece
    name = "?" if piece is None else str(piece)
    return html.Tr(
        className=f"look-{look}",
        children=[
            html.Th(name, scope="row", className="board-piece"),
            html.Td([html.Span(clock(row.dwell_s), className="board-time"), _bar(row)]),
            html.Td(
                [
                    html.Span([symbol(look), html.Span(word)], className="board-word"),
                    html.Span(row.says or _due(row), className="board-says"),
                ]
            ),
            html.Td(_button(row, name) or _which(row, unsure)),
        ],
    )


def _bar(row: BoardRow) -> html.Span | None:
    """A bar from in to past the upper limit with the allowed part marked; words say it too."""
    low_s, high_s, dwell_s = row.low_s, row.high_s, row.dwell_s
    if dwell_s is None or low_s is None:
        return None
    end_s = 1.15 * (high_s if high_s is not None else 1.6 * low_s)
    upper_s = high_s if high_s is not None else end_s
    return html.Span(
        className="board-bar",
        children=[
            html.Span(
                className="board-allowed",
                style={
                    "left": f"{100.0 * low_s / end_s:.1f}%",
                    "width": f"{100.0 * (upper_s - low_s) / end_s:.1f}%",
                },
            ),
            html.Span(
                className="board-fill",
                style={"width": f"{100.0 * min(dwell_s / end_s, 1.0):.1f}%"},
            ),
        ],
        **{"aria-hidden": "true"},
    )


def _due(row: BoardRow) -> str:
    left = row.left_s
    if row.status == "in" and left:
        return f"out in {clock(left[0])} to {clock(left[1])}"
    return ""


def _button(row: BoardRow, name: str) -> html.Button | None:
    if row.piece is None or row.out_s is not None:
        return None
    return html.Button(
        "Out",
        type="button",
        className="key small",
        **{
            "data-do": "piece_out",
            "data-about": f'{{"piece": {int(row.piece)}}}',
            "data-piece": name,
            "aria-label": f"Piece {name} is out of the bath",
        },
    )


def _which(row: BoardRow, unsure: list[int]) -> html.Div | None:
    """Buttons that say which piece came out, among those that may be mixed up."""
    if row.status != "unsure":
        return None
    return html.Div(
        [
            html.Button(
                str(piece),
                type="button",
                className="key small",
                **{
                    "data-do": "confirm_piece",
                    "data-about": json.dumps({"immersion": row.immersion, "piece": piece}),
                    "aria-label": f"It was piece {piece}",
                },
            )
            for piece in unsure
        ],
        className="board-which",
    )
