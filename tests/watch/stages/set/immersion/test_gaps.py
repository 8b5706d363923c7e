"""What a gap of the scale may hide, beside what was seen on its sides."""

import pytest

from logger.watch.stages.set.immersion.detector import ImmersionDetector
from logger.watch.stages.set.immersion.estimation import initial_parameters
from logger.watch.stages.set.immersion.gaps import placed_in_gaps
from logger.watch.stages.set.immersion.segmentation import Segmenter
from logger.watch.stages.set.immersion.states import SideInformation
from logger.watch.stages.set.rows import HiddenRise, Immersion
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


def test_a_touch_before_a_gap_is_no_piece_that_came_out_then(bath):
    """A hand holds up 45 g as the scale falls silent; 70 g are gone once it speaks again."""
    moves = [(20.0, 70.0), (50.0, 80.0), (180.0, -45.0), (190.0, -26.5), (240.0, -81.5)]
    readings = quiet_but(bath(*moves, until_s=280), 180.9, 220.0)
    first = rows_of(readings, masses_g={1: 70.0, 2: 80.0}, pieces=2)[0]
    assert first.out_between_s is not None
    assert first.out_between_s[0] < 181.0
    assert first.out_between_s[1] > 219.0


def test_a_removal_beside_a_touch_has_an_interval_that_holds_both(bath):
    """A hand holds up 50 g, and lets go as the piece comes out 3 s later."""
    moves = [(20.0, 70.0), (50.0, 80.0), (180.0, -50.0), (183.0, -21.5), (240.0, -81.5)]
    first = rows_of(bath(*moves, until_s=280), masses_g={1: 70.0, 2: 80.0}, pieces=2)[0]
    assert first.out_between_s == pytest.approx((180.0, 183.0), abs=1.0)


def test_of_pieces_that_went_in_during_one_gap_each_has_an_exit(bath):
    moves = [(20.0, 70.0), (35.0, 80.0), (60.0, 95.0), *REST[2:]]
    found = rows_of(quiet_but(bath(*moves, until_s=280), 10.0, 45.0), pieces=3)
    assert sorted(round(row.out_s or 0.0) for row in found) == [200, 230, 250]
    assert [row.candidates for row in found] == [(), (), ()]  # which of the two does not matter


def test_pieces_may_go_in_in_a_gap_in_which_water_was_poured_in_too(bath):
    moves = [(20.0, 70.0), (60.0, 80.0), (66.0, 210.0), (100.0, 95.0), *REST[2:]]
    found = rows_of(quiet_but(bath(*moves, until_s=280), 50.0, 80.0), masses_g=MASSES, pieces=3)
    assert sorted(row.piece for row in found) == [1, 2, 3]
    assert found[1].in_between_s == pytest.approx((50.0, 80.0), abs=0.5)


def test_a_fall_as_heavy_as_a_piece_that_nothing_explains_leaves_doubt(bath):
    """Water of the mass of a piece is taken out: it may have been the piece."""
    moves = [(20.0, 70.0), (100.0, -71.5), (150.0, -71.5)]
    (found,) = rows_of(bath(*moves, until_s=200), masses_g={1: 70.0}, pieces=1)
    assert found.confidence < 0.9
    assert found.may_last_s == pytest.approx((80.0, 130.0), abs=1.0)


def test_two_pieces_within_one_long_edge_have_it_as_their_interval(bath):
    """One comes out, and a hand shakes the bath until the other is out."""
    moves = [(20.0, 70.0), (50.0, 80.0), (180.0, -71.5), (180.9, -40.0), (181.8, 40.0)]
    moves += [(182.7, -40.0), (183.6, -41.5)]
    found = rows_of(bath(*moves, until_s=220), masses_g={1: 70.0, 2: 80.0}, pieces=2)
    assert [row.out_s for row in found] == [None, None]
    assert all(row.out_between_s[0] < 180.1 and row.out_between_s[1] > 183.5 for row in found)


def test_a_piece_that_may_have_come_as_a_hand_left_has_the_time_of_both_as_its_interval(bath):
    """A hand of 75 g for 2 s; as it leaves, 60 g of a piece are carried by the bath; then all."""
    moves = [(20.0, 75.0), (22.0, -15.0), (24.2, 10.0), (100.0, -71.5)]
    (found,) = rows_of(bath(*moves, until_s=140, edge_s=0.4), masses_g={1: 70.0}, pieces=1)
    assert found.in_between_s == pytest.approx((20.0, 24.2), abs=0.5)


def test_of_pieces_that_left_in_one_gap_none_is_sure(bath):
    """Their masses are seen together only, whatever the usual dwell says."""
    moves = [*zip((20.0, 40.0, 60.0), (70.0, 80.0, 95.0), strict=True), *REST[2:]]
    found = rows_of(quiet_but(bath(*moves, until_s=280), 190.0, 240.0), pieces=3)
    assert [row.dwell_s is None for row in found] == [True, True, False]
    assert max(row.confidence for row in found[:2]) < 0.9


def test_pieces_that_hang_are_known_by_two_dips_though_a_gap_cuts_the_level_after_one(bath):
    """They read 3 % less than they weigh: the second would pass for the fourth piece."""
    masses_g = {1: 104.0, 2: 120.7, 3: 122.9, 4: 117.0}
    moves = [(20.0, 119.2), (50.0, 117.1), (60.0, 100.9), (90.0, -118.6), (120.0, -120.7)]
    trace = quiet_but(bath(*moves, until_s=150), 57.0, 70.0)
    found = rows_of(trace, masses_g=masses_g, pieces=4)
    assert [row.piece for row in found] == [3, 2, 1]


