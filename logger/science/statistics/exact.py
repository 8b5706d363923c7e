"""Exact tests of small counts: a share's interval, two shares, two groups, or scores compared.

Pure functions of numbers; used by logger.review.why.pieces and logger.review.compare. Chances are
counted, not approximated, so that four of twelve pieces are judged as exactly as they can be and no
more.

References
----------
Fisher, R. A. (1935). The Logic of Inductive Inference. Journal of the Royal Statistical Society 98,
39-82: the exact test of a table of two by two.
Clopper, C. J. and Pearson, E. S. (1934). The Use of Confidence or Fiducial Limits Illustrated in
the Case of the Binomial. Biometrika 26, 404-413.
Hollander, M. and Wolfe, D. A. (1999). Nonparametric Statistical Methods, section 4.1: the rank sum
test, its law with ties by counting all deals of the midranks. Section 7.1: Friedman's test.
"""

import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import OutOfRangeError

MOST = 500
"""Values in both groups of a rank sum together."""
_COUNTED = 80
_DEALS = 20_000
_ALIKE = 1.0 + 1e-7  # chances that differ by rounding alone are the same


def share_interval(hits: int, of: int, level: float = 0.95) -> tuple[float, float]:
    """Interval of a share with at least the stated cover (Clopper and Pearson).

    Parameters
    ----------
    hits : int
        How many had it [1], 0 to `of`.
    of : int
        Of how many [1], at least 1.
    level : float
        Cover [1], between 0 and 1.

    Returns
    -------
    tuple of float
        Lower and upper end [1].

    Raises
    ------
    OutOfRangeError
        If there are none, or more hits than there are.
    """
    # Here, because every process that may need it would pay for it at its start.
    from scipy.special import betaincinv

    if of < 1 or not 0 <= hits <= of:
        raise OutOfRangeError("hits of a share", hits, f"0 to {of}, of at least one")
    tail = (1.0 - level) / 2.0
    low = 0.0 if hits == 0 else float(betaincinv(hits, of - hits + 1, tail))
    high = 1.0 if hits == of else float(betaincinv(hits + 1, of - hits, 1.0 - tail))
    return low, high


def shares_differ_p(hits_a: int, of_a: int, hits_b: int, of_b: int) -> float:
    """Two-sided chance of two shares that far apart if there is no difference (Fisher).

    Parameters
    ----------
    hits_a, of_a : int
        How many of how many in the first group [1].
    hits_b, of_b : int
        In the second group [1].

    Returns
    -------
    float
        Sum of the chances of all tables no likelier than this one, with the same margins [1].

    Raises
    ------
    OutOfRangeError
        If a group has more hits than members.
    """
    for hits, of in ((hits_a, of_a), (hits_b, of_b)):
        if not 0 <= hits <= of:
            raise OutOfRangeError("hits of a share", hits, f"0 to {of}")
    hits = hits_a + hits_b
    ways = {
        k: math.comb(of_a, k) * math.comb(of_b, hits - k)
        for k in range(max(0, hits - of_b), min(of_a, hits) + 1)
    }
    seen = ways[hits_a]
    return min(1.0, sum(w for w in ways.values() if w <= seen * _ALIKE) / sum(ways.values()))


def rank_sum_p(a: Sequence[float], b: Sequence[float]) -> float:
    """Two-sided chance of rank sums that far apart if there is no difference (Wilcoxon).

    Parameters
    ----------
    a, b : sequence of float, shape (n,) and (m,)
        Values of two groups [one unit], finite; at least one each, 500 together at most.

    Returns
    -------
    float
        Twice the smaller one-sided chance, at most 1 [1]; exact also where values are equal.

    Raises
    ------
    OutOfRangeError
        If a group is empty, or there are more than 500 values.

    Notes
    -----
    Beyond 80 values the normal law with the correction for ties and for continuity stands for the
    count (Hollander and Wolfe, eq. 4.9 and 4.13); both agree within 0.002 there.
    """
    if not a or not b or len(a) + len(b) > MOST:
        raise OutOfRangeError("values in two groups", len(a) + len(b), f"1 in each, {MOST} at most")
    doubled = _doubled_midranks(np.asarray([*a, *b], dtype=float))
    size, seen = len(a), int(doubled[: len(a)].sum())
    if doubled.size > _COUNTED:
        return _normal_p(doubled, size, seen)
    ways = np.zeros((size + 1, int(doubled.sum()) + 1))
    ways[0, 0] = 1.0
    for rank in doubled:
        ways[1:, rank:] += ways[:-1, : ways.shape[1] - rank].copy()
    deals = ways[size]
    whole = float(deals.sum())
    below, above = float(deals[: seen + 1].sum()), float(deals[seen:].sum())
    return min(1.0, 2.0 * min(below, above) / whole)


def scores_differ_p(scores: Sequence[Sequence[float]]) -> float:
    """Chance of batches ranked that unlike by their tasters if there is no difference (Friedman).

    Parameters
    ----------
    scores : sequence of sequence of float, shape (n, k)
        One row a taster, who has scored every batch [one unit]; at least two of each.

    Returns
    -------
    float
        Chance of rank sums at least as far apart [1]: by counting all deals of each taster's ranks
        up to 20,000, else by the law of chi squared with the correction for ties.

    Raises
    ------
    OutOfRangeError
        If there are fewer than two tasters or batches, or rows of unlike length.
    """
    rows = [_doubled_midranks(np.asarray(row, dtype=float)) for row in scores]
    size = len(rows[0]) if rows else 0
    if len(rows) < 2 or size < 2 or any(len(row) != size for row in rows):
        raise OutOfRangeError("tasters and batches", len(rows), "two of each, every batch scored")
    middle = len(rows) * (size + 1)

    def apart(sums: NDArray[np.int64]) -> NDArray[np.int64]:
        return ((sums - middle) ** 2).sum(axis=-1)  # type: ignore[no-any-return]  # of integers

    seen = apart(np.sum(rows, axis=0))
    if math.factorial(size) ** (len(rows) - 1) <= _DEALS:
        deals = rows[0][None, :]  # of the first taster one is enough: only who agrees counts
        for row in rows[1:]:
            orders = np.array(list(itertools.permutations(row.tolist())))
            deals = (deals[:, None, :] + orders[None, :, :]).reshape(-1, size)
        return float((apart(deals) >= seen).mean())
    from scipy.special import gammaincc  # here, as above

    spread = float(sum(((row - (size + 1)) ** 2).sum() for row in rows))
    if spread <= 0.0:
        return 1.0
    statistic = (size - 1) * float(seen) / spread
    return float(gammaincc((size - 1) / 2.0, statistic / 2.0))


def _doubled_midranks(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return twice the rank of each value, from 1; equal ones share the mean of theirs."""
    below = (values[None, :] < values[:, None]).sum(axis=1)
    equal = (values[None, :] == values[:, None]).sum(axis=1)
    doubled: NDArray[np.int64] = (2 * below + equal + 1).astype(np.int64)
    return doubled


def _normal_p(doubled: NDArray[np.int64], size: int, seen: int) -> float:
    count = doubled.size
    ranks = doubled / 2.0
    mean = size * (count + 1) / 2.0
    variance = (
        size
        * (count - size)
        / (count * (count - 1))
        * float(((ranks - (count + 1) / 2.0) ** 2).sum())
    )
    if variance <= 0.0:
        return 1.0
    away = max(0.0, abs(seen / 2.0 - mean) - 0.5) / math.sqrt(variance)
    return math.erfc(away / math.sqrt(2.0))
