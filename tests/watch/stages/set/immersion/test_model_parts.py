"""The parts of the bath's model, each by itself and at its edges."""

import math

import pytest

from logger.watch.stages.set.immersion import likelihood, stairs
from logger.watch.stages.set.immersion.edges import edge_between
from logger.watch.stages.set.immersion.estimation import initial_parameters
from logger.watch.stages.set.immersion.gaps import placed_in_gaps
from logger.watch.stages.set.immersion.hidden import (
    Entry,
    alike_entries,
    fitting,
    log_prior,
    weighed_entries,
)
from logger.watch.stages.set.immersion.hypotheses import GATE, TransitionModel
from logger.watch.stages.set.immersion.likelihood import ModelParameters
from logger.watch.stages.set.immersion.states import (
    AT_START,
    BathEvent,
    HeldPiece,
    LevelChange,
    SaidOut,
    SideInformation,
    State,
    level_change,
    next_in_turn,
    with_piece,
    without_piece,
)
from logger.watch.stages.set.immersion.trellis import _log_add, _most_states, forward_backward
from logger.watch.stages.set.immersion.weights import Weights, seen_both, two_may_weigh
from logger.watch.stages.set.rows import HiddenRise, Immersion
from tests.watch.stages.set.immersion.levels import level


def levels(*masses_g, lasts_s=60.0):
    step = lasts_s + 1.0
    return [level(n * step, n * step + lasts_s, 5000.0 + g) for n, g in enumerate(masses_g)]


NOBODY = SideInformation(masses_g={})
TWO = SideInformation(masses_g={1: 60.0, 2: 80.0})


# What goes on between two levels.


def test_next_in_turn_are_the_lowest_left_and_the_one_after_the_highest_seen():
    assert next_in_turn([1, 2, 3, 4], {3}) == {1, 4}
    assert next_in_turn([1, 2, 3, 4], set()) == {1}
    assert next_in_turn([1, 2, 3, 4], {4}) == {1}
    assert next_in_turn([1, 2, 3, 4], {1, 2}) == {3}


def test_a_state_gains_and_loses_pieces_and_keeps_what_was_seen():
    one = with_piece(State((), frozenset()), HeldPiece(1, 3, 60.0, 0.3))
    both = with_piece(one, HeldPiece(0, 2, 80.0, 0.3))
    assert [p.piece for p in both.held] == [0, 1]
    left = without_piece(both, BathEvent("out", 0, 5, 2))
    assert (left.held, left.seen) == (one.held, frozenset({0, 1}))
    stranger = without_piece(one, BathEvent("out", 7, 5, AT_START))
    assert stranger.seen == frozenset({1, 7})


def said_out(edges, piece=None, in_edges=()):
    return SaidOut(frozenset(edges), piece, frozenset(in_edges), True)


@pytest.mark.parametrize(
    ("said", "named"),
    [
        (said_out({5, 6}, 2), True),
        (said_out({5}, 1), False),
        (said_out({5}, in_edges={3, 7}), True),
        (said_out({5}, in_edges={4}), False),
        (said_out({4}, 2), False),
    ],
)
def test_an_answer_names_a_piece_by_its_number_or_by_when_it_went_in(said, named):
    assert said.names(BathEvent("out", 2, 5, 3)) is named
    assert said.names(BathEvent("in", 2, 5, 3)) is False


def test_a_change_of_level_has_its_edges_and_what_lies_between():
    segments = levels(0.0, 60.0, 2.0, lasts_s=2.0)
    change = level_change(segments, 0, 2)
    assert (change.net_g, change.edges_g, change.single) == (2.0, (60.0, -58.0), False)
    assert change.between_s == (3.0,)
    assert change.lasts_s == pytest.approx(4.0)
    assert change.u_g == pytest.approx(level_change(segments, 0, 1).u_g)
    assert level_change(segments, 0, 1).single
    fresh = [*segments[:1], level(3.0, 5.0, 5060.0, level_age_s=0.0)]
    assert level_change(fresh, 0, 1).u_g > level_change(segments, 0, 1).u_g, "drips"
    lasting = levels(0.0, 60.0, 2.0, lasts_s=60.0)
    assert level_change(lasting, 0, 2) is None
    tared = [segments[0], level(3.0, 5.0, 5060.0, tared=True), segments[2]]
    assert level_change(tared, 0, 2) is None


