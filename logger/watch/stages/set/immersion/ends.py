"""When a piece went in or came out: a moment, or an interval where a gap or a touch hides it.

Pure functions of the segments and the assigned rows; used by `table`.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from logger.watch.stages.set.immersion.assignment import Row
from logger.watch.stages.set.immersion.segmentation import Segment
from logger.watch.stages.set.immersion.states import edge_change_g

NEAR_S, MISTAKEN_S = 6.0, 0.5
"""A touch so near an edge may be mistaken for it, where it matters by more than [s]."""
TOUCH_S = 3.0
"""A level beside a gap that lasts no longer may be a touch [s]."""
ALIKE_G, ALIKE_SHARE = 4.0, 0.08
"""By how much a touch and a piece may differ then, in grams or as a share of the piece."""


class End(NamedTuple):
    """When a piece went in or came out at an edge.

    Attributes
    ----------
    at_s : float or None
        The moment [s]; None where a gap hides it.
    between_s : tuple or None
        Its interval then [s].
    alone : bool
        No other piece went in or out at this edge.
    """

    at_s: float | None
    between_s: tuple[float, float] | None
    alone: bool


def ends_of(rows: Sequence[Row], segments: Sequence[Segment]) -> dict[int, End]:
    """Return the moment of each edge at which pieces went in or out.

    Of several pieces at an edge that hides something only the time between the levels is known; so
    it is where a touch as large as the piece came before or after it.
    """
    acts = Counter(edge for row in rows for edge in (row.in_edge, row.out_edge) if edge >= 1)
    found = {}
    for edge, count in acts.items():
        after = segments[edge]
        if count > 1 and after.hides:
            found[edge] = End(None, (segments[edge - 1].end_s, after.start_s), alone=False)
        elif after.in_gap:
            found[edge] = End(None, (after.edge_from_s, after.edge_to_s), alone=True)
        else:
            times_s = [after.edge_s, *_mistakable_s(segments, edge, acts)]
            times_s += _beside_gap_s(segments, edge, acts)
            if max(times_s) - min(times_s) > MISTAKEN_S:
                found[edge] = End(None, (min(times_s), max(times_s)), alone=count == 1)
            else:
                found[edge] = End(after.edge_s, None, alone=count == 1)
    return found


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
        if at_s - swing.to_s <= NEAR_S and abs(swing.by_g - step_g) <= alike_g
    ]
    found += [
        swing.to_s
        for swing in segments[edge].swings
        if swing.from_s - at_s <= NEAR_S and abs(swing.by_g + step_g) <= alike_g
    ]
    for other, back in ((edge - 2, edge - 1), (edge + 2, edge + 1)):
        if not 1 <= other < len(segments) or other in acts or back in acts:
            continue
        near = abs(segments[other].edge_s - at_s) <= NEAR_S
        same = abs(edge_change_g(segments, other) - step_g) <= alike_g
        if near and same and abs(edge_change_g(segments, back) + step_g) <= alike_g:
            found.append(segments[other].edge_s)
    return found


def dwell_between_s(came: End | None, left: End | None) -> tuple[float, float] | None:
    """Return the interval of a dwell of which a gap hides an end [s]."""
    if came is None or left is None or (came.between_s is None and left.between_s is None):
        return None
    in_from_s, in_to_s = _span(came)
    out_from_s, out_to_s = _span(left)
    return max(0.0, out_from_s - in_to_s), out_to_s - in_from_s


def _span(end: End) -> tuple[float, float]:
    if end.between_s is not None:
        return end.between_s
    at_s = end.at_s or 0.0
    return at_s, at_s
