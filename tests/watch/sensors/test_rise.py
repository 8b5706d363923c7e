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