def test_the_nearest_edge_is_that_of_the_change_and_a_lasting_change_leaves_least_impulse():
    change = LevelChange(before=3, after=5, net_g=60.0, u_g=0.1, edges_g=(58.0, 2.0),
                         between_s=(2.0,), lasts_s=3.0)  # fmt: skip
    assert change.nearest_edge(60.0) == 4
    assert change.nearest_edge(0.0) == 5
    assert change.edge_of(60.0) == 4
    late = LevelChange(before=3, after=5, net_g=60.0, u_g=0.1, edges_g=(2.0, 58.0),
                       between_s=(2.0,), lasts_s=3.0)  # fmt: skip
    assert late.edge_of(60.0) == 5
    one = LevelChange(before=3, after=4, net_g=60.0, u_g=0.1, edges_g=(60.0,), between_s=(),
                      lasts_s=1.0)  # fmt: skip
    assert one.nearest_edge(-5.0) == one.edge_of(60.0) == 4


# Edges and stairs.


def ramp(*points):
    return [(float(t), float(g)) for t, g in points]


def test_an_edge_is_where_the_level_passes_the_middle_and_its_rise_is_twice_its_middle_half():
    """From 0 to 80 g evenly within 4 s."""
    samples = ramp((0, 0), (1, 0), (2, 20), (3, 40), (4, 60), (5, 80), (6, 80))
    edge = edge_between(samples, 0.0, 80.0, gap_s=2.0, span_s=4.0)
    assert (edge.at_s, edge.rise_s, edge.span_s, edge.in_gap) == (3.0, 4.0, 4.0, False)
    down = edge_between([(t, 80.0 - g) for t, g in samples], 80.0, 0.0, gap_s=2.0, span_s=4.0)
    assert (down.at_s, down.rise_s) == (3.0, 4.0)
    held = ramp((0, 0), (1, 20), (2, 40), (3, 40), (4, 40), (5, 60), (6, 80))
    assert edge_between(held, 0.0, 80.0, gap_s=2.0, span_s=6.0).rise_s == 4.0, "only while it moves"


def test_a_silence_over_the_middle_hides_the_moment():
    samples = ramp((0, 0), (1, 0), (9, 80), (10, 80))
    edge = edge_between(samples, 0.0, 80.0, gap_s=2.0, span_s=8.0)
    assert (edge.in_gap, edge.from_s, edge.to_s) == (True, 1.0, 9.0)
    assert edge_between(samples, 0.0, 80.0, gap_s=8.0, span_s=8.0).in_gap is False


@pytest.mark.parametrize(("seen_g", "late_s"), [(60.0, 12.0), (69.0, 2.0)])
def test_a_gap_right_after_a_passage_may_hide_it_unless_the_edge_was_through(seen_g, late_s):
    """Through is within 15 % of the step of 80 g: from 68 g on."""
    samples = ramp((0, 0), (1, 0), (2, seen_g), (12, 80), (13, 80))
    edge = edge_between(samples, 0.0, 80.0, gap_s=2.0, span_s=11.0)
    assert edge.late_s == pytest.approx(late_s, abs=1.0)


def brief(*masses_g):
    """Two lasting levels at the ends, what lies between lasts two seconds each."""
    found, t_s = [], 0.0
    for n, g in enumerate(masses_g):
        lasts_s = 60.0 if n in (0, len(masses_g) - 1) else 2.0
        found.append(level(t_s, t_s + lasts_s, 5000.0 + g))
        t_s += lasts_s + 1.0
    return found


def test_a_piece_lowered_in_two_moves_is_one_edge_and_two_pieces_are_two():
    joined = stairs.joined(brief(0.0, 35.0, 80.0), {1: 80.0}.values())
    assert [s.start_g for s in joined] == [5000.0, 5080.0]
    apart = stairs.joined(brief(0.0, 60.0, 140.0), [60.0, 80.0])
    assert len(apart) == 3
    slow = stairs.joined(levels(0.0, 35.0, 80.0), [80.0])
    assert len(slow) == 3, "a hand rests no longer than 3.5 s half way"


