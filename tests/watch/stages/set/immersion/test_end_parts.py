"""When an act was, at the edges of each rule; and which dwells a row may have."""

import math

import pytest

from logger.watch.stages.set.immersion.assignment import (
    Row,
    assigned_rows,
    in_probability,
    out_probabilities,
)
from logger.watch.stages.set.immersion.ends import (
    End,
    as_heavy,
    dwell_between_s,
    ends_of,
    may_last_s,
    odd_masses,
    widened,
)
from logger.watch.stages.set.immersion.states import AT_START, BathEvent, SideInformation
from logger.watch.stages.set.immersion.trellis import Posterior
from logger.watch.stages.set.segment import Swing
from tests.watch.stages.set.immersion.levels import level

LEVELS = [level(0, 60, 0.0), level(61, 300, 60.0), level(301, 400, -1.5)]
ROW = Row(1, 1, 2)


def test_an_act_alone_has_its_moment_and_change():
    ends = ends_of([ROW], LEVELS, [])
    assert ends[1] == End(60.5, None, 60.0)
    assert ends[2] == End(300.5, None, -61.5)
    assert ends[2].span_s == (300.5, 300.5)


def test_a_passage_that_is_not_sharp_is_an_interval_from_half_a_second_on():
    for wide_s, between_s in ((0.5, None), (0.6, (60.2, 60.8))):
        edge = level(61, 300, 60.0, early_s=60.5 - wide_s / 2, late_s=60.5 + wide_s / 2)
        end = ends_of([ROW], [LEVELS[0], edge, LEVELS[2]], [])[1]
        assert end.between_s == (between_s and pytest.approx(between_s))
        assert end.change_g == 60.0


def test_two_acts_in_one_long_edge_have_all_of_it():
    rows = [Row(1, 1, 2), Row(2, 1, 2)]
    quick = ends_of(rows, LEVELS, [])[1]
    assert (quick.between_s, quick.change_g) == (None, None)
    for span_s, between_s in ((3.0, None), (3.1, (60.0, 63.1))):
        start_s = 60.0 + span_s
        slow = level(start_s, 300, 60.0, early_s=start_s - 0.6, late_s=start_s - 0.4)
        assert ends_of(rows, [LEVELS[0], slow, LEVELS[2]], [])[1].between_s == between_s


def test_a_gap_has_its_two_sides_and_hides_the_change_of_several():
    gap = level(61, 300, 60.0, in_gap=True, edge_from_s=40.0, edge_to_s=61.0)
    levels = [LEVELS[0], gap, LEVELS[2]]
    assert ends_of([ROW], levels, [])[1] == End(None, (40.0, 61.0), 60.0)
    assert ends_of([ROW], levels, [1])[1] == End(None, (60.0, 61.0), None)


@pytest.mark.parametrize(
    ("before_s", "by_g", "widens"),
    [(5.9, 60.0, True), (6.1, 60.0, False), (5.0, 44.0, False), (5.0, 46.0, True),
     (5.0, 64.0, True), (5.0, 66.0, False), (5.0, -60.0, False)],
)  # fmt: skip
def test_a_touch_as_large_as_the_piece_and_near_makes_an_interval(before_s, by_g, widens):
    """Three quarters of the way at least; 8 % or 4 g more at most."""
    swing = Swing(from_s=60.5 - before_s - 1.0, to_s=60.5 - before_s, by_g=by_g)
    levels = [level(0, 60, 0.0, swings=(swing,)), *LEVELS[1:]]
    assert (ends_of([ROW], levels, [])[1].between_s is not None) is widens
    after = Swing(from_s=60.5 + before_s, to_s=60.5 + before_s + 1.0, by_g=-by_g)
    levels = [LEVELS[0], level(61, 300, 60.0, swings=(after,)), LEVELS[2]]
    assert (ends_of([ROW], levels, [])[1].between_s is not None) is widens


@pytest.mark.parametrize(
    ("in_g", "out_g", "odd"),
    [(60.0, -69.4, False), (60.0, -69.6, True), (60.0, -53.6, False), (60.0, -53.4, True),
     (100.0, -113.4, False), (100.0, -113.6, True)],
)  # fmt: skip
def test_masses_in_and_out_are_alike_within_eight_grams_or_twelve_percent(in_g, out_g, odd):
    """1.5 g leaves with a piece."""
    assert odd_masses(End(1.0, None, in_g), End(2.0, None, out_g)) is odd


@pytest.mark.parametrize(("off_s", "wide"), [(2.0, False), (2.1, True), (6.0, True), (6.1, False)])
def test_another_reading_of_a_row_widens_its_end_between_two_and_six_seconds(off_s, wide):
    levels = [level(0, 60, 0.0), level(61, 70, 5.0), level(61 + off_s, 300, 60.0)]
    end = widened(End(60.5, None, 60.0), [1, 2], levels)
    assert end.between_s == ((60.5, pytest.approx(60.5 + off_s)) if wide else None)
    same = widened(End(60.5, None, 60.0), [1, AT_START], levels)
    assert same.between_s is None


