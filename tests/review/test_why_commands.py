"""The commands over real run files: explain, compare, report, learn, plan and sheet."""

import json
import shutil

import numpy as np
import pytest
from click.testing import CliRunner

from logger.cli.main import group
from logger.cli.report import content_of
from logger.cli.runs import pieces_said
from logger.cli.why import learned_in
from logger.model.errors import InputError
from logger.recorder.replay.intake import take_in
from logger.recorder.setup import fats_of
from logger.review.papers.fingerprint import fingerprint
from logger.review.why.likelihood import builtin_likelihoods
from logger.store.exchange.importing import read_csv
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView, RunWriter

SHEET = """
[sheet]
name = "Warm only"
defects = ["grainy", "broken emulsion"]

[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
lot = "CB-1"

[[ingredient]]
name = "stock"
phase = "water"
substance = "water"
mass = "330 g"

[[stage]]
id = "warm"
kind = "heat"
fat = { low = "47 degC", high = "58 degC" }
water = { low = "44 degC", high = "54 degC" }
"""
BENCH = """
[bench]
name = "Table"
[[instrument]]
id = "probes"
port = "none"
shape = "none"
"""
PROBE = """
[[channel]]
id = "{0}"
instrument = "probes"
field = "{0}"
role = "{0}"
resolution = 0.1
repeatability = 0.05
sensor = {{ kind = "thermocouple", type = "T", class = 1, cold_junction = "0.2 K" }}
correction = {{ offset = "0 K", checked = 2026-11-02, by = "ice point", u = 0.1 }}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Five accepted runs with the fat at about 53 degC and one rejected at 36 degC."""
    place = tmp_path_factory.mktemp("data")
    folder = DataFolder(place)
    rng = np.random.default_rng(1)
    for number in range(6):
        bad = number == 5
        fat_c = 36.0 if bad else 53.0 + rng.normal(0.0, 0.5)
        water_c = 49.5 + rng.normal(0.0, 0.4)
        day = f"2026-11-{10 + number}T09:00"
        lines = ["time,fat [degC],water [degC]"]
        lines += [f"{day}:{s:02d}Z,{fat_c:.1f},{water_c:.1f}" for s in range(60)]
        path = place / f"{number}.csv"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        run = take_in(
            folder, read_csv(path, None), sheet_text=SHEET, sheet_name="warm.sheet.toml",
            bench_text=BENCH + PROBE.format("fat") + PROBE.format("water"), fats=fats_of(folder),
        )  # fmt: skip
        with RunWriter.reopen(folder.run_path(run)) as file:
            file.set_outcome("rejected" if bad else "accepted", ("grainy",) if bad else (), "")
        path.rename(place / f"{run}.csv")
    return folder


@pytest.fixture(scope="module")
def runs(folder):
    return sorted(p.stem for p in folder.path.glob("*.csv"))


def call(folder, *args):
    found = CliRunner().invoke(group, [*args], env={"BAINLOG_DATA": str(folder.path)})
    assert found.exit_code == 0, (found.output, found.exception)
    return found.output


def test_explain_names_the_cause_and_the_runs_it_compared_with(folder, runs):
    found = json.loads(call(folder, "explain", runs[-1], "--json"))
    assert found["causes"][0]["cause"] == "fat_too_cool"
    evidence = found["causes"][0]["evidence"][0]
    assert evidence["value"] == pytest.approx(36.0, abs=0.1)
    assert evidence["verdict"] == "not met"
    assert evidence["expanded_uncertainty"] > 0
    assert sorted(found["compared_with"]) == runs[:-1]
    text = call(folder, "explain", runs[-1])
    assert text.startswith("Most likely the fat was poured too cool.")
    assert "Next time" in text


def test_explain_of_several_runs_has_each_number_of_each_run(folder, runs):
    found = json.loads(call(folder, "explain", runs[-1], runs[0], "--json"))
    assert [one["run"] for one in found["runs"]] == [runs[-1], runs[0]]
    fat = next(n for n in found["group"]["numbers"] if n["name"] == "fat_at_pour_c")
    assert [p["run"] for p in fat["points"]] == [runs[-1], runs[0]]
    assert fat["points"][0]["value"] == pytest.approx(36.0, abs=0.1)
    text = call(folder, "explain", runs[-1], runs[0])
    assert "2 runs that share no defect" in text
    assert "good" in text.split()  # the head of the column, on one line or two
    assert "batches" in text