def test_a_touch_ends_where_it_began():
    touch = brief(0.0, 40.0, 0.5)
    assert stairs.goes_back(touch, 2)
    assert not stairs.goes_back(touch, 1)
    assert not stairs.goes_back(brief(0.0, 40.0, 20.0), 2)
    assert not stairs.goes_back(levels(0.0, 40.0, 0.5), 2)
    edge = brief(0.0, 100.0, 9.9), brief(0.0, 100.0, 9.0)
    assert [stairs.goes_back(e, 2) for e in edge] == [False, True], "a tenth of 90 g is 9 g"


@pytest.mark.parametrize(("first_g", "so"), [(16.1, True), (15.9, False), (63.9, True)])
def test_of_two_moves_a_small_one_is_no_touch(first_g, so):
    """A fifth of both, of 80 g."""
    assert stairs.one_may_be_a_touch(brief(0.0, first_g, 80.0), 1, 2) is so
    assert not stairs.one_may_be_a_touch(brief(0.0, 20.0, 40.0, 80.0), 1, 3)


def test_half_of_a_staircase_is_passed_at_its_own_time():
    """Of 80 g the half is 40 g: in the second move, from 20 to 80 g, it is a third on its way."""
    edge, at_s = stairs.half_way(brief(0.0, 20.0, 80.0), 1, 2)
    assert edge == 2
    middle_s = brief(0.0, 20.0, 80.0)[2].edge_s
    assert at_s == pytest.approx(middle_s + (40.0 - 50.0) / 60.0)
    assert stairs.half_way(brief(0.0, 60.0, 80.0), 1, 2)[0] == 1
    down = stairs.half_way(brief(80.0, 60.0, 0.0), 1, 2)
    assert down[0] == 2


# Gaps.


def row(number, mass_out_g, out_s=500.0, at_start=True):
    return Immersion(number=number, piece=number, in_s=None, out_s=out_s, dwell_s=None,
                     mass_out_g=mass_out_g, at_start=at_start)  # fmt: skip


@pytest.mark.parametrize(
    ("mass_g", "rise_g", "fits"),
    [(80.0, 77.1, True), (80.0, 76.9, False), (200.0, 194.0, True), (200.0, 193.9, False)],
)
def test_a_rise_holds_a_piece_within_three_grams_or_percent(mass_g, rise_g, fits):
    rise = HiddenRise(from_s=100.0, to_s=150.0, rise_g=rise_g)
    (found,) = placed_in_gaps([row(1, mass_g)], [rise])
    assert found.at_start is not fits
    if fits:
        assert found.in_between_s == (100.0, 150.0)
        assert found.dwell_between_s == (350.0, 400.0)
        assert found.may_last_s == (0.0, 400.0)


def test_only_rows_that_came_out_after_the_gap_are_placed_and_a_later_silence_may_hide_them():
    rise = HiddenRise(from_s=100.0, to_s=150.0, rise_g=80.0)
    rows = [row(1, 70.0, out_s=150.0), row(2, 70.0, at_start=False), row(3, 70.0)]
    early, seen, placed = placed_in_gaps(rows, [rise], [(200.0, 230.0), (600.0, 700.0)])
    assert (early.in_between_s, seen.in_between_s) == (None, None)
    assert placed.in_between_s == (100.0, 230.0)
    assert placed.dwell_between_s == (270.0, 400.0)
    two = placed_in_gaps([row(1, 70.0), row(2, 70.0)], [rise])
    assert all(r.at_start for r in two), "together they are too heavy"


def test_sets_of_registered_pieces_come_in_order_of_mass():
    found = weighed_entries([(1, 60.0), (2, 80.0)], 2, 0.4)
    assert [(e.mass_g, e.pieces) for e in found] == [
        (0.0, ()), (60.0, (1,)), (80.0, (2,)), (140.0, (1, 2)),
    ]  # fmt: skip
    assert [e.u_g for e in found] == pytest.approx([0.0, 0.4, 0.4, 0.4 * math.sqrt(2.0)])
    assert len(weighed_entries([(1, 60.0), (2, 80.0)], 1, 0.4)) == 3
    alike = alike_entries(4, 75.0, 10.0, 2)
    assert [(e.mass_g, e.pieces) for e in alike] == [
        (0.0, ()), (75.0, (4,)), (150.0, (4, 5)),
    ]  # fmt: skip
    assert alike[2].u_g == pytest.approx(10.0 * math.sqrt(2.0))


