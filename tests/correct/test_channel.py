"""One channel's readings corrected, live and in review, with an honest uncertainty."""

import datetime
import math
from typing import Any

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st

from logger.correct.channel import Corrector, difference_uncertainty
from logger.model.bench import Channel
from logger.model.errors import InputError
from logger.science.its90 import emf_mv
from logger.science.uncertainty import combined_u, expanded_u

TODAY = datetime.date(2026, 11, 25)
CHECKED = "2026-11-02"
PLAIN_K = {"kind": "thermocouple", "type": "K", "class": 1, "converter": "2 K"}
TYPE_T = {"kind": "thermocouple", "type": "T", "class": 1}
SCALE = {"kind": "balance", "oiml_class": "II", "verification_interval": "0.1 g"}


def corrector(today: datetime.date = TODAY, **keys: Any) -> Corrector:
    table = {"id": "fat", "instrument": "probes", "field": "t1", "role": "fat", **keys}
    return Corrector(Channel.model_validate(table), today)


def line(c: Corrector, name: str, value: float) -> float:
    return math.hypot(*(t.u for t in c.budget(value) if t.name == name))


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


def test_an_unchecked_probe_on_a_coarse_converter_has_the_budget_worked_by_hand():
    """1.5/sqrt 3, 2/sqrt 3 and 0.25/sqrt 12 give u = 1.445, U = 2.89."""
    c = corrector(sensor=PLAIN_K, resolution=0.25, repeatability=0.0)
    assert c.value(63.0, "degC")[1] == pytest.approx(1.445, abs=5e-4)
    expanded, k = expanded_u(c.budget(63.0))
    assert (expanded, k) == (pytest.approx(2.89, abs=1e-3), 2.0)


def test_a_checked_probe_has_the_check_and_the_cold_junction_in_its_budget():
    """0.30, 0.25/sqrt 12, 0.5/sqrt 3, 0.10 by hand; the wire counts away from the check only."""
    sensor = {**TYPE_T, "cold_junction": "0.5 K"}
    correction = {"offset": "0.1 K", "checked": CHECKED, "by": "ice point", "u": 0.30}
    c = corrector(sensor=sensor, correction=correction, resolution=0.25, repeatability=0.10)
    by_hand = math.sqrt(0.30**2 + 0.25**2 / 12 + 0.5**2 / 3 + 0.10**2)
    assert c.value(-0.1, "degC")[1] == pytest.approx(by_hand, abs=1e-9)
    at_60 = math.hypot(by_hand, 0.6 * 0.5 / math.sqrt(3.0))
    assert c.value(59.9, "degC")[1] == pytest.approx(at_60, abs=1e-9)


def test_the_whole_is_the_root_of_the_sum_of_the_squared_lines():
    """JCGM 100:2008, equation 10."""
    for c in (
        corrector(sensor=PLAIN_K),
        corrector(
            sensor=TYPE_T, correction={"offset": "0 K", "checked": "2026-01-01", "by": "ice"}
        ),
        corrector(role="bath_scale", sensor=SCALE),
    ):
        u = c.value(40.0, c.channel.unit)[1]
        value = c.value(40.0, c.channel.unit)[0]
        assert combined_u([t.u for t in c.budget(value)]) == pytest.approx(u, rel=1e-12)


def test_a_check_makes_a_probe_better_near_it_and_no_better_far_away():
    unchecked = corrector(sensor=PLAIN_K)
    checked = corrector(
        sensor=PLAIN_K, correction={"offset": "0.4 K", "checked": CHECKED, "by": "ice point"}
    )
    for temp in (0.0, 20.0, 60.0):
        assert checked.u_at(temp) < unchecked.u_at(temp)
    assert line(checked, "wire away from the check", 250.0) == pytest.approx(
        line(unchecked, "wire", 250.0)
    )


def test_two_checks_hold_between_them_and_less_outside():
    points = [[0.1, 0.0], [99.0, 98.9]]
    c = corrector(sensor=PLAIN_K, correction={"points": points, "checked": CHECKED, "u": 0.2})
    assert line(c, "check", 0.0) == pytest.approx(0.2)
    assert line(c, "check", 49.45) == pytest.approx(0.2 / math.sqrt(2.0))
    assert line(c, "check", 150.0) > 0.3
    middle = line(c, "wire away from the check", 49.45)
    assert middle == pytest.approx(1.5 / math.sqrt(3.0) * 0.4945**2, rel=1e-6)


