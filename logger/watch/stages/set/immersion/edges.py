"""When and how fast the level went from one plateau to the next.

Pure functions of the readings between two plateaus; used by `plateaus`.
"""

from dataclasses import dataclass

Sample = tuple[float, float]

SLOWEST_RISE_S = 15.0  # what takes longer is no edge but a drift


@dataclass(frozen=True, slots=True)
class Edge:
    """The way between two plateaus; see `plateaus.Plateau` for the fields."""

    at_s: float
    from_s: float
    to_s: float
    rise_s: float
    span_s: float
    hidden: bool


def edge_of(
    samples: list[Sample], before_g: float, after_g: float, *, gap_s: float, span_s: float
) -> Edge:
    """Moment at which the level went from one plateau to the next.

    Of all passages through the middle the one is taken that leaves the least of the readings on the
    wrong side, so that a touch before or after it does not move it.
    """
    half = (before_g + after_g) / 2
    cap = abs(after_g - before_g)
    wrong_before = [min(abs(value - before_g), cap) for _, value in samples]
    wrong_after = [min(abs(value - after_g), cap) for _, value in samples]
    best, place, cost = float("inf"), 1, sum(wrong_after)
    for index in range(1, len(samples)):
        cost += wrong_before[index - 1] - wrong_after[index - 1]
        crosses = (samples[index - 1][1] - half) * (samples[index][1] - half) <= 0
        if crosses and cost < best:
            best, place = cost, index
    if best == float("inf"):
        place = max(1, len(samples) - 3)
    (t0, x0), (t1, x1) = samples[place - 1], samples[place]
    share = 0.5 if x1 == x0 else min(1.0, max(0.0, (half - x0) / (x1 - x0)))
    return Edge(
        at_s=t0 + share * (t1 - t0),
        from_s=t0,
        to_s=t1,
        rise_s=_rise_s(samples, before_g, after_g),
        span_s=span_s,
        hidden=t1 - t0 > gap_s,
    )


def _rise_s(samples: list[Sample], before_g: float, after_g: float) -> float:
    """Time the level took through the middle half of an edge, for the whole of it [s].

    Only while it moves counts: a hand may hold it half way for a while.
    """
    step = after_g - before_g
    low, high = sorted((before_g + 0.25 * step, before_g + 0.75 * step))
    spent, start = 0.0, 0
    for index in range(1, len(samples)):
        (t0, x0), (t1, x1) = samples[index - 1], samples[index]
        inside = min(high, max(x0, x1)) - max(low, min(x0, x1))
        if inside <= 0 or (x1 - x0) * step <= 0:
            continue
        while start < index - 1 and samples[start + 1][0] <= t0 - 0.2:
            start += 1
        reach_s = t1 - samples[start][0]
        if (x1 - samples[start][1]) / step * SLOWEST_RISE_S > reach_s:
            spent += (t1 - t0) * inside / abs(x1 - x0)
    return 2.0 * spent
