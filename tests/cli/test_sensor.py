"""What a sensor is: asked where it is assigned, written into the bench file, then judged by."""

import contextlib
import datetime
import math

import pytest
from click.testing import CliRunner

from logger.cli import ports, sensor
from logger.cli.main import group
from logger.correct.channel import Corrector
from logger.model.files import bench_from_text
from logger.model.state import State
from logger.ports.finding.heard import Heard
from tests.dashboard.made_state import FakeClient

BENCH = """# my table
[[instrument]]
id = "probes"
port = "none"
shape = "comma list of probes"

[[channel]]
id = "t1"
instrument = "probes"
field = "t1"
role = "fat"   # Fat?
sensor = { kind = "thermocouple", converter = "0.3 K", time_constant = "3 s" }

[[channel]]
id = "t2"
instrument = "probes"
field = "t2"
role = "water"

[[channel]]
id = "scale"
instrument = "probes"
field = "t3"
role = "bench_scale"
"""
PROBES = Heard(
    port="none",
    device="none",
    description="",
    shape="comma list of probes",
    share=1.0,
    fields=("t1", "t2"),
    quantity=("temperature", "mass"),
    baud=9600,
)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "bench.toml").write_text(BENCH)
    return tmp_path


@pytest.fixture
def somebody(monkeypatch):
    for module in (sensor, ports):
        monkeypatch.setattr(module, "somebody_is_there", lambda: True)


def run(folder, *words, typed=None):
    return CliRunner().invoke(group, [*words, "--data", str(folder)], input=typed)


def correctors(folder):
    bench = bench_from_text((folder / "bench.toml").read_text(), "bench.toml")
    return {c.id: Corrector(c, datetime.date(2026, 11, 30)) for c in bench.channel}


@pytest.mark.parametrize(
    ("phase", "sent", "says"),
    [
        ("idle", [("set_role", {"channel": "t1", "role": "fat"})], "uses it from now on"),
        ("recording", [], "being recorded with the sensors as they were: end it, start bainlog"),
    ],
)
def test_a_recorder_that_runs_uses_what_is_written_or_it_is_said_what_to_do(
    folder, monkeypatch, phase, sent, says
):
    client = FakeClient(State(phase=phase))
    monkeypatch.setattr(sensor, "Client", lambda _: contextlib.nullcontext(client))
    done = run(folder, "sensor", "t1", "--type", "K", "--class", "2")
    assert client.sent == sent
    assert says in done.output
    client.now = None
    assert "recorder" not in run(folder, "sensor", "t1", "--type", "K", "--class", "1").output


def test_type_and_class_are_written_and_what_the_file_has_besides_stays(folder):
    done = run(folder, "sensor", "t1", "--role", "core", "--type", "K", "--class", "2")
    assert done.exit_code == 0, done.output
    text = (folder / "bench.toml").read_text()
    assert text.startswith("# my table\n")
    found = bench_from_text(text, "bench.toml").channel[0]
    assert (found.role, found.sensor.type, found.sensor.class_) == ("core", "K", 2)
    assert (found.sensor.converter_k, found.time_constant_s) == (0.3, 3.0)
    assert not correctors(folder)["t1"].assumed


@pytest.mark.parametrize(
    ("channel", "typed"),
    [
        ("t1", "K\ndon't know\n"),
        ("t2", "don't know\n"),
        ("t2", "platinum\ndon't know\n"),
        ("scale", "don't know\n"),
    ],
)
def test_who_does_not_know_gets_an_uncertainty_that_is_marked_as_assumed(
    folder, somebody, channel, typed
):
    before = correctors(folder)[channel]
    assert math.isnan(before.value(50.0, before.channel.unit)[1])
    done = run(folder, "sensor", channel, typed=typed)
    assert done.exit_code == 0, done.output
    assert "marked as assumed" in done.output
    after = correctors(folder)[channel]
    assert after.value(50.0, after.channel.unit)[1] > 0.0
    assert after.assumed


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("t1",), "type: not given; give it (K, J,"),
        (("t1", "--type", "K"), "class: not given; give it (1, 2,"),
        (("t2", "--type", "other"), "accuracy, such as '0.5 K': not given"),
        (("t1", "--type", "T", "--class", "7"), "answer one of 1, 2, 3"),
        (("t1", "--type", "B", "--class", "1"), "has no class 1 of type B; it has 2, 3"),
        (("t2", "--type", "other", "--accuracy", "half"), "accuracy:"),
        (("scale", "--class", "III", "--interval", "5 km"), "verification interval:"),
        (("t9",), "write one of t1, t2, scale"),
    ],
)
def test_without_an_answer_that_does_nothing_is_written(folder, words, says):
    done = run(folder, "sensor", *words)
    assert done.exit_code != 0
    assert says in str(done.exception)
    assert (folder / "bench.toml").read_text() == BENCH


def test_the_command_that_writes_the_first_bench_file_asks_for_each_sensor(
    tmp_path, monkeypatch, somebody
):
    monkeypatch.setattr(ports, "survey", lambda seconds, **how: [PROBES])
    done = run(tmp_path, "ports", "--write", typed="J\nstandard\nIII\n1 g\n")
    assert done.exit_code == 0, done.output
    found = correctors(tmp_path)
    assert [c.known for c in found.values()] == [True, True]
    probe, scale = (c.channel.sensor for c in found.values())
    assert (probe.type, probe.class_, probe.standard) == ("J", "standard", "ASTM E230")
    assert (scale.oiml_class, scale.interval_g) == ("III", 1.0)


def test_where_nobody_can_be_asked_it_says_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setattr(ports, "survey", lambda seconds, **how: [PROBES])
    done = run(tmp_path, "ports", "--write")
    assert done.exit_code == 0
    assert "no limit can be judged: bainlog sensor CHANNEL" in done.output
    assert not any(c.known or c.assumed for c in correctors(tmp_path).values())
