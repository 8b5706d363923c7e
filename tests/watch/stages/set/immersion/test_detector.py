import copy
import random

import pytest

from logger.watch.stages.set.immersion.detector import ImmersionDetector
from logger.watch.stages.set.statements import mark_statement
from tests.watch.stages.set.immersion.feeding import feed_many

PLAN = (240.0, 360.0)


def fed(readings, **options) -> ImmersionDetector:
    detector = ImmersionDetector(**options)
    feed_many(detector, *readings)
    detector.end()
    return detector


def rows(readings, **options):
    return fed(readings, **options).table().immersions


def through(*pieces, drag_g=1.5):
    """Moves of pieces given as (in, out, mass)."""
    moves = []
    for in_s, out_s, mass in pieces:
        moves.append((in_s, mass))
        if out_s is not None:
            moves.append((out_s, -mass - drag_g))
    return moves


THREE = through((20, 310, 80.0), (45, 345, 71.0), (70, 375, 88.0))


def test_one_piece_is_timed_without_masses_plan_or_count(bath):
    (row,) = rows(bath(*through((20.0, 320.4, 80.0)), until_s=350.0))
    assert (row.piece, row.ambiguous) == (1, False)
    assert row.dwell_s == pytest.approx(300.4, abs=0.1)
    assert row.mass_in_g == pytest.approx(80.0, abs=0.3)
    assert row.mass_out_g == pytest.approx(81.5, abs=0.3)


def test_overlapping_pieces_are_told_apart_by_mass_in_any_order_of_coming_out(bath):
    found = rows(bath(*through((20, 375, 80.0), (45, 310, 71.0), (70, 345, 88.0)), until_s=400))
    assert [row.out_s for row in found] == pytest.approx([375, 310, 345], abs=0.1)


def test_registered_pieces_keep_their_numbers_whatever_goes_in_first(bath):
    found = rows(bath(*THREE, until_s=400), masses_g={1: 88.0, 2: 80.0, 3: 71.0}, planned_s=PLAN)
    assert [row.piece for row in found] == [2, 3, 1]
    assert all(not row.ambiguous for row in found)


@pytest.mark.parametrize(("rate_hz", "step_g"), [(2.0, 0.1), (2.0, 1.0), (10.0, 1.0), (20.0, 0.1)])
def test_slow_and_coarse_scales_do(bath, rate_hz, step_g):
    found = rows(bath(*THREE, until_s=400, rate_hz=rate_hz, step_g=step_g, noise_g=0.25))
    assert [row.dwell_s for row in found] == pytest.approx([290, 300, 305], abs=0.4)


def test_a_hung_piece_reads_less_than_its_mass_and_is_known_all_the_same(bath):
    masses = {1: 80.0, 2: 71.0, 3: 88.0}
    hung = through(
        *[(i, o, 0.975 * m) for i, o, m in ((20, 310, 80), (45, 345, 71), (70, 375, 88))]
    )
    found = rows(bath(*hung, until_s=400), masses_g=masses, planned_s=PLAN)
    assert [row.piece for row in found] == [1, 2, 3]
    assert [row.dwell_s for row in found] == pytest.approx([290, 300, 305], abs=0.2)


def test_touches_pours_ladles_and_stirring_are_no_immersions(bath):
    touches = [(30.0, 60.0), (32.0, -60.0), (80.0, -25.0), (81.0, 25.0)]
    t, x = bath(*touches, until_s=200.0, edge_s=0.2)
    pour = bath((120.0, 250.0), until_s=200.0, edge_s=5.0)[1]
    stir = [(-1) ** n * 3.0 if 150 < at < 160 else 0.0 for n, at in enumerate(t)]
    x = [a + b - 2000 + c for a, b, c in zip(x, pour, stir, strict=True)]
    table = fed((t, x)).table()
    assert table.immersions == ()
    assert [other.change_g for other in table.others] == pytest.approx([250.0], abs=0.5)


def test_a_lift_and_redip_is_one_immersion_that_says_so(bath):
    moves = [*through((20, 320, 80.0)), (150.0, -81.5), (154.0, 80.5)]
    (row,) = rows(bath(*moves, until_s=350))
    assert row.dwell_s == pytest.approx(300, abs=0.2)
    assert row.lifted_s == pytest.approx((154.0,), abs=0.3)


def test_an_announced_tare_is_no_mass_step(bath):
    t, x = bath(*THREE, until_s=400)
    x = [b - 2239.0 if a > 150 else b for a, b in zip(t, x, strict=True)]
    detector = ImmersionDetector()
    for at, mass in zip(t, x, strict=True):
        if at == pytest.approx(150.0):
            detector.tare(at)
        detector.feed(at, mass)
    detector.end()
    assert [r.dwell_s for r in detector.table().immersions] == pytest.approx(
        [290, 300, 305], abs=0.2
    )


def test_a_tare_nobody_announced_is_seen_from_its_zero(bath):
    t, x = bath(*THREE, until_s=400)
    x = [round(b - 2239.0, 1) if a > 150 else b for a, b in zip(t, x, strict=True)]
    assert [row.dwell_s for row in rows((t, x))] == pytest.approx([290, 300, 305], abs=0.2)


def test_an_event_in_a_gap_is_an_interval_and_no_number(bath):
    t, x = bath(*THREE, until_s=400)
    kept = [(a, b) for a, b in zip(t, x, strict=True) if not 341.0 < a < 350.0]
    found = rows(tuple(zip(*kept, strict=True)))
    gapped = found[1]
    assert gapped.out_s is None
    assert gapped.dwell_s is None
    assert gapped.out_between_s == pytest.approx((341.0, 350.0), abs=0.15)
    assert gapped.dwell_between_s == pytest.approx((296.0, 305.0), abs=0.3)


