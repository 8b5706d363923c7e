"""When a pour began: near the truth, and no surer than the readings allow."""

import numpy as np
import pytest
from scipy.stats import truncnorm

from logger.science.statistics import scalenoise
from logger.science.statistics.pourstart import pour_start

START_S = 22.0


def rise(flow_g_s, *, noise_g=0.3, hz=10.0, start_s=START_S, seed=1, lasts_s=36.0, step_g=0.1):
    """Readings of a level of 600 g that rises from `start_s` on."""
    t = np.arange(0.0, lasts_s, 1.0 / hz)
    mass = 600.0 + flow_g_s * np.maximum(t - start_s, 0.0)
    shown = mass + np.random.default_rng(seed).normal(0.0, noise_g, t.size)
    return t, np.round(shown / step_g) * step_g


def told(t, mass, step_g=0.1):
    return pour_start(t, mass, near_s=START_S, level_g=600.0, step_g=step_g)


@pytest.mark.parametrize("flow_g_s", [0.5, 1.7, 6.0])
def test_a_straight_rise_is_found(flow_g_s):
    start = told(*rise(flow_g_s))
    assert start.at_s == pytest.approx(START_S, abs=0.6)
    assert start.level_g == pytest.approx(600.0, abs=0.2)
    assert start.chance > 0.99


def test_a_level_is_no_pour():
    assert told(*rise(0.0)).chance < 0.1


def test_too_few_readings_tell_nothing():
    t, mass = rise(2.0)
    assert told(t[:11], mass[:11]) is None


@pytest.mark.parametrize("step_g", [0.1, 1.0])
def test_the_intervals_hold_the_truth_about_as_often_as_they_say(step_g):
    """30 rises of 0.4 to 8 g/s: nine tenths are promised; 23 of 30 and fewer would be one chance
    in 39 (binomial)."""
    rng = np.random.default_rng(7)
    held, width_s = [], []
    for seed in range(30):
        flow, begins_s = float(np.exp(rng.uniform(-0.9, 2.1))), float(rng.uniform(20.0, 24.0))
        noise_g = float(rng.uniform(0.05, 1.5))
        t, mass = rise(flow, noise_g=noise_g, start_s=begins_s, seed=seed, step_g=step_g)
        start = told(t[mass < 625.0], mass[mass < 625.0], step_g)
        held.append(start.early_s <= begins_s <= start.late_s)
        width_s.append(start.late_s - start.early_s)
    assert np.sum(held) > 23
    assert np.median(width_s) < 3.0


def test_what_a_hand_hides_is_told_less_surely():
    """A hand of 30 g from 20.5 to 23.5 s, that is not held still."""
    t, mass = rise(2.0)
    hidden = (t > 20.5) & (t < 23.5)
    sway = np.where(hidden, 30.0 + 8.0 * np.sin(5.0 * t), 0.0)
    free, held = told(t, mass), told(t, mass + sway)
    assert held.early_s <= START_S <= held.late_s
    assert held.late_s - held.early_s > 1.5 * (free.late_s - free.early_s)


def test_a_silence_over_the_beginning_is_not_guessed_away():
    t, mass = rise(2.0)
    there = (t < 20.0) | (t > 24.0)
    start = told(t[there], mass[there])
    assert start.early_s <= START_S <= start.late_s


def test_nothing_depends_on_when_and_how_heavy():
    t, mass = rise(1.7)
    here = told(t, mass)
    there = pour_start(t + 4096.0, mass + 256.0, near_s=START_S + 4096.0, level_g=856.0, step_g=0.1)
    assert there.at_s - 4096.0 == pytest.approx(here.at_s, abs=0.1)
    assert there.level_g - 256.0 == pytest.approx(here.level_g, abs=0.02)


def test_the_smaller_part_of_squares_is_made_a_standard_deviation():
    """Variance of the middle 75 % of a normal distribution, by scipy.stats.truncnorm."""
    edge = 1.1503493803760079  # from memory; checked by the next line
    assert truncnorm(-edge, edge).var() ** -0.5 == pytest.approx(scalenoise._FULL, abs=1e-3)


def test_noise_is_read_through_a_slope_and_past_a_touch():
    values = np.random.default_rng(3).normal(0.0, 0.5, 400) + 0.8 * np.arange(400.0)
    values[200:220] += 60.0
    noise = scalenoise.noise_along(values, 30)
    assert np.median(noise) == pytest.approx(0.5, rel=0.15)
    assert noise.max() < 1.0


def test_means_as_wide_as_beats_are_taken_under_a_whisk():
    """Beats of 2.5 a second vanish in means of 0.4 s."""
    t = np.arange(0.0, 30.0, 0.05)
    beats = 600.0 + 4.0 * np.sin(2.0 * np.pi * 2.5 * t)
    assert scalenoise.best_width_s(t, beats, 0.05) == pytest.approx(0.4)
