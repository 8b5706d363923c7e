"""The bath is watched all the time: late, early, doubled and forgotten *Next* lose nothing."""

import pytest

from logger.words.acts import act_name, before_text, taken_back_text
from tests.watch.stages.set.bath_stage import (
    SECOND,
    SHEET,
    STAGE,
    engine_for,
    found,
    operator,
    play,
    readings,
)

AROUND = SHEET.replace(STAGE, "") + (
    '\n[[stage]]\nid = "dip"\nkind = "coat"\n'
    + STAGE
    + '\n[[stage]]\nid = "rinse"\nkind = "rinse"\n'
)
DIPS = [(70, 40, 220), (80, 60, 250)]
DWELLS = {1: 180.0, 2: 190.0}


def nexts(*times_s):
    return [operator(t_s, "next") for t_s in times_s]


def played(acts, dips=DIPS, until_s=300, text=AROUND, **options):
    engine = engine_for(text)
    play(engine, [*acts, *readings(dips, until_s, **options)], until_s)
    return engine


def dwells(engine):
    return {r.piece: r.dwell_s for r in engine.results().immersions if r.stage == "skin"}


@pytest.mark.parametrize(
    "times_s",
    [(2, 20), (2, 45), (2, 61), (2, 70), (2, 130), (20, 22, 200, 201), (2, 20, 100), (2, 20, 230)],
)
def test_pieces_are_timed_when_next_comes_late_or_early(times_s):
    """In time, while the first or second goes in, after both; out after the stage's end."""
    acts = nexts(*times_s) if times_s[0] == 2 else nexts(*times_s[:2])
    engine = played(acts)
    engine.finish(300 * SECOND)
    assert dwells(engine) == pytest.approx(DWELLS, abs=0.3)
    assert {found(engine, "dwell", n).verdict for n in DWELLS} == {"met"}


def test_a_forgotten_next_is_asked_and_one_tap_begins_the_stage_then():
    engine = played(nexts(2), until_s=150)
    (asked,) = engine.state(150 * SECOND).proposals
    assert asked.text == "2 pieces have been in the bath since 0:40. Begin Set in calcium then?"
    rest = [i for i in readings(DIPS, 300) if i.t_ns >= 150 * SECOND]
    play(engine, [operator(150, "accept", proposal=asked.id), *rest], 300)
    stages = [(r.id, r.start_s) for r in engine.results().stages]
    assert stages == [("dip", 2.0), ("skin", pytest.approx(37.0, abs=1.0))]
    engine.finish(300 * SECOND)
    assert dwells(engine) == pytest.approx(DWELLS, abs=0.3)


def test_next_twice_is_asked_and_one_tap_puts_it_right():
    engine = played(nexts(2, 20, 21), until_s=200)
    (asked,) = engine.state(200 * SECOND).proposals
    rest = [i for i in readings(DIPS, 300) if i.t_ns >= 200 * SECOND]
    play(engine, [operator(200, "accept", proposal=asked.id), *rest], 300)
    assert engine.stage_id == "skin"
    engine.finish(300 * SECOND)
    assert dwells(engine) == pytest.approx(DWELLS, abs=0.3)


def test_pieces_that_were_in_and_out_before_next_are_asked_for_too():
    engine = played(nexts(2, 280))
    (asked,) = engine.state(300 * SECOND).proposals
    assert (
        asked.text == "2 pieces were in the bath from 0:40 to 4:10. Did Set in calcium begin then?"
    )
    assert dwells(engine) == {}
    play(engine, [operator(300, "accept", proposal=asked.id)], 310)
    assert [r.id for r in engine.results().stages] == ["dip", "skin"]
    assert dwells(engine) == pytest.approx(DWELLS, abs=0.3)
    answer = engine.results().acts[-1]
    assert before_text(answer) == "first at 4:40"
    assert taken_back_text(answer) == (
        "Taken back: earlier start of Set in calcium, 0:37; it begins at 4:40 again"
    )


def test_a_question_that_was_declined_stays_away():
    engine = played(nexts(2), until_s=150)
    (asked,) = engine.state(150 * SECOND).proposals
    rest = [i for i in readings(DIPS, 300) if i.t_ns >= 150 * SECOND]
    play(engine, [operator(150, "decline", proposal=asked.id), *rest], 300)
    assert act_name(engine.results().acts[-1]) == f"no to “{asked.text}”"
    assert engine.state(300 * SECOND).proposals == []


