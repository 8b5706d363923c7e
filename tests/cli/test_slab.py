"""A slab test from the command line: what it says, refuses and keeps, and who uses it then."""

import json
import sys
from pathlib import Path

import pytest

from logger.cli.main import group
from logger.model.errors import InputError
from logger.store.folder.datafolder import DataFolder
from tests.cli.inside import inside
from tests.skin_sheet import SHEET

BAINLOG = Path(sys.executable).parent / "bainlog"
PAIRS = ("1 min=0.30 mm", "2 min=0.43 mm", "5 min = 0.68 mm", "600 s=0.096 cm")
OPTIONS = (
    "--alginate", "alginate, medium", "--strength", "1.5 %", "--salt",
    "calcium_chloride_dihydrate", "--salt-mass", "20 g", "--water", "1.98 kg",
)  # fmt: skip


@pytest.fixture
def bainlog(tmp_path, monkeypatch, capsys):
    """Run a command in this process; return what it printed."""
    monkeypatch.setenv("BAINLOG_DATA", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "roll.sheet.toml").write_text(SHEET)

    def run(*words):
        capsys.readouterr()
        group.main([str(w) for w in words], standalone_mode=False)
        return capsys.readouterr().out

    return run


def slab(bainlog, *words):
    return bainlog(
        "slab", *PAIRS, "--sheet", "roll.sheet.toml", "--bath", "20 degC", "--on", "2026-03-02",
        *words,
    )  # fmt: skip


def test_it_says_the_diffusivity_its_range_and_how_far_from_the_default(bainlog):
    said = slab(bainlog)
    assert "alginate, medium: calcium moves at 0.7" in said
    assert "below the published default of 1.00e-9" in said
    assert "more time" in said
    assert "kept in slabs.toml" in said
    assert "2026-03-02" in bainlog("slab")


def test_sheet_options_and_file_give_the_same(bainlog, tmp_path):
    whole = json.loads(slab(bainlog, "--dry-run", "--json"))
    assert not (tmp_path / "data" / "slabs.toml").exists()
    (tmp_path / "slab.csv").write_text(
        "note,Time [min],thickness [mm]\nfirst,1,0.30\n,2,0.43\n\n,5,0.68\n,10,0.96\n"
    )
    other = json.loads(
        bainlog("slab", "slab.csv", *OPTIONS, "--bath", "68 degF", "--on", "2026-03-02", "--json")
    )
    for key in ("d25_m2_s", "d25_low_m2_s", "d25_high_m2_s", "calcium_over_capacity"):
        assert other[key] == pytest.approx(whole[key], rel=1e-6)
    assert other["kept"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*PAIRS, *OPTIONS), "--bath: missing"),
        ((*PAIRS, "--bath", "20 degC"), "--alginate: missing"),
        ((*PAIRS, *OPTIONS[:2], "--bath", "20 degC"), "--strength: missing"),
        ((*PAIRS, *OPTIONS[:4], "--bath", "20 degC"), "--salt: missing"),
        ((*PAIRS, *OPTIONS[:6], "--bath", "20 degC"), "only part of it given"),
        ((*PAIRS, *OPTIONS, "--bath", "20"), "'20' has no unit"),
        ((*PAIRS, *OPTIONS, "--bath", "90 degC"), "0 to 60"),
        ((*PAIRS, *OPTIONS, "--bath", "20 degC", "--strength", "15 %"), "alginate mass fraction"),
        ((*PAIRS, *OPTIONS, "--bath", "20 degC", "--salt", "calcium_chloride"), "name the hydrate"),
        ((*PAIRS, *OPTIONS, "--bath", "20 degC", "--on", "2999-01-01"), "up to today"),
        ((*PAIRS, *OPTIONS, "--bath", "20 degC", "--on", "soon"), "a day such as"),
        ((*PAIRS[:2], *OPTIONS, "--bath", "20 degC"), "at least 3"),
        ((*PAIRS, "12 min 1 mm", *OPTIONS, "--bath", "20 degC"), "a pair such as"),
        ((*PAIRS, "12 min=0.5 mm", *OPTIONS, "--bath", "20 degC"), "does not go back"),
        (("1=0.3", *PAIRS, *OPTIONS, "--bath", "20 degC"), "'1' has no unit"),
        (("1 min=3 mm", "2 min=4.3 mm", "5 min=6.8 mm", *OPTIONS, "--bath", "20 degC"),
         "check the units"),
        (("none.csv", *OPTIONS, "--bath", "20 degC"), "no such file"),
        (("roll.sheet.toml", *OPTIONS, "--bath", "20 degC"), "columns with their units"),
    ],
)  # fmt: skip
def test_nonsense_is_refused_in_a_line_and_nothing_is_kept(bainlog, tmp_path, words, says):
    with pytest.raises(InputError, match=says) as refused:
        bainlog("slab", *words)
    assert "\n" not in str(refused.value)
    assert not (tmp_path / "data" / "slabs.toml").exists()


