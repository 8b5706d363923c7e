"""Medians, ranges and noise along half seconds, against their definitions."""

import numpy as np
import pytest

from logger.watch.scale.change import Change
from logger.watch.scale.running import HALF, LOCAL_BINS, bend_noise_g, running_median, running_range


def test_a_running_median_is_that_of_seven_to_either_side_and_of_fewer_near_an_end():
    mass_g = np.random.default_rng(5).normal(100.0, 3.0, 40)
    found = running_median(mass_g)
    for k in range(40):
        half = min(HALF, k, 39 - k)
        assert found[k] == np.median(mass_g[k - half : k + half + 1]), k
    for size in range(1, 16):
        short = mass_g[:size]
        assert running_median(short)[0] == short[0]
        assert running_median(short)[-1] == short[-1]


def test_a_touch_of_three_and_a_half_seconds_leaves_no_trace_and_a_longer_one_does():
    level = np.full(40, 100.0)
    for bins, stays in ((7, False), (8, True)):
        touched = level.copy()
        touched[15 : 15 + bins] += 5.0
        assert bool(running_median(touched).max() > 100.0) is stays


def test_a_slope_stays_one():
    slope = np.arange(30) * 0.25
    assert running_median(slope) == pytest.approx(slope)
    assert running_range(slope, 5)[5:-5] == pytest.approx(np.full(20, 1.0))


def test_the_noise_about_a_slope_is_that_of_the_masses_and_the_slope_makes_none():
    """A second difference has six times the variance of the noise; the median of its size is
    0.6745 standard deviations of a normal law."""
    assert bend_noise_g(np.arange(60) * 0.5) == pytest.approx(np.zeros(60), abs=1e-12)
    noise = np.random.default_rng(3).normal(0.0, 0.2, 4000)
    assert np.median(bend_noise_g(noise)) == pytest.approx(0.2, rel=0.05)
    assert bend_noise_g(np.array([1.0, 5.0, 2.0])).tolist() == [0.0, 0.0, 0.0]
    half = np.where(np.arange(200) < 100, 0.0, noise[:200])
    found = bend_noise_g(half)
    assert found[: 100 - LOCAL_BINS].max() == 0.0
    assert found[100 + LOCAL_BINS :].min() > 0.1


def test_what_a_giving_vessel_loses_has_come():
    change = Change(
        start_s=1.0, end_s=9.0, before_g=500.0, after_g=380.0, u_before_g=0.1, u_after_g=0.2,
        took_s=7.0, jump_g=-30.0, shape_g=(500.0, 440.0, 380.0), slope_before_g_s=-0.5,
        slope_after_g_s=-0.25, gap=True,
    )  # fmt: skip
    turned = change.turned()
    assert (change.by_g, turned.by_g) == (-120.0, 120.0)
    assert (turned.before_g, turned.after_g, turned.jump_g) == (-500.0, -380.0, 30.0)
    assert turned.shape_g == (-500.0, -440.0, -380.0)
    assert (turned.slope_before_g_s, turned.slope_after_g_s) == (0.5, 0.25)
    assert (turned.start_s, turned.took_s, turned.u_after_g, turned.gap) == (1.0, 7.0, 0.2, True)
