"""What the screen changes beside a run: sheets, roles, corrections, the first bench file."""

import os
import threading
import tty
from pathlib import Path

import pytest

from logger.control.client import Client, RefusedError
from logger.model.files import bench_from_text
from logger.ports.clock import Clock
from logger.ports.finding.heard import Heard
from logger.recorder.care import listening
from logger.recorder.live.session import Recorder
from logger.recorder.setup import setup_from_files
from logger.store.folder.datafolder import DataFolder

SPEED = 20.0
BENCH = """# my table
[[instrument]]
id = "probes"
port = "{port}"
shape = "comma list of probes"

[[channel]]
id = "t1"
instrument = "probes"
field = "t1"
role = "fat"   # Fat?
resolution = 0.01
sensor = {{ kind = "thermocouple", type = "T", class = 1, converter = "0.3 K" }}

[[channel]]
id = "t2"
instrument = "probes"
field = "t2"
role = "water"
"""
SHEET = '[sheet]\nname = "Beet roll"\nrevision = 4\n'


@pytest.fixture
def icy_probe():
    """A probe that shows 0.35 and 0.37 in turn, fifty times a second."""
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    os.set_blocking(master, False)
    stopping = threading.Event()

    def run():
        number = 0
        while not stopping.wait(0.02):
            number += 1
            try:
                os.write(master, b"0.%d,21.0,,\r\n" % (35 + 2 * (number % 2)))
            except BlockingIOError:
                continue

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    yield os.ttyname(slave)
    stopping.set()
    thread.join()
    os.close(master)
    os.close(slave)


class Running:
    """A recorder in this process, and a line to it."""

    def __init__(self, path: Path, bench: Path | None) -> None:
        self.folder = DataFolder(path)
        setup = setup_from_files(self.folder, bench, None)
        self.recorder = Recorder(self.folder, setup, Clock(SPEED), bench)
        self.recorder.start()
        self.client = Client(path)
        self.send = self.client.send

    def close(self) -> None:
        self.client.close()
        self.recorder.stop()


@pytest.fixture
def empty(tmp_path):
    running = Running(tmp_path, None)
    yield running
    running.close()


@pytest.fixture
def wired(tmp_path, icy_probe):
    bench = tmp_path / "bench.toml"
    bench.write_text(BENCH.format(port=icy_probe))
    running = Running(tmp_path, bench)
    yield running
    running.close()


def test_a_sheet_is_saved_without_any_instrument_and_a_batch_goes_on_with_its_own(empty):
    assert empty.send("save_sheet", name="beet roll", sheet=SHEET, base=None)["revision"] == 4
    run_id = empty.send("start", sheet="beet roll")["run"]
    changed = SHEET + 'notes = "softer"\n'
    assert empty.send("save_sheet", name="beet roll", sheet=changed, base=4)["revision"] == 5
    empty.send("run_end")
    with empty.folder.view(run_id) as view:
        assert view.sheet().sheet.revision == 4
        assert view.header.sheet_text == SHEET


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"name": "../bench", "sheet": SHEET}, "use letters"),
        ({"name": "x", "sheet": "[sheet]\nnam = 1\n"}, "did you mean 'name'"),
        ({}, "sheet"),
    ],
)
def test_a_sheet_that_cannot_be_saved_is_refused_in_words(empty, data, says):
    with pytest.raises(RefusedError, match=says):
        empty.send("save_sheet", **data)
    assert empty.folder.sheet_names() == []


def test_the_first_bench_file_is_written_from_what_was_heard_and_used_at_once(
    empty, icy_probe, monkeypatch, eventually
):
    heard = Heard(
        port=icy_probe,
        device=icy_probe,
        description="",
        shape="comma list of probes",
        share=1.0,
        fields=("t1", "t2"),
        quantity=("temperature", "temperature"),
        baud=9600,
        units=("degC", "degF"),
    )
    monkeypatch.setattr(listening, "survey", lambda seconds, **how: [heard])
    assert empty.client.state().channels == []
    with pytest.raises(RefusedError, match="no instrument was recognised"):
        empty.send("adopt_bench")
    empty.send("survey", begin=True)
    eventually(lambda: empty.send("survey")["heard"])
    answers = {"probe_type": "T", "probe_class": "1", "scale_class": "don't know"}
    with pytest.raises(RefusedError, match="no unit"):
        empty.send("adopt_bench", **answers)
    with pytest.raises(RefusedError, match="which are probes: t1, t2"):
        empty.send("adopt_bench", numbers="degC", **answers)
    answers |= {"numbers": "degC", "columns": "all"}
    assert "in use" in empty.send("adopt_bench", **answers)["says"]
    channels = bench_from_text(empty.folder.bench_file.read_text(), "b").channel
    assert [c.role for c in channels] == ["fat", "water"]
    assert [(c.sensor.type, c.sensor.class_) for c in channels] == [("T", 1)] * 2
    eventually(lambda: [c.status for c in empty.client.state().channels] == ["live"] * 2)
    with pytest.raises(RefusedError, match="in it already"):
        empty.send("adopt_bench", numbers="degC", columns="all")