def test_explain_lists_what_was_considered(folder, runs):
    found = json.loads(call(folder, "explain", runs[-1], "--json"))
    by_id = {c["cause"]: c for c in found["considered"]}
    assert by_id["fat_too_cool"]["standing"] == "named"
    assert by_id["water_too_cold"]["standing"] == "ruled out"
    assert found["group"] is None
    assert "Ruled out by what was measured: " in call(folder, "explain", runs[-1])


def test_explain_does_not_accuse_an_accepted_run(folder, runs):
    assert json.loads(call(folder, "explain", runs[0], "--json"))["causes"] == []


def test_compare_shows_the_numbers_side_by_side(folder, runs):
    found = json.loads(call(folder, "compare", runs[0], runs[-1], "--json"))
    row = next(r for r in found["rows"] if r["name"] == "fat_at_pour_c")
    assert row["values"][0] > 50.0 > 40.0 > row["values"][1]
    assert "fat temperature at the pour" in call(folder, "compare", runs[0], runs[-1])


def test_reports_are_written_in_three_kinds_with_the_fingerprint(folder, runs, tmp_path):
    page = tmp_path / "r.html"
    call(folder, "report", runs[-1], "-o", str(page))
    with RunView.open(folder.run_path(runs[-1])) as view:
        assert fingerprint(view) in page.read_text(encoding="utf-8")
    call(folder, "report", runs[-1], "-o", str(tmp_path / "r.pdf"))
    call(folder, "report", runs[-1], "-o", str(tmp_path / "r.png"))
    assert (tmp_path / "r.pdf").read_bytes().startswith(b"%PDF")
    content = content_of(folder, runs[-1])
    last_s = max(channel.t_s[-1] for channel in content.channels)
    assert last_s == pytest.approx(content.duration_s, rel=0.02)


def test_fingerprints_tell_runs_apart(folder, runs):
    prints = set()
    for run in runs:
        with RunView.open(folder.run_path(run)) as view:
            prints.add(fingerprint(view))
    assert len(prints) == len(runs)


def test_a_sheet_learned_from_good_runs_reads_and_plans(folder, runs, tmp_path):
    path = tmp_path / "new.sheet.toml"
    text = call(folder, "learn", *runs[:-1], "-o", str(path))
    assert "proposed from 5 good batches" in text
    assert "fat_all_melted_above_c" in call(folder, "plan", str(path), "--json")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["learn", "LAST", "-o", "x.toml"], "was rejected"),
        (["compare", "LAST"], "name at least two"),
        (["report", "LAST", "-o", "r.doc"], "name it .html"),
        (["report", "LAST", "-o", "/nowhere/at/all/r.html"], "cannot be written"),
        (["sheet", "scale", "s.toml", "-o", "x"], "give one of"),
        (["plan", "nowhere.sheet.toml"], "no such file"),
    ],
)
def test_wrong_words_are_told_in_one_line(folder, runs, args, says):
    words = [runs[-1] if a == "LAST" else a for a in args]
    found = CliRunner().invoke(group, words, env={"BAINLOG_DATA": str(folder.path)})
    assert isinstance(found.exception, InputError), found.output
    assert says in str(found.exception)


def test_a_sheet_is_made_checked_scaled_and_compared(folder, tmp_path):
    first, second = tmp_path / "a.sheet.toml", tmp_path / "b.sheet.toml"
    call(folder, "sheet", "new", str(first))
    assert ": valid" in call(folder, "sheet", "check", str(first))
    call(folder, "sheet", "scale", str(first), "--pieces", "12", "-o", str(second))
    found = json.loads(call(folder, "sheet", "diff", str(first), str(second), "--json"))
    assert {"where": "cocoa butter: mass", "before": "180 g", "after": "360 g"} in found[
        "differences"
    ]
    again = CliRunner().invoke(group, ["sheet", "new", str(first)])
    assert isinstance(again.exception, InputError)


