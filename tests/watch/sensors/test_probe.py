"""One probe as a stage sees it: the mean of five seconds, silence after ten, what is missing."""

import math

import pytest

from logger.model.reading import Reading
from logger.model.written import Band
from logger.watch.sensors.probe import DEFAULT_STEP_K, Probe

S = 1_000_000_000


def probe(make_context, *values, role="fat", every_s=1.0, **more):
    found = Probe(make_context("warm", **more), role)
    for k, value in enumerate(values):
        found.take(Reading(role, round(k * every_s * S), value, 0.1 + 0.01 * k))
    return found


def test_the_value_is_the_mean_of_the_last_five_seconds(make_context):
    found = probe(make_context, *[99.0] * 4, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0)
    assert found.value(9 * S) == 35.0
    assert found.first_ns == 4 * S
    assert found.u == pytest.approx(0.19)
    measured = found.measured(9 * S)
    assert (measured.value, measured.from_ns, measured.to_ns) == (35.0, 4 * S, 9 * S)


def test_ten_seconds_of_silence_are_none_yet(make_context):
    found = probe(make_context, 50.0)
    assert (found.value(10 * S), found.value(10 * S + 1)) == (50.0, None)


def test_only_readings_of_its_channel_with_a_value_count(make_context):
    found = probe(make_context)
    assert not found.take(Reading("water", 0, 50.0, 0.1))
    assert not found.take(Reading("fat", 0, None, 0.1))
    assert (found.value(0), found.first_ns) == (None, None)
    assert math.isnan(found.u)
    assert found.take(Reading("fat", 0, 50.0, 0.1))


def test_what_is_missing_is_said(make_context):
    assert probe(make_context).why_missing("fat") == "no reading of the fat probe"
    none = Probe(make_context("warm", bench='[bench]\nname = "T"\n'), "fat")
    assert none.why_missing("fat") == "the bench has no fat probe"
    assert none.step_k == DEFAULT_STEP_K
    assert none.channel is None


def test_a_band_above_is_reached_at_the_rate_it_rises(make_context):
    found = probe(make_context, *(20.0 + k for k in range(31)))
    band = Band(low=60.0, high=65.0, unit="degC")
    now_c = found.value(30 * S)
    assert now_c == 47.5
    assert found.there_in_s(30 * S, band) == pytest.approx(12.5)
    assert found.there_in_s(30 * S, Band(low=47.5, unit="degC")) is None
    assert found.there_in_s(30 * S, Band(high=65.0, unit="degC")) is None
    assert found.there_in_s(30 * S, None) is None
    assert found.there_in_s(60 * S, band) is None
