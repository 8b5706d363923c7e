"""The commands as a person runs them: what they print, and how they end."""

import functools
import json
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image
from serial.tools.list_ports_common import ListPortInfo

from logger.control.client import Client, GoneError
from logger.model.files import bench_from_text
from logger.ports.finding import listen
from tests.cli.inside import apart, ran

BAINLOG = Path(sys.executable).parent / "bainlog"

SHEET = """
[sheet]
name = "Bath only"

[[stage]]
id = "skin"
kind = "set"
dwell = { low = "1 min", high = "3 min" }
"""


@pytest.fixture
def bainlog(tmp_path):
    return functools.partial(ran, tmp_path)


@pytest.fixture(scope="module")
def first_import(tmp_path_factory):
    """A folder with a run of a bath scale that two pieces went into, and the run's id."""
    folder = tmp_path_factory.mktemp("import")
    lines = ["time_s,bath_scale [g]"]
    for n in range(6000):
        t_s = n / 10
        pieces = 80.0 * (60 <= t_s < 180) + 95.0 * (100 <= t_s < 260)
        lines.append(f"{t_s},{5000 + pieces + (n % 3 - 1) / 10:.1f}")
    (folder / "bath.csv").write_text("\n".join(lines))
    (folder / "bath.sheet.toml").write_text(SHEET)
    done = ran(folder, "import", "bath.csv", "--sheet", "bath.sheet.toml", "--json")
    return folder, json.loads(done.stdout)["run"]


@pytest.fixture
def imported(first_import, tmp_path):
    """A run in a data folder of the test's own; returns its id."""
    folder, run_id = first_import
    shutil.copytree(folder, tmp_path, dirs_exist_ok=True)
    return run_id


def test_an_imported_bath_scale_alone_gives_the_dwells(bainlog, imported):
    """No bench file, no events file: the only stage spans the run."""
    found = json.loads(bainlog("show", imported, "--json").stdout)
    assert found["run"]["id"] == imported
    assert found["stages"][0]["kind"] == "set"
    dwells = sorted(round(i["dwell_s"]) for i in found["immersions"])
    assert dwells == [120, 160]


def test_a_table_of_pieces_names_the_verdict_of_the_dwell_and_has_no_share_without_uncertainty(
    first_import,
):
    """The share of the skin is a finding, with its uncertainty and a verdict of its own."""
    from logger.cli.main import group

    folder, run_id = first_import
    said = CliRunner().invoke(group, ["show", run_id, "--data", str(folder / "data")]).stdout
    heads = next(line for line in said.splitlines() if "piece" in line and "dwell" in line)
    assert heads.split() == ["piece", "in", "out", "dwell", "dwell", "verdict"]


def test_a_run_is_found_by_its_last_four_signs_or_as_last(bainlog, imported):
    for name in (imported[-4:], "last"):
        assert imported in bainlog("show", name).stdout


def test_a_photo_is_kept_with_the_run_and_no_picture_is_refused_by_name(
    bainlog, imported, tmp_path
):
    Image.new("RGB", (40, 30), "red").save(tmp_path / "shot.png")
    said = bainlog("photo", imported, "shot.png", "--piece", "1", "--text", "seam").stdout
    assert said == f"Run {imported}: photo of piece 1 added, 40 x 30 px.\n"
    assert "there is no photo 2" in bainlog("photo", imported, "--remove", "2", code=2).stderr
    said = bainlog("photo", imported, "--remove", "1").stdout
    assert said == f"Run {imported}: photo 1 (Piece 1: seam) removed.\n"
    (tmp_path / "list.txt").write_text("no picture")
    refused = bainlog("photo", imported, "list.txt", code=2)
    assert "list.txt: not a picture that can be read; give a JPEG, PNG or WebP" in refused.stderr


def test_a_folder_that_is_not_there_is_refused_not_made(bainlog, tmp_path):
    refused = bainlog("runs", "--data", tmp_path / "rnus", code=2)
    assert "rnus does not exist; name a folder where runs are kept" in refused.stderr
    assert not (tmp_path / "rnus").exists()


def test_an_outcome_is_listed_and_an_unknown_defect_refused(bainlog, imported):
    bainlog("outcome", imported, "rejected", "--defect", "skin too thin", "--note", "after 2 min")
    assert "rejected: skin too thin" in bainlog("runs").stdout
    refused = bainlog("outcome", imported, "rejected", "--defect", "ugly", code=2)
    assert "'ugly' is not in the sheet" in refused.stderr


@pytest.mark.parametrize("kind", ["csv", "parquet", "json"])
def test_an_export_taken_in_again_says_the_same(bainlog, imported, tmp_path, kind):
    bainlog("export", imported, "--to", kind, "-o", f"out.{kind}")
    before = json.loads(bainlog("show", imported, "--json").stdout)
    again = json.loads(bainlog("import", f"out.{kind}", "--json", "--data", "other").stdout)["run"]
    after = json.loads(bainlog("show", again, "--json", "--data", "other").stdout)
    before["run"].pop("id")
    after["run"].pop("id")
    assert after == before


def test_replay_names_verdicts_as_a_person_reads_them(bainlog, imported, tmp_path):
    """A dwell without an end target is judged by nothing: undecided in files."""
    without = SHEET.replace('dwell = { low = "1 min", high = "3 min" }\n', "")
    (tmp_path / "free.sheet.toml").write_text(without)
    words = ("replay", imported, "--sheet", "free.sheet.toml")
    verdicts = {f["verdict"] for f in json.loads(bainlog(*words, "--json").stdout)["findings"]}
    assert "undecided" in verdicts
    assert "undecided" not in bainlog(*words).stdout


