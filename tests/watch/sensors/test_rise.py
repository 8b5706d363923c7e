"""When a temperature that rises reaches a limit."""

import pytest

from logger.model.reading import Reading
from logger.watch.sensors.rise import Rise

SECOND_NS = 1_000_000_000


def rising(rate_k_s: float, until_s: float = 40.0) -> Rise:
    rise = Rise()
    for n in range(round(until_s * 4)):
        rise.take(Reading("fat", round(n / 4 * SECOND_NS), 20.0 + rate_k_s * n / 4, 0.1))
    return rise


def test_a_steady_rise_tells_the_time_that_is_left():
    assert rising(0.1).reaches_in_s(44.0, 24.0) == pytest.approx(200.0)


@pytest.mark.parametrize(
    ("rate_k_s", "until_s", "limit_c"),
    [(0.0, 40.0, 44.0), (-0.1, 40.0, 44.0), (0.1, 10.0, 44.0), (0.01, 40.0, 80.0)],
    ids=["steady", "falling", "too few readings", "too long"],
)
def test_what_cannot_be_told_is_not(rate_k_s, until_s, limit_c):
    assert rising(rate_k_s, until_s).reaches_in_s(limit_c, 24.0) is None


def test_only_the_last_half_minute_counts():
    rise = rising(0.1)
    for n in range(1, 41):
        rise.take(Reading("fat", round((40 + n) * SECOND_NS), 24.0, 0.1))
    assert rise.reaches_in_s(44.0, 24.0) is None


def points(*seconds_and_values):
    rise = Rise()
    for t_s, value in seconds_and_values:
        rise.take(Reading("fat", round(t_s * SECOND_NS), value, 0.1))
    return rise


@pytest.mark.parametrize(("until_s", "told"), [(14.9, False), (15.0, True)])
def test_a_line_needs_fifteen_seconds(until_s, told):
    rise = points((0.0, 20.0), (7.0, 27.0), (until_s, 20.0 + until_s))
    assert (rise.reaches_in_s(60.0, 40.0) is not None) is told


def test_a_point_a_second_is_enough_and_half_a_minute_of_them():
    often = points((0.0, 20.0), (0.5, 99.0), (1.0, 21.0), (20.0, 40.0))
    assert often.reaches_in_s(60.0, 40.0) == pytest.approx(20.0)
    long = points((0.0, 99.0), (1.0, 20.0), (16.0, 35.0), (31.0, 50.0))
    assert long.reaches_in_s(60.0, 50.0) == pytest.approx(10.0), "what is older does not count"
    kept = points((0.0, 20.0), (15.0, 35.0), (30.0, 35.0))
    assert kept.reaches_in_s(60.0, 35.0) == pytest.approx(25.0 / 0.5)


@pytest.mark.parametrize(("rate_k_min", "told"), [(0.49, False), (0.51, True)])
def test_half_a_kelvin_a_minute_is_the_slowest_rise_that_tells_a_time(rate_k_min, told):
    """Common practice, no source."""
    rise = points(*((float(t), 20.0 + rate_k_min * t / 60.0) for t in range(0, 31, 5)))
    assert (rise.reaches_in_s(21.0, 20.5) is not None) is told


@pytest.mark.parametrize(
    ("limit_c", "left_s"),
    [(41.0, 1.0), (40.0, None), (39.0, None), (3640.0, 3600.0), (3641.0, None)],
)
def test_a_time_is_more_than_nothing_and_an_hour_at_most(limit_c, left_s):
    rise = points((0.0, 20.0), (20.0, 40.0))
    assert rise.reaches_in_s(limit_c, 40.0) == (left_s and pytest.approx(left_s))
