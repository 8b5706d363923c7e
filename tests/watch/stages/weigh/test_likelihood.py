"""Densities of masses integrate to one, and no log-prior is of more than certainty."""

import math

import numpy as np
import pytest

from logger.watch.stages.weigh import likelihood
from logger.watch.stages.weigh.doubts import as_wanted, beside_a_gap, may_be_vessel
from logger.watch.stages.weigh.levels import Level
from logger.watch.stages.weigh.states import NONE, Act, Change, Wanted

MASSES_G = np.geomspace(1e-3, 1e5, 6000)


def integral(log_density, masses_g=MASSES_G):
    """Of a density over masses spaced evenly by their logarithm, trapezoidal rule."""
    density = np.array([math.exp(log_density(float(m))) for m in masses_g])
    return float(np.trapezoid(density, masses_g))


@pytest.mark.parametrize(("target_g", "sd_g"), [(180.0, 1.3), (6.0, 0.2)])
def test_what_is_weighed_in_of_an_ingredient_is_surely_something(target_g, sd_g):
    def closed(mass_g):
        return likelihood.total_log_density(mass_g, target_g, sd_g)

    def unfinished(mass_g):
        return likelihood.open_log_density(mass_g, target_g, sd_g)

    assert integral(closed) == pytest.approx(1.0, abs=2e-3)
    # While more may follow, half is uniform up to the target: half of what lies below it.
    below_g = MASSES_G[target_g > MASSES_G]
    below = integral(closed, below_g)
    assert integral(unfinished, below_g) == pytest.approx(0.5 * below + 0.5, abs=5e-3)
    assert unfinished(target_g) == closed(target_g)
    assert closed(target_g) > closed(0.98 * target_g) > closed(0.5 * target_g)


def test_what_lies_beyond_any_habit_is_hardly_possible_and_no_mass_is_impossible():
    beyond = [likelihood.total_log_density(f * 100.0, 100.0, 1.0) for f in (0.0195, 5.2)]
    within = [likelihood.total_log_density(f * 100.0, 100.0, 1.0) for f in (0.0205, 4.8)]
    assert all(b < w - 1.0 for b, w in zip(beyond[:1], within[:1], strict=True))
    assert likelihood.total_log_density(0.0, 100.0, 1.0) == likelihood.IMPOSSIBLE
    assert likelihood.vessel_log_density(0.0, ()) == likelihood.IMPOSSIBLE
    assert likelihood.total_log_density(1e-6, 100.0, 1.0) != likelihood.IMPOSSIBLE
    assert likelihood.vessel_log_density(1e-6, ()) != likelihood.IMPOSSIBLE


def test_a_vessel_weighs_something_and_rather_what_a_known_one_does():
    def unknown(mass_g):
        return likelihood.vessel_log_density(mass_g, ())

    def known(mass_g):
        return likelihood.vessel_log_density(mass_g, (412.0, 90.0))

    assert integral(unknown) == pytest.approx(1.0, abs=2e-3)
    assert integral(known) == pytest.approx(1.0 + likelihood.KNOWN_VESSEL_SHARE, abs=2e-2)
    assert known(412.0) > unknown(412.0) + 2.0
    assert unknown(220.0) > unknown(500.0) > unknown(2000.0)


def test_portions_and_foreign_loads_are_spread_over_their_ranges():
    """A thousandfold range is 6.9 in logarithms: half of it, and half uniform up to the target."""
    masses_g = np.geomspace(0.1, 0.1 * math.exp(6.9), 3000)
    top_up = integral(lambda g: likelihood.portion_log_density(g, 1e9), masses_g)
    assert top_up == pytest.approx(0.5, abs=2e-3)
    whole = integral(lambda g: likelihood.portion_log_density(g, 50.0), np.linspace(1e-9, 50, 9))
    assert whole > 0.5
    step = likelihood.portion_log_density(1e9, 50.0)
    assert math.exp(step) == pytest.approx(0.5 / 50.0, rel=1e-3)
    grams = np.geomspace(0.05, 0.05 * 30_000, 3000)
    assert integral(likelihood.foreign_log_density, grams) == pytest.approx(1.0, abs=1e-3)
    assert likelihood.foreign_log_density(-80.0) == likelihood.foreign_log_density(80.0)
    assert likelihood.foreign_log_density(0.0) == likelihood.foreign_log_density(0.05)