@pytest.mark.parametrize("yes", [True, False])
def test_an_answer_about_a_piece_that_left_in_a_gap_holds_and_invents_none(bath, yes):
    """Of two alike one left in the gap, the other later."""
    moves = [(20.0, 70.0), (40.0, 70.0), (60.0, 95.0), (200.0, -71.5), (230.0, -71.5), REST[4]]
    detector = ImmersionDetector(masses_g={1: 70.0, 2: 70.0, 3: 95.0}, pieces=3)
    feed_many(detector, *quiet_but(bath(*moves, until_s=280), 190.0, 215.0))
    detector.end()
    asked = next(row for row in detector.table().immersions if row.out_between_s is not None)
    detector.answer(asked.number, asked.piece, yes=yes)
    rows = detector.table().immersions
    assert sorted(row.piece for row in rows) == [1, 2, 3]
    (hidden,) = [row for row in rows if row.out_between_s is not None]
    assert (hidden.piece == asked.piece) == yes
    assert not any(row.by_hand for row in rows)


def test_an_answer_about_an_interval_holds_for_all_that_happened_in_it(bath):
    """Two pieces came out in a gap, the third 2 s after it: which was where is not answered."""
    moves = [(20.0, 94.0), (40.0, 95.0), (60.0, 103.7)]
    moves += [(200.0, -95.5), (204.0, -96.5), (213.0, -105.5)]
    detector = ImmersionDetector(masses_g={1: 94.0, 2: 95.0, 3: 103.7}, pieces=3)
    feed_many(detector, *quiet_but(bath(*moves, until_s=260), 190.0, 211.0))
    detector.end()
    third = detector.table().immersions[2]
    assert third.out_between_s == pytest.approx((190.0, 213.0), abs=0.2)
    detector.answer(third.number, third.piece, yes=True)
    rows = detector.table().immersions
    assert rows[2].out_between_s == third.out_between_s
    assert all(row.out_between_s[1] < 211.5 for row in rows[:2])


def test_an_answer_about_a_piece_lowered_in_moves_is_about_all_of_them(bath):
    """38 g, 3 s later the other 18; of two alike one came out at 330 s, this one at 360."""
    moves = [(20.0, 58.0), (40.0, 56.0), (50.0, 38.0), (53.0, 18.0), (80.0, 60.0)]
    moves += [(300.0, -59.5), (330.0, -57.5), (360.0, -57.5)]
    detector = ImmersionDetector(pieces=4)
    feed_many(detector, *bath(*moves, until_s=380, step_g=1.0, rate_hz=2.0, edge_s=1.5))
    third = detector.table().immersions[2]
    assert (*third.in_between_s, third.out_s) == pytest.approx((50.0, 53.0, 360.0), abs=0.5)
    detector.answer(third.number, third.piece, yes=True)
    rows = detector.table().immersions
    assert [row.piece for row in rows] == [1, 2, 3, 4]
    assert min(row.confidence for row in rows[1:3]) > 0.99


def test_three_alike_that_nobody_weighed_are_pieces_though_each_is_lowered_slowly(bath):
    moves = [(20.0, 109.0), (45.0, 98.0), (70.0, 102.0)]
    found = rows_of(bath(*moves, until_s=90, edge_s=7.0))
    assert [row.mass_in_g for row in found] == pytest.approx([109.0, 98.0, 102.0], abs=0.5)


def test_a_part_of_a_piece_does_not_pass_for_how_hung_pieces_read(bath):
    """They read 4 % less than they weigh; the second goes in in two moves, of which one is as large
    as a lighter piece that reads 6 % less."""
    grams = (75.4, 78.0, 60.9, 66.0, 70.4, 70.0, 74.1, 72.0, 63.3)
    moves = [(15.0, 72.6), (47.6, 18.3), (50.6, 56.6), (75.0, 58.8), (126.0, 67.5), (151.0, 67.5)]
    segmenter = Segmenter()
    for at_s, shown_g in zip(*bath(*moves, (179.0, 70.8), until_s=200), strict=True):
        segmenter.feed(at_s, shown_g)
    given = SideInformation(masses_g=dict(enumerate(grams, start=1)))
    found = initial_parameters(segmenter.levels, given, None)
    assert found.buoyancy == pytest.approx(0.96, abs=0.005)


def test_what_left_in_a_gap_with_another_may_last_as_long_as_each_plausible_reading_says(bath):
    """Of two pieces of one mass, one left with a third while the scale was silent, one later."""
    moves = [(20.0, 72.0), (40.0, 79.0), (60.0, 79.0)]
    moves += [(195.0, -73.5), (205.0, -80.5), (230.0, -80.5)]
    masses_g = {1: 72.0, 2: 79.0, 3: 79.0}
    readings = quiet_but(bath(*moves, until_s=280), 190.0, 210.0)
    found = rows_of(readings, masses_g=masses_g, pieces=3, planned_s=(120.0, 240.0))
    hidden = {row.mass_in_g > 75.0: row for row in found if row.out_between_s is not None}
    assert hidden[False].dwell_between_s == pytest.approx((170.0, 190.0), abs=0.3)
    alike = hidden[True]
    assert alike.out_between_s == pytest.approx((190.0, 210.0), abs=0.3)
    assert alike.dwell_between_s == pytest.approx((130.0, 190.0), abs=0.3), "60 to 190 to 40 to 230"
