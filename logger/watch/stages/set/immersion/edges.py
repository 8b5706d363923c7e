"""When and how fast the level went from one segment to the next.

Pure functions of the readings between two steady levels, which come from `segmentation`.
"""

from dataclasses import dataclass
from itertools import pairwise

Sample = tuple[float, float]
"""Time [s] and mass shown [g]."""

SLOWEST_RISE_S = 15.0
"""A change that would take longer than this as a whole is drift and not part of an edge [s]."""
AS_LIKELY = 4.0
"""A passage through the middle is as likely as the best one up to this multiple of its cost [1]."""
REACHED = 0.15
"""At a gap beside it an edge is through within this share of the step: else the gap may hide it,
and what was seen is a touch."""
PACE_OVER_S = 0.2
"""The pace of the level is taken over the readings of at least so long [s]."""


@dataclass(frozen=True, slots=True)
class Edge:
    """The change from one steady level to the next.

    Attributes
    ----------
    at_s : float
        When the level passed the middle between the two levels [s].
    from_s, to_s : float
        The readings on both sides of that moment [s]; far apart where a gap hides it.
    early_s, late_s : float
        First and last passage that is about as likely [s]: a hand may push while a piece is lowered
        slowly.
    rise_s : float
        Rise time, extrapolated from the middle half of the change to all of it [s].
    span_s : float
        From the last steady reading before to the first one after [s].
    in_gap : bool
        The moment itself fell into a gap: only `from_s` and `to_s` are known.
    """

    at_s: float
    from_s: float
    to_s: float
    rise_s: float
    span_s: float
    in_gap: bool
    early_s: float
    late_s: float


def edge_between(
    samples: list[Sample], before_g: float, after_g: float, *, gap_s: float, span_s: float
) -> Edge:
    """Return the edge between two levels.

    Parameters
    ----------
    samples : list of tuple
        Readings from the end of one level to the start of the next [s, g], two at least.
    before_g, after_g : float
        The two levels [g].
    gap_s : float
        Readings farther apart than this are a gap [s].
    span_s : float
        From the last steady reading before to the first one after [s].

    Notes
    -----
    Of all passages through the middle the one is taken that leaves the smallest sum of absolute
    deviations, with the readings before it compared with the first level and those after it with
    the second: a touch before or after the edge does not move it. Each deviation counts at most as
    much as the step itself.
    """
    half = (before_g + after_g) / 2
    cap = abs(after_g - before_g)
    cost_before = [min(abs(value - before_g), cap) for _, value in samples]
    cost_after = [min(abs(value - after_g), cap) for _, value in samples]
    passages, cost = [], sum(cost_after)
    for index in range(1, len(samples)):
        cost += cost_before[index - 1] - cost_after[index - 1]
        if (samples[index - 1][1] - half) * (samples[index][1] - half) <= 0:
            passages.append((cost, index))
    least, place = min(passages, default=(0.0, max(1, len(samples) - 3)))
    likely = [n for cost, n in passages if cost <= AS_LIKELY * least] or [place]
    (t0, _), (t1, _) = samples[place - 1], samples[place]
    silent_from_s, silent_to_s = _unfinished_s(samples, place, before_g, after_g, gap_s)
    return Edge(
        at_s=_passed_s(samples, place, half),
        early_s=min(silent_from_s, _passed_s(samples, likely[0], half)),
        late_s=max(silent_to_s, _passed_s(samples, likely[-1], half)),
        from_s=t0,
        to_s=t1,
        rise_s=_rise_s(samples, before_g, after_g),
        span_s=span_s,
        in_gap=t1 - t0 > gap_s,
    )


def _unfinished_s(
    samples: list[Sample], place: int, before_g: float, after_g: float, gap_s: float
) -> tuple[float, float]:
    """Return from when to when gaps beside a passage may hide it, as the edge was not through [s].

    Parameters
    ----------
    samples : list of tuple
        Readings [s, g].
    place : int
        The reading right after the passage [1].
    before_g, after_g : float
        The two levels [g].
    gap_s : float
        Readings farther apart than this are a gap [s].
    """
    early_s, late_s = samples[place - 1][0], samples[place][0]
    from_s, to_s, reach_g = early_s, late_s, REACHED * abs(after_g - before_g)
    for (t0, x0), (t1, x1) in pairwise(samples):
        if t1 - t0 <= gap_s:
            continue
        if t1 <= early_s and abs(x1 - before_g) > reach_g:
            from_s = min(from_s, t0)
        if t0 >= late_s and abs(x0 - after_g) > reach_g:
            to_s = max(to_s, t1)
    return (from_s if from_s < early_s else late_s), (to_s if to_s > late_s else early_s)


def _passed_s(samples: list[Sample], place: int, level_g: float) -> float:
    """Return when the readings passed a level [g] just before one of them [s]."""
    (t0, x0), (t1, x1) = samples[place - 1], samples[place]
    share = 0.5 if x1 == x0 else min(1.0, max(0.0, (level_g - x0) / (x1 - x0)))
    return t0 + share * (t1 - t0)


def _rise_s(samples: list[Sample], before_g: float, after_g: float) -> float:
    """Return twice the time that the level took through the middle half of an edge [s].

    Only while it moves counts: a hand may hold it half way for a while.
    """
    step_g = after_g - before_g
    low, high = sorted((before_g + 0.25 * step_g, before_g + 0.75 * step_g))
    spent_s, start = 0.0, 0
    for index in range(1, len(samples)):
        (t0, x0), (t1, x1) = samples[index - 1], samples[index]
        inside = min(high, max(x0, x1)) - max(low, min(x0, x1))
        if inside <= 0 or (x1 - x0) * step_g <= 0:
            continue
        while start < index - 1 and samples[start + 1][0] <= t0 - PACE_OVER_S:
            start += 1
        reach_s = t1 - samples[start][0]
        if (x1 - samples[start][1]) / step_g * SLOWEST_RISE_S > reach_s:
            spent_s += (t1 - t0) * inside / abs(x1 - x0)
    return 2.0 * spent_s