def test_replay_by_another_sheet_judges_anew(bainlog, imported, tmp_path):
    (tmp_path / "short.sheet.toml").write_text(SHEET.replace('"3 min"', '"2.5 min"'))
    again = json.loads(bainlog("replay", imported, "--sheet", "short.sheet.toml", "--json").stdout)
    verdicts = [f["verdict"] for f in again["findings"] if f["check"] == "dwell"]
    assert "not met" in verdicts


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["show", "last"], "'last': there is no such run"),
        (["import", "none.csv", "--sheet", "none.toml"], "none.csv"),
        (["import", "none.csv"], "--sheet: missing"),
        (["record", "--sheet", "none.toml"], "no bench file"),
        (["fly"], "there is no command fly; see bainlog --help"),
        (
            ["demo", "--speed", "900"],
            "--speed: 900.0 is out of range; write at least 0.1 and at most",
        ),
        (["outcome", "x", "acepted"], "'acepted' is not one of them; write accepted or rejected"),
    ],
)
def test_wrong_input_ends_with_two_and_a_line(bainlog, words, says):
    done = bainlog(*words, code=2)
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_a_process_of_its_own_ends_as_the_commands_within_the_tests_do(tmp_path):
    words = ("import", "none.csv", "--sheet", "none.toml")
    assert apart(tmp_path, *words, code=2) == ran(tmp_path, *words, code=2)
    assert apart(tmp_path, "runs") == ran(tmp_path, "runs")


def test_help_names_every_command_and_each_has_its_own(bainlog):
    from logger.cli.main import COMMANDS, group

    text = bainlog("--help").stdout
    person = CliRunner()
    for name in COMMANDS:
        assert name in text
        shown = person.invoke(group, [name, "--help"], prog_name="bainlog")
        assert shown.exit_code == 0
        assert shown.output.startswith(f"Usage: bainlog {name}")


DEMO_UP_S = 200.0
"""Bench, recorder and screen start as processes of their own: long on a busy machine."""


@pytest.mark.slow
def test_the_demo_plays_and_ends_with_its_run_saved(bainlog, tmp_path, eventually):
    folder = tmp_path / "data"
    state, text = demo_ended_by(signal.SIGINT, folder, eventually)
    assert {c.role for c in state.channels} >= {"fat", "water", "bath_scale"}
    assert "http://127.0.0.1:" in text
    run_id = state.run.id
    listed = {r["id"]: r for r in json.loads(bainlog("runs", "--json").stdout)["runs"]}
    assert {r["outcome"] for r in listed.values()} == {None, "accepted", "rejected"}
    assert [i for i, r in listed.items() if r["origin"] == "live"] == [run_id]
    found = json.loads(bainlog("show", run_id, "--json").stdout)
    assert found["run"]["status"] == "ended"
    assert found["stages"][0]["kind"] == "heat"
    again = json.loads(bainlog("replay", run_id, "--json").stdout)
    assert again["not_replayed"] == ""
    for name in again.keys() - {"run", "raw", "not_replayed"}:
        assert again[name] == found[name], f"{name} differ between live and replay"


def demo_ended_by(number, folder, eventually):
    """Play a minute of the demo's batch and end it; return its last state and what it said."""
    words = ["demo", "--short", "--speed", "20", "--port", "0", "--no-browser", "--seed", "3"]
    with (
        subprocess.Popen(
            [BAINLOG, *words, "--data", folder], stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        ) as demo,
        Client(folder) as client,
    ):

        def far_enough():
            try:
                state = client.state()
            except GoneError:
                return None
            assert demo.poll() is None, demo.stdout.read().decode()
            return state.phase == "recording" and state.t_s > 60 and state

        try:
            state = eventually(far_enough, DEMO_UP_S)
            demo.send_signal(number)
            text = demo.communicate(timeout=60)[0].decode()
        finally:
            demo.kill()
    assert demo.returncode in (0, 1)
    assert "Traceback" not in text
    return state, text


def test_a_port_named_is_heard_alone_and_a_bench_file_proposed(
    bainlog, icy_probe, tmp_path, monkeypatch
):
    others = [ListPortInfo("/dev/there-is-no-such-port")]
    monkeypatch.setattr(listen, "listed_ports", lambda: others)
    (mine,) = json.loads(bainlog("ports", icy_probe, "--for", "4 s", "--json").stdout)
    assert mine["shape"] == "comma list of probes"
    bare = bainlog("ports", icy_probe, "--for", "4 s", "--write", code=2)
    assert "--numbers degC" in bare.stderr
    listened = ("ports", icy_probe, "--for", "4 s", "--write", "--numbers", "degC")
    listened += ("--columns", "all")
    bainlog(*listened)
    bench = bench_from_text((tmp_path / "data" / "bench.toml").read_text(), "bench.toml")
    assert bench.instrument[0].shape == "comma list of probes"
    assert "are in it already" in bainlog(*listened, code=2).stderr
    path = tmp_path / "data" / "bench.toml"
    own = "# my bench\n" + path.read_text().replace(icy_probe, "/dev/another")
    path.write_text(own)
    assert "what was new" in bainlog(*listened).stdout
    both = path.read_text()
    assert both.startswith(own.rstrip())
    assert len(bench_from_text(both, "bench.toml").instrument) == 2