def test_only_sets_of_about_what_went_in_and_of_the_right_number_fit():
    entries = weighed_entries([(1, 60.0), (2, 80.0), (3, 300.0)], 2, 0.4)
    assert [e.pieces for e in fitting(entries, 140.0, 0.3, 1, 2)] == [(1, 2)]
    assert [e.pieces for e in fitting(entries, 80.0, 0.3, 1, 2)] == [(2,)]
    assert list(fitting(entries, 80.0, 0.3, 2, 2)) == []
    assert list(fitting(entries, 200.0, 0.3, 0, 2)) == []
    assert next(iter(fitting(entries, 0.0, 0.3, 0, 2))) == Entry(0.0, 0.0, ())


def test_acts_in_a_gap_are_as_of_a_poisson_process():
    """Twice the time makes a second act twice as likely; n acts are one of n! orders."""
    one = log_prior(1, 5.0)
    assert one == likelihood.LOG_PRIOR_IN
    short = [log_prior(n, 5.0) - n * likelihood.LOG_PRIOR_IN for n in (2, 3)]
    twice = [log_prior(n, 10.0) - n * likelihood.LOG_PRIOR_IN for n in (2, 3)]
    if twice[0] < 0.0:
        assert twice[0] - short[0] == pytest.approx(math.log(2.0))
    if twice[1] < 0.0:
        assert twice[1] - short[1] == pytest.approx(2.0 * math.log(2.0))
    assert log_prior(2, 1e6) == 2 * likelihood.LOG_PRIOR_IN, (
        "never likelier than one after the other"
    )


# Weights.


def weights(given=TWO, segments=(), **parameters):
    return Weights(segments or levels(0.0, 60.0), given, ModelParameters(**parameters))


def test_what_may_come_are_the_registered_ones_left_or_the_next_number():
    assert weights().unseen(frozenset({1})) == [(2, 80.0)]
    assert weights(NOBODY).unseen(frozenset({1, 2})) == [(3, None)]
    counted = SideInformation(masses_g={}, pieces=2)
    assert weights(counted).unseen(frozenset({1})) == [(2, None)]
    assert weights(counted).unseen(frozenset({1, 2})) == []


def test_turns_are_probabilities_and_those_in_order_are_likelier():
    four = SideInformation(masses_g=dict.fromkeys((1, 2, 3, 4), 70.0))
    found = weights(four)
    chance = [math.exp(found.turn_log_prior(n, frozenset())) for n in (1, 2, 3, 4)]
    assert sum(chance) == pytest.approx(1.0)
    assert chance[0] > 3.0 * chance[1]
    assert chance[1] == pytest.approx(chance[3])
    seen = frozenset({3})
    after = {n: math.exp(found.turn_log_prior(n, seen)) for n in (1, 2, 4)}
    assert sum(after.values()) == pytest.approx(1.0)
    assert after[1] == pytest.approx(after[4])
    assert after[1] > after[2]
    assert weights(NOBODY).turn_log_prior(5, frozenset()) == 0.0
    together = found.turns_log_prior((2, 1), frozenset())
    assert together == pytest.approx(math.log(chance[0]) + found.turn_log_prior(2, frozenset({1})))


def test_a_dwell_shorter_than_ten_seconds_is_next_to_impossible():
    segments = [level(0.0, 1.0, 0.0), level(5.0, 9.0, 60.0), level(14.9, 20.0, 0.0),
                level(15.0, 20.0, 0.0)]  # fmt: skip
    found = weights(segments=segments)
    held = HeldPiece(1, 1, 60.0, 0.3)
    assert found.dwell(held, 2) < -100.0
    assert found.dwell(held, 3) == 0.0
    assert found.dwell(HeldPiece(1, AT_START, 60.0, 0.3), 2) == 0.0


