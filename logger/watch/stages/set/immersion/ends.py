"""When a piece went in or came out: a moment, or an interval where a gap or a touch hides it.

And which other dwells its row may have. Pure functions of the segments, the assigned rows and their
probabilities; used by `table`.
"""

import math
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import NamedTuple

from logger.watch.stages.set.immersion.assignment import Row
from logger.watch.stages.set.immersion.likelihood import SHORTEST_DWELL_S
from logger.watch.stages.set.immersion.stairs import (
    LEAST_MOVE_G,
    goes_back,
    half_way,
    one_may_be_a_touch,
    rests,
)
from logger.watch.stages.set.immersion.states import edge_change_g
from logger.watch.stages.set.segment import Segment

NEAR_S, MISTAKEN_S = 6.0, 0.5
"""A touch so near an edge may be mistaken for it, where it matters by more than [s]."""
APART_S = 2.0
"""Two edges that may be the same act have one interval where they are farther apart [s]."""
TWO_ACTS_S = 3.0
"""Two acts within an edge that takes longer have the whole edge as their interval [s]."""
TOUCH_S = 3.0
"""A level beside a gap that lasts no longer may be a touch [s]."""
ALIKE_G, ALIKE_SHARE = 4.0, 0.08
"""By how much a touch and a piece may differ then, in grams or as a share of the piece."""
PART_G, PART_SHARE = 8.0, 0.12
"""So much of a rise, in grams or as a share of it, is a part that another moment may explain."""
BACK_SHARE = 0.75
"""A brief swing was seen to go at least so far of the way that it went: it was over at once."""

DRAG_G = 1.5
"""What leaves with a piece [g]."""
ODD_G, ODD_SHARE = 8.0, 0.12
"""By how much more or less may come out than went in, in grams or as a share of it."""


class End(NamedTuple):
    """When a piece went in or came out at an edge.

    Attributes
    ----------
    at_s : float or None
        The moment [s]; None where a gap hides it.
    between_s : tuple or None
        Its interval then [s].
    change_g : float or None
        By how much the level changed, all moves of one piece together [g]; None where another
        piece went in or out, too.
    """

    at_s: float | None
    between_s: tuple[float, float] | None
    change_g: float | None

    @property
    def span_s(self) -> tuple[float, float]:
        """Earliest and latest moment [s]."""
        if self.between_s is not None:
            return self.between_s
        at_s = self.at_s or 0.0
        return at_s, at_s


def ends_of(
    rows: Sequence[Row], segments: Sequence[Segment], others: Collection[int]
) -> dict[int, End]:
    """Return the moment of each edge at which pieces went in or out.

    Parameters
    ----------
    rows : sequence of Row
        All pieces.
    segments : sequence of Segment
        All so far.
    others : collection of int
        Edges at which something else changed for good [1].

    Notes
    -----
    Of several pieces at an edge that hides something only the time between the levels is known; so
    it is where a touch as large as the piece came before or after it, and where a brief change
    beside it may be a part of the piece.
    """
    acts = Counter(edge for row in rows for edge in (row.in_edge, row.out_edge) if edge >= 1)
    return {edge: _end(segments, edge, acts, others) for edge in acts}


def _end(
    segments: Sequence[Segment], edge: int, acts: Mapping[int, int], others: Collection[int]
) -> End:
    after = segments[edge]
    alone = acts[edge] == 1 and not (after.hides and edge in others)
    span_s = segments[edge - 1].end_s, after.start_s
    if not alone and (after.hides or span_s[1] - span_s[0] > TWO_ACTS_S):
        return End(None, span_s, None)
    if after.in_gap:
        change_g = edge_change_g(segments, edge) if alone else None
        return End(None, (after.edge_from_s, after.edge_to_s), change_g)
    first, last = _moves(segments, edge, acts)
    _, at_s = half_way(segments, first, last)
    change_g = segments[last].start_g - segments[first - 1].end_g
    times_s = [at_s, *_mistakable_s(segments, edge, acts)]
    times_s += _beside_gap_s(segments, edge, acts)
    times_s += _up_and_down_s(segments, edge, acts)
    if first == last:
        at_s = after.edge_s
        times_s += [at_s, after.early_s, after.late_s]
    else:
        times_s += [after.edge_s]  # a touch may pass for a move
    if one_may_be_a_touch(segments, first, last):
        times_s += [segments[first].early_s, segments[last].late_s]
    if max(times_s) - min(times_s) > MISTAKEN_S:
        return End(None, (min(times_s), max(times_s)), change_g if alone else None)
    return End(at_s, None, change_g if alone else None)