def test_a_bath_that_is_made_up_on_its_scale_is_no_piece():
    """Vessel, water and salt, while other stages are under way."""
    bath = [(900, 5, 1e9), (60, 12, 1e9)]
    engine = played(nexts(2, 30), dips=[*bath, *DIPS])
    assert dwells(engine) == pytest.approx(DWELLS, abs=0.3)


def test_going_back_to_the_stage_goes_on_with_its_pieces():
    acts = [*nexts(2, 20, 230), operator(235, "stage", stage="skin")]
    engine = played(acts)
    engine.finish(300 * SECOND)
    assert dwells(engine) == pytest.approx(DWELLS, abs=0.3)


def test_a_piece_left_in_the_bath_after_its_stage_is_still_called():
    engine = played(nexts(2, 20, 225), dips=[(70, 40, 220), (80, 60, 900)], until_s=330)
    alarms = {a.id for a in engine.state(330 * SECOND).alarms}
    assert "skin.piece2.overdue" in alarms
    engine.finish(330 * SECOND)
    assert found(engine, "dwell", 2).verdict == "not measured"


def test_pieces_that_nobody_weighed_are_not_lost_when_next_comes_while_all_are_in():
    bare = AROUND.replace('piece_masses = ["70 g", "80 g"]\n', "").replace("pieces = 2\n", "")
    engine = played(nexts(2, 20, 100), text=bare)
    engine.finish(300 * SECOND)
    assert dwells(engine) == pytest.approx(DWELLS, abs=0.3)


def test_a_question_that_was_answered_is_not_asked_again():
    """A gap hides when the first piece went in: before or after the doubled *Next*."""
    engine = played(nexts(2, 38, 39), until_s=150, silent=[(38, 44)])
    (asked,) = engine.state(150 * SECOND).proposals
    play(engine, [operator(150, "accept", proposal=asked.id)], 160)
    assert engine.stage_id == "skin"
    assert engine.state(160 * SECOND).proposals == []


def test_a_stage_that_begins_within_a_gap_has_the_piece_that_went_in_then_and_asks_nothing():
    engine = played(nexts(2, 41), until_s=150, silent=[(38, 44)])
    assert engine.state(150 * SECOND).proposals == []
    assert [r.piece for r in engine.results().immersions] == [1, 2]


def test_late_next_finds_a_piece_that_a_gap_hides_and_counts_each_once():
    """Two pieces go in while the scale is silent, one after that; then comes *Next*."""
    text = AROUND.replace("pieces = 2", "pieces = 3").replace('"80 g"]', '"80 g", "95 g"]')
    dips = [*DIPS, (95, 90, 260)]
    engine = played(nexts(2, 120), dips=dips, text=text, silent=[(38, 66)])
    engine.finish(300 * SECOND)
    rows = {r.piece: r for r in engine.results().immersions}
    assert sorted(r.piece for r in engine.results().immersions) == [1, 2, 3]
    assert {n: rows[n].out_s for n in rows} == pytest.approx({1: 220, 2: 250, 3: 260}, abs=0.3)
    assert rows[1].in_between_s == rows[2].in_between_s == pytest.approx((38, 66), abs=0.5)
    assert rows[3].dwell_s == pytest.approx(170.0, abs=0.3)


def test_a_stage_ended_too_early_waits_for_the_pieces_that_have_not_come_yet():
    engine = played(nexts(2, 20, 60), dips=[(70, 40, 100), (80, 110, 280)])
    engine.finish(300 * SECOND)
    assert dwells(engine) == pytest.approx({1: 60.0, 2: 170.0}, abs=0.3)


def test_a_hand_as_heavy_as_the_last_piece_does_not_end_an_early_stage():
    """It holds the bath up from 268 to 270 s; the piece comes out at 275 s."""
    dips = [(70, 40, 200), (80, 60, 275), (-80, 268, 270)]
    engine = played(nexts(2, 20, 100), dips=dips)
    row = {r.piece: r for r in engine.results().immersions}[2]
    assert row.out_s == pytest.approx(275.0, abs=0.3)
