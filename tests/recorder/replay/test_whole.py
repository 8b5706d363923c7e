"""A run that has lost readings or raw bytes keeps what was judged from all of them."""

import dataclasses
import gzip
import json
from pathlib import Path

import apsw
import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.control.requests import Undo
from logger.model.errors import InputError
from logger.model.event import Event
from logger.recorder.corrections.stored import corrected_run
from logger.recorder.replay.intake import take_in
from logger.recorder.replay.whole import readings_gone
from logger.science.fats.fatfile import builtin_fats
from logger.store.exchange.importing import read_csv
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter

FATS = builtin_fats()
SHEET = """
[sheet]
name = "Smoked beet and barley roll"

[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }
rule_set = "food_code_cooked"
"""
LIVE = Path(__file__).resolve().parents[3] / "fixtures" / "runs" / "format-3"


def rows(step):
    """Return a CSV of a core that cools, one reading in `step` of those at 10 s."""
    return "time_s,core [degC]\n" + "".join(
        f"{10 * n},{4 + 60 * 0.995**n:.2f}\n" for n in range(0, 1201, step)
    )


@pytest.fixture
def folder(tmp_path):
    return DataFolder(tmp_path / "data")


def taken(folder, step):
    return take_in(
        folder,
        read_csv(rows(step)),
        sheet_text=SHEET,
        sheet_name="x",
        bench_text=None,
        fats=FATS,
    )


@pytest.fixture
def thinned(folder):
    """A run of 301 readings with what was judged from 1201; its id and those results."""
    with RunView.open(folder.run_path(taken(folder, 1))) as view:
        judged = view.results()
    judged.findings[0] = dataclasses.replace(judged.findings[0], evidence="seen by all readings")
    run_id = taken(folder, 4)
    note = Event(t_ns=0, kind="note", source="operator", text="thinned out")
    with RunWriter.reopen(folder.run_path(run_id)) as file:
        file.set_results(judged, note)
    return run_id, judged


def asked(folder, *words):
    return CliRunner().invoke(group, [*words, "--data", str(folder.path)])


def test_a_run_keeps_from_how_many_readings_of_each_channel_it_was_judged(thinned):
    _, judged = thinned
    assert [(row.channel, row.readings) for row in judged.judged] == [("core", 1201)]


def test_replay_of_a_thinned_run_leaves_what_was_stored_and_says_so(folder, thinned):
    run_id, judged = thinned
    done = asked(folder, "replay", run_id, "--json")
    assert done.exit_code == 0
    found = json.loads(done.output)
    assert found["not_replayed"] == (
        "the run was judged from 1201 readings of core, and 301 are left"
    )
    assert [f["evidence"] for f in found["findings"]] == [f.evidence for f in judged.findings]
    assert "1201 readings of core, and 301 are left. The earlier findings stay as they are." in (
        asked(folder, "replay", run_id).output
    )


def test_a_thinned_run_decides_nothing_by_another_sheet(folder, thinned, tmp_path):
    other = tmp_path / "other.sheet.toml"
    other.write_text(SHEET + 'time = { low = "1 min" }\n', encoding="utf-8")

    def by_other(run_id):
        done = asked(folder, "replay", run_id, "--sheet", str(other), "--json")
        return {f["check"]: f for f in json.loads(done.output)["findings"]}["chilling time"]

    assert by_other(taken(folder, 1))["verdict"] == "met"
    found = by_other(thinned[0])
    assert found["verdict"] == "undecided"
    assert "301 are left" in found["evidence"]


def test_a_whole_run_is_worked_out_again(folder):
    found = json.loads(asked(folder, "replay", taken(folder, 1), "--json").output)
    assert found["not_replayed"] == ""


def test_a_thinned_run_takes_no_correction(folder, thinned):
    with (
        RunView.open(folder.run_path(thinned[0])) as view,
        pytest.raises(InputError, match="301 are left"),
    ):
        corrected_run(view, Undo.model_validate({"event": 1}), FATS, 0)


def test_a_run_without_its_raw_bytes_keeps_what_was_judged(folder):
    says = json.loads(LIVE.with_suffix(".json").read_text(encoding="utf-8"))
    path = folder.run_path(says["run"])
    path.write_bytes(gzip.decompress(LIVE.with_suffix(".run.gz").read_bytes()))
    with RunView.open(path) as view:
        stored = view.results()
        assert readings_gone(view) == ""
    with apsw.Connection(str(path)) as db:
        db.execute("DELETE FROM chunk_block; DELETE FROM chunk")
    found = json.loads(asked(folder, "replay", says["run"], "--json").output)
    assert found["not_replayed"].startswith("the raw bytes give 0 of ")
    assert len(found["findings"]) == len(stored.findings)
    assert "Raw bytes" in asked(folder, "replay", says["run"]).output