def test_a_piece_in_the_bath_has_the_mass_of_scale_and_registration():
    """Weighed to 0.3 g each, the mean; hung it weighs less; three grams off it is not the same."""
    found = weights()
    assert found.held(1, 4, 61.0, 0.3).mass_g == pytest.approx(60.5)
    assert found.held(1, 4, 61.0, 1e6).mass_g == pytest.approx(60.0)
    assert found.held(1, 4, 64.0, 0.3).mass_g == 60.0
    assert found.held(1, 4, 63.0, 0.3).mass_g == pytest.approx(61.5)
    assert weights(buoyancy=0.9).held(1, 4, 54.0, 0.3).mass_g == pytest.approx(54.0)
    nobody = weights(NOBODY).held(7, 4, 61.0, 0.3)
    assert (nobody.piece, nobody.edge, nobody.mass_g, nobody.u_g) == (7, 4, 61.0, 0.3)
    assert weights(NOBODY).held(7, 4, 0.2, 0.3).mass_g == 1.0


def test_a_rise_that_fits_no_mass_may_be_a_piece_weighed_wrongly():
    """Further than 1.5 g from all, and within 0.3 of the usual 75 g."""
    found = weights()
    assert list(found.unlike_any(61.0, frozenset())) == []
    assert [n for n, _ in found.unlike_any(65.0, frozenset())] == [1, 2]
    assert [n for n, _ in found.unlike_any(90.0, frozenset())] == [2]
    assert list(found.unlike_any(120.0, frozenset())) == []
    assert list(weights(NOBODY).unlike_any(65.0, frozenset())) == []


def test_a_dip_is_as_usual_or_let_go():
    hung = weights(buoyancy=0.9)
    as_usual, let_go, neither = (hung.dip_log_likelihood(g, 0.1, 60.0) for g in (54.0, 60.0, 57.0))
    assert as_usual > let_go > neither
    assert as_usual - let_go == pytest.approx(math.log(0.97 / 0.03), abs=0.1)


def test_an_edge_in_a_gap_says_nothing_by_its_rise():
    hidden = [level(0.0, 1.0, 0.0), level(60.0, 70.0, 80.0, rise_s=9.0, in_gap=True)]
    assert weights(segments=hidden).rise(1, poured=False) == 0.0
    seen = [hidden[0], level(60.0, 70.0, 80.0, rise_s=9.0)]
    assert weights(segments=seen).rise(1, poured=False) < 0.0


def test_two_pieces_may_weigh_what_their_lightest_and_heaviest_do():
    held = tuple(HeldPiece(n, n, g, 0.3) for n, g in enumerate((50.0, 60.0, 90.0)))
    for both_g, may in ((101.9, False), (102.1, True), (157.9, True), (158.1, False)):
        assert two_may_weigh(held, both_g) is may, both_g
    assert two_may_weigh(held[:1], 60.0) is False
    assert two_may_weigh(held, 0.0) is False


def test_two_acts_at_edges_of_their_own_were_seen_there():
    change = LevelChange(before=3, after=5, net_g=0.0, u_g=0.1, edges_g=(-60.0, 40.0),
                         between_s=(2.0,), lasts_s=3.0)  # fmt: skip
    assert seen_both(change, (4, -60.0), (5, 60.0))
    assert seen_both(change, (4, -60.0), (5, 80.0)), "half of it"
    assert not seen_both(change, (4, -60.0), (5, 81.0))
    assert not seen_both(change, (4, 60.0), (5, 60.0))
    assert seen_both(change, (4, 60.0), (4, -60.0)), "one edge says nothing of two acts"


# The transitions and the sums over paths.


def explained(masses_g, given=NOBODY, state=None, **parameters):
    segments = levels(*masses_g)
    model = TransitionModel(segments, given, ModelParameters(**parameters))
    change = level_change(segments, len(segments) - 2, len(segments) - 1)
    state = state or State((), frozenset())
    found = sorted(model.transitions(change, state), key=lambda t: -t.log_weight)
    return [tuple((e.kind, e.piece) for e in t.events) for t in found], found


