"""A number is called unlike the good runs only as often by mistake as is said."""

import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.review.why.unlike import few_unlike_p, holm, unlike


def share_claimed(draw, count, level, times=4000, **options):
    rng = np.random.default_rng(7 + count)
    hits = 0
    for _ in range(times):
        good = draw(rng, count)
        found = unlike(float(draw(rng, 1)[0]), list(good), **options)
        hits += found.p < level
    return hits / times


@pytest.mark.parametrize("count", [3, 4, 5, 7, 9, 10, 11, 14, 20])
def test_a_good_run_is_claimed_unlike_as_often_as_the_level_says(count):
    """4000 fresh draws at 5 %: the share has a standard error of 0.0035."""
    share = share_claimed(lambda rng, n: rng.normal(50.0, 2.0, n), count, 0.05)
    assert 0.038 < share < 0.062


def test_heavy_tails_cost_honesty_only_so_far():
    """Student's t of 3 degrees of freedom at a stated 1 %: about 3 %."""
    share = share_claimed(lambda rng, n: rng.standard_t(3, n), 8, 0.01)
    assert share < 0.04


def test_one_odd_run_among_twelve_good_ones_does_not_hide_a_bad_one():
    good = [50.1, 49.8, 50.6, 49.5, 50.2, 50.0, 49.7, 50.4, 49.9, 50.3, 50.1, 39.0]
    assert unlike(44.0, good).p < 0.005
    spread = float(np.std(good, ddof=1))
    assert abs(44.0 - np.mean(good)) / spread < 2.0  # the ordinary way would see nothing


def test_nothing_is_claimed_with_two_runs():
    assert unlike(10.0, [50.0, 50.1]) is None
    assert unlike(10.0, [50.0, 50.1, float("nan")]) is None


def test_a_difference_within_the_uncertainty_is_no_difference():
    good = [50.0, 50.01, 49.99, 50.0, 50.02]
    assert unlike(50.4, good).p < 0.01
    assert unlike(50.4, good, u=0.3).p > 0.1
    assert unlike(50.4, good, least=0.5).p > 0.1


def test_the_range_is_the_prediction_interval_of_a_normal_sample_in_the_mean():
    """Mean half width over many samples against t(0.975, n-1) s sqrt(1 + 1/n) (Hahn and Meeker,
    Statistical Intervals, section 4.7): the robust way is a little wider, never narrower."""
    rng = np.random.default_rng(3)
    ours, theirs = [], []
    for _ in range(2000):
        good = rng.standard_normal(8)
        found = unlike(0.0, list(good))
        ours.append((found.high - found.low) / 2)
        theirs.append(2.364624 * good.std(ddof=1) * np.sqrt(1 + 1 / 8))
    assert 1.0 < np.mean(ours) / np.mean(theirs) < 1.12


def test_too_many_runs_and_negative_uncertainties_are_refused():
    with pytest.raises(OutOfRangeError):
        unlike(1.0, [1.0] * 21)
    with pytest.raises(OutOfRangeError):
        unlike(1.0, [1.0, 2.0, 3.0], u=-1.0)


def test_equal_runs_without_uncertainty_show_no_spread_to_measure_by():
    assert unlike(2.0, [1.0, 1.0, 1.0]) is None


def test_holm_by_hand():
    """0.01, 0.04, 0.03, 0.005 times 4, 3, 2, 1 in order of size, never falling: the example of
    Holm's procedure as R's p.adjust gives it."""
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert holm([]) == []
    assert holm([0.9, 0.8]) == [1.0, 1.0]


@pytest.mark.parametrize(
    ("count", "few", "factor"), [(5, 1, 3.041), (10, 1, 2.373), (5, 5, 1.756), (10, 4, 1.338)]
)
def test_the_mean_of_a_few_lies_within_its_prediction_interval(count, few, factor):
    """Hahn and Meeker (1991), Statistical Intervals, section 4.7 (from memory): Student's 97.5 %
    points 2.776 (4 degrees of freedom) and 2.262 (9), times the root of 1/few + 1/count."""
    others = np.arange(count) - np.mean(np.arange(count))
    others = others / others.std(ddof=1)
    assert few_unlike_p([factor] * few, others) == pytest.approx(0.05, abs=2e-4)


def test_others_that_lie_closer_together_than_is_ordinary_make_nothing_odd():
    assert few_unlike_p([451.0], [450.0] * 7) == 1.0
    assert few_unlike_p([451.0], [450.0] * 7, least=8.0) > 0.8
    with pytest.raises(OutOfRangeError):
        few_unlike_p([1.0], [2.0, 3.0])