def test_a_check_of_unknown_method_does_not_shrink_the_wire():
    c = corrector(
        sensor=TYPE_T, correction={"offset": "0 K", "checked": CHECKED, "by": "my office"}
    )
    assert line(c, "wire away from the check", 10.0) == pytest.approx(0.5 / math.sqrt(3.0))


def test_an_overdue_check_widens_the_uncertainty_day_by_day_up_to_a_limit():
    correction = {"offset": "0.1 K", "checked": CHECKED, "by": "ice point", "due_days": 30}
    checked = datetime.date(2026, 11, 2)

    def after(days: int) -> Corrector:
        today = checked + datetime.timedelta(days=days)
        return corrector(today, sensor=TYPE_T, correction=correction)

    assert [after(d).overdue_days for d in (0, 30, 31, 75)] == [0, 0, 1, 45]
    us = [after(d).u_at(50.0) for d in (0, 30, 31, 40, 60, 600)]
    assert us[0] == us[1] < us[2] < us[3] < us[4] == us[5]
    assert us[5] >= corrector(sensor=TYPE_T).u_at(50.0) * 0.99
    assert any("10 days overdue" in t.source for t in after(40).budget(50.0))
    assert corrector(sensor=TYPE_T).overdue_days == 0


@pytest.mark.parametrize(
    "keys",
    [
        {"sensor": None},
        {"sensor": {"kind": "thermocouple", "type": "K"}},
        {"sensor": {"kind": "thermocouple", "type": "J", "class": 3}},
        {"sensor": {"kind": "rtd"}},
        {"role": "bath_scale", "sensor": None},
        {"role": "bath_scale", "sensor": {"kind": "balance"}},
    ],
)
def test_when_nothing_is_known_the_uncertainty_is_unknown_and_says_why(keys: dict[str, Any]):
    c = corrector(**keys)
    value, u = c.value(46.0, c.channel.unit)
    assert value == 46.0
    assert math.isnan(u)
    unknown = [t for t in c.budget(46.0) if math.isnan(t.u)]
    assert [t.distribution for t in unknown] == ["unknown"]
    assert unknown[0].source.startswith("unknown: ")
    assert math.isnan(expanded_u(c.budget(46.0))[0])


def test_a_default_says_that_it_is_one():
    c = corrector(sensor=TYPE_T)
    sources = {t.name: t.source for t in c.budget(46.0)}
    assert sources["wire"] == "IEC 60584-2, type T, class 1"
    for name in ("converter", "resolution", "repeatability"):
        assert "typical, unverified" in sources[name]


def test_a_stated_number_is_not_called_typical():
    c = corrector(sensor={**TYPE_T, "converter": "0.3 K"}, resolution=0.1, repeatability=0.05)
    assert all("typical" not in t.source for t in c.budget(46.0))


def test_outside_the_range_of_its_class_a_probe_has_a_value_without_uncertainty():
    value, u = corrector(sensor=TYPE_T).value(-60.0, "degC")
    assert value == -60.0
    assert math.isnan(u)


def test_a_scale_carries_its_class_in_service_its_step_and_its_repeatability():
    """OIML R 76: class II, e 0.1 g, 400 g: 0.05 g, double in service."""
    c = corrector(role="bath_scale", sensor=SCALE, resolution=0.01, repeatability=0.02)
    by_hand = math.sqrt(0.1**2 / 3 + 0.01**2 / 12 + 0.02**2)
    assert c.value(400.0, "g") == (400.0, pytest.approx(by_hand, rel=1e-9))
    assert math.isnan(c.u_at(10_001.0))


def test_a_check_weight_moves_a_scale_and_adds_its_own_uncertainty():
    correction = {"offset_mass": "0.3 g", "checked": CHECKED, "by": "check weight", "u": 0.05}
    plain = corrector(role="bath_scale", sensor=SCALE)
    c = corrector(role="bath_scale", sensor=SCALE, correction=correction)
    assert c.value(200.0, "g")[0] == pytest.approx(200.3)
    assert c.u_at(200.3) == pytest.approx(math.hypot(plain.u_at(200.3), 0.05))


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


CHECKED_T = {
    "sensor": {**TYPE_T, "cold_junction": "0.5 K"},
    "correction": {"offset": "0 K", "checked": CHECKED, "by": "ice point"},
}


