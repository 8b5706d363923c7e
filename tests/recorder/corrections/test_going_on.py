"""A run that ended, or was cut off, goes on in its own file and within its stage."""

import pytest

from dashboard.links import Links
from dashboard.live.asking import end_form
from logger.model.errors import InputError
from logger.model.state import RunAbout, State
from logger.store.run.runfile import RunWriter
from tests.dashboard.made_state import FakeClient


def test_an_ended_run_goes_on_within_its_stage_and_the_time_between_is_a_gap(bench):
    run_id = bench.ask("start")["run"]
    bench.time_passes(1.0)
    bench.ask("next")
    bench.time_passes(1.0)
    bench.ask("run_end", outcome="rejected", defects=["grainy"], text="too early")
    bench.eventually(lambda: bench.state()["go_on"] is not None)
    offered = bench.state()["go_on"]
    assert (offered["run"], offered["stage"], offered["outcome"]) == (
        run_id,
        "Set the skin",
        "rejected",
    )
    bench.ask("go_on", run=run_id)
    state = bench.settled()
    assert (state["phase"], state["run"]["id"], state["stage"]) == ("recording", run_id, "skin")
    assert state["go_on"] is None
    (skin,) = [s for s in state["stages"] if s["id"] == "skin"]
    with bench.view(run_id) as view:
        (going,) = [e for e in view.events() if e.kind == "go_on"]
    assert skin["paused_s"] == going.data["missed_s"] > 0.0
    form = end_form(Links(bench.folder.path, FakeClient(State(run=RunAbout(id=run_id)))))
    assert (form.came, form.wrong, form.note) == ("rejected", ["grainy"], "too early")
    assert "grainy" in form.defects
    bench.ask("next")
    bench.ask("run_end")
    assert [stage for stage, _ in bench.stages(run_id)] == ["warm", "skin", "rinse"]
    bench.same_again(run_id)
    with bench.view(run_id) as view:
        assert view.status == "ended"
        assert view.check() == "ok"
        kinds = [e.kind for e in view.events() if e.kind in ("run_end", "go_on")]
    assert kinds == ["run_end", "go_on", "run_end"]


def test_a_run_goes_on_with_another_recorder(bench):
    run_id = bench.ask("start")["run"]
    bench.time_passes(1.0)
    bench.end()  # as Ctrl-C does: the run is ended and saved
    bench.begin()
    bench.eventually(lambda: bench.state()["go_on"] is not None)
    assert bench.state()["go_on"]["run"] == run_id
    before_s = bench.ask("go_on", run=run_id)
    assert before_s["run"] == run_id
    state = bench.settled()
    assert state["stage"] == "warm"
    with bench.view(run_id) as view:
        (going,) = [e for e in view.events() if e.kind == "go_on"]
    assert going.data["missed_s"] > 0.0
    assert state["t_s"] > going.t_ns / 1e9


def test_a_run_that_was_cut_off_and_closed_goes_on_after_a_restart_of_the_computer(
    bench, monkeypatch
):
    """Its monotonic clock says nothing then; the wall clock tells how long the gap was."""
    run_id = bench.ask("start")["run"]
    bench.time_passes(1.0)
    bench.ask("run_end")
    bench.end()
    monkeypatch.setattr("logger.ports.clock.Clock.boot_id", lambda self: "another boot")
    bench.begin()
    bench.ask("go_on", run=run_id)
    assert bench.settled()["stage"] == "warm"
    bench.ask("run_end")
    bench.same_again(run_id)


def test_a_run_does_not_go_on_beside_another_or_when_it_is_under_way(bench):
    run_id = bench.ask("start")["run"]
    with pytest.raises(InputError, match="is being recorded"):
        bench.ask("go_on", run=run_id)
    bench.ask("run_end")
    with pytest.raises(InputError, match="give an id"):
        bench.ask("go_on", run="../x")


def test_an_ended_file_opened_to_go_on_and_killed_is_one_that_was_cut_off(bench):
    run_id = bench.ask("start")["run"]
    bench.time_passes(0.5)
    bench.ask("run_end")
    bench.end()
    path = bench.folder.run_path(run_id)
    with RunWriter.reopen(path) as file:
        file.go_on()
    assert bench.folder.unfinished_runs() == [path]


def test_what_is_said_at_the_start_is_in_the_run(bench):
    run_id = bench.ask("start", operator=" Ada ", size="12 pieces", lots={"oat fibre": "OF-2"})[
        "run"
    ]
    bench.ask("run_end")
    with bench.view(run_id) as view:
        assert view.sheet().ingredient[0].lot == "OF-2"
        told = view.started_with()
    assert (told.operator, told.size, told.lots) == ("Ada", "12 pieces", {"oat fibre": "OF-2"})


def test_an_alternative_taken_at_the_start_is_in_the_sheet_of_the_run(bench):
    text = (
        '[sheet]\nname = "T"\n[[ingredient]]\nname = "oat fibre"\nphase = "water"\nmass = "12 g"\n'
        'alternative = [{ name = "barley bran", ratio = "50 %" }]\n'
        '[[stage]]\nid = "warm"\nkind = "heat"\n'
    )
    taken = {"instead": {"oat fibre": "barley bran"}, "lots": {"barley bran": "BB-1"}}
    run_id = bench.ask("start", sheet=text, **taken)["run"]
    bench.ask("run_end")
    with bench.view(run_id) as view:
        (bran,) = view.sheet().ingredient
        assert view.started_with().instead == {"oat fibre": "barley bran"}
    assert (bran.name, bran.mass_g, bran.lot) == ("barley bran", 6.0, "BB-1")


def test_a_lot_of_what_is_not_in_the_sheet_is_refused(bench):
    with pytest.raises(InputError, match="the sheet has oat fibre"):
        bench.ask("start", lots={"oat": "OF-2"})


def test_the_end_can_say_how_it_came_out(bench):
    run_id = bench.ask("start")["run"]
    bench.ask("run_end", outcome="rejected", defects=["fizzy"], new_defects=["fizzy"],
              text="cooled too fast")  # fmt: skip
    with bench.view(run_id) as view:
        came = view.outcome()
        assert view.results().values["outcome"] == "rejected"
    assert (came.outcome, came.defects, came.note) == ("rejected", ("fizzy",), "cooled too fast")