def test_a_role_is_written_and_counts_at_once_with_the_ports_left_open(wired, eventually):
    eventually(lambda: [c.status for c in wired.client.state().channels] == ["live"] * 2)
    threads = list(wired.recorder._table._instruments)
    says = wired.send("set_role", channel="t2", role="fat")["says"]
    assert "t2 is Fat now" in says
    assert "t1, which had it" in says
    roles = {c["id"]: c["role"] for c in wired.client.ask("describe")["bench"]["channel"]}
    assert roles == {"t1": "water", "t2": "fat"}
    eventually(
        lambda: (
            {c.id: (c.role, c.status) for c in wired.client.state().channels}
            == {"t1": ("water", "live"), "t2": ("fat", "live")}
        )
    )
    assert wired.recorder._table._instruments == threads
    assert wired.folder.bench_file.read_text().startswith("# my table\n")


def test_nothing_of_the_bench_changes_while_a_run_is_recorded(wired):
    before = wired.folder.bench_file.read_text()
    wired.send("start", sheet=SHEET)
    with pytest.raises(RefusedError, match="a run is being recorded"):
        wired.send("set_role", channel="t2", role="fat")
    with pytest.raises(RefusedError, match="end it first"):
        wired.send("check_begin", channel="t1", way="ice")
    assert wired.folder.bench_file.read_text() == before


def test_an_ice_point_is_read_judged_and_written_down(wired, eventually):
    begun = wired.send("check_begin", channel="t1", way="ice")
    assert "ice" in begun["how"]
    eventually(lambda: wired.client.state().t_s > begun["for_s"])
    found = wired.send("check_end", run=begun["run"])
    assert found["offset"] == pytest.approx(-0.36, abs=0.005)  # 0 degC less the mean of 0.35, 0.37
    assert wired.send("check_end", run=begun["run"]) == found
    assert wired.client.state().phase == "idle"
    assert "correction" not in wired.folder.bench_file.read_text()
    wired.send("check_write", run=begun["run"])
    channel = bench_from_text(wired.folder.bench_file.read_text(), "b").channel[0]
    assert channel.correction.offset_k == pytest.approx(-0.36, abs=0.005)
    assert channel.correction.by == "ice point"
    eventually(lambda: abs(wired.client.state().channels[0].value or 1.0) < 0.02)
    with pytest.raises(RefusedError, match="do the check first"):
        wired.send("check_write", run=begun["run"])


def test_a_check_of_the_wrong_thing_is_told_and_writes_nothing(wired, eventually):
    before = wired.folder.bench_file.read_text()
    begun = wired.send("check_begin", channel="t2", way="ice")
    eventually(lambda: wired.client.state().t_s > begun["for_s"])
    for _ in range(2):
        with pytest.raises(RefusedError, match="is it the right probe"):
            wired.send("check_end", run=begun["run"])
    with pytest.raises(RefusedError, match="do the check first"):
        wired.send("check_write", run=begun["run"])
    assert wired.folder.bench_file.read_text() == before


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"channel": "t1", "way": "weight", "weight": "1 kg"}, "cannot be checked by weight"),
        ({"channel": "t1", "way": "boil"}, "no pressure"),
        ({"channel": "t9", "way": "ice"}, "the bench has t1, t2"),
        ({"channel": "t1", "way": "guess"}, "way of checking"),
    ],
)
def test_a_check_that_makes_no_sense_is_not_begun(wired, data, says):
    with pytest.raises(RefusedError, match=says):
        wired.send("check_begin", **data)
    assert wired.client.state().phase == "idle"


def test_a_role_comes_with_what_its_sensor_is_and_a_wrong_answer_changes_nothing(wired, eventually):
    before = wired.folder.bench_file.read_text()
    with pytest.raises(RefusedError, match="answer one of"):
        wired.send("set_role", channel="t2", role="core", sensor_type="K", sensor_class="best")
    assert wired.folder.bench_file.read_text() == before
    wired.send("set_role", channel="t2", role="core", sensor_type="K", sensor_class="don't know")
    (found,) = [
        c for c in bench_from_text(wired.folder.bench_file.read_text(), "b").channel if c.id == "t2"
    ]
    assert (found.role, found.sensor.type, found.sensor.assumed) == ("core", "K", True)
