"""The bath stage through the engine: pieces, their dwells, and what it says of them."""

import datetime

import pytest

from logger.correct.channel import Corrector
from logger.model.event import Event
from logger.model.files import sheet_from_text
from logger.model.history import moved
from logger.science.fats.fatfile import builtin_fats
from logger.virtual.lines.bench_file import sheet_text
from logger.virtual.readings.simulate import simulate
from logger.watch.engine.engine import Engine
from logger.watch.engine.merge import order
from tests.virtual.operator_events import operator_events
from tests.watch.stages.set.bath_stage import (
    SECOND,
    SHEET,
    engine_for,
    found,
    operator,
    play,
    readings,
)
from tests.watch.test_virtual_batch import bench_of


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 3])
def test_the_dwells_of_a_virtual_batch_are_those_that_happened(seed):
    run = simulate(seed, short=True)
    bench = bench_of(run)
    correctors = {c.id: Corrector(c, datetime.date(2026, 11, 25)) for c in bench.channel}
    engine = Engine(
        sheet_from_text(sheet_text(run), "s"), bench, correctors=correctors, fats=builtin_fats()
    )
    said = play(engine, [*operator_events(run), *run.readings(0.1)], run.script.end_s)
    truth = {i["piece"]: i["dwell_s"] for i in run.truth["immersions"]}
    rows = {r.piece: r.dwell_s for r in engine.results().immersions if not r.ambiguous}
    assert len(rows) >= len(truth) - 1
    for piece, dwell_s in rows.items():
        assert dwell_s == pytest.approx(truth[piece], abs=1.0)
    outs = [e for e in said if e.kind == "immersion_out"]
    assert len(outs) >= len(truth)


def test_a_piece_pulled_out_early_is_not_hidden_by_the_plan():
    engine = engine_for()
    play(engine, readings([(70, 20, 60), (80, 30, 220)], 260), 260)
    engine.finish(260 * SECOND)
    assert found(engine, "dwell", 1).verdict == "not met"
    assert found(engine, "dwell", 1).value == pytest.approx(40.0, abs=1.0)
    assert found(engine, "dwell", 2).verdict == "met"


def test_the_board_calls_what_is_due_next_and_then_what_is_overdue():
    engine = engine_for()
    dips = [(70, 20, 900), (80, 60, 900)]
    play(engine, readings(dips, 120), 120)
    view = engine.state(120 * SECOND).view
    assert [r.piece for r in view.board] == [1, 2]
    assert view.tone == "wait"
    assert "through" in view.board[0].says
    assert 0.5 < view.board[0].set_fraction < 1.0
    low_s, high_s = view.board[0].left_s
    assert 0.0 < low_s < high_s

    late = engine_for()
    play(late, readings(dips, 275), 275)
    state = late.state(275 * SECOND)
    assert state.view.tone == "stop"
    assert state.view.board[0].status == "overdue"
    assert any(a.id == "skin.piece1.overdue" for a in state.alarms)


def test_what_the_sheet_lacks_is_named_and_the_dwell_is_judged_all_the_same():
    bare = """
[sheet]
name = "Bath only"

[[stage]]
id = "skin"
kind = "set"
dwell = { low = "1 min", high = "3 min" }
"""
    engine = engine_for(bare, roles=("bath_scale",))
    items = [i for i in readings([(70, 20, 130), (95, 60, 190)], 230) if i.channel != "bath"]
    play(engine, items, 230)
    assert any("lacks" in text for text in engine.state(230 * SECOND).view.more)
    engine.finish(230 * SECOND)
    dwells = sorted(r.dwell_s for r in engine.results().immersions)
    assert dwells == pytest.approx([110.0, 130.0], abs=0.5)
    assert found(engine, "skin set through", 1).verdict == "not measured"
    assert found(engine, "bath temperature").verdict == "not measured"


def test_a_moment_inside_a_gap_is_an_interval_and_not_a_number():
    engine = engine_for()
    play(engine, readings([(70, 20, 200)], 260, silent=[(195, 215)]), 260)
    engine.finish(260 * SECOND)
    (row,) = engine.results().immersions
    assert row.out_s is None
    assert row.dwell_s is None
    low_s, high_s = row.dwell_between_s
    assert low_s <= 180.0 <= high_s
    assert high_s - low_s == pytest.approx(20.0, abs=2.0)


def test_a_piece_still_in_at_the_end_has_no_dwell():
    engine = engine_for()
    play(engine, readings([(70, 20, 900)], 100), 100)
    engine.finish(100 * SECOND)
    (row,) = engine.results().immersions
    assert (row.out_s, row.dwell_s, row.verdict) == (None, None, "not measured")


