"""An ice point, a boiling point or a check weight read at the bench."""

import math

import numpy as np
import pytest

from logger.correct.check import check_readings
from logger.correct.correction import check_u
from logger.model.bench import Correction
from logger.model.errors import OutOfRangeError
from logger.science.metrology.reference_points import ICE_POINT_C, U_ICE_BATH_K, boiling_check

TIME_S = np.arange(0.0, 60.0, 0.5)


def shown_near(value: float, noise: float = 0.05, step: float = 0.1):
    rng = np.random.default_rng(3)
    return np.round((value + rng.normal(0.0, noise, TIME_S.size)) / step) * step


def test_a_probe_that_shows_0_4_in_ice_needs_minus_0_4():
    found = check_readings(
        TIME_S, shown_near(0.4), reference=ICE_POINT_C, u_reference=U_ICE_BATH_K, unit="degC",
        step=0.1,
    )  # fmt: skip
    assert found.offset == pytest.approx(-0.4, abs=0.02)
    assert found.count == TIME_S.size
    # the bath and the display's step; the mean of 120 readings adds little
    assert found.u == pytest.approx(math.hypot(0.1, 0.1 / math.sqrt(12)), abs=0.005)


def test_a_boiling_check_is_made_against_the_pressure_of_the_day():
    """IAPWS: 98.178 degC at 95 kPa."""
    reference, u_reference = boiling_check(pressure_kpa=95.0, u_pressure_kpa=0.3)
    found = check_readings(
        TIME_S, shown_near(98.8), reference=reference, u_reference=u_reference, unit="degC",
        step=0.1,
    )  # fmt: skip
    assert found.offset == pytest.approx(-0.62, abs=0.03)
    assert found.u > u_reference


def test_a_check_weight_checks_a_scale():
    found = check_readings(
        TIME_S, shown_near(199.8, 0.02), reference=200.0, u_reference=0.01, unit="g", step=0.1
    )
    assert found.offset == pytest.approx(0.2, abs=0.02)


@pytest.mark.parametrize(
    ("time_s", "shown", "says"),
    [
        (TIME_S[:10], shown_near(0.4)[:10], "readings in the check"),
        (TIME_S / 10.0, shown_near(0.4), "length of the check"),
        (TIME_S, shown_near(0.4) + 0.02 * TIME_S, "drift during the check"),
        (TIME_S, shown_near(21.0), "offset of the check"),
        (TIME_S, np.full(TIME_S.size, np.nan), "readings in the check"),
    ],
)
def test_a_check_that_proves_nothing_is_refused(time_s, shown, says: str):
    with pytest.raises(OutOfRangeError, match=says):
        check_readings(
            time_s, shown, reference=0.0, u_reference=0.1, unit="degC", step=0.1
        )  # fmt: skip


@pytest.mark.parametrize("begins_s", [0.0, 5000.0])
def test_a_check_takes_twenty_readings_over_half_a_minute_whenever_it_begins(begins_s):
    """Common practice, no source."""

    def checked(count, lasts_s):
        time_s = begins_s + np.linspace(0.0, lasts_s, count)
        return check_readings(
            time_s, np.full(count, 0.4), reference=0.0, u_reference=0.1, unit="degC", step=0.1
        )

    assert checked(20, 30.0).count == 20
    with pytest.raises(OutOfRangeError, match="readings in the check"):
        checked(19, 30.0)
    with pytest.raises(OutOfRangeError, match="length of the check"):
        checked(20, 29.9)


@pytest.mark.parametrize(
    ("step", "unit", "widest"), [(0.05, "degC", 0.2), (0.25, "degC", 0.5), (1.0, "g", 2.0)]
)
def test_readings_may_drift_by_two_steps_of_the_display_or_by_the_least_of_the_unit(
    step, unit, widest
):
    """Common practice, no source. Half of the drift either way, as of a rectangle, is uncertain."""

    def drifting(by):
        return check_readings(
            TIME_S, 1.0 + by * TIME_S / TIME_S[-1], reference=1.0, u_reference=0.0, unit=unit,
            step=step,
        )  # fmt: skip

    for by in (0.99 * widest, -0.99 * widest):
        found = drifting(by)
        assert found.drift == pytest.approx(by)
        assert found.offset == pytest.approx(-by / 2.0)
        scatter = abs(by) / math.sqrt(12.0 * TIME_S.size)
        parts = (step / math.sqrt(12.0), scatter, abs(by) / math.sqrt(12.0))
        assert found.u == pytest.approx(math.hypot(*parts), rel=2e-3)
    for by in (1.01 * widest, -1.01 * widest):
        with pytest.raises(OutOfRangeError, match="drift during the check"):
            drifting(by)


@pytest.mark.parametrize(("unit", "farthest"), [("degC", 5.0), ("g", 50.0)])
def test_what_is_too_far_off_is_no_offset(unit, farthest):
    """Common practice, no source."""

    def off_by(offset):
        shown = np.full(TIME_S.size, 100.0 - offset)
        return check_readings(
            TIME_S, shown, reference=100.0, u_reference=0.1, unit=unit, step=0.1
        ).offset

    for offset in (farthest, -farthest):
        assert off_by(offset) == offset
        with pytest.raises(OutOfRangeError, match="offset of the check"):
            off_by(1.01 * offset)


@pytest.mark.parametrize(
    ("by", "u_k"),
    [
        ("ice point", 0.1),
        ("Melting ice", 0.1),
        ("boiling water", 0.3),
        ("ice point and boiling water", 0.3),
        ("another thermometer, warm water", 0.3),
        ("", 0.3),
    ],
)
def test_a_check_is_as_good_as_its_method_and_of_two_as_the_worse(by, u_k):
    """Ice of an ice bath 0.1 K, all else 0.3 K: common practice, no source."""
    found, source = check_u(Correction(offset="0 K", checked="2026-01-01", by=by), "degC", 0.1)
    assert found == u_k
    assert (by or "method not named") in source
    assert check_u(Correction(offset_mass="0 g", checked="2026-01-01", by=by), "g", 0.5)[0] == 0.5
