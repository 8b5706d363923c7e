"""``events``: what was done in a run is listed, taken back and moved by its number."""

import contextlib
import dataclasses
import json

import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.cli.options import moment_s
from logger.model.errors import InputError
from logger.model.state import Proposal, RunAbout, State
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter
from tests.dashboard.made_state import FakeClient

SHEET = """
[sheet]
name = "Two dips"

[[stage]]
id = "skin"
kind = "rinse"
title = "First dip"

[[stage]]
id = "rinse"
kind = "rinse"
title = "Second dip"
"""


@pytest.fixture
def bainlog(tmp_path):
    def ran(*words):
        done = CliRunner().invoke(group, [*words, "--data", str(tmp_path / "data")])
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        return done.output

    return ran


@pytest.fixture
def run(tmp_path, bainlog):
    """A run of two stages with a mark; its id."""
    (tmp_path / "r.csv").write_text(
        "time_s,bath [degC]\n" + "\n".join(f"{t},18.0" for t in range(300))
    )
    (tmp_path / "e.csv").write_text(
        "time_s,event,text\n10,stage:skin,\n100,stage:rinse,\n150,mark,here\n"
    )
    (tmp_path / "s.sheet.toml").write_text(SHEET)
    made = bainlog(
        "import", str(tmp_path / "r.csv"), "--sheet", str(tmp_path / "s.sheet.toml"), "--events",
        str(tmp_path / "e.csv"), "--json",
    )  # fmt: skip
    return json.loads(made)["run"]


def acts(bainlog, run):
    found = json.loads(bainlog("events", run, "--json"))["acts"]
    return {a["begins"] or a["kind"]: (a["event"], a["t_s"], a["was_s"]) for a in found}


def stages(bainlog, run):
    shown = json.loads(bainlog("show", run, "--json"))
    return [(s["id"], s["start_s"], s["end_s"]) for s in shown["stages"]], shown["run"]


def test_the_acts_of_a_run_are_listed_with_their_numbers(bainlog, run):
    said = bainlog("events", run)
    assert "start of Second dip" in said
    assert "1:40" in said
    assert acts(bainlog, run)["mark"][1:] == (150.0, None)


def test_a_start_is_moved_and_the_old_value_is_kept(bainlog, run):
    number = acts(bainlog, run)["Second dip"][0]
    said = bainlog("events", run, "--move", str(number), "--to", "1:20", "--by", "Ada")
    assert said == "Moved: start of Second dip, from 1:40 to 1:20.\n"
    found, about = stages(bainlog, run)
    assert found[:2] == [("skin", 10.0, 80.0), ("rinse", 80.0, found[1][2])]
    assert acts(bainlog, run)["Second dip"] == (number, 80.0, 100.0)
    (kept,) = about["corrections"]
    assert (kept["was_s"], kept["to_s"], kept["by"]) == (100.0, 80.0, "Ada")


def test_a_distance_is_counted_from_where_the_act_is_now(bainlog, run):
    number = acts(bainlog, run)["mark"][0]
    bainlog("events", run, "--move", str(number), "--to", "-10 s")
    bainlog("events", run, "--move", str(number), "--to", "+5 s")
    assert acts(bainlog, run)["mark"] == (number, 145.0, 150.0)


def test_the_stage_before_goes_on_when_a_start_is_taken_back(bainlog, run):
    number = acts(bainlog, run)["Second dip"][0]
    assert bainlog("events", run, "--undo", str(number)) == (
        "Taken back: start of Second dip, 1:40.\n"
    )
    found, _ = stages(bainlog, run)
    assert [stage for stage, _, _ in found] == ["skin"]
    assert found[0][2] > 290.0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--move", "3"), "add --to"),
        (("--to", "1:00"), "add --to"),
        (("--move", "99", "--to", "1:00"), "there is no entry 99"),
        (("--undo", "99"), "there is no entry 99"),
        (("--undo", "1", "--move", "2", "--to", "1:00"), "one at a time"),
        (("--undo", "1", "--answer", "then.bath", "yes"), "one at a time"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words(bainlog, run, words, says):
    with pytest.raises(InputError, match=says):
        bainlog("events", run, *words)


@pytest.fixture
def recorder(run, monkeypatch):
    """One that records the run and asks whether a stage began earlier."""
    text = "2 pieces have been in the bath since 0:40. Begin Second dip then?"
    asked = Proposal(id="then.bath", text=text, what="begin_stage", t_s=60.0)
    client = FakeClient(State(run=RunAbout(id=run), proposals=[asked]))
    monkeypatch.setattr("logger.cli.runs.Client", lambda _: contextlib.nullcontext(client))
    return client


def test_an_open_question_is_listed_and_answered_by_its_name(bainlog, run, recorder):
    listed = " ".join(bainlog("events", run).split())  # a narrow terminal has it on several lines
    assert "Begin Second dip then?" in listed
    (asked,) = json.loads(bainlog("events", run, "--json"))["questions"]
    assert bainlog("events", run, "--answer", asked["question"], "yes") == "Answered: yes.\n"
    bainlog("events", run, "--answer", asked["question"], "no")
    assert [(kind, data["proposal"]) for kind, data in recorder.sent] == [
        ("accept", "then.bath"), ("decline", "then.bath"),
    ]  # fmt: skip


def test_a_question_that_is_not_asked_is_refused(bainlog, run, recorder):
    with pytest.raises(InputError, match=r"there is no open question 'then\.bowl'"):
        bainlog("events", run, "--answer", "then.bowl", "yes")
    assert recorder.sent == []


@pytest.mark.parametrize(
    ("text", "time_s"),
    [("12:04", 724.0), ("1:08:06", 4086.0), ("724 s", 724.0), ("-10 s", 90.0), ("+1 min", 160.0),
     ("0:05.5", 5.5), ("-10 min", 0.0)],
)  # fmt: skip
def test_a_time_is_read_as_it_is_written_on_the_clock(text, time_s):
    assert moment_s(text, 100.0) == time_s


@pytest.mark.parametrize("text", ["", "soon", "12", "1:2:3:4", "12:4x"])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(InputError):
        moment_s(text, 100.0)


def test_a_run_saved_before_acts_were_kept_is_judged_for_its_list_and_corrected(
    tmp_path, bainlog, run
):
    path = DataFolder(tmp_path / "data").run_path(run)
    before = acts(bainlog, run)
    with RunView.open(path) as view:
        older = dataclasses.replace(view.results(), acts=[])
    with RunWriter.reopen(path) as file:
        file.set_results(older)
    assert acts(bainlog, run) == before
    bainlog("events", run, "--move", str(before["mark"][0]), "--to", "2:20")
    assert acts(bainlog, run)["mark"][1:] == (140.0, 150.0)
