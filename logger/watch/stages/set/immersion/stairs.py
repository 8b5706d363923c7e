"""A piece that is lowered or lifted in several moves: one edge where the levels make a staircase.

Pure functions of segments; used by `detector` between `segmentation` and the model. A hand that
rests half way makes brief levels; they are joined where together they weigh one piece and none of
the parts does. A part of a piece just before a gap, or just after it, belongs to what the gap
hides.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace
from statistics import median

from logger.watch.stages.set.immersion.states import edge_change_g
from logger.watch.stages.set.segment import Segment

HELD_S = 3.5
"""A hand rests no longer than this half way [s]."""
GLIMPSE_S = 1.0
"""A level beside a gap that was seen for less than this may be any part of a piece [s]."""
SMALL_SHARE = 0.2
"""One of two moves that is less than this share of both does not move their middle."""
MOST_MOVES = 8
LEAST_MOVE_G = 2.0
"""A smaller change is no move [g]."""
OFF_G, HUNG_SHARE, DRAG_G = 3.0, 0.93, 3.0
"""How far a step may be from a registered mass [g], what a hung piece weighs of it, and what leaves
with one [g]."""
BACK_SHARE = 0.1
"""A touch ends within this share of where it began."""
ALIKE = (0.6, 1.6)
"""A step that is one piece, as a share of the usual step where no mass is registered."""
FEWEST = 3
"""Lasting steps from which on there is a usual one."""
LIGHTEST_G, HEAVIEST_G = 15.0, 300.0
"""What one piece may weigh where nothing is known [g]."""


def joined(segments: Sequence[Segment], masses_g: Collection[float]) -> list[Segment]:
    """Return the segments with each staircase that one piece makes as one edge.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    masses_g : collection of float
        Registered masses [g]; empty when none is known.
    """
    usual_g = _usual_step_g(segments)
    found = list(segments[:1])
    place = 1
    while place < len(segments):
        last = _last_of_stairs(segments, place, masses_g, usual_g)
        found.append(segments[place] if last == place else _joined(segments, place, last))
        place = last + 1
    return _with_parts_in_gaps(found, masses_g, usual_g)


def rests(segment: Segment) -> bool:
    """Return whether a level lasts no longer than a hand rests half way."""
    return segment.end_s - segment.start_s <= HELD_S


def goes_back(segments: Sequence[Segment], edge: int) -> bool:
    """Return whether an edge goes back to where the brief one before it left: a touch ends."""
    if edge < 2 or not rests(segments[edge - 1]):
        return False
    back_g, there_g = edge_change_g(segments, edge), edge_change_g(segments, edge - 1)
    return abs(back_g + there_g) <= max(OFF_G, BACK_SHARE * abs(back_g))


def one_may_be_a_touch(segments: Sequence[Segment], first: int, last: int) -> bool:
    """Return whether two edges may be a touch and a piece that came or went as it ended or began.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    first, last : int
        The edges, one to the other [1].

    Notes
    -----
    With a small one of two the moment is that of the other, whatever it was.
    """
    if last != first + 1:
        return False
    less_g, more_g = sorted(abs(edge_change_g(segments, edge)) for edge in (first, last))
    return less_g >= SMALL_SHARE * (less_g + more_g)


def half_way(segments: Sequence[Segment], first: int, last: int) -> tuple[int, float]:
    """Return at which edge several edges passed half of their whole change, and when [s].

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    first, last : int
        The edges, one to the other [1].
    """
    before_g, after_g = segments[first - 1].end_g, segments[last].start_g
    half_g = (before_g + after_g) / 2.0
    passing = next(
        edge
        for edge in range(first, last + 1)
        if edge == last or (segments[edge].end_g - half_g) * (after_g - half_g) >= 0.0
    )
    edge = segments[passing]
    from_g, to_g = segments[passing - 1].end_g, edge.start_g
    if edge.in_gap or to_g == from_g:
        return passing, edge.edge_s
    share = (half_g - (from_g + to_g) / 2.0) / (to_g - from_g)
    return passing, edge.edge_s + min(0.5, max(-0.5, share)) * edge.rise_s


def _with_parts_in_gaps(
    segments: Sequence[Segment], masses_g: Collection[float], usual_g: float | None
) -> list[Segment]:
    """Return the segments with the brief parts of pieces beside a gap joined to it."""

    def part(edge: int, level: Segment) -> bool:
        step_g = edge_change_g(segments, edge)
        if segments[edge].tared or segments[edge].hides or abs(step_g) < LEAST_MOVE_G:
            return False
        if not rests(level) or level.end_s - level.start_s < GLIMPSE_S:
            return rests(level)
        if not masses_g and usual_g is None:
            return abs(step_g) < LIGHTEST_G
        return not _one_piece(abs(step_g), 1.0 if step_g > 0 else -1.0, masses_g, usual_g)

    found = list(segments[:1])
    place = after_last = 1
    while place < len(segments):
        if not segments[place].hides or segments[place].tared:
            found.append(segments[place])
            place += 1
            continue
        first = last = place
        while first > after_last and part(first - 1, segments[first - 1]):
            first -= 1
        while last + 1 < len(segments) and part(last + 1, segments[last]):
            last += 1
        del found[len(found) - (place - first) :]
        found.append(segments[place] if first == last else _hidden(segments, first, last))
        place = after_last = last + 1
    return found


def _hidden(segments: Sequence[Segment], first: int, last: int) -> Segment:
    """Return the segment after a gap and what is beside it, with one edge that hides all of it."""
    from_s, to_s = segments[first - 1].end_s, segments[last].start_s
    middle_s = (from_s + to_s) / 2.0
    return replace(
        segments[last],
        edge_s=middle_s,
        edge_from_s=from_s,
        edge_to_s=to_s,
        early_s=middle_s,
        late_s=middle_s,
        rise_s=0.0,
        span_s=to_s - from_s,
        in_gap=True,
        silent_s=max(s.silent_s for s in segments[first : last + 1]),
    )


def _usual_step_g(segments: Sequence[Segment]) -> float | None:
    """Return the median size of the steps between lasting levels [g]."""
    steps_g = [
        abs(edge_change_g(segments, edge))
        for edge in range(1, len(segments))
        if not rests(segments[edge]) and not rests(segments[edge - 1])
    ]
    pieces_g = [g for g in steps_g if LIGHTEST_G <= g <= HEAVIEST_G]
    return median(pieces_g) if len(pieces_g) >= FEWEST else None


def _last_of_stairs(
    segments: Sequence[Segment], first: int, masses_g: Collection[float], usual_g: float | None
) -> int:
    """Return the last edge of the staircase that begins with an edge, or that edge itself."""
    first_g = edge_change_g(segments, first)
    sign = 1.0 if first_g > 0 else -1.0
    best = first
    if goes_back(segments, first):
        return first
    for edge in range(first, min(len(segments), first + MOST_MOVES)):
        move_g = edge_change_g(segments, edge) * sign
        if (
            move_g < LEAST_MOVE_G
            or segments[edge].tared
            or _one_piece(move_g, sign, masses_g, usual_g)
        ):
            break
        total_g = (segments[edge].start_g - segments[first - 1].end_g) * sign
        if edge > first and _one_piece(total_g, sign, masses_g, usual_g):
            best = edge
        if not rests(segments[edge]):
            break
    return best


def _one_piece(
    step_g: float, sign: float, masses_g: Collection[float], usual_g: float | None
) -> bool:
    """Return whether a step may be one piece on its way in (sign 1) or out (-1)."""
    if masses_g:
        more_g = OFF_G if sign > 0 else OFF_G + DRAG_G
        return any(HUNG_SHARE * m - OFF_G <= step_g <= m + more_g for m in masses_g)
    if usual_g is not None:
        return ALIKE[0] * usual_g <= step_g <= ALIKE[1] * usual_g
    return False


def _joined(segments: Sequence[Segment], first: int, last: int) -> Segment:
    """Return the segment after a staircase, with one edge at the middle of the whole change."""
    passing, at_s = half_way(segments, first, last)
    edge = segments[passing]
    later_s = at_s - edge.edge_s
    early_s, late_s = edge.early_s + later_s, edge.late_s + later_s
    if one_may_be_a_touch(segments, first, last):
        came, went = segments[first], segments[last]
        early_s = came.edge_from_s if came.in_gap else came.early_s
        late_s = went.edge_to_s if went.in_gap else went.late_s
    return replace(
        segments[last],
        edge_s=at_s,
        edge_from_s=edge.edge_from_s + later_s,
        edge_to_s=edge.edge_to_s + later_s,
        early_s=early_s,
        late_s=late_s,
        rise_s=sum(s.rise_s for s in segments[first : last + 1] if not s.in_gap),
        span_s=segments[last].start_s - segments[first - 1].end_s,
        in_gap=edge.in_gap,
        silent_s=max(s.silent_s for s in segments[first : last + 1]),
    )
