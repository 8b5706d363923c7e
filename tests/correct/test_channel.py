"""One channel's readings corrected, live and in review: the same bits."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.model.errors import InputError
from logger.science.metrology.its90 import emf_mv
from tests.correct.sensors import CHECKED, PLAIN_K, SCALE, TYPE_T, corrector


def test_an_offset_is_added_and_two_points_are_a_straight_line():
    offset = corrector(sensor=TYPE_T, correction={"offset": "-0.2 K", "checked": CHECKED})
    assert offset.value(46.3, "degC")[0] == pytest.approx(46.1)
    points = [[0.4, 0.0], [98.2, 99.0]]
    two = corrector(sensor=TYPE_T, correction={"points": points, "checked": CHECKED})
    for shown, true in points:
        assert two.value(shown, "degC")[0] == pytest.approx(true, abs=1e-12)
    assert two.value(49.3, "degC")[0] == pytest.approx(49.5, abs=1e-12)


def test_microvolts_and_cold_junction_become_degrees():
    """NIST SRD 60: type K, 2.893 mV at 71 degC and 1.000 mV at 25 degC."""
    c = corrector(sensor=PLAIN_K)
    assert c.value(1893.0, "uV", 25.0)[0] == pytest.approx(71.0, abs=0.025)
    exact_uv = (emf_mv("K", 71.0) - emf_mv("K", 25.0)) * 1000.0
    assert c.value(exact_uv, "uV", 25.0)[0] == pytest.approx(71.0, abs=1e-9)


@pytest.mark.parametrize(
    ("raw", "unit", "cold_junction_c"),
    [
        (1893.0, "uV", None),
        (1893.0, "uV", math.nan),
        (9e9, "uV", 25.0),
        (math.nan, "uV", 25.0),
        (math.nan, "degC", None),
        (20.0, "g", None),
    ],
)
def test_what_cannot_be_corrected_is_no_value(raw: float, unit: str, cold_junction_c: float | None):
    value, u = corrector(sensor=PLAIN_K).value(raw, unit, cold_junction_c)
    assert math.isnan(value)
    assert math.isnan(u)


def test_an_emf_on_a_channel_without_a_thermocouple_is_no_value():
    for sensor in (
        None,
        {"kind": "rtd", "accuracy": "0.3 K"},
        {"kind": "thermocouple", "class": 1},
    ):
        assert math.isnan(corrector(sensor=sensor).value(1893.0, "uV", 25.0)[0])


def test_a_correction_in_the_wrong_unit_is_refused_by_channel():
    with pytest.raises(InputError, match=r"channel 'fat'.*offset_mass"):
        corrector(sensor=TYPE_T, correction={"offset_mass": "0.3 g", "checked": CHECKED})
    with pytest.raises(InputError, match="write offset_mass"):
        corrector(role="bath_scale", correction={"offset": "0.3 K", "checked": CHECKED})
    with pytest.raises(InputError, match="same true value"):
        corrector(correction={"points": [[0.1, 0.0], [99.0, 0.0]], "checked": CHECKED})


SENSORS = [
    None,
    PLAIN_K,
    TYPE_T,
    {**TYPE_T, "class": 2, "cold_junction": "0.4 K"},
    {"kind": "thermocouple", "type": "K", "class": "standard", "standard": "ASTM E230"},
    {"kind": "thermocouple", "type": "S", "class": 1},
    {"kind": "rtd", "accuracy": "0.3 K"},
]
CORRECTIONS = [
    None,
    {"offset": "-0.2 K", "checked": CHECKED, "by": "ice point"},
    {"offset": "0.7 K", "checked": "2025-11-02", "by": "boiling point"},
    {"points": [[0.3, 0.0], [97.2, 98.1]], "checked": "2026-07-01"},
]


@given(
    st.sampled_from(SENSORS),
    st.sampled_from(CORRECTIONS),
    st.lists(st.floats(-250.0, 1500.0) | st.just(math.nan), min_size=1, max_size=20),
)
def test_review_gives_the_same_bits_as_live(
    sensor: dict[str, Any] | None, correction: dict[str, Any] | None, shown: list[float]
):
    c = corrector(sensor=sensor, correction=correction)
    values, us = c.values(np.array(shown))
    live = [c.value(x, "degC") for x in shown]
    assert np.array_equal(values, [v for v, _ in live], equal_nan=True)
    assert np.array_equal(us, [u for _, u in live], equal_nan=True)


@given(
    st.sampled_from([PLAIN_K, TYPE_T, {"kind": "rtd", "accuracy": "1 K"}]),
    st.lists(
        st.tuples(st.floats(-8000.0, 70000.0), st.floats(-10.0, 60.0) | st.just(math.nan)),
        min_size=1,
        max_size=20,
    ),
)
def test_review_gives_the_same_bits_as_live_for_an_emf(
    sensor: dict[str, Any], sent: list[tuple[float, float]]
):
    c = corrector(sensor=sensor, correction=CORRECTIONS[1])
    raw, cold = np.array([e for e, _ in sent]), np.array([j for _, j in sent])
    values, us = c.values(raw, cold, "uV")
    live = [c.value(e, "uV", j) for e, j in sent]
    assert np.array_equal(values, [v for v, _ in live], equal_nan=True)
    assert np.array_equal(us, [u for _, u in live], equal_nan=True)


@given(st.lists(st.floats(-20_000.0, 20_000.0), min_size=1, max_size=20))
def test_review_gives_the_same_bits_as_live_on_a_scale(shown: list[float]):
    c = corrector(role="bath_scale", sensor=SCALE)
    values, us = c.values(np.array(shown))
    live = [c.value(x, "g") for x in shown]
    assert np.array_equal(values, [v for v, _ in live])
    assert np.array_equal(us, [u for _, u in live], equal_nan=True)


def test_readings_with_cold_junctions_are_taken_for_emfs_and_others_for_the_own_unit():
    c = corrector(sensor=PLAIN_K)
    raw = np.array([1893.0, 1893.0])
    by_junction = c.values(raw, np.array([25.0, math.nan]))[0]
    assert by_junction[0] == pytest.approx(71.0, abs=0.025)
    assert math.isnan(by_junction[1])
    assert c.values(np.array([46.0]), np.array([math.nan]))[0].tolist() == [46.0]
    assert c.values(np.array([46.0]))[0].tolist() == [46.0]
    for unit, cold in (("g", None), ("uV", None)):
        values, us = c.values(raw, cold, unit)
        assert np.isnan(values).all()
        assert np.isnan(us).all()
