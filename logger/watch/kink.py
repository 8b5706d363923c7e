"""Where a level begins to rise: the kink of a robust broken line.

Pure; used by logger.watch.pour. Readings that lie far off the line (a touch) hardly count.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

BEFORE_S = 16.0
EARLIER_S, LATER_S = 8.0, 3.0
GRID_S = 0.1
_ROUNDS = 3


def kink_s(
    t_s: Sequence[float], y: Sequence[float], near_s: float, until_s: float, noise: float
) -> float:
    """Time at which a level turns into a rise.

    Parameters
    ----------
    t_s, y : sequence of float
        Times [s], ascending, and values.
    near_s : float
        About where [s].
    until_s : float
        How far the rise is straight [s].
    noise : float
        Standard deviation of the values, above 0.

    Returns
    -------
    float
        Time of the kink [s]; ``near_s`` where there are too few readings about it.
    """
    times, values = np.asarray(t_s, dtype=np.float64), np.asarray(y, dtype=np.float64)
    used = (times >= near_s - BEFORE_S) & (times <= max(until_s, near_s + 1.0))
    times, values = times[used], values[used]
    if times.size < 8:
        return near_s
    grid = np.arange(near_s - EARLIER_S, min(near_s + LATER_S, until_s), GRID_S)
    fits = [_broken_line(times, values, float(at_s), noise) for at_s in grid]
    costs = np.array([cost for cost, _ in fits])
    rising = np.array([slope > 0.0 for _, slope in fits])
    if not rising.any():
        return near_s
    costs[~rising] = np.inf
    best = int(costs.argmin())
    return float(grid[best])


def _broken_line(times: Array, values: Array, at_s: float, noise: float) -> tuple[float, float]:
    """Huber cost and slope of a level up to a time and a straight rise after it."""
    since = np.maximum(times - at_s, 0.0)
    weight = np.ones_like(times)
    level, slope = float(np.median(values[times <= at_s])) if (times <= at_s).any() else 0.0, 0.0
    bound = 2.0 * max(noise, 1e-6)
    for _ in range(_ROUNDS):
        total, by_since = weight.sum(), float(weight @ since)
        square = float(weight @ since**2)
        denominator = total * square - by_since**2
        if denominator <= 0.0:
            return np.inf, 0.0
        sum_y, sum_ty = float(weight @ values), float((weight * since) @ values)
        slope = (total * sum_ty - by_since * sum_y) / denominator
        level = (sum_y - slope * by_since) / total
        off = np.abs(values - level - slope * since)
        weight = np.minimum(1.0, bound / np.maximum(off, 1e-12))
    cost = np.where(off <= bound, 0.5 * off**2, bound * (off - 0.5 * bound))
    return float(cost.sum()), slope
