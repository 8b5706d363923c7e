"""Taking back: as if it had not been done."""

import dataclasses

import pytest

from logger.model.event import Event
from logger.model.reading import Reading
from logger.watch.engine.engine import SECOND_NS, Engine
from logger.watch.engine.undo import KEPT

S = SECOND_NS


def operator(kind, t_s, text="", seq=0, **data):
    return Event(t_ns=round(t_s * S), kind=kind, source="operator", text=text, data=data, seq=seq)


def readings(first_s, last_s):
    return [
        Reading(channel, round((first_s + k / 2) * S), 45.0 + 0.01 * k, 0.3)
        for k in range(int((last_s - first_s) * 2))
        for channel in ("fat", "water")
    ]


@pytest.fixture
def engine(roll_sheet, table_bench):
    return Engine(roll_sheet, table_bench, correctors={})


@pytest.fixture
def twin(roll_sheet, table_bench):
    return Engine(roll_sheet, table_bench, correctors={})


def told(engine, t_s):
    return repr((dataclasses.asdict(engine.results()), engine.state(round(t_s * S)).as_json()))


def test_an_undone_stage_change_leaves_everything_as_if_it_had_not_been(engine, twin):
    engine.feed([operator("run_start", 0), *readings(0, 20), operator("next", 20)], 20 * S)
    engine.feed([*readings(20, 40), operator("next", 40), *readings(40, 50)], 50 * S)
    assert engine.stage_id == "cold"
    said = engine.feed([operator("undo", 50), *readings(50, 60)], 60 * S)
    assert engine.stage_id == "warm"
    assert said[0].kind == "taken_back"
    assert said[0].text == "Taken back: start of Chill, 0:40"
    twin.feed([operator("run_start", 0), *readings(0, 20), operator("next", 20)], 20 * S)
    twin.feed([*readings(20, 40), *readings(40, 50), *readings(50, 60)], 60 * S)
    assert told(engine, 60) == told(twin, 60)


def test_undo_takes_back_the_last_act_and_then_the_one_before(engine):
    engine.feed([operator("next", 1), operator("next", 2), operator("next", 3)], 4 * S)
    engine.feed([operator("undo", 5)], 5 * S)
    assert engine.stage_id == "cold"
    engine.feed([operator("undo", 6)], 6 * S)
    assert engine.stage_id == "warm"
    engine.feed([operator("undo", 7)], 7 * S)
    assert engine.stage_id is None


def test_an_act_can_be_named_by_its_number_and_later_acts_stay(engine):
    engine.feed(
        [
            operator("next", 1, seq=11),
            operator("set_value", 2, seq=12, name="loss_g", value=4.0),
            operator("next", 3, seq=13),
        ],
        4 * S,
    )
    engine.feed([operator("undo", 5, event=12)], 5 * S)
    assert engine.stage_id == "cold"
    assert engine._run.scene.batch.by_hand == {}


def test_live_an_act_is_named_by_its_time_because_it_has_no_number_yet(engine):
    engine.feed([operator("next", 1), operator("next", 2), operator("mark", 3)], 4 * S)
    engine.feed([operator("undo", 5, event=17, at_ns=2 * S)], 5 * S)
    assert engine.stage_id == "warm"
    said = engine.feed([operator("undo", 6, event=99, at_ns=77)], 6 * S)
    assert [e.kind for e in said if e.kind in ("taken_back", "not_done")] == ["not_done"]


def test_a_foot_switch_can_undo(engine):
    engine.feed([operator("next", 1), operator("next", 2)], 3 * S)
    engine.feed([Event(t_ns=4 * S, kind="foot_undo", source="bench")], 4 * S)
    assert engine.stage_id == "warm"


def test_nothing_to_take_back_is_said_in_words(engine):
    said = engine.feed([operator("undo", 1)], 2 * S)
    assert said[-1].kind == "not_done"
    assert "nothing to take back" in said[-1].text


def test_what_is_more_than_ten_minutes_old_cannot_be_taken_back(engine):
    engine.feed([operator("next", 1)], 602 * S)
    said = engine.feed([operator("undo", 602.5)], 603 * S)
    assert said[-1].kind == "not_done"
    assert "10 min old" in said[-1].text
    assert engine.stage_id == "warm"


def test_no_more_than_the_last_acts_are_kept(engine):
    for t_s in range(1, KEPT + 3):
        engine.feed([operator("mark", t_s)], t_s * S)
    said = [e for k in range(KEPT + 1) for e in engine.feed([operator("undo", 8 + k)], (8 + k) * S)]
    undone = [e.kind for e in said if e.kind in ("taken_back", "not_done")]
    assert undone == ["taken_back"] * KEPT + ["not_done"]


def test_notes_and_acknowledgements_made_since_are_not_lost(engine):
    engine.feed([operator("next", 1), operator("next", 2), operator("note", 3, "thick")], 4 * S)
    engine.feed([operator("undo", 5)], 5 * S)
    assert [(n.text, n.stage) for n in engine.results().notes] == [("thick", "warm")]


def test_events_that_stand_are_not_said_again(engine):
    said = engine.feed([*readings(0, 5), operator("next", 5), operator("next", 6)], 40 * S)
    assert "stale" in [e.kind for e in said]
    again = engine.feed([operator("undo", 41)], 41 * S)
    assert "stale" not in [e.kind for e in again]


def test_memory_of_the_stream_is_bounded_by_ten_minutes(engine):
    engine.feed([operator("next", 0), *readings(0, 900)], 900 * S)
    past = engine._run.past
    assert all(item.t_ns >= 300 * S for item in past.items)
    assert [point.act for point in past.points] == [None] * 3
    engine.feed([operator("mark", 900), *readings(900, 950)], 950 * S)
    assert all(item.t_ns >= 350 * S for item in past.items)


def test_what_never_changes_is_not_copied(engine, roll_sheet, table_bench):
    engine.feed([operator("next", 1), operator("mark", 2)], 3 * S)
    engine.feed([operator("undo", 4)], 4 * S)
    context = engine._run.scene.watcher.context
    assert context.sheet is roll_sheet
    assert context.bench is table_bench
    assert context.stage is roll_sheet.stage[0]
    assert context.out is engine._run.scene.out
    assert context.batch is engine._run.scene.batch
