"""Probe lag: data-sheet times, the plunge test, and what correcting it does to noise."""

import math
from itertools import pairwise

import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.heat.lag import (
    correct_lag,
    window_points,
)


@pytest.mark.parametrize("tau", [2.0, 5.0, 10.0])
def test_correcting_lag_multiplies_noise_as_a_line_through_the_window_does(tau: float):
    """Variance of value + tau slope of a fitted line, 1/n + tau**2 / sum(x**2), by the textbook."""
    points = window_points(tau, 0.25)
    impulse = np.zeros(3 * points)
    impulse[len(impulse) // 2] = 1.0
    x = (np.arange(points) - points // 2) * 0.25
    by_hand = math.sqrt(1.0 / points + tau**2 / np.sum(x**2))
    gain = np.linalg.norm(correct_lag(impulse, 0.25, tau))
    assert gain == pytest.approx(by_hand, rel=1e-9)


def lagged(true_c, step_s: float, tau: float):
    """Exact first-order response to a trace that is linear between its samples."""
    a = math.exp(-step_s / tau)
    shown = [true_c[0]]
    for before, after in pairwise(true_c):
        slope = (after - before) / step_s
        shown.append(after - slope * tau + (shown[-1] - before + slope * tau) * a)
    return np.array(shown)


@pytest.mark.parametrize("tau", [1.5, 5.0, 12.0])
def test_the_correction_takes_the_lag_off_a_cooling_curve(tau: float):
    """A Newtonian curve from 70 degC, 1/k 1200 s, seen through a first-order probe."""
    t = np.arange(0.0, 600.0, 0.25)
    true = 22.0 + 48.0 * np.exp(-t / 1200.0)
    shown = lagged(true, 0.25, tau)
    settled = slice(int(10 * tau / 0.25), None)
    assert np.max(np.abs(shown - true)[settled]) > 0.6 * tau * 48 / 1200 * math.exp(-0.5)
    corrected = correct_lag(shown, 0.25, tau)
    assert np.max(np.abs(corrected - true)[settled]) < 0.005


def test_the_correction_never_fills_a_gap():
    shown = np.linspace(60.0, 50.0, 201)
    shown[100] = math.nan
    corrected = correct_lag(shown, 0.5, 5.0)
    half = window_points(5.0, 0.5) // 2
    missing = np.flatnonzero(np.isnan(corrected))
    assert missing.tolist() == list(range(100 - half, 101 + half))
    assert np.all(np.isnan(correct_lag(np.array([20.0, 20.1]), 0.5, 5.0)))


def test_a_straight_line_is_shifted_by_its_slope_times_the_time_constant_up_to_both_ends():
    shown = 60.0 - 0.02 * np.arange(100) * 0.5
    assert correct_lag(shown, 0.5, 5.0) == pytest.approx(shown - 0.02 * 5.0, abs=1e-9)


def test_the_window_spans_twice_the_time_constant():
    for tau, step in ((5.0, 0.25), (2.0, 1.0), (0.1, 1.0)):
        assert (window_points(tau, step) - 1) * step >= 2.0 * tau
        assert window_points(tau, step) % 2 == 1


def test_arguments_out_of_range_are_refused():
    with pytest.raises(OutOfRangeError):
        correct_lag(np.zeros(50), 0.0, 5.0)