def _moves(segments: Sequence[Segment], edge: int, acts: Mapping[int, int]) -> tuple[int, int]:
    """Return the first and last edge of the moves of one piece, as far as nothing else is there."""
    up = edge_change_g(segments, edge) > 0.0

    def move(other: int) -> bool:
        step_g = edge_change_g(segments, other)
        far = abs(step_g) < LEAST_MOVE_G or (step_g > 0.0) != up
        far |= goes_back(segments, other)
        far |= other + 1 < len(segments) and goes_back(segments, other + 1)
        return not (far or other in acts or segments[other].hides or segments[other].tared)

    first = last = edge
    while first > 1 and rests(segments[first - 1]) and move(first - 1):
        first -= 1
    while last + 1 < len(segments) and rests(segments[last]) and move(last + 1):
        last += 1
    return first, last


def _beside_gap_s(segments: Sequence[Segment], edge: int, acts: Mapping[int, int]) -> list[float]:
    """Return the far side of a gap in which more happened, with only a brief level between [s].

    That level may be a touch whose other end the gap hides.
    """
    found = []
    if edge + 1 in acts and segments[edge + 1].hides and _brief(segments[edge]):
        found.append(segments[edge + 1].start_s)
    if edge - 1 in acts and segments[edge - 1].hides and _brief(segments[edge - 1]):
        found.append(segments[edge - 2].end_s)
    return found


def _up_and_down_s(segments: Sequence[Segment], edge: int, acts: Mapping[int, int]) -> list[float]:
    """Return the later moments at which a piece may have gone in while a hand was there [s].

    The level rose, soon fell by a part of that and rose by a part again: the first rise may have
    been the hand alone, which left as the piece came.
    """
    step_g = edge_change_g(segments, edge)
    if step_g <= 0.0 or edge + 2 >= len(segments):
        return []
    least_g = max(PART_G, PART_SHARE * step_g)
    later = segments[edge : edge + 3]
    apart = any(n in acts or segments[n].hides or segments[n].tared for n in (edge + 1, edge + 2))
    if apart or not (_brief(later[0]) and _brief(later[1])):
        return []
    fell_g, rose_g = edge_change_g(segments, edge + 1), edge_change_g(segments, edge + 2)
    if fell_g > -least_g or rose_g < least_g or fell_g + step_g < least_g:
        return []
    return [segments[edge + 1].edge_s, segments[edge + 2].edge_s]


def _brief(segment: Segment) -> bool:
    return segment.end_s - segment.start_s <= TOUCH_S


def _mistakable_s(segments: Sequence[Segment], edge: int, acts: Mapping[int, int]) -> list[float]:
    """Return when else the change at an edge may have happened [s].

    A touch by as much as the piece, just before it or just after: the piece may have come with the
    touch's other end.
    """
    step_g, at_s = edge_change_g(segments, edge), segments[edge].edge_s
    alike_g = max(ALIKE_G, ALIKE_SHARE * abs(step_g))
    found = [
        swing.from_s
        for swing in segments[edge - 1].swings
        if at_s - swing.to_s <= NEAR_S
        and BACK_SHARE * abs(step_g) <= swing.by_g * math.copysign(1.0, step_g)
        and abs(swing.by_g) <= abs(step_g) + alike_g
    ]
    found += [
        swing.to_s
        for swing in segments[edge].swings
        if swing.from_s - at_s <= NEAR_S
        and BACK_SHARE * abs(step_g) <= -swing.by_g * math.copysign(1.0, step_g)
        and abs(swing.by_g) <= abs(step_g) + alike_g
    ]
    for other, back in ((edge - 2, edge - 1), (edge + 2, edge + 1)):
        if not 1 <= other < len(segments) or other in acts or back in acts:
            continue
        near = abs(segments[other].edge_s - at_s) <= NEAR_S
        same = abs(edge_change_g(segments, other) - step_g) <= alike_g
        if near and same and abs(edge_change_g(segments, back) + step_g) <= alike_g:
            found.append(segments[other].edge_s)
    return found


