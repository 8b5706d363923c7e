"""Limits of single values are those of the handbook's example."""

import pytest

from logger.model.errors import OutOfRangeError
from logger.science.statistics.control import individuals_limits

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, example of individuals chart: flow rates
# of ten batches; mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041. From memory.
FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_the_limits_of_the_handbooks_flow_rates():
    limits = individuals_limits(FLOW)
    assert limits.mean == pytest.approx(50.81, abs=0.005)
    assert limits.low == pytest.approx(45.8159, abs=0.0005)
    assert limits.high == pytest.approx(55.8041, abs=0.0005)


def test_a_distance_is_one_at_a_limit():
    limits = individuals_limits(FLOW)
    assert limits.distance(limits.high) == pytest.approx(1.0)
    assert limits.distance(limits.mean) == 0.0


def test_values_that_are_all_alike_have_limits_at_their_mean():
    limits = individuals_limits((5.0,) * 4)
    assert (limits.low, limits.high) == (5.0, 5.0)
    assert (limits.distance(5.0), limits.distance(6.0)) == (0.0, 1.0)


def test_too_few_values_are_refused():
    with pytest.raises(OutOfRangeError, match="at least 4"):
        individuals_limits((1.0, 2.0, 3.0))
