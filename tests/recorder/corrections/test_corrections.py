"""What was done is taken back or moved, live and afterwards, and a replay gives the same."""

import pytest

from logger.control.requests import Move, Undo
from logger.model.errors import InputError
from logger.recorder.corrections import stored
from logger.recorder.setup import fats_of
from logger.watch.engine import engine as engines


def three_stages(bench):
    """Begin a run, go through its stages, and return its id."""
    run_id = bench.ask("start", operator="Ada")["run"]
    for _ in range(2):
        bench.time_passes(1.5)
        bench.ask("next")
    bench.time_passes(1.0)
    return run_id


@pytest.fixture(params=["at once", "worked out again"])
def way(request, monkeypatch):
    """Take acts back in the engine, or as if they were too old for that."""
    if request.param == "worked out again":
        monkeypatch.setattr(engines, "SURE_NS", 0)
    return request.param


def test_the_stage_before_goes_on_when_the_start_of_one_is_taken_back(bench, way):
    run_id = three_stages(bench)
    said = bench.ask("undo")["says"]
    assert said.startswith("Taken back: start of Rinse, 0:0")
    assert bench.settled()["stage"] == "skin"
    bench.ask("run_end")
    assert [stage for stage, _ in bench.stages(run_id)] == ["warm", "skin"]
    bench.same_again(run_id)


def test_an_older_act_is_taken_back_and_later_ones_stay_what_they_were(bench, way):
    run_id = three_stages(bench)
    said = bench.ask("undo", event=bench.acts()["Set the skin"])["says"]
    assert said.startswith("Taken back: start of Set the skin")
    assert bench.settled()["stage"] == "rinse"
    bench.ask("run_end")
    assert [stage for stage, _ in bench.stages(run_id)] == ["warm", "rinse"]
    with bench.view(run_id) as view:
        stages = view.results().stages
        assert stages[0].end_s == stages[1].start_s
    bench.same_again(run_id)


def test_a_start_is_moved_while_the_run_is_recorded(bench):
    run_id = three_stages(bench)
    number = bench.acts()["Set the skin"]
    said = bench.ask("move", event=number, to_s=0.75)["says"]
    assert said == "Moved: start of Set the skin, from 0:02 to 0:01"
    state = bench.settled()
    assert state["stage"] == "rinse"
    (row,) = [s for s in state["stages"] if s["id"] == "skin"]
    assert row["start_s"] == 0.75
    bench.ask("mark")
    bench.ask("run_end")
    assert ("skin", 0.75) in bench.stages(run_id)
    bench.same_again(run_id)


def test_a_run_that_ends_right_after_a_correction_has_it(bench):
    run_id = three_stages(bench)
    number = bench.acts()["Set the skin"]
    bench.ask("move", event=number, to_s=0.5)
    bench.ask("run_end")
    assert ("skin", 0.5) in bench.stages(run_id)
    bench.same_again(run_id)


def test_no_reading_is_lost_or_judged_twice_while_a_run_is_worked_out_again(bench):
    run_id = three_stages(bench)
    for to_s in (0.5, 0.75, 1.0):
        bench.ask("move", event=bench.acts()["Set the skin"], to_s=to_s)
    bench.settled()
    bench.ask("run_end")
    with bench.view(run_id) as view:
        values = view.readings("bath_scale").value.tolist()
    assert values == [values[0] + n for n in range(len(values))]
    bench.same_again(run_id)


def test_a_move_past_the_next_stage_or_out_of_the_run_is_refused(bench):
    three_stages(bench)
    number = bench.acts()["Set the skin"]
    with pytest.raises(InputError, match="is after the start of Rinse"):
        bench.ask("move", event=number, to_s=bench.state()["t_s"] - 0.2)
    with pytest.raises(InputError, match="outside the run"):
        bench.ask("move", event=number, to_s=5_000.0)
    with pytest.raises(InputError, match="there is no entry"):
        bench.ask("move", event=9_999, to_s=1.0)


def test_more_than_the_last_ten_acts_cannot_be_taken_back(bench):
    bench.ask("start")
    marks = [bench.ask("mark")["seq"] for _ in range(11)]
    with pytest.raises(InputError, match="not among the last 10 entries"):
        bench.ask("undo", event=marks[0])
    for mark in marks[1:]:
        bench.ask("undo", event=mark)
    assert bench.acts() == {"Warm both": bench.acts()["Warm both"], "mark": marks[0]}


def test_two_quick_undos_take_back_two_acts(bench):
    bench.ask("start")
    for text in ("one", "two", "three"):
        bench.ask("mark", text=text)
    assert [bench.ask("undo")["says"][:16] for _ in range(2)] == ["Taken back: mark"] * 2
    assert [row["text"] for row in bench.settled()["acts"] if row["kind"] == "mark"] == ["one"]


def test_a_finished_run_is_corrected_by_the_recorder_and_keeps_the_old_value(bench):
    run_id = three_stages(bench)
    number = bench.acts()["Set the skin"]
    bench.ask("run_end")
    bench.ask("move", event=number, to_s=1.25, run=run_id)
    assert ("skin", 1.25) in bench.stages(run_id)
    bench.same_again(run_id)
    with bench.view(run_id) as view:
        (kept,) = [e for e in view.events() if e.kind == "move"]
    assert kept.data["by"] == "Ada"
    assert 1.0 < kept.data["was_s"] < 60.0
    assert kept.data["utc"].endswith("+00:00")


def test_a_finished_run_is_corrected_without_a_recorder(bench):
    run_id = three_stages(bench)
    number = bench.acts()["Rinse"]
    bench.ask("run_end")
    bench.end()
    path, fats = bench.folder.run_path(run_id), fats_of(bench.folder)
    with bench.view(run_id) as view:
        made = stored.corrected_run(view, Undo(event=number, by="Bo"), fats, 10**18)
    stored.save(path, made)
    assert [stage for stage, _ in bench.stages(run_id)] == ["warm", "skin"]
    bench.same_again(run_id)
    with bench.view(run_id) as view, pytest.raises(InputError, match="there is no entry"):
        stored.corrected_run(view, Move(event=number, to_s=1.0), fats, 10**18)


def test_a_start_that_was_said_later_is_taken_back_and_moved_like_any_other(bench):
    run_id = bench.ask("start")["run"]
    bench.time_passes(2.0)
    bench.ask("stage", stage="skin", at_s=1.0)

    def began_s():
        return [s["start_s"] for s in bench.settled()["stages"] if s["id"] == "skin"]

    number = bench.acts()["Set the skin"]
    assert began_s() == [1.0]
    bench.ask("move", event=number, to_s=0.5)
    assert began_s() == [0.5]
    bench.ask("undo", event=number)
    assert began_s() == [None]
    assert bench.state()["stage"] == "warm"
    bench.ask("run_end")
    bench.same_again(run_id)