def test_a_rise_of_a_piece_goes_in_and_a_fall_of_it_comes_out():
    kinds, _ = explained((0.0, 60.0), TWO)
    assert kinds[0] == (("in", 1),)
    assert explained((0.0, 80.0), TWO)[0][0] == (("in", 2),)
    held = State((HeldPiece(1, 1, 60.0, 0.3),), frozenset({1}))
    kinds, found = explained((0.0, 60.0, -1.5), TWO, held)
    assert kinds[0] == (("out", 1),)
    assert found[0].state.held == ()
    both = explained((0.0, 140.0), TWO)[0]
    assert both[0] == (("in", 1), ("in", 2))
    assert explained((0.0, 700.0), TWO)[0][0] == (("other", 0),)


def test_what_is_far_less_likely_than_the_best_is_left_out():
    _, found = explained((0.0, 60.0), TWO)
    assert min(t.log_weight for t in found) >= found[0].log_weight - GATE


def test_the_operator_is_believed_and_against_all_masses_at_a_price():
    said = SideInformation(masses_g={1: 60.0, 2: 80.0}, in_labels={1: 2})
    kinds, _ = explained((0.0, 80.0), said)
    assert set(kinds) == {(("in", 2),)}
    free = explained((0.0, 80.0), TWO)[1]
    unlike = SideInformation(masses_g={1: 60.0, 2: 80.0}, out_labels={1: 1})
    kinds, found = explained((0.0, 80.0), unlike)
    assert kinds[0] == (("in", 2),), "nothing that comes out explains a rise"
    assert found[0].log_weight < free[0].log_weight - 20.0


def test_a_swap_is_one_in_and_one_out_within_an_edge():
    held = State((HeldPiece(1, 1, 60.0, 0.3),), frozenset({1}))
    kinds, _ = explained((0.0, 60.0, 60.0 + 18.5), TWO, held)
    assert (("out", 1), ("in", 2)) in kinds


def test_posteriors_are_probabilities_and_what_must_go_in_comes_out():
    found = forward_backward(levels(0.0, 60.0, 140.0, 78.5, -3.0), TWO, ModelParameters())
    assert [(e.kind, e.piece) for e in found.path] == [
        ("in", 1), ("in", 2), ("out", 1), ("out", 2),
    ]  # fmt: skip
    assert found.immersions[1, 1, 3] > 0.99
    assert found.immersions[2, 2, 4] > 0.99
    assert all(0.0 <= p <= 1.0 + 1e-9 for p in found.immersions.values())
    assert found.dip_edges[1] == pytest.approx(1.0, abs=0.01)
    one = forward_backward(levels(0.0), NOBODY, ModelParameters())
    assert (one.path, one.immersions) == ([], {})


def test_once_the_readings_have_ended_a_piece_left_in_is_less_likely():
    segments = levels(0.0, 62.0)
    open_end = forward_backward(segments, NOBODY, ModelParameters())
    ended = forward_backward(segments, SideInformation(masses_g={}, ended=True), ModelParameters())
    assert ended.dips[1, 1] < open_end.dips[1, 1]
    missing = SideInformation(masses_g={}, pieces=1, ended=True)
    assert forward_backward(segments, missing, ModelParameters()).dips[1, 1] > ended.dips[1, 1]


def test_logarithms_of_sums_are_those_of_the_sums():
    assert _log_add(math.log(0.2), math.log(0.3)) == pytest.approx(math.log(0.5))
    assert _log_add(math.log(0.3), math.log(0.2)) == pytest.approx(math.log(0.5))
    assert _log_add(-math.inf, math.log(0.3)) == math.log(0.3)
    assert _log_add(-math.inf, -math.inf) == -math.inf
    assert _log_add(0.0, -800.0) == 0.0


def test_a_wild_trace_keeps_fewer_states_and_never_none():
    assert _most_states(0, 0, 100) == _most_states(240, 0, 100)
    assert _most_states(480, 0, 100) == _most_states(240, 0, 100) // 2
    assert _most_states(10**9, 0, 100) == 1
    assert _most_states(480, 1, 100) == _most_states(240, 0, 100)


# Estimates from the run itself.


def rising(*rises_g, rise_s=1.0):
    """Levels of a minute each that rise by so much, each within a time."""
    found, mass_g = [level(0.0, 60.0, 5000.0)], 5000.0
    for n, rise_g in enumerate(rises_g, start=1):
        mass_g += rise_g
        found.append(level(61.0 * n, 61.0 * n + 60.0, mass_g, rise_s=rise_s))
    return found


