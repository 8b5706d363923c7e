"""Random but possible acts at a bath: the truth stays inside what is stated.

The full table is ``python -m tests.bench hands``.
"""

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from tests.bench.figures.hands_bath import HandsScore, add, play, score_all
from tests.virtual.bath_script import Scene
from tests.virtual.clumsy_bath import BEGINS, clumsy_bath
from tests.watch.stages.set.bath_stage import (
    SECOND,
    SHEET,
    engine_for,
    readings,
)
from tests.watch.stages.set.bath_stage import (
    play as feed,
)

THREE = SHEET.replace("pieces = 2", "pieces = 3").replace('"80 g"]', '"80 g", "95 g"]')


@seed(20261125)
@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None
)
@given(number=st.integers(0, 10_000))
def test_pieces_of_a_quiet_bath_are_counted_and_timed_whenever_next_comes(number):
    session = clumsy_bath(number, Scene(pieces=3, gaps=0, tares=0, touches=0, rate_hz=5.0))
    score = HandsScore()
    add(score, session, play(session), f"{number} {session.begins}")
    assert score.counts_right == 1, score.missed
    assert score.surely_wrong == 0, score.missed


def test_every_way_to_press_next_is_played():
    assert {clumsy_bath(n, Scene(pieces=2, touches=0)).begins for n in range(24)} == set(BEGINS)


@pytest.mark.slow
def test_under_gaps_and_slow_hands_most_dwells_are_right_and_none_is_surely_wrong():
    """Of two hard sessions; wanted over all seeds are all counts and 0.96 of the dwells."""
    score = score_all(2, 300)
    assert score.counts_right == 2, score.missed
    assert score.right >= 0.6 * score.dwells, score.missed
    assert score.surely_wrong == 0, score.missed


@pytest.mark.parametrize("start_s", range(190, 204, 2))
def test_a_piece_taken_out_in_a_gap_has_an_interval_and_no_piece_is_invented(start_s):
    engine = engine_for(THREE)
    dips = [(70, 20, 200), (80, 45, 225), (95, 70, 250)]
    feed(engine, readings(dips, 290, silent=[(start_s, start_s + 13)]), 290)
    engine.finish(290 * SECOND)
    rows = {r.piece: r for r in engine.results().immersions}
    assert len(rows) == len(engine.results().immersions) == 3
    for piece, (_, in_s, out_s) in enumerate(dips, start=1):
        row = rows[piece]
        low_s, high_s = row.dwell_between_s or (row.dwell_s, row.dwell_s)
        assert low_s - 0.5 <= out_s - in_s <= high_s + 0.5
        assert row.verdict == "met"


def test_a_verdict_on_an_interval_is_given_only_where_both_ends_agree():
    engine = engine_for(THREE)
    dips = [(70, 20, 165), (80, 45, 225), (95, 70, 250)]
    feed(engine, readings(dips, 290, silent=[(162, 182)]), 290)
    engine.finish(290 * SECOND)
    row = next(r for r in engine.results().immersions if r.piece == 1)
    low_s, high_s = row.dwell_between_s
    assert low_s < 150.0 < high_s
    assert row.verdict == "undecided"


def test_a_verdict_holds_for_every_piece_that_it_may_have_been():
    """Twins: one comes out early, the other while the scale is silent; nobody can say which."""
    twins = SHEET.replace('"70 g", "80 g"', '"75 g", "75.2 g"')
    engine = engine_for(twins)
    feed(engine, readings([(75, 20, 80), (75, 22, 202)], 250, silent=[(195, 212)]), 250)
    engine.finish(250 * SECOND)
    rows = engine.results().immersions
    assert [r.verdict for r in rows] == ["undecided"] * 2
    assert all(r.confidence < 0.9 for r in rows)


@pytest.mark.parametrize("moves", [1, 2, 3, 5])
def test_a_piece_lowered_slowly_or_in_moves_is_one_piece(moves):
    """Over 6 s, in so many equal moves with rests between; half of it is under at 23 s.

    With a rest of 2 s just half way either end of the rest is right.
    """
    items = []
    for reading in readings([(80, 60, 240)], 260):
        if reading.channel == "bath_scale":
            t_s, value = reading.t_ns / SECOND, reading.value
            value += 70.0 * _under(t_s - 20.0, 6.0, moves) * (t_s < 200.0)
            reading = reading._replace(value=value)
        items.append(reading)
    engine = engine_for()
    feed(engine, items, 260)
    engine.finish(260 * SECOND)
    rows = {r.piece: r for r in engine.results().immersions}
    assert sorted(rows) == [1, 2]
    low_s, high_s = rows[1].dwell_between_s or (rows[1].dwell_s, rows[1].dwell_s)
    assert low_s - 1.2 <= 177.0 <= high_s + 1.2


def _under(since_s, lasts_s, moves):
    """Return the share of a piece that is under water: moves as long as the rests between."""
    parts = 2 * moves - 1
    part_s = lasts_s / parts
    share = 0.0
    for move in range(moves):
        began_s = since_s - 2 * move * part_s
        share += min(1.0, max(0.0, began_s / part_s)) / moves
    return share
