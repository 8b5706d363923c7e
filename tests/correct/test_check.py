"""An ice point, a boiling point or a check weight read at the bench."""

import math

import numpy as np
import pytest

from logger.correct.check import check_readings
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
