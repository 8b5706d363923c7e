"""Pieces that went in during a gap of the scale; a bath with thousands of gaps costs nothing."""

import pytest

from logger.watch.stages.set.immersion.detector import RawEvent
from logger.watch.stages.set.immersion.gaps import placed_in_gaps
from logger.watch.stages.set.immersion.table import Immersion

GAP_S = (100.0, 160.0)
FOUND = Immersion(
    number=1, piece=1, in_s=None, out_s=500.0, dwell_s=None, mass_out_g=80.0, at_start=True
)
SEEN = Immersion(number=2, piece=2, in_s=20.0, out_s=420.0, dwell_s=400.0, mass_out_g=80.0)
RISE = RawEvent(t_s=130.0, kind="gap", change_g=79.0)


def test_a_piece_that_explains_the_rise_across_a_gap_went_in_during_it():
    placed, seen = placed_in_gaps([FOUND, SEEN], [RISE], [GAP_S])
    assert placed.in_between_s == GAP_S
    assert placed.dwell_between_s == (340.0, 400.0)
    assert not placed.at_start
    assert seen == SEEN


@pytest.mark.parametrize(
    "event", [RawEvent(t_s=130.0, kind="gap", change_g=-79.0), RawEvent(t_s=130.0, kind="up")]
)
def test_a_fall_or_an_edge_that_was_seen_places_nothing(event):
    assert placed_in_gaps([FOUND], [event], [GAP_S]) == (FOUND,)


def test_the_gaps_are_not_gone_through_when_every_piece_was_seen_to_go_in():
    """The bath is looked at each second: with a bad cable that would take longer and longer."""

    class Untouched(list):
        def __iter__(self):
            raise AssertionError("gone through")

    assert placed_in_gaps([SEEN], Untouched([RISE]), Untouched([GAP_S])) == (SEEN,)
