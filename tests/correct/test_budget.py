"""The lines of a reading's uncertainty: what the bench file says, defaults, and what is unknown."""

import datetime
import math
from typing import Any

import pytest

from logger.correct.channel import Corrector
from logger.science.metrology.uncertainty import combined_u
from tests.correct.sensors import CHECKED, PLAIN_K, SCALE, TYPE_T, budget, corrector, line


def test_an_unchecked_probe_on_a_coarse_converter_has_the_budget_worked_by_hand():
    """1.5/sqrt 3, 2/sqrt 3 and 0.25/sqrt 12 give u = 1.445."""
    c = corrector(sensor=PLAIN_K, resolution=0.25, repeatability=0.0)
    assert c.value(63.0, "degC")[1] == pytest.approx(1.445, abs=5e-4)


@pytest.mark.parametrize("stated", [{"cold_junction": "0.5 K"}, {}])
def test_a_checked_probe_has_the_check_and_the_cold_junction_in_its_budget(stated):
    """0.30, 0.25/sqrt 12, 0.5/sqrt 3, 0.10 by hand; the wire counts away from the check only."""
    sensor = {**TYPE_T, **stated}
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
        assert combined_u([t.u for t in budget(c, value)]) == pytest.approx(u, rel=1e-12)


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
    a_third_late = math.hypot(0.5, 2.0) / math.sqrt(3.0) / 3.0  # wire of class 1, a converter
    assert line(after(40), "overdue check", 50.0) == pytest.approx(a_third_late)
    assert any("10 days overdue" in t.source for t in budget(after(40), 50.0))
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
    unknown = [t for t in budget(c, 46.0) if math.isnan(t.u)]
    assert [t.distribution for t in unknown] == ["unknown"]
    assert unknown[0].source.startswith("unknown: ")


def test_a_default_says_that_it_is_one():
    c = corrector(sensor=TYPE_T)
    sources = {t.name: t.source for t in budget(c, 46.0)}
    assert sources["wire"] == "IEC 60584-2, type T, class 1"
    for name in ("converter", "resolution", "repeatability"):
        assert "typical, unverified" in sources[name]


def test_a_stated_number_is_not_called_typical():
    c = corrector(sensor={**TYPE_T, "converter": "0.3 K"}, resolution=0.1, repeatability=0.05)
    assert all("typical" not in t.source for t in budget(c, 46.0))


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