def pair(**second: Any) -> tuple[Corrector, Corrector]:
    return corrector(**CHECKED_T), corrector(
        **{"id": "water", "role": "water", "field": "t2", **CHECKED_T, **second}
    )


def test_two_channels_of_one_board_share_the_cold_junction():
    """The package uncertainties keeps the common variable by itself (first order)."""
    fat, water = pair()
    cold_junction = uncertainties.ufloat(0.0, 0.5 / math.sqrt(3.0))

    def reading(c: Corrector, value: float):
        rest = [t.u for t in c.budget(value) if t.name != "cold junction"]
        return sum((uncertainties.ufloat(0.0, u) for u in rest), value + cold_junction)

    other = (reading(fat, 52.0) - reading(water, 48.0)).std_dev
    got = difference_uncertainty(fat, 52.0, water, 48.0)
    assert got == pytest.approx(other, rel=1e-9)
    assert got < math.hypot(fat.u_at(52.0), water.u_at(48.0)) * 0.85


def test_two_channels_of_two_boards_share_nothing():
    fat, water = pair(instrument="other board")
    got = difference_uncertainty(fat, 52.0, water, 48.0)
    assert got == pytest.approx(math.hypot(fat.u_at(52.0), water.u_at(48.0)))


def test_a_change_of_one_probe_keeps_steps_and_repeatability_only():
    fat = corrector(**CHECKED_T, resolution=0.25, repeatability=0.1)
    noise = math.sqrt(2.0 * (0.25**2 / 12 + 0.1**2))
    assert difference_uncertainty(fat, 50.0, fat, 50.0) == pytest.approx(noise)
    # 60 K apart the wire's error differs: 0.6 of its class lasts
    apart = difference_uncertainty(fat, 70.0, fat, 10.0)
    assert apart == pytest.approx(math.hypot(noise, 0.6 * 0.5 / math.sqrt(3.0)))


def test_a_net_mass_on_one_scale_counts_steps_and_repeats_twice_and_the_limit_once():
    """By hand: sqrt 2 (0.01/sqrt 12), sqrt 2 (0.01), 0.05/sqrt 3 give 0.0324 g."""
    sensor = {"kind": "balance", "linearity": "0.05 g"}
    scale = corrector(role="bowl_scale", sensor=sensor, resolution=0.01, repeatability=0.01)
    got = difference_uncertainty(scale, 430.0, scale, 250.0)
    assert got == pytest.approx(0.0324, abs=1e-4)


def test_a_difference_with_an_unknown_in_it_is_unknown():
    fat, water = pair(sensor=None, correction=None)
    assert math.isnan(difference_uncertainty(fat, 52.0, water, 48.0))
    assert math.isnan(difference_uncertainty(water, 52.0, water, 48.0))
    assert math.isnan(difference_uncertainty(fat, math.nan, fat, 48.0))
    scale = corrector(role="bowl_scale", sensor=SCALE)
    assert math.isnan(difference_uncertainty(fat, 52.0, scale, 48.0))


@pytest.mark.parametrize(
    ("days", "late", "says"),
    [
        (0, 0, "checked today"),
        (1, 0, "checked yesterday"),
        (90, 0, "checked 90 days ago"),
        (91, 1, "checked 91 days ago; check it in ice water"),
        (410, 320, "checked 410 days ago; check it in ice water"),
        (-3, 0, "its check is dated ahead of today; look at the computer's date"),
    ],
)
def test_how_a_check_stands_is_said_in_plain_words(days: int, late: int, says: str):
    """Due after 90 days where the bench file does not say: common practice, no source."""
    correction = {"offset": "0.1 K", "checked": CHECKED, "by": "boiling point"}
    today = datetime.date(2026, 11, 2) + datetime.timedelta(days=days)
    standing = corrector(today, sensor=TYPE_T, correction=correction).standing
    assert (standing.ago_days, standing.overdue_days, standing.says) == (days, late, says)


def test_a_scale_is_checked_with_a_weight_and_one_never_checked_is_only_said_to_be_so():
    correction = {"offset_mass": "0.1 g", "checked": CHECKED, "by": "check weight"}
    late = corrector(
        datetime.date(2027, 11, 2), role="bath_scale", sensor=None, correction=correction
    )
    assert late.standing.says == "checked 365 days ago; check it with a check weight"
    never = corrector(sensor=TYPE_T).standing
    assert (never.checked, never.overdue_days, never.says) == (None, 0, "never checked")
