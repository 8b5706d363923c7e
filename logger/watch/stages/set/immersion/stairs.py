"""A piece that is lowered or lifted in several moves: one edge where the levels make a staircase.

Pure functions of segments; used by `detector` between `segmentation` and the model. A hand that
rests half way makes brief levels; they are joined where together they weigh one piece and none of
the parts does.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace
from statistics import median

from logger.watch.stages.set.immersion.segmentation import Segment
from logger.watch.stages.set.immersion.states import edge_change_g

HELD_S = 3.5
"""A hand rests no longer than this half way [s]."""
MOST_MOVES = 8
LEAST_MOVE_G = 2.0
"""A smaller change is no move [g]."""
OFF_G, HUNG_SHARE, DRAG_G = 3.0, 0.93, 3.0
"""How far a step may be from a registered mass [g], what a hung piece weighs of it, and what leaves
with one [g]."""
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
    return found


def _usual_step_g(segments: Sequence[Segment]) -> float | None:
    """Return the median size of the steps between lasting levels [g]."""
    steps_g = [
        abs(edge_change_g(segments, edge))
        for edge in range(1, len(segments))
        if not _brief(segments[edge]) and not _brief(segments[edge - 1])
    ]
    pieces_g = [g for g in steps_g if LIGHTEST_G <= g <= HEAVIEST_G]
    return median(pieces_g) if len(pieces_g) >= FEWEST else None


def _brief(segment: Segment) -> bool:
    return segment.end_s - segment.start_s <= HELD_S


def _last_of_stairs(
    segments: Sequence[Segment], first: int, masses_g: Collection[float], usual_g: float | None
) -> int:
    """Return the last edge of the staircase that begins with an edge, or that edge itself."""
    first_g = edge_change_g(segments, first)
    sign = 1.0 if first_g > 0 else -1.0
    total_g, best = 0.0, first
    for edge in range(first, min(len(segments), first + MOST_MOVES)):
        move_g = edge_change_g(segments, edge) * sign
        if (
            move_g < LEAST_MOVE_G
            or segments[edge].tared
            or _one_piece(move_g, sign, masses_g, usual_g)
        ):
            break
        total_g += move_g
        if edge > first and _one_piece(total_g, sign, masses_g, usual_g):
            best = edge
        if not _brief(segments[edge]):
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
    before_g, after_g = segments[first - 1].end_g, segments[last].start_g
    half_g = (before_g + after_g) / 2.0
    passing = next(
        edge
        for edge in range(first, last + 1)
        if edge == last or (segments[edge].end_g - half_g) * (after_g - half_g) >= 0.0
    )
    edge = segments[passing]
    from_g, to_g = segments[passing - 1].end_g, edge.start_g
    later_s = 0.0
    if not edge.in_gap and to_g != from_g:
        share = (half_g - (from_g + to_g) / 2.0) / (to_g - from_g)
        later_s = min(0.5, max(-0.5, share)) * edge.rise_s
    return replace(
        segments[last],
        edge_s=edge.edge_s + later_s,
        edge_from_s=edge.edge_from_s + later_s,
        edge_to_s=edge.edge_to_s + later_s,
        rise_s=sum(s.rise_s for s in segments[first : last + 1] if not s.in_gap),
        span_s=segments[last].start_s - segments[first - 1].end_s,
        in_gap=edge.in_gap,
        silent_s=max(s.silent_s for s in segments[first : last + 1]),
    )
