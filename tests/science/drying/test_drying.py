import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.drying import drying


def weighed(loss_g, *, step_g=0.1, noise_g=0.03, period_s=1.0, minutes=30.0, seed=1):
    time = np.arange(0, minutes * 60, period_s)
    mass = 480.0 - loss_g(time) + np.random.default_rng(seed).normal(0, noise_g, time.size)
    return time, np.round(mass / step_g) * step_g


def test_a_steady_loss_means_the_surface_is_wet():
    time, mass = weighed(lambda t: 3.0 * t / 3600)
    reading = drying.read_drying(time, mass)
    assert reading.state == "surface wet"
    assert reading.rate_g_h == pytest.approx(3.0, abs=3 * reading.u_rate_g_h)


def test_a_rate_that_fell_means_the_film_is_probably_gone():
    time, mass = weighed(lambda t: np.where(t < 700, 6.0 * t, 4200 + 0.9 * (t - 700)) / 3600)
    assert drying.read_drying(time, mass).state == "surface film probably gone"


def test_half_a_percent_lost_means_the_film_is_probably_gone():
    time, mass = weighed(lambda t: 6.0 * t / 3600)
    assert "0.5 %" in drying.read_drying(time, mass).reason


def test_a_scale_too_coarse_cannot_tell():
    time, mass = weighed(lambda t: 0.5 * t / 3600, step_g=1.0, noise_g=0.3)
    assert drying.read_drying(time, mass, resolution_g=1.0).state == "cannot tell yet"


def test_the_first_minutes_cannot_tell():
    time, mass = weighed(lambda t: 3.0 * t / 3600, minutes=3.0)
    assert drying.read_drying(time, mass).state == "cannot tell yet"


def test_no_reading_and_no_caution_says_safe():
    time, mass = weighed(lambda t: 6.0 * t / 3600)
    assert "safe" not in drying.read_drying(time, mass).reason
    assert "safe" not in drying.CAUTION
    assert "wet or frozen" in drying.CAUTION


def test_an_empty_curve_is_refused():
    with pytest.raises(OutOfRangeError):
        drying.read_drying([], [])
