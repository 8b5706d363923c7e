"""Joins ways in to ways out: one row for each piece that was in the bath.

Not the single best story: where many are alike, each row takes what most of them say. Used by
`table`.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from logger.watch.stages.set.immersion.transitions import Given
from logger.watch.stages.set.immersion.trellis import Stories


@dataclass(slots=True)
class Row:
    """A piece, the places of its edges in and out (-1: at start; none), and of its lifts."""

    piece: int
    in_edge: int
    out_edge: int = -1
    lifts: list[int] = field(default_factory=list)


def joined_rows(stories: Stories, given: Given) -> list[Row]:
    """Ways in joined to ways out so that the sum of their chances is largest, then numbered."""
    pairs: dict[tuple[int, int], float] = {}
    dips: dict[int, float] = {}
    lifts: dict[int, float] = {}
    for (_, came, left), chance in stories.dwells.items():
        pairs[came, left] = pairs.get((came, left), 0.0) + chance
        lifts[left] = lifts.get(left, 0.0) + chance
    for (_, came), chance in stories.ins.items():
        dips[came] = dips.get(came, 0.0) + chance
    rows = _numbered(_joined(pairs, dips, lifts, stories.dipped), stories, given)
    for deed in stories.deeds:
        for row in rows:
            if deed.what == "lift" and row.in_edge == deed.in_edge >= 1:
                row.lifts.append(deed.edge)
    return rows


def _joined(
    pairs: dict[tuple[int, int], float],
    dips: dict[int, float],
    lifts: dict[int, float],
    dipped: dict[int, float],
) -> list[Row]:
    """Solve the assignment of ways in (and of pieces that lay in it at start) to ways out."""
    # Two pieces can share an edge that no reading divides.
    ways_in = [
        came
        for came, count in sorted(dips.items())
        if dipped[came] >= 0.5
        for _ in range(max(1, round(count / dipped[came])))
    ]
    ways_out = [left for left, c in sorted(lifts.items()) for _ in range(round(c) or 1)]
    # Rows: ways in, then "lay in it at start" for each way out. Columns: ways out, then "none" for
    # each row.
    count, outs = len(ways_in) + len(ways_out), len(ways_out)
    score = np.full((count, outs + count), -1e3)
    for row, came in enumerate(ways_in):
        for column, left in enumerate(ways_out):
            score[row, column] = pairs.get((came, left), -1e3)
        score[row, outs + row] = dips[came] - sum(pairs.get((came, left), 0.0) for left in lifts)
    for column, left in enumerate(ways_out):
        row = len(ways_in) + column
        score[row, column] = pairs.get((-1, left), 0.0) - max(0.0, 1.0 - lifts[left])
        score[row, outs + row] = 0.0
    rows = []
    for row, column in _assigned(score):
        out = ways_out[column] if column < outs else -1
        if row < len(ways_in):
            rows.append(Row(0, ways_in[row], out))
        elif out >= 0 and score[row, column] > 0:
            rows.append(Row(0, -1, out))
    return sorted(rows, key=lambda row: (row.in_edge, row.out_edge))


def _numbered(rows: list[Row], stories: Stories, given: Given) -> list[Row]:
    """Number the rows: registered pieces by their chances, others as they went in."""
    if not given.masses_g:
        for number, row in enumerate(rows, start=1):
            row.piece = number
        return rows
    further = sorted({piece for piece, _ in stories.ins} - set(given.masses_g))
    pieces = [*given.masses_g, *further]
    chance = np.zeros((len(rows), len(pieces)))
    for place, row in enumerate(rows):
        for column, piece in enumerate(pieces):
            chance[place, column] = _chance_of(piece, row, stories)
    for place, column in _assigned(chance):
        rows[place].piece = pieces[column]
    return [row for row in rows if row.piece != 0]


def _assigned(score: NDArray[np.float64]) -> list[tuple[int, int]]:
    rows, columns = linear_sum_assignment(score, maximize=True)
    return list(zip(rows.tolist(), columns.tolist(), strict=True))


def _chance_of(piece: int, row: Row, stories: Stories) -> float:
    if row.out_edge >= 0:
        return stories.dwells.get((piece, row.in_edge, row.out_edge), 0.0)
    left = sum(c for (p, came, _), c in stories.dwells.items() if (p, came) == (piece, row.in_edge))
    return stories.ins.get((piece, row.in_edge), 0.0) - left


def outs_of(row: Row, registered: bool, stories: Stories) -> dict[tuple[int, int], float]:
    """Chance of each (in, out) for this row's piece; without masses a piece is its way in."""
    found: dict[tuple[int, int], float] = {}
    for (piece, came, left), chance in stories.dwells.items():
        same = piece == row.piece if registered else came == row.in_edge
        if same and (row.in_edge >= 0 or registered or left == row.out_edge):
            found[came, left] = found.get((came, left), 0.0) + chance
    return found


def in_chance(row: Row, registered: bool, stories: Stories) -> float:
    """Chance that this row's piece went in with its edge."""
    return sum(
        chance
        for (piece, came), chance in stories.ins.items()
        if came == row.in_edge and (piece == row.piece or not registered)
    )