@pytest.mark.parametrize(("apart", "log_sd"), [(0.05, 0.25), (0.15, 2.0 * 1.48 * 0.15), (0.3, 0.6)])
def test_quick_rises_tell_the_mass_of_a_piece_and_twice_their_scatter(apart, log_sd):
    """1.48 median absolute deviations make a standard deviation of a normal law (from memory);
    within 0.25 and 0.6."""
    rises_g = [70.0 * math.exp(apart * k) for k in (-1, 0, 1)]
    found = initial_parameters(rising(*rises_g), NOBODY, None)
    assert found.piece_g == pytest.approx(70.0)
    assert found.piece_log_sd == pytest.approx(log_sd)
    assert initial_parameters(rising(*rises_g[:2]), NOBODY, None) == ModelParameters()


@pytest.mark.parametrize(
    ("rises_g", "alike"),
    [
        ((50.0, 60.0, 69.9), True),
        ((50.0, 60.0, 70.1), False),
        ((190.0, 195.0, 200.0), True),
        ((190.0, 195.0, 200.1), False),
        ((60.0, 60.0), False),
    ],
)
def test_three_slow_rises_alike_and_no_heavier_than_a_piece_are_pieces(rises_g, alike):
    """Within a factor of 1.4 and up to 200 g: common practice, no source."""
    found = initial_parameters(rising(*rises_g, rise_s=3.0), NOBODY, None)
    if not alike:
        assert found == ModelParameters()
        return
    assert found.piece_g == rises_g[1]
    assert found.piece_log_sd == 0.25
    assert found.slower_s == pytest.approx(3.0 - likelihood.QUICK_RISE_S)


def test_a_planned_dwell_begins_in_the_middle_of_its_band_and_is_never_sure_to_seconds():
    wide = initial_parameters(rising(), NOBODY, (100.0, 140.0))
    assert (wide.dwell_s, wide.dwell_sd_s) == (120.0, pytest.approx(14.0))
    assert initial_parameters(rising(), NOBODY, (100.0, 108.0)).dwell_sd_s == 3.0
    weighed = initial_parameters(rising(), TWO, None)
    assert (weighed.piece_g, weighed.piece_log_sd) == (70.0, 0.2)


def beside_a_gap(*, before_g=0.0, after_g=0.0, seen_s=2.0):
    """Pieces of 80 and 90 g go in in a gap of 10 s but for what is seen right before and after."""
    levels_g = [0.0, before_g, 170.0 - after_g, 170.0]
    found, t_s = [], 0.0
    for n, g in enumerate(levels_g):
        gap = n == 2
        lasts_s = 60.0 if n in (0, 3) else seen_s
        t_s += 10.0 if gap else 1.0
        if n in (0, 2) or g != levels_g[n - 1]:
            found.append(level(t_s, t_s + lasts_s, 5000.0 + g, in_gap=gap))
            t_s += lasts_s
    return found


@pytest.mark.parametrize(
    "seen",
    [{"before_g": 10.0}, {"after_g": 10.0}, {"before_g": 10.0, "after_g": 12.0},
     {"before_g": 80.0, "seen_s": 0.9}],
)  # fmt: skip
def test_a_part_of_a_piece_beside_a_gap_belongs_to_what_the_gap_hides(seen):
    segments = beside_a_gap(**seen)
    found = stairs.joined(segments, [80.0, 90.0])
    assert [s.start_g for s in found] == [5000.0, 5170.0]
    assert found[1].in_gap
    assert (found[1].edge_from_s, found[1].edge_to_s) == (60.0 + 1.0, segments[-1].start_s)


@pytest.mark.parametrize("seen", [{"before_g": 1.9}, {"before_g": 10.0, "seen_s": 3.6}])
def test_what_is_no_move_or_stays_beside_a_gap_is_by_itself(seen):
    """2 g make a move, and a hand rests no longer than 3.5 s: common practice, no source."""
    segments = beside_a_gap(**seen)
    assert len(stairs.joined(segments, [80.0, 90.0])) == len(segments)
