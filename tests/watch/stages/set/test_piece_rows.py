"""When a piece is due, overdue or out, by its row, its skin and the sheet; what a mark means."""

import math
from dataclasses import replace

import pytest

from logger.model.event import Event
from logger.watch.scale.pieces import facts_of
from logger.watch.stages.set.pieces import (
    UNKNOWN_COAT_MM,
    Piece,
    came_at_s,
    coat_of_mm,
    coats_mm,
    expected_pieces,
    left_at_s,
    masses_in_g,
    one_a_piece,
    planned_dwell_s,
)
from logger.watch.stages.set.results import row_of
from logger.watch.stages.set.rows import Candidate, Immersion
from logger.watch.stages.set.segment import HIDING_S, Segment
from logger.watch.stages.set.statements import mark_statement, operator_statement

SHEET = '[sheet]\nname = "R"\n{more}[[stage]]\nid = "skin"\nkind = "set"\n{stage}\n'


class Needed:
    """A dwell that is needed, early and late by the range of what is not known."""

    low_s, likely_s, high_s, advised_s = 200.0, 300.0, 400.0, 400.0


def row(**more):
    given = {"number": 1, "piece": 2, "in_s": 100.0, "out_s": None, "dwell_s": None}
    return Immersion(**(given | more))


def piece(share=0.5, *, low_s=360.0, high_s=720.0, needed=Needed, left_s=100.0, **more):
    return Piece(row=row(**more), share=share, left_s=left_s, needed=needed and needed(),
                 low_s=low_s, high_s=high_s)  # fmt: skip


def test_half_a_skin_has_had_a_quarter_of_its_time():
    """The front goes with the root of time: 0.25 of 300 s are 75 s."""
    assert piece().left_range_s == (125.0, 325.0)
    assert piece(share=1.5).left_range_s == (0.0, 0.0)
    assert piece(needed=None).left_range_s is None
    assert piece(left_s=None).left_range_s is None
    assert piece(out_s=500.0).left_range_s is None
    assert (piece(share=1.5).set_fraction, piece(share=None).set_fraction) == (1.0, None)


@pytest.mark.parametrize(
    ("ambiguous", "verdict", "longest_s", "told"),
    [
        (True, "met", 442.1, (None, (440.0, 442.1))),
        (True, "met", 441.9, (440.0, None)),
        (True, "undecided", 460.0, (440.0, None)),
        (False, "met", 460.0, (440.0, None)),
    ],
)
def test_a_verdict_on_any_of_several_dwells_tells_none_of_them_as_known(
    ambiguous, verdict, longest_s, told
):
    known = {"out_s": 540.0, "dwell_s": 440.0, "may_last_s": (440.0, longest_s)}
    found = row_of(piece(ambiguous=ambiguous, **known), "skin", "bath_scale", verdict)
    assert (found.dwell_s, found.dwell_between_s) == told


@pytest.mark.parametrize(
    ("now_s", "more", "due_s"),
    [
        (110.0, {}, 350.0),  # the shortest dwell of the sheet, 360 s
        (110.0, {"share": 0.1}, 397.0),  # what the skin needs by all that is known
        (110.0, {"share": 0.1, "high_s": 400.0}, 370.0),  # 20 s before the longest
        (110.0, {"share": 0.1, "high_s": None}, 397.0),
        (110.0, {"low_s": None}, 325.0),
        (110.0, {"low_s": None, "needed": None}, 710.0),
        (110.0, {"low_s": None, "high_s": None}, 390.0),
        (110.0, {"low_s": None, "high_s": None, "needed": None}, None),
        (110.0, {"high_s": 370.0}, 350.0),  # never before the shortest
        (500.0, {"share": 1.0}, 100.0),  # the skin may still need it
        (500.0, {"share": 1.5}, 0.0),
        (110.0, {"out_s": 105.0}, None),
    ],
)
def test_a_piece_is_due_at_the_sheets_dwell_or_once_its_skin_is_sure(now_s, more, due_s):
    found = piece(**more).due_in_s(now_s)
    assert found == (due_s and pytest.approx(due_s))