def test_a_refused_test_ends_with_two(tmp_path):
    words = ("slab", "1 min=0.3 mm", *OPTIONS, "--bath", "20 degC", "--data", tmp_path)
    done = inside(tmp_path, *words)
    assert done.returncode == 2
    assert done.stderr.startswith("bainlog: slab test: number of slab readings is 1; at least 3")


def test_the_plan_goes_by_the_test_and_says_so(bainlog):
    def needed():
        plan = json.loads(bainlog("plan", "roll.sheet.toml", "--json"))
        return next(p for p in plan["predictions"] if p["name"] == "needed_dwell_s")

    before = needed()
    slab(bainlog)
    after = needed()
    assert after["value"] > 1.1 * before["value"]
    assert after["high"] / after["low"] < before["high"] / before["low"]
    assert "your slab test of 2026-03-02" in after["says"]
    assert "your slab test" in after["source"]
    assert "slab" not in before["says"] + before["source"]


def test_another_alginate_falls_back_to_the_default(bainlog, tmp_path):
    slab(bainlog)
    (tmp_path / "roll.sheet.toml").write_text(SHEET.replace("alginate, medium", "alginate, low"))
    assert "slab" not in bainlog("plan", "roll.sheet.toml", "--json")


def test_a_run_is_judged_again_by_the_test_it_was_judged_with(bainlog, tmp_path):
    """The run file keeps the slab test: a later one changes nothing in it."""
    lines = ["time_s,bath_scale [g],bath [degC]"]
    for n in range(480):
        t_s = n / 2
        load = 70.0 * (30 <= t_s < 200)
        lines.append(f"{t_s:.3f},{5000 + load + (n % 3 - 1) / 10:.1f},20.0")
    (tmp_path / "bath.csv").write_text("\n".join(lines))

    def import_it():
        told = bainlog("import", "bath.csv", "--sheet", "roll.sheet.toml", "--json")
        return json.loads(bainlog("show", json.loads(told)["run"], "--json"))

    plain = import_it()
    slab(bainlog)
    by_slab = import_it()
    share = by_slab["immersions"][0]["set_fraction"]
    assert share < 0.95 * plain["immersions"][0]["set_fraction"]
    assert by_slab["values"]["skin_diffusivity_by"] == "your slab test of 2026-03-02"
    assert plain["values"]["skin_diffusivity_by"] == "published range"
    skin = next(f for f in by_slab["findings"] if f["check"] == "skin set through")
    assert "your slab test of 2026-03-02" in skin["source"]
    bainlog("slab", "1 min=0.4 mm", "2 min=0.57 mm", "5 min=0.9 mm", "--sheet", "roll.sheet.toml",
            "--bath", "20 degC", "--on", "2026-03-09")  # fmt: skip
    for run in (by_slab, plain):
        again = json.loads(bainlog("replay", run["run"]["id"], "--json"))
        assert again["findings"] == run["findings"]
        assert again["immersions"] == run["immersions"]


def test_an_export_carries_the_test_along(bainlog, tmp_path):
    slab(bainlog)
    (tmp_path / "bath.csv").write_text(
        "time_s,bath_scale [g],bath [degC]\n0,5000,20\n1,5000,20\n2,5000,20\n"
    )
    told = bainlog("import", "bath.csv", "--sheet", "roll.sheet.toml", "--json")
    bainlog("export", json.loads(told)["run"], "--to", "csv", "-o", "out")
    again = json.loads(bainlog("import", "out", "--json", "--data", "other"))["run"]
    with DataFolder(tmp_path / "other").view(again) as view:
        kept = [e for e in view.events() if e.kind == "slab_test"]
    assert [e.data["tested"] for e in kept] == ["2026-03-02"]
