"""Exact tests agree with published examples, and with scipy.stats wherever it is exact too."""

import numpy as np
import pytest
from scipy import stats

from logger.model.errors import OutOfRangeError
from logger.science.statistics.exact import (
    rank_sum_p,
    scores_differ_p,
    share_interval,
    shares_differ_p,
)

RUNNERS_S = [
    5.40, 5.50, 5.55, 5.85, 5.70, 5.75, 5.20, 5.60, 5.50, 5.55, 5.50, 5.40, 5.90, 5.85, 5.70, 5.45,
    5.55, 5.60, 5.40, 5.40, 5.35, 5.45, 5.50, 5.35, 5.25, 5.15, 5.00, 5.85, 5.80, 5.70, 5.25, 5.20,
    5.10, 5.65, 5.55, 5.45, 5.60, 5.35, 5.45, 5.05, 5.00, 4.95, 5.50, 5.50, 5.40, 5.45, 5.55, 5.50,
    5.55, 5.55, 5.35, 5.45, 5.50, 5.55, 5.50, 5.45, 5.25, 5.65, 5.60, 5.40, 5.70, 5.65, 5.55, 6.30,
    6.30, 6.25,
]  # fmt: skip


def test_fisher_s_test_gives_the_published_chance():
    """The package scipy, documentation of fisher_exact: whales and sharks, 8 and 2 against 1 and 5,
    0.03497; all 4 of 4 against 0 of 8 by hand, 1 of 495 deals."""
    assert shares_differ_p(8, 10, 1, 6) == pytest.approx(0.03497, abs=5e-6)
    assert shares_differ_p(4, 4, 0, 8) == pytest.approx(1 / 495)


def test_the_interval_of_a_share_is_that_of_clopper_and_pearson():
    """Clopper and Pearson 1934 by the package scipy, binomtest: 4 of 12 and 0 of 12; the
    end of none of 12 is 1 - 0.025^(1/12) in closed form."""
    assert share_interval(4, 12) == pytest.approx((0.0992, 0.6511), abs=5e-5)
    assert share_interval(0, 12) == pytest.approx((0.0, 1.0 - 0.025 ** (1 / 12)))
    assert share_interval(12, 12) == pytest.approx((0.025 ** (1 / 12), 1.0))


def test_the_rank_sum_test_gives_the_published_chance():
    """Hollander and Wolfe (1973), Nonparametric Statistical Methods, table 4.1 and its example
    (permeability of the chorioamnion, from memory): one-sided 0.1272."""
    term = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
    early = [1.15, 0.88, 0.90, 0.74, 1.21]
    assert rank_sum_p(term, early) == pytest.approx(2 * 0.1272, abs=1e-4)
    assert rank_sum_p(early, term) == rank_sum_p(term, early)


def test_friedman_s_test_gives_the_published_chance():
    """Hollander and Wolfe, Nonparametric Statistical Methods, table 7.1: 22 runners, three ways
    round first base (times from memory): rank sums 53, 47, 32, statistic 11.1429, p 0.003805."""
    times_s = np.array(RUNNERS_S).reshape(22, 3)
    assert scores_differ_p(times_s.tolist()) == pytest.approx(0.003805, abs=5e-7)


def test_few_tasters_are_counted_and_equal_scores_are_no_difference():
    """By hand: three tasters who all rank three batches alike are 6 of 6^3 deals; two batches are a
    sign test, all four the same way 2 of 2^4."""
    assert scores_differ_p([[1, 2, 3], [4, 6, 9], [2, 3, 7]]) == pytest.approx(6 / 216)
    assert scores_differ_p([[1, 2]] * 4) == pytest.approx(2 / 16)
    assert scores_differ_p([[5, 5, 5]] * 3) == scores_differ_p([[5.0] * 9] * 9) == 1.0
    with pytest.raises(OutOfRangeError, match="two of each"):
        scores_differ_p([[1, 2, 3]])


def test_all_agree_with_another_implementation():
    """The package scipy.stats: fisher_exact, binomtest, mannwhitneyu by counting, and, with equal
    values, permutation_test over all deals."""
    rng = np.random.default_rng(5)
    for _ in range(30):
        of_a, of_b = (int(n) for n in rng.integers(1, 15, 2))
        a, b = int(rng.integers(0, of_a + 1)), int(rng.integers(0, of_b + 1))
        table = [[a, of_a - a], [b, of_b - b]]
        assert shares_differ_p(a, of_a, b, of_b) == pytest.approx(stats.fisher_exact(table).pvalue)
        found = stats.binomtest(a, of_a).proportion_ci(method="exact")
        assert share_interval(a, of_a) == pytest.approx((found.low, found.high))
        one, other = rng.normal(size=of_a), rng.normal(0.7, size=of_b)
        by_counting = stats.mannwhitneyu(one, other, method="exact").pvalue
        assert rank_sum_p(list(one), list(other)) == pytest.approx(by_counting)
    one, other = [1.0, 1.0, 2.0, 3.0], [2.0, 3.0, 3.0, 4.0, 5.0]

    def ranks(x, _):
        return stats.rankdata([*one, *other])[[[*one, *other].index(v) for v in x]].sum()

    dealt = stats.permutation_test((one, other), ranks, n_resamples=np.inf)
    assert rank_sum_p(one, other) == pytest.approx(dealt.pvalue)


def test_many_values_go_by_the_normal_law_and_agree_with_counting():
    """The package scipy.stats, mannwhitneyu asymptotic with both corrections."""
    rng = np.random.default_rng(6)
    one, other = np.round(rng.normal(size=60), 1), np.round(rng.normal(0.4, size=50), 1)
    theirs = stats.mannwhitneyu(one, other, method="asymptotic").pvalue
    assert rank_sum_p(list(one), list(other)) == pytest.approx(theirs)
    fine = rng.normal(size=90)
    exact = stats.mannwhitneyu(fine[:40], fine[40:] + 0.4, method="exact").pvalue
    ours = rank_sum_p(list(fine[:40]), list(fine[40:] + 0.4))
    assert ours == pytest.approx(exact, abs=0.002)


def test_all_values_alike_tell_nothing_apart():
    assert rank_sum_p([1.0] * 4, [1.0] * 8) == 1.0
    assert rank_sum_p([1.0] * 40, [1.0] * 80) == 1.0


@pytest.mark.parametrize(
    "ask",
    [
        lambda: share_interval(3, 2),
        lambda: share_interval(0, 0),
        lambda: shares_differ_p(3, 2, 0, 1),
        lambda: rank_sum_p([], [1.0]),
        lambda: rank_sum_p([1.0] * 300, [2.0] * 300),
    ],
)
def test_impossible_counts_are_refused(ask):
    with pytest.raises(OutOfRangeError):
        ask()