@pytest.mark.parametrize(
    ("now_s", "status"), [(459.9, "in"), (460.0, "due"), (820.0, "due"), (820.1, "overdue")]
)
def test_a_piece_in_is_due_then_overdue(now_s, status):
    assert piece(share=1.5).status(now_s) == status


def test_a_piece_that_is_out_is_sure_or_not():
    assert piece(out_s=500.0).status(600.0) == "out"
    assert piece(out_s=500.0, ambiguous=True).status(600.0) == "unsure"
    assert piece(out_between_s=(500.0, 520.0)).inside is False


def test_age_counts_from_when_it_surely_was_in():
    assert piece().age_s(150.0) == 50.0
    assert piece(out_s=500.0, dwell_s=400.0).age_s(900.0) == 400.0
    hidden = piece(in_s=None, in_between_s=(90.0, 110.0))
    assert hidden.age_s(150.0) == 40.0
    assert piece(in_s=None).age_s(150.0) is None
    assert came_at_s(row(in_s=None)) is None
    assert left_at_s(row(), 900.0) == 900.0
    assert left_at_s(row(out_s=500.0), 900.0) == 500.0
    assert left_at_s(row(out_between_s=(480.0, 520.0)), 900.0) == 480.0


@pytest.mark.parametrize(
    ("dwells", "low_s", "high_s", "matters"),
    [
        ((360.0, 720.0), 360.0, 720.0, False),
        ((359.0, 500.0), 360.0, 720.0, True),
        ((400.0, 721.0), 360.0, 720.0, True),
        ((400.0, 9000.0), 360.0, None, False),
        ((1.0, 500.0), None, 720.0, False),
        ((400.0, 500.0), None, None, True),
        ((), 360.0, 720.0, True),
    ],
)
def test_which_piece_it_is_matters_where_a_dwell_it_may_have_is_out_of_the_sheets(
    dwells, low_s, high_s, matters
):
    others = tuple(Candidate(piece=3, out_s=0.0, dwell_s=d, probability=0.2) for d in dwells[1:])
    own = dwells[0] if dwells else None
    found = piece(low_s=low_s, high_s=high_s, dwell_s=own, candidates=others)
    assert found.matters is matters


def test_of_a_piece_that_was_in_twice_the_longer_dwell_counts():
    twice = [piece(dwell_s=300.0), piece(dwell_s=400.0), piece(dwell_s=350.0),
             piece(piece=7, dwell_s=None)]  # fmt: skip
    assert [p.row.dwell_s for p in one_a_piece(twice)] == [400.0, None]
    assert (piece(piece=0).name, piece().name) == ("A piece", "Piece 2")


def context(make_context, stage="", more="", masses=()):
    found = make_context("skin", sheet=SHEET.format(stage=stage, more=more))

    for number, bare_g, coat_g in masses:
        facts = facts_of(found.batch, number)
        facts.bare_mass_g, facts.coat_mass_g = bare_g, coat_g
    return found


def test_pieces_go_in_with_the_masses_weighed_else_with_those_of_the_sheet(make_context):
    listed = context(make_context, 'piece_masses = ["81 g", "95 g"]')
    assert masses_in_g(listed, listed.stage) == {1: 81.0, 2: 95.0}
    weighed = context(make_context, 'piece_masses = ["81 g"]', masses=[(4, 60.0, 8.0)])
    assert masses_in_g(weighed, weighed.stage) == {4: 68.0}
    bare = context(make_context, masses=[(1, 60.0, None)])
    assert masses_in_g(bare, bare.stage) == {1: 60.0}
    dip = '[[stage]]\nid = "dip"\nkind = "coat"\n'
    coated = context(make_context, more=dip, masses=[(1, 60.0, None), (2, 61.0, 8.0)])
    assert masses_in_g(coated, coated.stage) == {2: 69.0}, "8 g of coat would be another piece"


