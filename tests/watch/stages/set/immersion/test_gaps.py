"""Pieces that went in during a gap of the scale in which more happened."""

import pytest

from logger.watch.stages.set.immersion.gaps import placed_in_gaps
from logger.watch.stages.set.immersion.table import HiddenRise, Immersion

FOUND = Immersion(
    number=1, piece=1, in_s=None, out_s=500.0, dwell_s=None, mass_out_g=80.0, at_start=True
)
SEEN = Immersion(number=2, piece=2, in_s=20.0, out_s=420.0, dwell_s=400.0, mass_out_g=80.0)


@pytest.mark.parametrize("rise_g", [79.0, 300.0])
def test_a_piece_that_a_rise_across_a_gap_can_hold_went_in_during_it(rise_g):
    rise = HiddenRise(from_s=100.0, to_s=160.0, rise_g=rise_g)
    placed, seen = placed_in_gaps([FOUND, SEEN], [rise])
    assert placed.in_between_s == (100.0, 160.0)
    assert placed.dwell_between_s == (340.0, 400.0)
    assert not placed.at_start
    assert seen == SEEN


@pytest.mark.parametrize(("from_s", "rise_g"), [(100.0, 60.0), (480.0, 80.0)])
def test_a_rise_that_is_too_small_or_comes_too_late_places_nothing(from_s, rise_g):
    rise = HiddenRise(from_s=from_s, to_s=from_s + 60.0, rise_g=rise_g)
    assert placed_in_gaps([FOUND], [rise]) == (FOUND,)