def test_the_normal_density_is_that_of_the_tables():
    """0.3989 at the mean, 0.2420 one standard deviation off it."""
    assert math.exp(likelihood.normal(0.0, 1.0)) == pytest.approx(0.398942, abs=1e-6)
    assert math.exp(likelihood.normal(-2.0, 2.0)) == pytest.approx(0.241971 / 2.0, abs=1e-6)


def test_log_priors_are_of_probabilities_and_two_sides_of_a_question_add_up():
    for name, value in vars(likelihood).items():
        if name.startswith(("LOG_PRIOR", "LOG_PENALTY", "LOG_NEVER", "LOG_BEYOND")):
            each = value.values() if isinstance(value, dict) else [value]
            assert all(one < 0.0 for one in each), name
    for yes, no in (
        (likelihood.LOG_POURED_INSTANT, likelihood.LOG_POURED),
        (likelihood.LOG_SIGNAL_WITHIN, likelihood.LOG_NO_SIGNAL_WITHIN),
        (likelihood.LOG_SIGNAL_AFTER_VESSEL, likelihood.LOG_NO_SIGNAL_AFTER_VESSEL),
        (likelihood.LOG_ANOTHER, likelihood.LOG_MORE),
    ):
        assert math.exp(yes) + math.exp(no) == pytest.approx(1.0)
    shares = (likelihood.AIMED_SHARE, likelihood.NEAR_SHARE, likelihood.FAR_SHARE)
    assert sum(shares) + likelihood.ODD_SHARE == pytest.approx(1.0)


def change(**more):
    return Change(**{"first": 3, "last": 4, "from_g": 10.0, "to_g": 210.0} | more)


def test_a_change_of_load_leaves_out_what_is_known_to_be_none():
    assert change().net_g == 200.0
    assert change(shift_g=-50.0).net_g == 250.0


def test_a_level_comes_back_to_a_display_step_or_to_a_ten_thousandth():
    assert change(step_g=0.1).sd_g == 0.1
    assert change(to_g=-2000.0, step_g=0.1).sd_g == pytest.approx(0.2)


WANTED = Wanted(name="salt", target_g=6.0, aimed_sd_g=0.1)


@pytest.mark.parametrize(
    ("mass_g", "so"), [(6.0, True), (6.29, True), (6.31, False), (5.71, True), (5.69, False)]
)
def test_a_mass_within_three_standard_deviations_is_as_wanted(mass_g, so):
    assert as_wanted(mass_g, WANTED) is so


def levels(*masses_g, gap=None):
    return [Level(t_ns=k, level_g=g, final_g=g, in_gap=k == gap) for k, g in enumerate(masses_g)]


@pytest.mark.parametrize(
    ("gap", "beside"), [(0, False), (1, False), (2, True), (3, True), (4, False)]
)
def test_a_mass_is_beside_a_gap_that_it_came_in_or_that_follows_it_at_once(gap, beside):
    assert beside_a_gap([(1, 2)], levels(0.0, 0.0, 5.0, 5.0, 5.0, gap=gap)) is beside


ADD = Act(None, "add", 0, 0, 1, 80.0)


@pytest.mark.parametrize(
    ("act", "ingredient", "masses_g", "level"),
    [
        (ADD, 0, (0.0, 80.0), 1),
        (ADD, 1, (0.0, 80.0), 0),
        (ADD, 0, (0.15, 80.0), 1),  # the display still shows nought
        (ADD, 0, (0.16, 80.0), 0),  # something lay there before
        (ADD, 0, (0.0, 0.0), 0),
        (None, 0, (0.0, 80.0), 0),
        (Act(ADD, "off", NONE, 1, 2), 0, (0.0, 80.0, 0.0), 0),
        (Act(ADD, "add", 1, 1, 2, 9.0), 0, (0.0, 80.0, 89.0), 1),
        (Act(Act(None, "tare", NONE, 0, 1), "add", 0, 1, 2, 80.0), 0, (0.0, 0.0, 80.0), 2),
        (Act(Act(None, "nothing", NONE, 0, 1), "add", 0, 1, 2, 80.0), 0, (0.0, 0.0, 80.0), 2),
        (Act(Act(None, "vessel", NONE, 0, 1), "add", 0, 1, 2, 80.0), 0, (0.0, 90.0, 80.0), 0),
    ],
)
def test_only_a_first_load_on_an_empty_scale_may_be_a_vessel(act, ingredient, masses_g, level):
    assert may_be_vessel(act, ingredient, levels(*masses_g), 0.15) == level