def widened(end: End, edges: Sequence[int], segments: Sequence[Segment]) -> End:
    """Return an end with the moments near it of other edges that are as plausible.

    Parameters
    ----------
    end : End
        As of the first edge.
    edges : sequence of int
        Its edge, and those of other readings of its row [1].
    segments : sequence of Segment
        All so far.
    """
    at_s = segments[edges[0]].edge_s
    times_s = [segments[edge].edge_s for edge in edges[1:] if edge >= 1]
    near_s = [t_s for t_s in times_s if APART_S < abs(t_s - at_s) <= NEAR_S]
    if not near_s:
        return end
    low_s, high_s = end.span_s
    return End(None, (min(low_s, *near_s), max(high_s, *near_s)), end.change_g)


def odd_masses(came: End | None, left: End | None) -> bool:
    """Return whether what went in and what came out cannot be one piece by mass."""
    if came is None or left is None or came.change_g is None or left.change_g is None:
        return False
    return not _alike(came.change_g, left.change_g)


def _alike(in_g: float | None, out_g: float | None) -> bool:
    """Return whether two changes of level [g] are about those of one piece in and out."""
    if in_g is None or out_g is None:
        return False
    return abs(in_g + out_g + DRAG_G) <= max(ODD_G, ODD_SHARE * abs(in_g))


def as_heavy(
    row: Row, segments: Sequence[Segment], ends: Mapping[int, End], others: Collection[int]
) -> list[tuple[int, int]]:
    """Return other edges in and out of a row, where a change that no piece explains weighs as much.

    Parameters
    ----------
    row : Row
        That came out.
    segments : sequence of Segment
        All so far.
    ends : mapping
        Moments of the edges at which pieces went in or out.
    others : collection of int
        Edges at which something else changed for good [1].
    """
    came, left = ends.get(row.in_edge), ends.get(row.out_edge)
    if came is None or left is None:
        return []
    found = []
    for edge in others:
        change_g, at_s = edge_change_g(segments, edge), segments[edge].edge_s
        sooner = change_g > 0.0 and at_s <= left.span_s[0] - SHORTEST_DWELL_S
        if sooner and _alike(change_g, left.change_g):
            found.append((edge, row.out_edge))
        later = change_g < 0.0 and at_s >= came.span_s[1] + SHORTEST_DWELL_S
        if later and _alike(came.change_g, change_g):
            found.append((row.in_edge, edge))
    return found


def dwell_between_s(came: End | None, left: End | None) -> tuple[float, float] | None:
    """Return the interval of a dwell of which a gap hides an end [s]."""
    if came is None or left is None or (came.between_s is None and left.between_s is None):
        return None
    return _dwell_span_s(came.span_s, left.span_s)


def may_last_s(
    segments: Sequence[Segment],
    ends: Mapping[int, End],
    pairs: Iterable[tuple[int, int]],
    *,
    ends_known: bool,
) -> tuple[float, float]:
    """Return the shortest and the longest dwell of several readings of a row [s].

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    ends : mapping
        Moments of the edges at which pieces went in or out.
    pairs : iterable of tuple
        Edges in and out of each reading; one at least.
    ends_known : bool
        No other reading is plausible: it went in, and came out.
    """
    spans_s = []
    for edges in pairs:
        came_s, left_s = (_span_s(segments, ends, edge) for edge in edges)
        spans_s.append(_dwell_span_s(came_s, left_s))
    if not ends_known:
        return 0.0, math.inf
    return min(low for low, _ in spans_s), max(high for _, high in spans_s)


def _span_s(segments: Sequence[Segment], ends: Mapping[int, End], edge: int) -> tuple[float, float]:
    if edge < 1:
        return -math.inf, segments[0].start_s
    if edge in ends:
        return ends[edge].span_s
    after = segments[edge]
    if after.hides:
        return segments[edge - 1].end_s, after.start_s
    return after.early_s, after.late_s


def _dwell_span_s(came_s: tuple[float, float], left_s: tuple[float, float]) -> tuple[float, float]:
    return max(0.0, left_s[0] - came_s[1]), left_s[1] - came_s[0]