def test_without_a_scale_taps_keep_the_same_table():
    engine = engine_for(roles=("bath",))
    items = [i for i in readings([], 260) if i.channel == "bath"]
    taps = [operator(t, "mark") for t in (10, 20, 180, 215)]
    play(engine, [*items, *taps], 260)
    engine.finish(260 * SECOND)
    rows = [(r.piece, r.dwell_s, r.by_hand) for r in engine.results().immersions]
    assert rows == [(1, 170.0, True), (2, 195.0, True)]
    assert found(engine, "dwell", 1).verdict == "met"
    assert found(engine, "dwell", 1).expanded_uncertainty > 2.0


def test_the_dwell_follows_a_time_by_hand_that_is_moved():
    engine = engine_for(roles=("bath",))
    items = [i for i in readings([], 260) if i.channel == "bath"]
    out = operator(200, "piece_out", piece=1)
    said = [operator(20, "piece_in", piece=1), moved(out, 190 * SECOND)]
    play(engine, [*items, *said], 260)
    assert [r.dwell_s for r in engine.results().immersions] == [170.0]


def test_touches_alone_are_no_pieces():
    engine = engine_for()
    play(engine, readings([(40, 30, 31), (25, 60, 60.6), (90, 90, 92)], 160), 160)
    engine.finish(160 * SECOND)
    assert engine.results().immersions == []
    assert found(engine, "dwell").verdict == "not measured"


@pytest.mark.parametrize("every", [1, 7, 333])
def test_where_the_stream_is_cut_does_not_matter(every):
    items = sorted(
        [*readings([(70, 20, 190), (80, 40, 230)], 260), operator(100, "note")], key=order
    )
    whole = engine_for()
    said = whole.feed(items, 260 * SECOND)
    cut, again = engine_for(), []
    for start in range(0, len(items), every):
        piece = items[start : start + every]
        again += cut.feed(piece, piece[-1].t_ns)
    again += cut.feed([], 260 * SECOND)
    assert [(e.t_ns, e.kind, e.data) for e in again] == [(e.t_ns, e.kind, e.data) for e in said]
    assert cut.finish(260 * SECOND) == whole.finish(260 * SECOND)


def test_it_never_calls_food_safe_and_says_the_cautions():
    engine = engine_for()
    play(engine, readings([(70, 20, 190)], 230), 230)
    view = engine.state(230 * SECOND).view
    text = " ".join([view.say, *view.more, *view.cautions]).lower()
    assert "safe" not in text
    assert "eyes" in text
    assert "hot oil" in text


def test_a_foot_switch_counts_while_the_scale_is_silent_and_not_while_it_speaks():
    silent = engine_for()
    items = [i for i in readings([], 260) if i.channel == "bath"]
    taps = [Event(t_ns=t * SECOND, kind="foot_mark", source="bench") for t in (10, 20, 180, 215)]
    play(silent, [*items, *taps], 260)
    assert [r.dwell_s for r in silent.results().immersions] == [170.0, 195.0]

    speaking = engine_for()
    play(speaking, [*readings([(70, 40, 200)], 260), *taps], 260)
    assert [r.dwell_s for r in speaking.results().immersions] == pytest.approx([160.0], abs=0.5)


def test_a_tare_with_a_piece_inside_does_not_lose_it():
    """With the instrument's own word, and without it."""
    tared = [
        i._replace(value=i.value - 2670.0)
        if i.channel == "bath_scale" and i.t_ns >= 60 * SECOND
        else i
        for i in readings([(70, 20, 200), (80, 90, 260)], 300)
    ]
    word = Event(t_ns=60 * SECOND, kind="tare", source="bench", channel="bath_scale")
    for items in ([*tared, word], tared):
        engine = engine_for()
        play(engine, items, 300)
        dwells = [r.dwell_s for r in engine.results().immersions]
        assert dwells == pytest.approx([180.0, 170.0], abs=0.5)
        assert engine.results().values["bath_strength"] > 0.98


def test_the_last_piece_lifted_out_of_a_tared_bath_is_no_tare():
    """A bath tared with its water in it shows zero before the first piece and after the last."""
    dips = [(70, 40, 220), (80, 60, 250)]
    low = [
        i._replace(value=i.value - 2600.0) if i.channel == "bath_scale" else i
        for i in readings(dips, 300)
    ]
    engine = engine_for()
    said = play(engine, low, 300)
    assert [e.kind for e in said if e.kind == "tare_suspected"] == []
    assert [r.dwell_s for r in engine.results().immersions] == pytest.approx([180, 190], abs=0.5)


