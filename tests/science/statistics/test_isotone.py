"""The rising curve nearest to noisy values."""

from itertools import combinations_with_replacement, pairwise

import pytest

from logger.science.statistics.isotone import rising_fit


@pytest.mark.parametrize(
    "values", [[3, 1, 2], [1, 2, 3], [5, 4, 3, 2, 1], [1, 9, 1, 1, 2, 8, 2, 3], [2, 2], [7]]
)
def test_no_rising_curve_lies_nearer(values):
    """Against all rising curves made of the values themselves; one of them is the best."""
    fit = rising_fit([float(v) for v in values])
    cost = sum(abs(a - b) for a, b in zip(fit, values, strict=True))
    best = min(
        sum(abs(a - b) for a, b in zip(curve, values, strict=True))
        for curve in combinations_with_replacement(sorted(values), len(values))
    )
    assert cost == pytest.approx(best)
    assert all(a <= b for a, b in pairwise(fit))


def test_a_touch_that_goes_away_leaves_no_trace():
    level = [5.0] * 20
    touched = [*level[:8], 60.0, 70.0, 65.0, *level[11:]]
    assert rising_fit(touched) == level
