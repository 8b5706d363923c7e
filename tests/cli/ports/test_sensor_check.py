"""A sensor check through a real tty: the offset, its uncertainty, the line in the bench file."""

import contextlib
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from logger.cli import sensor
from logger.control.client import Client, GoneError
from logger.model.files import bench_from_text
from logger.model.sheet import Sheet, SheetHead
from logger.store.folder.datafolder import RECORDER_LOCK, DataFolder
from logger.store.folder.lock import is_held
from logger.watch.engine.contract import Batch, Context, Outbox
from logger.watch.sensors.probe import Probe
from tests.cli.inside import inside
from tests.faults.scale import until

BAINLOG = Path(sys.executable).parent / "bainlog"

BENCH = """
[[instrument]]
id = "probes"
port = "{port}"
shape = "comma list of probes"

[[channel]]
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
resolution = 0.01
sensor = {{ kind = "thermocouple", type = "T", class = 1, converter = "0.3 K" }}
correction = {{ offset = "5 K", checked = 2026-01-02, by = "a guess" }}
"""


@pytest.mark.slow
def test_an_ice_point_check_replaces_the_old_correction(tmp_path, icy_probe):
    bench = tmp_path / "bench.toml"
    bench.write_text(BENCH.format(port=icy_probe))
    done = subprocess.run(
        [BAINLOG, "sensor-check", "fat", "--ice", "--for", "31 s", "--bench", bench, "--write",
         "--json", "--data", tmp_path / "data"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["offset"] == pytest.approx(-0.36, abs=0.002)
    assert found["u"] >= 0.1
    (channel,) = bench_from_text(bench.read_text(), "bench.toml").channel
    assert channel.correction.offset_k == pytest.approx(-0.36, abs=0.005)
    assert channel.correction.by == "ice point"


def test_a_check_that_is_ended_takes_its_recorder_with_it(tmp_path, icy_probe):
    bench, data = tmp_path / "bench.toml", tmp_path / "data"
    bench.write_text(BENCH.format(port=icy_probe))
    words = ["sensor-check", "fat", "--ice", "--for", "1 h", "--bench", bench, "--data", data]
    check = subprocess.Popen([BAINLOG, *words], stderr=subprocess.DEVNULL)
    lock = data / RECORDER_LOCK
    until(lambda: lock.exists() and is_held(lock) and _is_recording(data), "a check that records")
    check.terminate()
    check.wait(60)
    until(lambda: not is_held(lock), "the recorder's end")
    assert len(DataFolder(data).run_ids()) == 1


def _is_recording(data):
    with contextlib.suppress(GoneError), Client(data) as client:
        return client.state().phase == "recording"
    return False


def test_a_plunge_test_is_written_dated_into_the_bench_file_and_used_from_then_on(
    tmp_path, monkeypatch
):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH.format(port="none"))
    t = np.arange(0.0, 30.0, 0.1)
    shown = 60.0 - 40.0 * np.exp(-np.maximum(t - 4.0, 0.0) / 3.5)
    (fat,) = bench_from_text(path.read_text(), "bench.toml").channel
    monkeypatch.setattr(sensor, "_read", lambda *_: (fat, t, shown))
    words = ["fat", "--plunge", "--json", "--bench", str(path), "--data", str(tmp_path / "data")]
    before = path.read_text()
    told = CliRunner().invoke(sensor.sensor_check, words)
    assert told.exit_code == 0, told.output
    assert path.read_text() == before
    told = CliRunner().invoke(sensor.sensor_check, [*words, "--write"])
    assert json.loads(told.stdout)["time_constant_s"] == pytest.approx(3.5, abs=0.01)
    bench = bench_from_text(path.read_text(), "bench.toml")
    assert bench.channel[0].lag.checked is not None
    context = Context(
        sheet=Sheet(sheet=SheetHead(name="roll")), bench=bench, stage=None, start_ns=0,
        batch=Batch(), out=Outbox(), correctors={}, fats={},
    )  # fmt: skip
    assert Probe(context, "fat").lag_s == pytest.approx(3.5, abs=0.01)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "nothing chosen"),
        (["--ice", "--plunge"], "2 were chosen"),
        (["--boil"], "no pressure"),
        (["--weight", "2"], "'2' has no unit"),
        (["--ice", "--for", "5 s"], "at least 30 s"),
    ],
)
def test_a_check_that_makes_no_sense_is_refused(tmp_path, words, says):
    done = inside(tmp_path, "sensor-check", "fat", *words, "--data", tmp_path)
    assert done.returncode == 2
    assert says in done.stderr