def test_a_no_to_one_piece_leads_to_the_other_and_is_not_asked_again():
    alike = SHEET.replace('["70 g", "80 g"]', '["75 g", "75 g"]')
    engine = engine_for(alike)
    play(engine, readings([(75, 20, 100), (75, 30, 230)], 150), 150)
    (asked,) = engine.state(150 * SECOND).proposals
    assert asked.text.startswith("Was that piece 1 that came out at 1:40, after 1 min 20 s?")
    play(engine, [operator(150, "decline", proposal=asked.id)], 155)
    rows = {r.piece: r for r in engine.results().immersions}
    assert rows[1].out_s is None
    assert rows[2].dwell_s == pytest.approx(70.0, abs=0.5)
    (asked,) = engine.state(155 * SECOND).proposals
    assert asked.data["piece"] == 2
    as_earlier_editions_named_it = asked.id.rpartition(".")[0]
    play(engine, [operator(156, "accept", proposal=as_earlier_editions_named_it)], 160)
    assert engine.state(160 * SECOND).proposals == []
    assert not next(r for r in engine.results().immersions if r.piece == 2).ambiguous


def test_one_tap_says_which_piece_it_was():
    alike = SHEET.replace('["70 g", "80 g"]', '["75 g", "75 g"]')
    engine = engine_for(alike)
    play(engine, readings([(75, 20, 100), (75, 30, 230)], 150), 150)
    (asked,) = engine.state(150 * SECOND).proposals
    play(engine, [operator(150, "accept", proposal=asked.id)], 155)
    row = next(r for r in engine.results().immersions if r.out_s is not None)
    assert not row.ambiguous
    assert row.piece == asked.data["piece"]
    assert engine.state(155 * SECOND).proposals == []


def test_the_table_of_pieces_holds_dwell_and_skin():
    engine = engine_for()
    play(engine, readings([(70, 20, 190), (80, 40, 230)], 260), 260)
    rows = engine.results().pieces
    assert [r.piece for r in rows] == [1, 2]
    assert [r.dwell_s for r in rows] == pytest.approx([170.0, 190.0], abs=0.5)
    assert all(r.set_fraction == 1.0 for r in rows)


def test_a_piece_that_was_not_weighed_is_timed_all_the_same():
    """Masses of some pieces only would make the others pass for poured water."""
    lacking = SHEET.replace("pieces = 2", "pieces = 3")
    lacking = lacking.replace('piece_masses = ["70 g", "80 g"]\n', "")
    two = [operator(5, "register_piece", piece=n, mass_g=g) for n, g in ((1, 70.0), (2, 80.0))]
    engine = engine_for(lacking)
    dips = [(70, 20, 190), (95, 45, 240), (80, 70, 260)]
    play(engine, [*two, *readings(dips, 290)], 290)
    dwells = [r.dwell_s for r in engine.results().immersions]
    assert dwells == pytest.approx([170.0, 195.0, 190.0], abs=0.5)
    assert any("2 of 3 pieces" in text for text in engine.state(290 * SECOND).view.more)

    weighed = engine_for(lacking)
    three = [*two, operator(5, "register_piece", piece=3, mass_g=95.0)]
    play(weighed, [*three, *readings(dips, 290)], 290)
    assert [r.piece for r in weighed.results().immersions] == [1, 3, 2]


def test_pieces_that_all_went_in_during_one_gap_have_intervals_and_no_numbers():
    three = SHEET.replace("pieces = 2", "pieces = 3").replace('"80 g"]', '"80 g", "95 g"]')
    engine = engine_for(three)
    dips = [(70, 35, 200), (80, 45, 225), (95, 55, 250)]
    play(engine, readings(dips, 280, silent=[(30, 60)]), 280)
    engine.finish(280 * SECOND)
    rows = engine.results().immersions
    assert len(rows) == 3
    for row, (_, in_s, out_s) in zip(sorted(rows, key=lambda r: r.piece), dips, strict=True):
        assert (row.in_s, row.dwell_s) == (None, None)
        low_s, high_s = row.in_between_s
        assert low_s <= in_s <= high_s
        assert high_s - low_s == pytest.approx(30.0, abs=1.0)
        low_s, high_s = row.dwell_between_s
        assert low_s <= out_s - in_s <= high_s
