"""The bath board: each piece in the bath, since when, when it is due.

Pure: state in, components out. Rows are tall enough for a wet finger.
"""

from typing import Any

from dash import html

from dashboard.live.sentence import symbol
from dashboard.measures import clock

STATUS = {
    "in": ("wait", "in the bath"),
    "due": ("do", "take it out"),
    "overdue": ("stop", "too long"),
    "out": ("good", "out"),
    "unsure": ("warn", "which piece?"),
}


def draw_board(state: dict[str, Any] | None) -> list[Any]:
    """Draw the board; an empty list when no piece has been in the bath in this stage."""
    rows = state["view"]["board"] if state and state["phase"] == "recording" else []
    if not rows:
        return []
    inside = sum(1 for row in rows if row.get("out_s") is None)
    return [
        html.H2(f"Bath board · {inside} in", id="board-title"),
        html.Table(
            className="board",
            children=[
                html.Caption("Pieces in the bath", className="unseen"),
                html.Thead(
                    html.Tr([html.Th(t, scope="col") for t in ("Piece", "In bath", "Now", "")])
                ),
                html.Tbody([_row(row) for row in rows]),
            ],
        ),
    ]


def _row(row: dict[str, Any]) -> html.Tr:
    look, word = STATUS.get(str(row.get("status")), ("none", str(row.get("status", ""))))
    piece = row.get("piece")
    name = "?" if piece is None else str(piece)
    return html.Tr(
        className=f"look-{look}",
        children=[
            html.Th(name, scope="row", className="board-piece"),
            html.Td([html.Span(clock(row.get("dwell_s")), className="board-time"), _bar(row)]),
            html.Td(
                [
                    html.Span([symbol(look), html.Span(word)], className="board-word"),
                    html.Span(row.get("says") or _due(row), className="board-says"),
                ]
            ),
            html.Td(_button(row, name)),
        ],
    )


def _bar(row: dict[str, Any]) -> html.Span | None:
    """A bar from in to past the upper limit with the allowed part marked; words say it too."""
    low_s, high_s, dwell_s = row.get("low_s"), row.get("high_s"), row.get("dwell_s")
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


def _due(row: dict[str, Any]) -> str:
    left = row.get("left_s")
    if row.get("status") == "in" and left:
        return f"out in {clock(left[0])} to {clock(left[1])}"
    return ""


def _button(row: dict[str, Any], name: str) -> html.Button | None:
    if row.get("piece") is None or row.get("out_s") is not None:
        return None
    return html.Button(
        "Out",
        type="button",
        className="key small",
        **{
            "data-do": "piece_out",
            "data-about": f'{{"piece": {int(row["piece"])}}}',
            "data-piece": name,
            "aria-label": f"Piece {name} is out of the bath",
        },
    )
