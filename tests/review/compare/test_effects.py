"""What a change did is counted exactly; where runs are too few that is the answer."""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from logger.review.compare.effects import TOO_FEW, effect, permutation_p, smallest_chance


def test_the_lady_tasting_tea():
    """Fisher (1935), The Design of Experiments, chapter 2: four cups of each kind, all told right:
    1 in 70 one way, 2 in 70 both ways."""
    found = effect([0.0] * 4, [1.0] * 4)
    assert found.p == pytest.approx(2 / 70, abs=1e-12)
    assert found.smallest_p == pytest.approx(2 / 70)
    assert found.says == "higher"


AT_TERM = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
EARLY = [1.15, 0.88, 0.90, 0.74, 1.21]


def test_shift_and_interval_of_the_placenta_example():
    """Hollander and Wolfe (1973), Nonparametric Statistical Methods, p. 69 ff., as in the example
    of R's wilcox.test: W = 35, shift 0.305, 95 % interval -0.76 to 0.15 the other way round (from
    memory); the chance of the ranks, 0.2544 both ways, is R's 0.1272 doubled."""
    found = effect(EARLY, AT_TERM)
    assert found.shift == pytest.approx(0.305, abs=5e-4)
    assert (found.low, found.high) == pytest.approx((-0.15, 0.76), abs=5e-3)
    ranks = stats.rankdata(EARLY + AT_TERM)
    assert permutation_p(ranks[:5], ranks[5:]) == pytest.approx(2 * 0.1272, abs=2e-4)
    assert found.says == "no difference shown"


@pytest.mark.parametrize("seed", range(8))
def test_chances_agree_with_scipys_exact_permutation_test(seed):
    rng = np.random.default_rng(seed)
    a, b = rng.normal(0, 1, 4 + seed % 3), rng.normal(0.8, 1, 5)
    theirs = stats.permutation_test(
        (a, b), lambda x, y, axis: x.mean(axis=axis) - y.mean(axis=axis), n_resamples=np.inf,
        vectorized=True,
    )  # fmt: skip
    assert permutation_p(a, b) == pytest.approx(theirs.pvalue, abs=1e-9)


def test_three_against_three_is_too_few_whatever_the_numbers():
    found = effect([1.0, 1.1, 0.9], [9.0, 9.1, 9.2])
    assert found.says == TOO_FEW
    assert found.p is None
    assert found.low is None
    assert found.shift == pytest.approx(8.1)
    assert smallest_chance(3, 3) == pytest.approx(0.1)


def test_a_group_without_values_has_no_effect():
    assert effect([], [1.0]) is None
    assert effect([math.nan], [1.0]) is None


def test_the_interval_covers_the_true_shift_at_least_as_often_as_said():
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(1500):
        a, b = rng.exponential(1.0, 5), rng.exponential(1.0, 6) + 2.0
        found = effect(a, b)
        held += found.low <= 2.0 <= found.high
    assert held / 1500 > 0.94


def test_the_chance_of_no_effect_is_not_understated():
    rng = np.random.default_rng(5)
    claimed = sum(
        effect(rng.normal(0, 1, 4), rng.normal(0, 1, 5)).says in ("higher", "lower")
        for _ in range(1500)
    )
    assert claimed / 1500 < 0.065


def test_the_interval_agrees_with_counting_by_hand_for_four_and_four():
    """Of 70 deals, 1 has a count of 0: chance 1/70 below, so the interval is the whole range of
    differences; the next, 2/70, would be above 2.5 %."""
    a, b = [1.0, 2.0, 3.0, 4.0], [5.0, 7.0, 9.0, 11.0]
    found = effect(a, b)
    differences = sorted(y - x for x, y in itertools.product(a, b))
    assert (found.low, found.high) == (differences[0], differences[-1])