def test_a_change_that_no_piece_explains_may_have_been_the_rows_way_in_or_out():
    levels = [level(0, 60, 0.0), level(61, 100, 60.0), level(101, 200, 120.0),
              level(201, 300, 58.5), level(301, 400, 0.0)]  # fmt: skip
    ends = ends_of([Row(1, 1, 4)], levels, [2, 3])
    assert as_heavy(Row(1, 1, 4), levels, ends, [2, 3]) == [(2, 4), (1, 3)]
    assert as_heavy(Row(1, 1, 4), levels, ends, []) == []
    soon = [level(0, 60, 0.0), level(61, 62, 60.0), level(64, 65, 0.0), level(66, 90, 61.0),
            level(91, 99, 1.0)]  # fmt: skip
    ends = ends_of([Row(1, 1, 4)], soon, [])
    assert as_heavy(Row(1, 1, 4), soon, ends, [2]) == [], "no dwell is shorter than ten seconds"


def test_a_dwell_lies_between_the_spans_of_its_ends():
    came, left = End(None, (10.0, 20.0), 60.0), End(500.0, None, -60.0)
    assert dwell_between_s(came, left) == (480.0, 490.0)
    assert dwell_between_s(End(15.0, None, 60.0), left) is None
    assert dwell_between_s(None, left) is None
    late = End(None, (15.0, 18.0), -60.0)
    assert dwell_between_s(came, late) == (0.0, 8.0)


def test_a_row_may_last_as_long_as_its_readings_say_and_for_ever_where_no_end_is_known():
    ends = ends_of([ROW], LEVELS, [])
    assert may_last_s(LEVELS, ends, [(1, 2)], ends_known=True) == (240.0, 240.0)
    assert may_last_s(LEVELS, ends, [(1, 2)], ends_known=False) == (0.0, math.inf)
    low, high = may_last_s(LEVELS, ends, [(1, 2), (AT_START, 2)], ends_known=True)
    assert (low, high) == (240.0, math.inf)
    low, _ = may_last_s(LEVELS, {}, [(1, 2)], ends_known=True)
    assert low == pytest.approx(300.4 - 60.6)
    low, _ = may_last_s(LEVELS, ends, [(AT_START, 2)], ends_known=True)
    assert low == 300.5


def posterior(**more):
    given = {"path": [], "immersions": {}, "dips": {}, "dip_edges": {}}
    return Posterior(**(given | more))


def test_rows_pair_dips_with_the_exits_that_most_paths_say():
    found = posterior(
        immersions={(1, 1, 3): 0.7, (1, 1, 4): 0.3, (2, 2, 4): 0.7, (2, 2, 3): 0.3},
        dips={(1, 1): 1.0, (2, 2): 1.0}, dip_edges={1: 1.0, 2: 1.0},
        path=[BathEvent("lift", 2, 9, 2), BathEvent("lift", 7, 9, AT_START)],
    )  # fmt: skip
    nobody = SideInformation(masses_g={})
    rows = assigned_rows(found, nobody)
    assert [(r.piece, r.in_edge, r.out_edge) for r in rows] == [(1, 1, 3), (2, 2, 4)]
    assert [r.lift_edges for r in rows] == [[], [9]]
    registered = SideInformation(masses_g={1: 60.0, 2: 80.0})
    swapped = posterior(
        immersions={(2, 1, 3): 0.9, (1, 1, 3): 0.1, (1, 2, 4): 0.9, (2, 2, 4): 0.1},
        dips={(2, 1): 0.9, (1, 1): 0.1, (1, 2): 0.9, (2, 2): 0.1}, dip_edges={1: 1.0, 2: 1.0},
    )  # fmt: skip
    assert [r.piece for r in assigned_rows(swapped, registered)] == [2, 1]
    assert in_probability(rows[0], rows, swapped, registered=True) == 0.1
    assert in_probability(rows[0], rows, swapped, registered=False) == 1.0
    assert out_probabilities(rows[0], swapped, registered=True) == {(1, 3): 0.1, (2, 4): 0.9}
    assert out_probabilities(rows[0], swapped, registered=False) == {(1, 3): 1.0}


@pytest.mark.parametrize(("chance", "rows"), [(0.49, 0), (0.5, 1), (0.9, 1)])
def test_an_edge_is_a_dip_from_even_odds_on(chance, rows):
    found = posterior(dips={(1, 1): chance}, dip_edges={1: chance})
    assert len(assigned_rows(found, SideInformation(masses_g={}))) == rows


def test_an_exit_without_a_dip_was_in_at_the_start_and_one_still_in_has_none():
    nobody = SideInformation(masses_g={})
    before = posterior(immersions={(1, AT_START, 2): 0.9})
    assert [(r.in_edge, r.out_edge) for r in assigned_rows(before, nobody)] == [(AT_START, 2)]
    unlikely = posterior(immersions={(1, AT_START, 2): 0.4})
    assert assigned_rows(unlikely, nobody) == []
    inside = posterior(dips={(1, 1): 1.0}, dip_edges={1: 1.0})
    assert [(r.in_edge, r.out_edge) for r in assigned_rows(inside, nobody)] == [(1, -1)]
    two = posterior(dips={(1, 1): 1.0, (2, 2): 0.6}, dip_edges={1: 1.0, 2: 0.6})
    counted = assigned_rows(two, SideInformation(masses_g={}, pieces=1))
    assert [r.in_edge for r in counted] == [1], "the likelier of two where there is one piece"