def test_a_persons_own_knowledge_is_laid_on_top(folder, runs):
    path = folder.path / "knowledge.toml"
    path.write_text(
        '[[mechanism]]\nid = "fat_too_cool"\ncause = "the stove was off"\nstage = "heat"\n'
        'leads_to = ["grainy"]\nbecause = "cold"\nsource = "common practice, no source"\n'
        'shows = [{ feature = "fat_at_pour_c", is = "low" }]\nwrong_if = "no"\nnext_time = "on"\n',
        encoding="utf-8",
    )
    try:
        assert "the stove was off" in call(folder, "explain", runs[-1])
    finally:
        path.unlink()


def test_what_single_pieces_came_to_is_kept_shown_and_exported(folder, runs, tmp_path):
    """In a run of the test's own: one that was added once more would change the others' answers."""
    shutil.copytree(folder.path, tmp_path, dirs_exist_ok=True)
    own, run = DataFolder(tmp_path), runs[-1]
    said = call(own, "outcome", run, "rejected", "--piece", "2=grainy", "--piece", "1=fizzy",
                "--new-defect", "fizzy")  # fmt: skip
    assert said == f"Run {run}: rejected, piece 1 fizzy, piece 2 grainy.\n"
    call(own, "outcome", run, "rejected", "--note", "and soft")  # what was said of pieces stays
    assert "Piece 1: fizzy\nPiece 2: grainy\n" in call(own, "show", run)
    shown = json.loads(call(own, "show", run, "--json"))
    assert shown["run"]["piece_defects"] == {"1": ["fizzy"], "2": ["grainy"]}
    assert shown["run"]["defects"] == []
    why = json.loads(call(own, "explain", run, "--json"))
    assert why["defects"] == ["fizzy", "grainy"]
    assert why["by_piece"][0].startswith("1 of 2 pieces “grainy”")
    assert "By piece: 1 of 2 pieces" in call(own, "explain", run)
    call(own, "export", run, "--to", "csv", "-o", str(tmp_path / "out"))
    events = (tmp_path / "out" / "events.csv").read_text(encoding="utf-8")
    assert '""pieces"": [{""piece"": 1, ""defects"": [""fizzy""]}' in events


@pytest.mark.parametrize(
    ("piece", "says"),
    [
        ("2=ugly", "'ugly' is not in the sheet"),
        ("grainy", "write '3=skin burst'"),
        ("0=grainy", "write '3=skin burst'"),
        ("501=grainy", "write '3=skin burst'"),
        ("2=", "write '3=skin burst'"),
        ("9=grainy", "the run has no piece 9: its pieces are 1 to 6"),
    ],
)
def test_a_wrong_piece_is_refused(piece, says):
    with pytest.raises(InputError) as refused:
        pieces_said([piece], ["grainy"], range(1, 7))
    assert says in str(refused.value).replace("; ", ": ")


def test_the_cause_that_was_found_is_kept_and_checked(folder, runs):
    text = call(
        folder, "outcome", runs[-1], "rejected", "--defect", "grainy", "--because", "fat_too_cool"
    )
    assert "rejected" in text
    assert json.loads(call(folder, "show", runs[-1], "--json"))["run"]["because"] == "fat_too_cool"
    rows = json.loads(call(folder, "runs", "--json"))["runs"]
    assert {row["id"]: row["because"] for row in rows}[runs[-1]] == "fat_too_cool"
    assert learned_in(folder, "Warm only").priors["grainy"]["fat_too_cool"] == (
        builtin_likelihoods().priors["grainy"]["fat_too_cool"] + 1.0
    )
    for came_out, cause, says in (
        ("rejected", "fat_to_cool", "did you mean 'fat_too_cool'?"),
        ("accepted", "fat_too_cool", "reject it"),
    ):
        words = ["outcome", runs[-1], came_out, "--because", cause]
        found = CliRunner().invoke(group, words, env={"BAINLOG_DATA": str(folder.path)})
        assert says in str(found.exception)
