"""What a gap of the scale may hide, beside what was seen on its sides."""

import pytest

from logger.watch.stages.set.immersion.detector import ImmersionDetector
from logger.watch.stages.set.immersion.gaps import placed_in_gaps
from logger.watch.stages.set.immersion.table import HiddenRise, Immersion
from tests.watch.stages.set.immersion.feeding import feed_many

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


def quiet_but(readings, from_s, to_s):
    """Return readings without those between two times [s]."""
    kept = [(t, x) for t, x in zip(*readings, strict=True) if not from_s < t < to_s]
    return tuple(zip(*kept, strict=True))


def rows_of(readings, **options):
    detector = ImmersionDetector(**options)
    feed_many(detector, *readings)
    detector.end()
    return detector.table().immersions


MASSES = {1: 70.0, 2: 80.0, 3: 95.0}
REST = [(40.0, 80.0), (60.0, 95.0), (200.0, -71.5), (230.0, -81.5), (250.0, -96.5)]


def test_a_piece_of_which_a_part_went_in_before_a_gap_may_have_gone_in_then_or_during_it(bath):
    """15 g of 70 g at 20 s; the rest of it, and another piece, while the scale was silent."""
    moves = [(20.0, 15.0), (24.0, 55.0), (27.0, 80.0), *REST[1:]]
    found = rows_of(quiet_but(bath(*moves, until_s=280), 22.0, 30.0), masses_g=MASSES, pieces=3)
    assert sorted(row.piece for row in found) == [1, 2, 3]
    for row in found[:2]:
        assert row.in_between_s == pytest.approx((19.5, 30.0), abs=0.5)
        assert row.out_s == pytest.approx({1: 200.0, 2: 230.0}[row.piece], abs=0.2)


def test_a_piece_taken_out_before_a_touch_that_a_gap_cuts_was_not_lifted_and_dipped_again(bath):
    """A hand as heavy as the piece leans on the bath 15 s after it came out."""
    moves = [(20.0, 70.0), *REST[:3], (215.0, 71.0), (222.0, -71.0), (260.0, -81.5), (280, -96.5)]
    found = rows_of(quiet_but(bath(*moves, until_s=310), 216.5, 250.0), masses_g=MASSES, pieces=3)
    first = next(row for row in found if row.piece == 1)
    assert first.out_s == pytest.approx(200.0, abs=0.2)


def test_a_push_while_a_piece_is_lowered_slowly_makes_its_moment_an_interval(bath):
    """Lowered from 19 to 27 s, pushed up from 24 to 26 s: half of it is under twice."""
    t, x = bath(*REST, until_s=280)
    x = [
        g + 70.0 * min(1.0, max(0.0, (at - 19.0) / 8.0)) * (at < 300) - 45.0 * (24.0 < at < 26.0)
        for at, g in zip(t, x, strict=True)
    ]
    first = next(row for row in rows_of((t, x), masses_g=MASSES, pieces=3) if row.piece == 1)
    low_s, high_s = first.in_between_s
    assert low_s <= 23.0 <= high_s + 0.2
    assert high_s == pytest.approx(26.0, abs=0.5)


def test_a_piece_may_leave_in_a_gap_in_which_water_was_poured_in_too(bath):
    moves = [(20.0, 70.0), *REST[:2], (200.0, -71.5), (206.0, 300.0), *REST[3:]]
    readings = quiet_but(bath(*moves, until_s=280), 195.0, 212.0)
    found = rows_of(readings, masses_g=MASSES, pieces=3, planned_s=(150.0, 210.0))
    first = next(row for row in found if row.piece == 1)
    assert first.out_between_s == pytest.approx((195.0, 212.0), abs=0.3)
    assert first.mass_out_g is None


def test_a_piece_placed_in_a_gap_may_have_gone_in_during_a_later_one():
    rise = HiddenRise(from_s=100.0, to_s=160.0, rise_g=79.0)
    (placed,) = placed_in_gaps([FOUND], [rise], [(100.0, 160.0), (300.0, 330.0), (505.0, 600.0)])
    assert placed.in_between_s == (100.0, 330.0)
    assert placed.dwell_between_s == (170.0, 400.0)
