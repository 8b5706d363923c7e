"""Alarms of a value at its limits: crossed only beyond, cleared only well inside."""

import pytest

from logger.model.written import Band
from logger.watch.verdict.limits import DEADBAND_K, band_conditions


def conditions(value, low=47.0, high=58.0, **more):
    band = Band(low=low, high=high, unit="degC")
    return band_conditions("x.core", "Core", value, band, channel="core", **more)


@pytest.mark.parametrize(
    ("value", "low", "high"),
    [
        (46.9, (True, False), (False, True)),
        (47.0, (False, False), (False, True)),
        (47.4, (False, False), (False, True)),
        (47.5, (False, True), (False, True)),
        (57.5, (False, True), (False, True)),
        (57.6, (False, True), (False, False)),
        (58.0, (False, True), (False, False)),
        (58.1, (False, True), (True, False)),
        (None, (None, False), (None, False)),
    ],
)
def test_a_limit_is_crossed_beyond_it_and_clear_half_a_kelvin_inside(value, low, high):
    """The deadband is common practice, no source."""
    assert DEADBAND_K == 0.5
    found = conditions(value)
    assert [c.id for c in found] == ["x.core.low", "x.core.high"]
    assert [(c.active, c.cleared) for c in found] == [low, high]


def test_an_open_end_has_no_alarm_and_no_band_none_at_all():
    assert [c.id for c in conditions(50.0, low=None)] == ["x.core.high"]
    assert [c.id for c in conditions(50.0, high=None)] == ["x.core.low"]
    assert band_conditions("x", "Core", 50.0, None, channel=None) == []


def test_an_alarm_says_the_side_and_keeps_what_it_is_told():
    below, above = conditions(50.0, latches=True, deadband=2.0)
    assert "is below its target" in below.text
    assert "is above its target" in above.text
    assert (below.latches, below.channel) == (True, "core")
    assert conditions(50.0)[0].latches is False
    assert [c.cleared for c in conditions(56.5, deadband=2.0)] == [True, False]
