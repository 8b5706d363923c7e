"""Assigns dips to exits and rows to piece numbers, so that their probabilities add up to the most.

Data association on the posterior of `trellis`: two linear assignments. Not the best path itself:
where many paths are alike, each row takes what most of them say. Used by `table`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from logger.watch.stages.set.immersion.states import AT_START, SideInformation
from logger.watch.stages.set.immersion.trellis import Posterior

NEVER = -1e3
"""Score of a pair that cannot be [1]."""
LIKELY_DIP = 0.5
"""Probability from which on an edge counts as a dip."""
STILL_IN = -1
"""Stands for the out edge of a piece that has not come out."""


@dataclass(slots=True)
class Row:
    """One piece in the bath.

    Attributes
    ----------
    piece : int
        Its number.
    in_edge, out_edge : int
        Edges with which it went in and came out; `AT_START`, `STILL_IN` where there is none.
    lift_edges : list of int
        Edges at which it was dipped again after a lift.
    """

    piece: int
    in_edge: int
    out_edge: int = STILL_IN
    lift_edges: list[int] = field(default_factory=list)


def assigned_rows(posterior: Posterior, given: SideInformation) -> list[Row]:
    """Return a row for each piece: dips assigned to exits, then rows to piece numbers."""
    pairs: dict[tuple[int, int], float] = {}
    exits: dict[int, float] = {}
    dips: dict[int, float] = {}
    for (_, in_edge, out_edge), probability in posterior.immersions.items():
        pairs[in_edge, out_edge] = pairs.get((in_edge, out_edge), 0.0) + probability
        exits[out_edge] = exits.get(out_edge, 0.0) + probability
    for (_, in_edge), probability in posterior.dips.items():
        dips[in_edge] = dips.get(in_edge, 0.0) + probability
    rows = _numbered(_paired(pairs, dips, exits, posterior.dip_edges), posterior, given)
    for event in posterior.path:
        for row in rows:
            if event.kind == "lift" and row.in_edge == event.in_edge >= 1:
                row.lift_edges.append(event.edge)
    return rows


def out_probabilities(
    row: Row, posterior: Posterior, *, registered: bool
) -> dict[tuple[int, int], float]:
    """Return the probability of each (in edge, out edge) of a row's piece.

    Parameters
    ----------
    row : Row
        Without registered masses a piece is known by the edge with which it went in.
    posterior : Posterior
        Over all paths.
    registered : bool
        Whether masses are registered.
    """
    found: dict[tuple[int, int], float] = {}
    for (piece, in_edge, out_edge), probability in posterior.immersions.items():
        same = piece == row.piece if registered else in_edge == row.in_edge
        if same and (row.in_edge >= 0 or registered or out_edge == row.out_edge):
            found[in_edge, out_edge] = found.get((in_edge, out_edge), 0.0) + probability
    return found


def in_probability(
    row: Row, rows: Sequence[Row], posterior: Posterior, *, registered: bool
) -> float:
    """Return the probability that a row's piece went in with its edge.

    Parameters
    ----------
    row : Row
        Without registered masses any piece counts.
    rows : sequence of Row
        All of them; those that went in with the same edge share it.
    posterior : Posterior
        Over all paths.
    registered : bool
        Whether masses are registered.

    Notes
    -----
    Of pieces alike the rows say how many went in with an edge. The expected number less the
    probability of any is that of a second one, and so on for more.
    """
    if registered:
        return posterior.dips.get((row.piece, row.in_edge), 0.0)
    dips = [p for (_, edge), p in posterior.dips.items() if edge == row.in_edge]
    count = sum(other.in_edge == row.in_edge for other in rows)
    any_of, expected = posterior.dip_edges.get(row.in_edge, 0.0), sum(dips)
    so_many = expected - (count - 1) * any_of if count > 1 else 2.0 * any_of - expected
    return min(any_of, max(0.0, so_many))


def _paired(
    pairs: Mapping[tuple[int, int], float],
    dips: Mapping[int, float],
    exits: Mapping[int, float],
    dip_edges: Mapping[int, float],
) -> list[Row]:
    """Solve the assignment of dips, and of pieces that were in at the start, to exits."""
    # Two pieces can share an edge that no reading divides.
    in_edges = [
        edge
        for edge, count in sorted(dips.items())
        if dip_edges[edge] >= LIKELY_DIP
        for _ in range(max(1, round(count / dip_edges[edge])))
    ]
    out_edges = [edge for edge, count in sorted(exits.items()) for _ in range(round(count) or 1)]
    # Rows: dips, then "in at the start" for each exit. Columns: exits, then "still in" for each
    # row.
    count, outs = len(in_edges) + len(out_edges), len(out_edges)
    score = np.full((count, outs + count), NEVER)
    for row, in_edge in enumerate(in_edges):
        for column, out_edge in enumerate(out_edges):
            score[row, column] = pairs.get((in_edge, out_edge), NEVER)
        left = sum(pairs.get((in_edge, out_edge), 0.0) for out_edge in exits)
        still_in = dips[in_edge] - left
        score[row, outs + row] = still_in
        if row and in_edges[row - 1] == in_edge:  # of several at one edge not each is still in
            before = in_edges[:row].count(in_edge)
            score[row, outs + row] = max(0.0, still_in - before)
    for column, out_edge in enumerate(out_edges):
        row = len(in_edges) + column
        unexplained = max(0.0, 1.0 - exits[out_edge])
        score[row, column] = pairs.get((AT_START, out_edge), 0.0) - unexplained
        score[row, outs + row] = 0.0
    rows = []
    for row, column in _best_assignment(score):
        out_edge = out_edges[column] if column < outs else STILL_IN
        if row < len(in_edges):
            rows.append(Row(0, in_edges[row], out_edge))
        elif out_edge >= 0 and score[row, column] > 0:
            rows.append(Row(0, AT_START, out_edge))
    return sorted(rows, key=lambda row: (row.in_edge, row.out_edge))


def _numbered(rows: list[Row], posterior: Posterior, given: SideInformation) -> list[Row]:
    """Number the rows: registered pieces by their probability, others as they went in."""
    if not given.masses_g:
        if given.pieces is not None and len(rows) > given.pieces:
            dips = posterior.dip_edges
            likeliest = sorted(rows, key=lambda row: -dips.get(row.in_edge, 0.0))
            rows = [row for row in rows if row in likeliest[: given.pieces]]
        for number, row in enumerate(rows, start=1):
            row.piece = number
        return rows
    pieces = list(given.masses_g)
    score = np.zeros((len(rows), len(pieces)))
    for index, row in enumerate(rows):
        for column, piece in enumerate(pieces):
            score[index, column] = _probability_of(piece, row, posterior)
    for index, column in _best_assignment(score):
        rows[index].piece = pieces[column]
    return [row for row in rows if row.piece != 0]


def _best_assignment(score: NDArray[np.float64]) -> list[tuple[int, int]]:
    # Here, because it takes a tenth of a second that every command would pay at its start.
    from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(score, maximize=True)
    return list(zip(rows.tolist(), columns.tolist(), strict=True))


def _probability_of(piece: int, row: Row, posterior: Posterior) -> float:
    """Return the probability that a row is a piece's."""
    if row.out_edge >= 0:
        return posterior.immersions.get((piece, row.in_edge, row.out_edge), 0.0)
    came = (piece, row.in_edge)
    left = sum(p for (n, edge, _), p in posterior.immersions.items() if (n, edge) == came)
    return posterior.dips.get(came, 0.0) - left
