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


FILM_G = 6.0


def film_left_g(time_s, rate_g_h, enough_g, rest=0.05):
    """Water left of a film that evaporates steadily while there is enough of it, then gives out.

    Below that the rate is in proportion to what is left (Lewis), down to that of the gel beneath.
    """
    rate_g_s = rate_g_h / 3600.0
    steady_s = (FILM_G - enough_g) / rate_g_s
    since_s = np.maximum(time_s - steady_s, 0.0)
    gives_out = enough_g * (1.0 - rest) * -np.expm1(-since_s * rate_g_s / enough_g)
    return FILM_G - rate_g_s * np.minimum(time_s, steady_s) - gives_out - rest * rate_g_s * since_s


@pytest.mark.parametrize("step_g", [0.01, 0.1])
@pytest.mark.parametrize(("rate_g_h", "enough_g"), [(15.0, 1.0), (20.0, 2.0)])
def test_a_film_that_gives_out_is_told_with_the_range_of_its_bend(step_g, rate_g_h, enough_g):
    def lost_g(time_s):
        return FILM_G - film_left_g(time_s, rate_g_h, enough_g)

    time, mass = weighed(lost_g, step_g=step_g, noise_g=0.3 * step_g, minutes=45.0)
    bend_s = 3600.0 * (FILM_G - enough_g) / rate_g_h
    early = drying.read_drying(time[time < bend_s], mass[time < bend_s], resolution_g=step_g)
    assert early.state == "surface wet"
    found = drying.read_drying(time, mass, resolution_g=step_g)
    assert found.state == "surface film probably gone"
    assert found.bend.early_s <= bend_s <= found.bend.late_s
    assert found.bend.late_s - found.bend.early_s < 240.0
    assert "began to fall after" in found.reason


def other_air(kind, time_s, rng):
    """Return the rate as a share of the first, for a film that stays wet throughout."""
    end_s, one, two = time_s[-1], *rng.uniform(0.3, 0.7, 2)
    first_s, second_s = np.sort(rng.uniform(0.15, 0.8, 2)) * end_s
    since_s = np.maximum(time_s - first_s, 0.0)
    shares = {
        "steady": np.ones_like(time_s),
        "fan off": np.where(time_s > first_s, 0.5 * one, 1.0),
        "lid on": np.where(time_s > first_s, 0.05, 1.0),
        "twice": np.where(time_s > first_s, one, 1.0) * np.where(time_s > second_s, two, 1.0),
        "settles": one + (1.0 - one) * np.exp(-since_s / rng.uniform(30.0, 300.0)),
        "drifts": 1.0 - one * time_s / end_s,
    }
    return shares[kind]


@pytest.mark.parametrize("step_g", [0.01, 0.1])
@pytest.mark.parametrize("kind", ["steady", "fan off", "lid on", "twice", "settles", "drifts"])
def test_a_wet_film_in_other_air_is_never_told_gone(kind, step_g):
    """It loses 1.2 to 10 g, from 0.25 to 2 % of the mass, and is wet all the time."""
    for seed in range(4):
        rng = np.random.default_rng(seed)
        rate_g_h = rng.uniform(4.0, 15.0)

        def lost_g(time_s, rng=rng, rate_g_h=rate_g_h):
            return np.cumsum(other_air(kind, time_s, rng)) * rate_g_h / 3600.0

        time, mass = weighed(
            lost_g, step_g=step_g, noise_g=0.4 * step_g, minutes=40.0, seed=seed, period_s=1.0
        )
        for until_s in (1500, 2400):
            seen = time < until_s
            found = drying.read_drying(time[seen], mass[seen], resolution_g=step_g)
            assert found.state != "surface film probably gone"
            assert found.bend is None


def test_a_rate_that_drops_at_once_is_that_of_other_air():
    time, mass = weighed(lambda t: np.where(t < 700, 6.0 * t, 4200 + 0.9 * (t - 700)) / 3600)
    found = drying.read_drying(time, mass)
    assert found.state == "cannot tell yet"
    assert "other air" in found.reason


def test_how_much_has_left_says_nothing():
    time, mass = weighed(lambda t: 20.0 * t / 3600)
    assert drying.read_drying(time, mass).lost_g > 0.02 * 480.0
    assert drying.read_drying(time, mass).state == "surface wet"


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
