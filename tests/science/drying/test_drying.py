import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.drying import drying


def weighed(loss_g, *, step_g=0.1, noise_g=0.03, period_s=1.0, minutes=30.0, seed=1):
    time = np.arange(0, minutes * 60, period_s)
    mass = 480.0 - loss_g(time) + np.random.default_rng(seed).normal(0, noise_g, time.size)
    return time, np.round(mass / step_g) * step_g


def test_bead_law_at_its_quarters():
    """(1 - x)**1.5: 0.75**1.5 = 0.6495, 0.5**1.5 = 0.3536, 0.25**1.5 = 0.125."""
    assert drying.bead_ratio([25.0, 50.0, 75.0, 120.0], 100.0) == pytest.approx(
        [0.6495, 0.3536, 0.125, 0.0], abs=1e-4
    )


def test_page_with_exponent_one_is_lewis_and_inverts():
    times = np.array([10.0, 100.0, 1000.0])
    assert drying.page_ratio(times, 2e-3, 1.0) == pytest.approx(drying.lewis_ratio(times, 2e-3))
    ratio = float(drying.page_ratio(400.0, 1e-3, 1.2))
    assert drying.page_time_s(ratio, 1e-3, 1.2) == pytest.approx(400.0)


def test_still_air_evaporates_about_a_gram_an_hour_from_100_cm2():
    """Common practice, no source: 1 to 1.5 g/h; surface at the wet bulb, 14 degC."""
    rate = drying.evaporation_g_h(
        100.0, 0.0055, surface_temp_c=13.8, air_temp_c=20.0, relative_humidity=0.5
    )
    assert 0.4 < rate < 1.5


def test_vapour_density_of_saturated_air():
    """Steam tables: 17.3 g/m3 at 20 degC, 30.4 at 30."""
    assert drying.vapour_density_kg_m3(20.0) * 1e3 == pytest.approx(17.3, abs=0.05)
    assert drying.vapour_density_kg_m3(30.0) * 1e3 == pytest.approx(30.4, abs=0.06)


def test_a_gram_of_water_makes_two_litres_of_steam():
    """Ideal gas at 180 degC and 101.325 kPa."""
    assert drying.steam_l(1.0, 180.0) == pytest.approx(2.06, abs=0.01)


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
    assert "0.5%" in drying.read_drying(time, mass).reason


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