def test_a_piece_in_before_the_start_and_one_still_in_at_the_end(bath):
    moves = [*through((20, 310, 80.0), (45, None, 71.0)), (150.0, -86.0)]
    masses = {1: 80.0, 2: 71.0, 3: 84.5}
    found = {r.piece: r for r in rows(bath(*moves, until_s=400), masses_g=masses)}
    assert found[3].at_start
    assert found[3].in_s is None
    assert found[3].out_s == pytest.approx(150.0, abs=0.1)
    assert found[2].out_s is None
    assert found[1].dwell_s == pytest.approx(290.0, abs=0.1)


def test_what_masses_cannot_tell_is_ambiguous_with_its_candidates(bath):
    twins = through((20, 320, 80.0), (40, 350, 80.1))
    found = rows(bath(*twins, until_s=380))
    assert all(row.ambiguous for row in found)
    assert found[0].candidates[0].dwell_s in (
        pytest.approx(300, abs=0.2),
        pytest.approx(330, abs=0.2),
    )


def test_one_tap_settles_an_ambiguous_pair(bath):
    detector = fed(bath(*through((20, 350, 80.0), (40, 320, 80.1)), until_s=380))
    first_out = min(detector.table().immersions, key=lambda row: row.out_s)
    detector.answer(first_out.number, 2, yes=True)
    found = detector.table().immersions
    assert [row.out_s for row in found] == pytest.approx([350, 320], abs=0.1)
    assert not any(row.ambiguous for row in found)


def test_a_plan_does_not_hide_an_early_pull_out(bath):
    """Two pieces of one mass; the second comes out after 100 s. Swapped, both would be on plan."""
    pieces = through((20, 480, 80.0), (150, 250, 80.1), (180, 480 + 20, 92.0), (200, 505, 66.0))
    found = rows(
        bath(*pieces, until_s=540),
        masses_g={1: 80.0, 2: 80.1, 3: 92.0, 4: 66.0},
        planned_s=(220.0, 340.0),
    )
    for row in found:
        if row.piece in (1, 2):
            assert row.ambiguous
            assert row.candidates


def test_a_clear_early_pull_out_is_told_in_spite_of_the_plan(bath):
    pieces = through((20, 310, 80.0), (45, 120, 71.0), (70, 375, 88.0))
    found = rows(bath(*pieces, until_s=400), masses_g={1: 80.0, 2: 71.0, 3: 88.0}, planned_s=PLAN)
    early = found[1]
    assert (early.piece, early.ambiguous) == (2, False)
    assert early.dwell_s == pytest.approx(75.0, abs=0.2)


def test_statements_alone_make_the_same_table_without_a_scale():
    detector = ImmersionDetector()
    for at, what, piece in ((10, "in", 1), (30, "in", 2), (300, "out", 1), (333, "out", 2)):
        detector.say(float(at), what, piece)
    assert [(r.piece, r.dwell_s) for r in detector.table().immersions] == [(1, 290.0), (2, 303.0)]
    assert all(row.by_hand for row in detector.table().immersions)


def test_a_mark_without_a_scale_takes_out_the_piece_that_is_in_longest():
    detector = ImmersionDetector()
    for at, what, piece in ((40, "in", 1), (10, "in", 2), (60, "in", 3), (90, "out", 3)):
        detector.say(float(at), what, piece)
    rows = detector.table().immersions
    assert mark_statement(None, rows, 3) == ("out", 2)
    assert mark_statement(1, rows, 3) == ("out", 1)
    assert mark_statement(None, rows, 4) == ("in", 4)


def test_a_statement_beside_an_edge_takes_the_time_of_the_edge(bath):
    detector = fed(bath(*through((20, 320, 80.0), (40, 350, 80.1)), until_s=380))
    detector.say(322.5, "out", 1)
    detector.say(353.0, "out", 2)
    found = detector.table().immersions
    assert [row.out_s for row in found] == pytest.approx([320, 350], abs=0.1)


def test_looking_often_changes_nothing(bath):
    t, x = bath(*THREE, until_s=400)
    watched = ImmersionDetector(planned_s=PLAN)
    rng = random.Random(3)
    for at, mass in zip(t, x, strict=True):
        watched.feed(at, mass)
        if rng.random() < 0.02:
            watched.table()
    watched.end()
    assert watched.table() == fed((t, x), planned_s=PLAN).table()


def test_a_copy_taken_half_way_goes_on_to_the_same_table(bath):
    t, x = bath(*THREE, until_s=400)
    first = ImmersionDetector()
    feed_many(first, t[:2000], x[:2000])
    second = copy.deepcopy(first)
    for detector in (first, second):
        feed_many(detector, t[2000:], x[2000:])
        detector.end()
    assert first.table() == second.table()


def test_a_piece_shows_as_in_the_bath_within_seconds(bath):
    t, x = bath(*THREE, until_s=24.0)
    detector = ImmersionDetector(planned_s=PLAN)
    feed_many(detector, t, x)
    (row,) = detector.table().immersions
    assert row.out_s is None
    assert row.in_s == pytest.approx(20.0, abs=0.1)


def test_the_log_only_grows(bath):
    t, x = bath(*THREE, until_s=400)
    detector, seen = ImmersionDetector(), []
    for place in range(0, len(t), 250):
        feed_many(detector, t[place : place + 250], x[place : place + 250])
        detector.table()
        assert detector.log[: len(seen)] == seen
        seen = list(detector.log)
    assert [event.kind for event in seen] == ["up"] * 3 + ["down"] * 3


def test_no_readings_no_rows():
    assert fed(([], [])).table().immersions == ()
