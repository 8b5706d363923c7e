"""The pieces in the bath: a line each, how long it has been in, when it is due.

Pure: state in, components out. The bar runs past the upper limit; the allowed part is tinted, an
upright stroke stands where the piece is due. Words say the same.
"""

import json
from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from logger.model.kinds.registry import kind_named
from logger.model.state import BoardRow, Proposal, State
from logger.words.durations import clock, clock_or_between
from logger.words.verdicts import verdict_text

STATUS = {
    "in": ("wait", "in the bath"),
    "due": ("do", "take it out now"),
    "overdue": ("stop", "too long: take it out"),
    "out": ("good", "out"),
    "unsure": ("warn", "which piece?"),
}
DWELLS = {"not met": "stop", "undecided": "warn", "not measured": "none"}
"""Look of a piece that is out by the verdict on its dwell, where that isn't as good as met."""
MANY = 9
"""From so many rows on, pieces that came out as they should stand in one line, the others in two
columns."""


def has_board(state: State) -> bool:
    """Whether pieces go in and out in the stage under way."""
    kind = kind_named(next((s.kind for s in state.stages if s.id == state.stage), ""))
    return kind is not None and kind.has_board


def draw_board(state: State | None) -> list[Any]:
    """Draw the pieces; an empty list but in a bath stage, or once a piece has been in."""
    if not state or state.phase != "recording":
        return []
    rows = state.view.board
    if not rows and not has_board(state):
        return []
    inside = sum(1 for row in rows if row.inside)
    title = html.H2(f"Pieces: {inside} in the bath", id="board-title", className="unseen")
    if not rows:
        return [title, html.P("No piece is in yet.", className="board-none")]
    folded = [row for row in rows if len(rows) >= MANY and _status(row) == STATUS["out"]]
    unsure = sorted({r.piece for r in rows if r.piece is not None and r.status == "unsure"})
    shown = [row for row in rows if row not in folded]
    return [
        title,
        html.Ul(
            [_row(row, unsure) for row in shown],
            className="board in-two" if len(shown) >= MANY else "board",
        ),
        html.P(_out(folded), className="board-out") if folded else None,
    ]


def _out(rows: list[BoardRow]) -> str:
    return "Out: " + ", ".join(f"{_name(row)} after {_dwell(row)}" for row in rows)


def _dwell(row: BoardRow) -> str:
    return clock_or_between(row.dwell_s, row.dwell_between_s)


def _status(row: BoardRow) -> tuple[str, str]:
    """Return look and word of a row; of a piece that is out, its dwell counts, too."""
    if row.status == "out" and row.verdict in DWELLS:
        return DWELLS[row.verdict], f"out, {verdict_text(row.verdict)}"
    return STATUS.get(row.status, ("none", row.status))


def _name(row: BoardRow) -> str:
    return "?" if row.piece is None else str(row.piece)


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


def _row(row: BoardRow, unsure: list[int]) -> html.Li:
    look, word = _status(row)
    plain = row.status != "unsure" and row.out_between_s is None
    says = html.Span(row.says, className="unseen" if plain else "board-says")
    return html.Li(
        className=f"board-row look-{look}",
        title=row.says or None,
        children=[
            html.Span(_name(row), className="board-piece"),
            _bar(row),
            html.Span(_dwell(row), className="board-time"),
            html.Span(
                [symbol(look) if look in ("stop", "warn", "good") else None, *_due(row, word)],
                className="board-word",
            ),
            says if row.says else None,
            _which(row, unsure),
        ],
    )


def _due(row: BoardRow, word: str) -> list[Any]:
    """Say when a piece is due; of one that is out, or due, the word of its status."""
    if row.status != "in":
        return [html.Span(word)]
    if row.due_in_s is not None:
        return [html.Span(["out in ", html.B(clock(max(row.due_in_s, 0.0)))])]
    if row.left_s is not None:
        return [html.Span(f"out in {clock(row.left_s[0])} to {clock(row.left_s[1])}")]
    return [html.Span(word)]


def _bar(row: BoardRow) -> html.Span:
    """A bar from in to past the upper limit with the allowed part marked; words say it too."""
    low_s, high_s, dwell_s = row.low_s, row.high_s, row.dwell_s
    if dwell_s is None or low_s is None:
        return html.Span(className="board-bar is-bare", **{"aria-hidden": "true"})
    end_s = 1.1 * (high_s if high_s is not None else 1.6 * low_s)
    upper_s = high_s if high_s is not None else end_s
    due_s = dwell_s + row.due_in_s if row.due_in_s is not None else None

    def part(name: str, from_s: float, to_s: float) -> html.Span:
        at, wide = 100.0 * from_s / end_s, 100.0 * (min(to_s, end_s) - from_s) / end_s
        return html.Span(
            className=name, style={"left": f"{at:.1f}%", "width": f"{max(wide, 0.0):.1f}%"}
        )

    return html.Span(
        className="board-bar",
        children=[
            part("board-allowed", low_s, upper_s),
            part("board-fill", 0.0, dwell_s),
            html.Span(className="board-due", style={"left": f"{100.0 * due_s / end_s:.1f}%"})
            if due_s is not None and due_s <= end_s
            else None,
        ],
        **{"aria-hidden": "true"},
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
