"""The loss model in closed form, against its own differential equation and hand-worked cases."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from logger.science.heat.cooling import (
    excess_after,
    excess_derivatives,
    lag_ahead_s,
    time_to_excess,
)


def test_newton_from_70_to_35_with_air_at_22_takes_3135_s():
    """2400 s x ln(48/13) = 3135.004 s, by hand."""
    assert float(time_to_excess(48.0, 13.0, 1 / 2400, 1.0)) == pytest.approx(3135.004, abs=1e-3)


def test_the_power_law_runs_into_newton_and_is_slower_above_it():
    """n -> 1 gives 3135.004 s; n = 1.25 with the same k gives 3296 s:
    4 x 2400 s x ((13/30)^-0.25 - (48/30)^-0.25), by hand."""
    near = float(time_to_excess(48.0, 13.0, 1 / 2400, 1.0 + 2e-4))
    assert near == pytest.approx(3135.004, abs=0.2)
    by_hand = 4 * 2400 * ((13 / 30) ** -0.25 - (48 / 30) ** -0.25)
    assert by_hand == pytest.approx(3296.0, abs=1.0)
    assert float(time_to_excess(48.0, 13.0, 1 / 2400, 1.25)) == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize("exponent", [0.8, 1.0, 1.00005, 1.25, 1.6])
def test_the_closed_form_solves_its_equation(exponent):
    """Against a Runge-Kutta solution of dD/dt = -k D (D/30)^(n-1)."""
    k, times = 1 / 1800, np.linspace(0.0, 5400.0, 20)
    solved = solve_ivp(
        lambda _, d: -k * d * (d / 30.0) ** (exponent - 1.0),
        (0.0, 5400.0), [45.0], t_eval=times, rtol=1e-10, atol=1e-10,
    )  # fmt: skip
    assert excess_after(45.0, k, exponent, times) == pytest.approx(solved.y[0], rel=1e-7)


@pytest.mark.parametrize("exponent", [0.9, 1.0, 1.2])
def test_time_and_excess_are_inverses(exponent):
    left = time_to_excess(40.0, 10.0, 1 / 900, exponent)
    assert float(excess_after(40.0, 1 / 900, exponent, left)) == pytest.approx(10.0, rel=1e-9)


def test_a_limit_at_or_below_the_air_is_never_reached_and_one_above_is_there_already():
    assert math.isinf(float(time_to_excess(30.0, 0.0, 1e-3, 1.2)))
    assert math.isinf(float(time_to_excess(30.0, -2.0, 1e-3, 1.0)))
    assert float(time_to_excess(9.0, 10.0, 1e-3, 1.2)) == 0.0


@pytest.mark.parametrize("exponent", [1.0, 1.00005, 1.25])
def test_the_derivatives_agree_with_differences(exponent):
    times = np.array([-600.0, -60.0, 0.0])
    exact = excess_derivatives(40.0, 1e-3, exponent, times)
    steps = (
        (excess_after(40.01, 1e-3, exponent, times),
         excess_after(39.99, 1e-3, exponent, times), 0.02),
        (excess_after(40.0, 1e-3 * math.exp(1e-4), exponent, times),
         excess_after(40.0, 1e-3 * math.exp(-1e-4), exponent, times), 2e-4),
        (excess_after(40.0, 1e-3, exponent + 1e-3, times),
         excess_after(40.0, 1e-3, exponent - 1e-3, times), 2e-3),
    )  # fmt: skip
    for column, (high, low, width) in enumerate(steps):
        assert exact[:, column] == pytest.approx((high - low) / width, rel=2e-3, abs=1e-3)


def test_far_back_in_time_the_curve_stays_finite():
    """Beyond the pole of the closed form; a trial step of a fit may ask for it."""
    assert np.isfinite(excess_after(30.0, 1e-2, 1.5, np.array([-1e4]))).all()


def test_the_contents_are_one_time_constant_ahead_of_a_slow_probe():
    """-ln(1 - k tau)/k: 5.005 s for tau 5 s and k 1/2400 s, by hand."""
    assert lag_ahead_s(1 / 2400, 5.0) == pytest.approx(5.005, abs=1e-3)
    assert lag_ahead_s(0.0, 5.0) == 5.0
