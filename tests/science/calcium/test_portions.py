"""Amounts that belong together, by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.model.errors import OutOfRangeError
from logger.science.calcium.portions import share_percent, to_add_g

ROLL = {"cocoa butter": 180.0, "beet juice": 240.0, "binder": 12.0}


def test_ten_percent_too_much_of_one_asks_for_ten_percent_more_of_the_others():
    add = to_add_g(ROLL, {"cocoa butter": 198.0}, "cocoa butter")
    assert add == pytest.approx({"beet juice": 264.0, "binder": 13.2})


def test_what_is_already_in_the_bowl_is_not_added_again():
    add = to_add_g(
        ROLL, {"cocoa butter": 198.0, "beet juice": 240.0, "binder": 20.0}, "cocoa butter"
    )
    assert add == pytest.approx({"beet juice": 24.0, "binder": 0.0})


@given(st.floats(1.001, 3.0), st.floats(0.0, 0.99))
def test_after_adding_the_proportions_are_those_of_the_recipe(over, part):
    weighed = {"cocoa butter": 180.0 * over, "beet juice": 240.0 * part}
    add = to_add_g(ROLL, weighed, "cocoa butter")
    total = {name: weighed.get(name, 0.0) + add.get(name, 0.0) for name in ROLL}
    for name, mass_g in ROLL.items():
        assert total[name] / total["cocoa butter"] == pytest.approx(mass_g / 180.0)


def test_28_g_of_dihydrate_in_972_g_of_water_is_2_11_percent_without_crystal_water():
    """28 g x 110.984 / 147.014 = 21.138 g in 1000 g (IUPAC standard atomic weights)."""
    percent, _ = share_percent(28.0, 972.0, pure_share=110.984 / 147.014)
    assert percent == pytest.approx(2.1138, abs=5e-5)


def test_the_uncertainty_of_a_share_is_that_of_the_small_mass_in_the_large():
    """d/dp of p/(p + o) is o/(p + o)^2: 0.1 g of 10 g in 990 g is 0.0099 %."""
    assert share_percent(10.0, 990.0, u_part_g=0.1)[1] == pytest.approx(0.0099)


def test_masses_that_cannot_be_are_refused():
    with pytest.raises(OutOfRangeError):
        share_percent(-1.0, 10.0)
    with pytest.raises(OutOfRangeError):
        share_percent(0.0, 0.0)
    with pytest.raises(OutOfRangeError):
        to_add_g({"a": 0.0, "b": 1.0}, {"a": 1.0}, "b")
