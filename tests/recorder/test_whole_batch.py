"""A whole batch through pseudo-terminals and the recorder process, from weighing in to holding.

The bench waits for its recorder, so that no load of the machine makes a gap. Only the bowl scale's
line format is changed, to one that speaks by itself; all stages are the full batch's.
"""

import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from logger.control.client import Client
from logger.recorder.launch import start_process
from logger.store.folder.datafolder import DataFolder
from tests.faults.scale import until
from tests.virtual.stepped import SteppedBench

BAINLOG = Path(sys.executable).parent / "bainlog"
RATE_HZ = 2.0
AHEAD_S = 150.0
"""How far the bench may be ahead of what the recorder has judged [s of the batch]."""
DEADLINE_S = 120.0
STAGES = [
    "weigh", "soak", "warm", "combine", "shape", "firm", "coat", "skin", "rinse", "air", "cook",
    "keep",
]  # fmt: skip


pytestmark = [pytest.mark.slow, pytest.mark.timeout(600)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("whole")


@pytest.fixture(scope="module")
def played(folder):
    """Play it; returns the bench, with its truth, and the run's id."""
    bench = SteppedBench(
        folder / "bench", seed=1, rate_hz=RATE_HZ,
        shapes={"bowl_scale": "flag-first comma weight"},
    )  # fmt: skip
    bench_file, sheet_file = folder / "bench.toml", folder / "roll.sheet.toml"
    bench_file.write_text(bench.bench_text(), encoding="utf-8")
    sheet_file.write_text(bench.sheet_text(), encoding="utf-8")
    recorder = start_process(
        folder / "data", bench_file, sheet_file, speed=60.0, follow=bench.clock_file,
        with_parent=True, resume=False,
    )  # fmt: skip
    try:
        with Client(folder / "data") as client:
            run_id = _play(bench, client)
    finally:
        recorder.stdin.close()
        assert recorder.wait(60) == 0
        bench.stop()
    return bench, run_id


def _play(bench, client):
    bench.start()
    bench.await_reader(client)
    _go(bench, client, 10.0)  # until every port is open and known
    # What the state says is a little older than what was read.
    until(lambda: all(p.status == "connected" for p in client.state().ports), "every port known")
    bench.restart()
    run_id = client.send("start")["run"]
    for t_s, kind, data in bench.operator_script():
        _go(bench, client, t_s)
        client.send(kind, **data)
    assert client.state().phase != "recording"  # the script's last word ends the run
    return run_id


def _go(bench, client, until_s):
    """Let the bench play, never far ahead of the recorder."""
    looked_s, pause = bench.now_s, threading.Event()
    for now_s in bench.play(until_s):
        if now_s - looked_s < AHEAD_S:
            continue
        looked_s = now_s
        for _ in range(int(DEADLINE_S / 0.01)):
            state = client.state()
            if state.phase != "recording" or state.t_s > now_s - AHEAD_S:
                break
            pause.wait(0.01)
        else:
            pytest.fail(f"the recorder stands still at {state.t_s} s of {now_s} s")


@pytest.fixture(scope="module")
def bainlog(folder):
    def run(*words):
        done = subprocess.run(
            [BAINLOG, *words], env={**os.environ, "BAINLOG_DATA": str(folder / "data")},
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return run


@pytest.fixture(scope="module")
def found(played, bainlog):
    return bainlog("show", played[1], "--json")


def test_the_run_is_saved_with_every_stage(played, found, folder):
    assert DataFolder(folder / "data").run_ids() == [played[1]]
    assert found["run"]["status"] == "ended"
    assert [s["id"] for s in found["stages"]] == STAGES


def test_no_load_of_the_machine_made_a_gap_or_an_alarm(found):
    assert found["gaps"] == []
    assert found["alarms"] == []


def test_every_stage_leaves_its_findings(found):
    by_stage = {f["stage"] for f in found["findings"]}
    assert by_stage >= set(STAGES)
    missing = [f for f in found["findings"] if f["verdict"] == "not measured"]
    assert missing == []
    assert [f for f in found["findings"] if f["verdict"] == "not met"] == []


def test_every_ingredient_was_weighed_as_it_was(played, found):
    rows = {row["ingredient"]: row for row in found["weighings"]}
    for name, mass_g in played[0].truth()["weighed_g"].items():
        assert rows[name]["mass_g"] == pytest.approx(mass_g, abs=0.06), name
    assert rows["cocoa butter"]["lot"] == "CB-0412"


def test_the_cost_is_told_with_its_currency(played, found):
    """Prices of the sheet times the true masses, added by hand; 6 pieces."""
    per_kg = {
        "cocoa butter": 14.2, "smoked beet stock": 3.1, "barley malt binder": 22.0, "salt": 0.9,
        "cooked barley": 2.4, "sodium alginate": 48.0, "calcium chloride": 9.8,
    }  # fmt: skip
    true_g = played[0].truth()["weighed_g"]
    wanted = sum(per_kg[name] * true_g[name] / 1000.0 for name in per_kg)
    cost = found["values"]["cost"]
    assert cost["currency"] == "EUR"
    assert cost["batch"] == pytest.approx(wanted, rel=0.01)
    assert cost["piece"] == pytest.approx(wanted / 6, rel=0.01)
    assert f"{cost['batch']:.2f} EUR for the batch" in cost["says"]


def test_the_dwells_of_all_pieces_are_those_of_the_truth(played, found):
    truth = {row["piece"]: row["dwell_s"] for row in played[0].truth()["immersions"]}
    told = {row["piece"]: row["dwell_s"] for row in found["immersions"]}
    assert told.keys() == truth.keys()
    for piece, dwell_s in truth.items():
        assert told[piece] == pytest.approx(dwell_s, abs=1.0), piece


def test_chilling_cooking_and_holding_were_followed_through_the_run(found):
    checks = {(f["stage"], f["check"]): f["value"] for f in found["findings"]}
    assert checks["firm", "core temperature at the end"] < 18.0
    assert checks["cook", "highest core temperature"] > 72.0
    assert checks["keep", "core temperature while held"] > 57.0
    zone_s = checks["", "possible time between 5 and 57 °C"]
    starts = {s["id"]: s["start_s"] for s in found["stages"]}
    assert 0.0 < zone_s <= starts["keep"] - starts["firm"] + 60.0
    assert found["values"]["danger_zone_s"] == zone_s


def test_the_raw_bytes_alone_give_the_same_tables(found, played, bainlog):
    again = bainlog("replay", played[1], "--json")
    tables = again.keys() - {"run", "raw", "not_replayed"}
    assert again["not_replayed"] == ""
    assert tables >= {"stages", "findings", "immersions", "weighings", "pieces"}
    for name in tables:
        assert again[name] == found[name], f"{name} differ between live and replay"