def test_how_many_will_come_is_said_by_the_stage_then_by_what_was_formed(make_context):
    for stage, masses, count in (
        ("pieces = 6", [(1, 60.0, None)], 6),
        ("", [(1, 60.0, None), (2, 61.0, None)], 2),
        ('piece_masses = ["81 g", "95 g", "70 g"]', [], 3),
        ("", [], None),
    ):
        found = context(make_context, stage, masses=masses)
        assert expected_pieces(found, found.stage) == count


def test_a_planned_dwell_has_both_ends(make_context):
    for stage, planned in (
        ('dwell = { low = "6 min", high = "12 min" }', (360.0, 720.0)),
        ('dwell = { low = "6 min" }', None),
        ('dwell = { high = "12 min" }', None),
        ("", None),
    ):
        assert planned_dwell_s(context(make_context, stage).stage) == planned


def test_a_coat_is_as_measured_as_expected_or_the_thickest(make_context):
    found = context(make_context)
    assert coat_of_mm(found.batch, found.stage, 1) == UNKNOWN_COAT_MM

    facts_of(found.batch, 1).coat_mm = 0.61234
    facts_of(found.batch, 2).coat_mm = 0.8
    facts_of(found.batch, 3).coat_mm = None
    assert coats_mm(found.batch) == {0.612, 0.8}
    assert coat_of_mm(found.batch, found.stage, 1) == 0.612
    assert coat_of_mm(found.batch, found.stage, 3) == 0.8
    expected = context(make_context, 'expected_coat = "0.7 mm"')
    assert coat_of_mm(expected.batch, expected.stage, 3) == 0.7


@pytest.mark.parametrize(("silent_s", "hides"), [(HIDING_S, True), (HIDING_S - 0.1, False)])
def test_a_silence_of_four_seconds_hides_an_act(silent_s, hides):
    level = Segment(start_s=0.0, end_s=9.0, initial_g=0.0, start_g=0.0, end_g=0.0, u_start_g=0.1,
                    u_end_g=0.1, silent_s=silent_s)  # fmt: skip
    assert (HIDING_S, level.hides) == (4.0, hides)
    level.in_gap = True
    assert level.hides is True


# What an operator says.


def said(kind, number):
    return Event(t_ns=0, kind=kind, source="operator", data={"piece": number})


def test_an_operator_says_which_piece_goes_in_or_comes_out():
    assert operator_statement(said("piece_in", 3)) == ("in", 3)
    assert operator_statement(said("piece_out", 3)) == ("out", 3)
    assert operator_statement(said("mark", 3)) is None
    assert operator_statement(said("piece_in", 0)) is None


def test_a_mark_without_a_scale_goes_in_until_all_are_in_and_then_comes_out_in_turn():
    first, second = row(piece=1, in_s=10.0), row(piece=2, in_s=5.0)
    out = replace(first, out_s=50.0)
    assert mark_statement(None, [], None) == ("in", 1)
    assert mark_statement(None, [], 2) == ("in", 1)
    assert mark_statement(None, [first], 2) == ("in", 2)
    assert mark_statement(None, [first, second], 2) == ("out", 2), "in longest"
    assert mark_statement(None, [first, replace(second, in_s=None)], 2) == ("out", 2)
    assert mark_statement(None, [first], None) == ("out", 1)
    assert mark_statement(None, [out], None) == ("in", 2)
    assert mark_statement(None, [out, replace(second, out_s=60.0)], 2) is None
    hidden = replace(second, out_between_s=(40.0, 60.0))
    assert mark_statement(None, [first, hidden], 2) == ("out", 1)
    assert mark_statement(1, [first], 2) == ("out", 1)
    assert mark_statement(1, [out], 2) == ("in", 1)
    assert mark_statement(2, [first], 2) == ("in", 2)
    assert math.isfinite(first.in_s)
