"""What a change did: two groups of runs compared without assuming a law.

Pure functions of numbers; used by logger.review.compare.compare. Every way of dealing the runs
into the two groups is counted, so a chance is exact; where even the clearest outcome could not
reach 5 % the answer is "too few runs to tell".

References
----------
Fisher, R. A. (1935). The Design of Experiments, chapters 2 and 3: exact tests by counting.
Hodges, J. L. and Lehmann, E. L. (1963). Estimates of location based on rank tests. Annals of
Mathematical Statistics 34, 598-611: the shift and its interval.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

LEVEL = 0.05
TOO_FEW = "too few runs to tell"
MOST_DEALS, RANDOM_DEALS = 200_000, 20_000
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """Difference of two groups, b minus a.

    Attributes
    ----------
    shift : float
        Median of all differences between a run of b and one of a (Hodges-Lehmann).
    low, high : float or None
        Interval of the shift with at least 95 % cover; None where the runs are too few.
    p : float or None
        Exact two-sided chance of a difference of means at least that large if the change did
        nothing; None where the runs are too few.
    smallest_p : float
        Smallest chance that so many runs could show.
    says : str
        ``"higher"``, ``"lower"``, ``"no difference shown"`` or ``"too few runs to tell"``.
    """

    count_a: int
    count_b: int
    shift: float
    low: float | None
    high: float | None
    p: float | None
    smallest_p: float
    says: str


def effect(a: Sequence[float], b: Sequence[float]) -> Effect | None:
    """Compare two groups of runs.

    Parameters
    ----------
    a, b : sequence of float
        One number of each run, all in one unit; a value that is not finite counts as missing.

    Returns
    -------
    Effect or None
        None where a group has no value.
    """
    xs, ys = (np.asarray([v for v in g if math.isfinite(v)], dtype=float) for g in (a, b))
    if xs.size == 0 or ys.size == 0:
        return None
    differences = np.sort((ys[:, None] - xs[None, :]).ravel())
    smallest = smallest_chance(int(xs.size), int(ys.size))
    shift = float(np.median(differences))
    if smallest > LEVEL:
        return Effect(
            count_a=int(xs.size),
            count_b=int(ys.size),
            shift=shift,
            low=None,
            high=None,
            p=None,
            smallest_p=smallest,
            says=TOO_FEW,
        )
    p = permutation_p(xs, ys)
    low, high = _interval(differences, int(xs.size), int(ys.size))
    word = ("higher" if ys.mean() > xs.mean() else "lower") if p <= LEVEL else "no difference shown"
    return Effect(
        count_a=int(xs.size),
        count_b=int(ys.size),
        shift=shift,
        low=low,
        high=high,
        p=p,
        smallest_p=smallest,
        says=word,
    )


def smallest_chance(count_a: int, count_b: int) -> float:
    """Return the smallest two-sided chance that an exact test of two groups can give."""
    deals = math.comb(count_a + count_b, count_a)
    return min(1.0, 2.0 / deals)


def permutation_p(
    a: Sequence[float] | NDArray[np.float64], b: Sequence[float] | NDArray[np.float64]
) -> float:
    """Exact two-sided chance of the difference of two means, by counting all deals.

    Parameters
    ----------
    a, b : sequence of float
        At least one value each, all in one unit.

    Returns
    -------
    float
        Twice the smaller one-sided chance, at most 1. Beyond 200 000 deals, 20 000 random ones
        from a fixed seed stand for all, the observed one counted in.
    """
    pooled = np.concatenate([np.asarray(a, dtype=float), np.asarray(b, dtype=float)])
    size, total = len(a), float(pooled.sum())
    observed = float(np.asarray(a, dtype=float).sum())
    deals = math.comb(len(pooled), size)
    if deals <= MOST_DEALS:
        places = np.array(list(combinations(range(len(pooled)), size)))
        sums = pooled[places].sum(axis=1)
    else:
        rng = np.random.default_rng(0)
        rows = [rng.permutation(pooled)[:size].sum() for _ in range(RANDOM_DEALS)]
        sums = np.asarray([observed, *rows])
    slack = _ROUNDING * max(1.0, float(np.abs(pooled).max()), abs(total))
    upper = float(np.mean(sums >= observed - slack))
    lower = float(np.mean(sums <= observed + slack))
    return min(1.0, 2.0 * min(upper, lower))


def _interval(
    differences: NDArray[np.float64], count_a: int, count_b: int
) -> tuple[float | None, float | None]:
    """Interval of the shift from ordered differences: the exact Mann-Whitney counts."""
    counts = _rank_counts(count_a, count_b)
    chance = np.cumsum(counts) / counts.sum()
    inside = np.flatnonzero(chance <= LEVEL / 2.0)
    if inside.size == 0:
        return None, None
    cut = int(inside[-1]) + 1
    return float(differences[cut - 1]), float(differences[-cut])


def _rank_counts(count_a: int, count_b: int) -> NDArray[np.float64]:
    """Number of deals for each value 0 to a b of the Mann-Whitney count.

    Notes
    -----
    Coefficients of the Gaussian binomial, by the usual product of (1 - q^(b+i)) / (1 - q^i).
    """
    size = count_a * count_b + 1
    counts = np.zeros(size)
    counts[0] = 1.0
    for i in range(1, count_a + 1):
        up = count_b + i
        for k in range(size - 1, up - 1, -1):
            counts[k] -= counts[k - up]
        for k in range(i, size):
            counts[k] += counts[k - i]
    return counts
