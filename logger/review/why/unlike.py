"""Whether a number is unlike those of a few good runs, said only as surely as a few runs allow.

Pure functions of numbers; used by logger.review.why.explain and compare. The middle of the good
runs is their median; the spread is the mean distance from it for 3 to 9 runs and the median
distance from 10, so that one odd run among many does not widen it. How far a next good run would
lie then follows a scaled Student law whose two numbers per count were fitted to 2 million
simulated normal samples.

References
----------
Rousseeuw, P. J. and Verboven, S. (2002). Robust estimation in very small samples. Computational
Statistics & Data Analysis 40, 741-758: median and mean or median distance for 3 runs and more.
Hahn, G. J. and Meeker, W. Q. (1991). Statistical Intervals, section 4.7 (from memory): where the
mean of a few further values of the same normal law lies.
Holm, S. (1979). A simple sequentially rejective multiple test procedure. Scandinavian Journal of
Statistics 6, 65-70.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.model.errors import OutOfRangeError

FEWEST, MOST = 3, 20
"""With fewer good runs nothing is claimed; of more, the latest are taken."""
_MEDIAN_FROM = 10

# Count of runs: (factor k, degrees of freedom f) such that |next - median| / spread is k |t_f|.
# Seeded simulation of 2 million normal samples for each count, matched at the 95 and 99.9 % points;
# the 90 and 99 % points agree within 2.5 % of the chance.
_SCALED_T: dict[int, tuple[float, float]] = {
    3: (1.831, 2.00),
    4: (1.611, 3.02),
    5: (1.606, 4.03),
    6: (1.502, 4.95),
    7: (1.502, 6.00),
    8: (1.448, 6.96),
    9: (1.446, 7.91),
    10: (1.684, 4.41),
    11: (1.660, 4.41),
    12: (1.640, 5.20),
    13: (1.627, 5.17),
    14: (1.608, 5.90),
    15: (1.602, 5.96),
    16: (1.591, 6.68),
    17: (1.584, 6.69),
    18: (1.575, 7.39),
    19: (1.571, 7.46),
    20: (1.563, 8.08),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Unlike:
    """How a value stands to the good runs.

    Attributes
    ----------
    count : int
        How many good runs have the number.
    median : float
        Of the good runs.
    low, high : float
        Where the next good run lies with 95 % chance.
    away : float
        Distance from the median over half that range; signed.
    p : float
        Chance that a good run lies that far out or farther, 0 to 1.
    """

    count: int
    median: float
    low: float
    high: float
    away: float
    p: float


def unlike(
    value: float, good: Sequence[float], *, u: float = 0.0, least: float = 0.0
) -> Unlike | None:
    """Compare a number with those of the good runs.

    Parameters
    ----------
    value : float
        Number of the run in question, in any one unit.
    good : sequence of float
        The same number of 3 to 20 good runs, in the same unit.
    u : float
        Standard uncertainty of `value` [same unit], 0 or more: the spread is never taken smaller,
        and is added in quadrature.
    least : float
        Standard deviation that is ordinary for this number even if the good runs lie closer
        together by luck [same unit], 0 or more.

    Returns
    -------
    Unlike or None
        None with fewer than 3 good runs, or where runs and uncertainty show no spread at all.

    Raises
    ------
    OutOfRangeError
        If there are more than 20, or `u` or `least` is negative.

    Notes
    -----
    Assumes that good runs scatter about normally and independently. With heavier tails claims come
    too easily: at a stated 1 % about 3 % of the time with Student's t of 3 degrees of freedom.
    """
    # Here, because every process that may need it would pay for it at its start.
    from scipy.special import stdtr, stdtrit

    runs = np.asarray([g for g in good if math.isfinite(g)], dtype=float)
    if runs.size < FEWEST:
        return None
    if runs.size > MOST:
        raise OutOfRangeError("good runs to compare with", runs.size, f"at most {MOST}")
    if u < 0.0 or least < 0.0:
        raise OutOfRangeError("uncertainty of a number", min(u, least), "0 or more")
    factor, freedom = _SCALED_T[int(runs.size)]
    median = float(np.median(runs))
    distance = np.abs(runs - median)
    spread = float(distance.mean() if runs.size < _MEDIAN_FROM else np.median(distance))
    wide = math.hypot(max(factor * spread, least, u), u)
    if wide <= 0.0:
        return None
    reach = wide * float(stdtrit(freedom, 0.975))
    return Unlike(
        count=int(runs.size),
        median=median,
        low=median - reach,
        high=median + reach,
        away=(value - median) / reach,
        p=float(2.0 * stdtr(freedom, -abs(value - median) / wide)),
    )


def few_unlike_p(few: Sequence[float], others: Sequence[float], *, least: float = 0.0) -> float:
    """Two-sided chance that a few values lie that far from the others if nothing sets them apart.

    Parameters
    ----------
    few : sequence of float
        Values in question, in any one unit; at least one.
    others : sequence of float
        The others, in the same unit; at least 3.
    least : float
        Standard deviation that is ordinary even if the others lie closer together by luck [same
        unit], 0 or more.

    Returns
    -------
    float
        Chance [1]; 1 where the others show no spread and `least` is 0.

    Raises
    ------
    OutOfRangeError
        If there are too few values.

    Notes
    -----
    Mean of the few over the standard deviation of the others, by Student's law. One of twelve can
    be surely unlike the others so, where no test of ranks can tell; it takes the others to scatter
    about normally.
    """
    # Here, because every process that may need it would pay for it at its start.
    from scipy.special import stdtr

    if not few or len(others) < FEWEST:
        raise OutOfRangeError("values to compare", len(others), f"at least {FEWEST}, and one")
    rest = np.asarray(others, dtype=float)
    wide = max(float(rest.std(ddof=1)), least) * math.sqrt(1.0 / len(few) + 1.0 / rest.size)
    if wide <= 0.0:
        return 1.0
    away = abs(float(np.mean(few)) - float(rest.mean())) / wide
    return float(2.0 * stdtr(rest.size - 1, -away))


def holm(chances: Sequence[float]) -> list[float]:
    """Raise chances for having looked at many numbers (Holm's step-down).

    Parameters
    ----------
    chances : sequence of float, shape (n,)
        Chance of each number alone [1], 0 to 1.

    Returns
    -------
    list of float, shape (n,)
        In the same order; claiming those below a level errs at all at most that often.
    """
    order = sorted(range(len(chances)), key=lambda i: chances[i])
    raised, highest = [1.0] * len(chances), 0.0
    for place, index in enumerate(order):
        highest = max(highest, min(1.0, (len(chances) - place) * chances[index]))
        raised[index] = highest
    return raised
