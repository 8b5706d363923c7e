"""The uncertainty of a difference: what two readings share does not count."""

import math
from typing import Any

import pytest
import uncertainties

from logger.correct.channel import Corrector, difference_uncertainty
from tests.correct.sensors import CHECKED, SCALE, TYPE_T, budget, corrector

CHECKED_T = {
    "sensor": {**TYPE_T, "cold_junction": "0.5 K"},
    "correction": {"offset": "0 K", "checked": CHECKED, "by": "ice point"},
}


def pair(**second: Any) -> tuple[Corrector, Corrector]:
    return corrector(**CHECKED_T), corrector(
        **{"id": "water", "role": "water", "field": "t2", **CHECKED_T, **second}
    )


def test_two_channels_of_one_board_share_the_cold_junction():
    """The package uncertainties keeps the common variable by itself (first order)."""
    fat, water = pair()
    cold_junction = uncertainties.ufloat(0.0, 0.5 / math.sqrt(3.0))

    def reading(c: Corrector, value: float):
        rest = [t.u for t in budget(c, value) if t.name != "cold junction"]
        return sum((uncertainties.ufloat(0.0, u) for u in rest), value + cold_junction)

    other = (reading(fat, 52.0) - reading(water, 48.0)).std_dev
    got = difference_uncertainty(fat, 52.0, water, 48.0)
    assert got == pytest.approx(other, rel=1e-9)
    assert got < math.hypot(fat.u_at(52.0), water.u_at(48.0)) * 0.85


def test_two_channels_of_two_boards_share_nothing():
    fat, water = pair(instrument="other board")
    got = difference_uncertainty(fat, 52.0, water, 48.0)
    assert got == pytest.approx(math.hypot(fat.u_at(52.0), water.u_at(48.0)))


def test_a_change_of_one_probe_keeps_steps_and_repeatability_only():
    fat = corrector(**CHECKED_T, resolution=0.25, repeatability=0.1)
    noise = math.sqrt(2.0 * (0.25**2 / 12 + 0.1**2))
    assert difference_uncertainty(fat, 50.0, fat, 50.0) == pytest.approx(noise)
    # 60 K apart the wire's error differs: 0.6 of its class lasts
    apart = difference_uncertainty(fat, 70.0, fat, 10.0)
    assert apart == pytest.approx(math.hypot(noise, 0.6 * 0.5 / math.sqrt(3.0)))


def test_a_net_mass_on_one_scale_counts_steps_and_repeats_twice_and_the_limit_once():
    """By hand: sqrt 2 (0.01/sqrt 12), sqrt 2 (0.01), 0.05/sqrt 3 give 0.0324 g."""
    sensor = {"kind": "balance", "linearity": "0.05 g"}
    scale = corrector(role="bowl_scale", sensor=sensor, resolution=0.01, repeatability=0.01)
    got = difference_uncertainty(scale, 430.0, scale, 250.0)
    assert got == pytest.approx(0.0324, abs=1e-4)


def test_a_difference_with_an_unknown_in_it_is_unknown():
    fat, water = pair(sensor=None, correction=None)
    assert math.isnan(difference_uncertainty(fat, 52.0, water, 48.0))
    assert math.isnan(difference_uncertainty(water, 52.0, water, 48.0))
    assert math.isnan(difference_uncertainty(fat, math.nan, fat, 48.0))
    scale = corrector(role="bowl_scale", sensor=SCALE)
    assert math.isnan(difference_uncertainty(fat, 52.0, scale, 48.0))
