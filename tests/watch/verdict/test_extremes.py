"""The extremes of a stretch keep value, uncertainty and moment together."""

import math

import pytest

from logger.model.reading import Reading
from logger.model.written import Band
from logger.watch.verdict.extremes import Extremes

BAND = Band(low=16.0, high=24.0, unit="degC")


def taken(*values):
    found = Extremes()
    for t_ns, value in enumerate(values):
        found.take(Reading("bath", t_ns, value, 0.1 + t_ns, 0))
    return found


def test_each_extreme_has_the_uncertainty_and_moment_of_its_own_reading():
    found = taken(20.0, 18.0, 22.0, 19.0)
    assert (found.lowest.value, found.lowest.u, found.lowest.from_ns) == (18.0, 1.1, 1)
    assert (found.highest.value, found.highest.u, found.highest.to_ns) == (22.0, 2.1, 2)
    assert found.lowest.channel == "bath"


def test_of_equal_values_the_first_counts():
    found = taken(20.0, 18.0, 18.0, 22.0, 22.0)
    assert (found.lowest.from_ns, found.highest.from_ns) == (1, 3)


def test_a_reading_without_a_value_and_negative_ones():
    assert taken(None).lowest is None
    found = taken(-3.0, None, -5.0, -1.0)
    assert (found.lowest.value, found.highest.value) == (-5.0, -1.0)


@pytest.mark.parametrize(
    ("values", "band", "worst"),
    [
        ((20.0, 25.0, 17.0), BAND, 25.0),
        ((20.0, 23.0, 15.0), BAND, 15.0),
        ((20.0, 21.0, 18.0), BAND, 18.0),
        ((21.0, 19.0), BAND, 21.0),
        ((19.0, 21.0), BAND, 19.0),
        ((20.0, 30.0, 10.0), Band(low=16.0, unit="degC"), 10.0),
        ((20.0, 30.0, 10.0), Band(high=24.0, unit="degC"), 30.0),
        ((20.0, 30.0, 10.0), None, 20.0),
    ],
)
def test_the_worst_is_the_one_farthest_out_or_nearest_to_an_edge(values, band, worst):
    """Equally near to both edges, the earlier one; without a target the first."""
    assert taken(*values).worst(band).value == worst


def test_a_new_stretch_knows_nothing_of_the_one_before():
    found = taken(20.0)
    found.forget()
    assert found.worst(BAND) is None
    found.note(18.0, math.nan, 7)
    assert (found.first.value, found.lowest.from_ns) == (18.0, 7)
