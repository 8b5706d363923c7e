"""The bench over real ports: what comes out of them, what faults do to them, how it ends."""

import datetime
import threading
from pathlib import Path

import numpy as np
import pytest
import serial
from pymodbus.client import ModbusSerialClient
from pymodbus.framer import FramerType

from logger.model.errors import InputError
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.reading import Notice
from logger.science.metrology.its90 import temperature_c
from logger.virtual.lines.batch_clock import BatchClock
from logger.virtual.lines.bench_file import sheet_text
from logger.virtual.lines.instruments import VirtualBench
from logger.virtual.lines.terminals import has_pseudo_terminals
from logger.virtual.process import BenchProcess
from logger.virtual.readings.traces import WIRING

needs_ptys = pytest.mark.skipif(
    not has_pseudo_terminals(), reason="this system has no pseudo-terminals"
)
pytestmark = needs_ptys


def _in_order(got, sent) -> bool:
    """Whether all that was got was sent, in that order."""
    place = 0
    for value in got:
        while place < len(sent) and abs(sent[place] - value) > 1e-6:
            place += 1
        if place == len(sent):
            return False
    return True


def test_the_bench_file_and_the_sheet_are_valid_and_name_the_ports(tmp_path):
    with VirtualBench(tmp_path, seed=2) as bench:
        file = bench_from_text(bench.bench_text(datetime.date(2026, 11, 2)), "bench.toml")
        sheet = sheet_from_text(bench.sheet_text(), "roll.sheet.toml")
        assert [i.id for i in file.instrument] == [w.id for w in WIRING]
        assert all(Path(i.port).is_symlink() for i in file.instrument)
        assert {c.role for c in file.channel} >= {"fat", "water", "emulsion", "bath", "core",
                                                  "room", "bowl_scale", "bath_scale",
                                                  "bench_scale"}  # fmt: skip
        assert file.channel_of("fat").correction.offset_k == pytest.approx(-0.2)
        assert len(sheet.stage) == 12


@pytest.mark.parametrize("wiring", WIRING, ids=lambda w: w.id)
def test_what_a_port_says_is_what_the_bench_has(tmp_path, wiring, listen, eventually):
    with VirtualBench(tmp_path, seed=3, speed=20.0, short=True) as bench:
        listener = listen(str(tmp_path / "by-id" / wiring.id), wiring.shape)
        printer = bench.instruments[wiring.id].printer
        channel = wiring.channels[0]
        field = printer.field_of[channel]
        eventually(lambda: len(listener.values(field)) >= 60)
        sent = bench.run.full[channel].value
        got = listener.values(field)
        if wiring.id == "core_reader":
            readings = [r for r in listener.heard if getattr(r, "field", "") == field]
            got = [
                round(temperature_c("T", 1e-3 * r.value, r.cold_junction_c), 2) for r in readings
            ]
        if wiring.id == "bowl_scale":  # may be asked more often than it samples
            got = [a for a, b in zip(got, [None, *got], strict=False) if a != b]
        assert _in_order(got, sent)
        assert listener.reader.counters.bad == 0


def test_an_asked_scale_keeps_silent_until_it_is_asked(tmp_path, listen, eventually):
    with VirtualBench(tmp_path, speed=60.0, short=True) as bench:
        talker = listen(str(tmp_path / "by-id" / "bath_scale"), "flag-first comma weight")
        silent = listen(str(tmp_path / "by-id" / "bowl_scale"), "flag-first comma weight")
        eventually(lambda: len(talker.values("mass")) > 30)
        assert not silent.raw
        assert bench.instruments["bowl_scale"].sent_lines == 0


def test_a_modbus_client_reads_the_oven(tmp_path):
    with VirtualBench(tmp_path, speed=10.0, short=True, oven=True) as bench:
        port = bench.instruments["oven_reader"].terminal.port
        client = ModbusSerialClient(port, framer=FramerType.RTU, baudrate=19200, parity="N")
        assert client.connect()
        try:
            answer = client.read_holding_registers(0, count=8, device_id=1)
        finally:
            client.close()
        assert not answer.isError()
        tenths = np.round(bench.run.full["oven"].value * 10.0)
        assert answer.registers[0] in tenths


def test_a_pulled_plug_takes_the_port_away_and_puts_it_back(tmp_path, listen, eventually):
    faults = ["unplug@20+20:bath_scale"]
    with VirtualBench(tmp_path, speed=20.0, short=True, faults=faults) as bench:
        link = tmp_path / "by-id" / "bath_scale"
        listener = listen(str(link), "flag-first comma weight")
        eventually(lambda: not link.exists())
        eventually(link.exists)
        eventually(lambda: listener.opened == 2)
        count = len(listener.values("mass"))
        eventually(lambda: len(listener.values("mass")) > count + 10)
        assert _in_order(listener.values("mass"), bench.run.full["bath_scale"].value)
        assert listener.reader.counters.bad == 0


def test_another_device_under_the_same_name_speaks_otherwise(tmp_path, listen, eventually):
    faults = ["wrong_device@10+30:bath_scale"]
    with VirtualBench(tmp_path, speed=20.0, short=True, faults=faults):
        listener = listen(str(tmp_path / "by-id" / "bath_scale"), WIRING[3].shape)
        eventually(lambda: listener.reader.counters.bad > 20)
        assert b"21.4" in bytes(listener.raw)
        bad = listener.reader.counters.bad
        eventually(lambda: len(listener.values("mass")) > 150)
        assert listener.reader.counters.bad < bad + 600


@pytest.mark.parametrize("name", ["endless", "flood"])
def test_a_burst_does_not_end_the_bench(tmp_path, listen, eventually, name):
    with VirtualBench(
        tmp_path, speed=10.0, short=True, faults=[f"{name}@5+10:bath_scale"]
    ) as bench:
        listener = listen(str(tmp_path / "by-id" / "bath_scale"), "flag-first comma weight")
        eventually(lambda: bench.now_s > 15.0)
        eventually(lambda: len(listener.raw) > (100_000 if name == "endless" else 40_000))
        count = len(listener.values("mass"))
        eventually(lambda: len(listener.values("mass")) > count + 20)
        if name == "endless":
            assert any(isinstance(x, Notice) and x.kind == "too_long" for x in listener.heard)
        else:
            assert len(listener.values("mass")) > 2000


def test_the_batch_begins_again_when_a_run_starts(tmp_path, listen, eventually):
    with VirtualBench(tmp_path, speed=60.0, short=True) as bench:
        listener = listen(str(tmp_path / "by-id" / "probes"), "comma list of probes")
        water = bench.run.full["water"].value
        eventually(lambda: max([0.0, *listener.values("t2")]) > water[0] + 6.0)
        count = len(listener.values("t2"))
        bench.restart()
        assert bench.now_s < 60.0
        eventually(lambda: min(listener.values("t2")[count:], default=99.0) < water[0] + 1.0)


def test_a_line_leaves_when_its_last_character_is_through(tmp_path):
    bench = VirtualBench(tmp_path, short=True)
    try:
        scale = bench.instruments["bath_scale"]
        line = scale.printer.line(0)
        through_s = len(line) * 10 / 9600
        assert scale._leaves_s() == pytest.approx(scale.printer.time_s(0) + through_s)
    finally:
        bench.stop()


def test_batch_time_runs_at_its_speed_from_one_origin():
    clock = BatchClock(30.0)
    clock.restart()
    assert clock.real_s(60.0) - clock.real_s(0.0) == pytest.approx(2.0)
    assert clock.real_s(clock.now_s()) == pytest.approx(clock.real_s(clock.now_s()), abs=0.05)


def test_stopping_takes_ports_and_threads_away(tmp_path):
    before = threading.active_count()
    bench = VirtualBench(tmp_path, short=True)
    bench.start()
    bench.stop()
    assert list((tmp_path / "by-id").iterdir()) == []
    assert threading.active_count() == before


def test_over_tcp_the_same_lines_come_through_a_socket(tmp_path, listen, eventually):
    with VirtualBench(tmp_path, speed=20.0, short=True, tcp=True) as bench:
        port = bench.instruments["bath_scale"].terminal.port
        assert port.startswith("socket://127.0.0.1:")
        listener = listen(port, "flag-first comma weight")
        eventually(lambda: len(listener.values("mass")) > 40)
        assert _in_order(listener.values("mass"), bench.run.full["bath_scale"].value)


def test_an_instrument_can_speak_another_shape(tmp_path, listen, eventually):
    shape = "control characters weight, check byte"
    with VirtualBench(tmp_path, speed=20.0, short=True, shapes={"bath_scale": shape}) as bench:
        assert shape in bench.bench_text()
        listener = listen(str(tmp_path / "by-id" / "bath_scale"), shape)
        eventually(lambda: len(listener.values("mass")) > 40)
        assert _in_order(listener.values("mass"), bench.run.full["bath_scale"].value)


def test_a_speed_out_of_range_is_refused(tmp_path):
    with pytest.raises(InputError, match="at most 60"):
        VirtualBench(tmp_path, speed=100.0)


def test_another_fat_stands_in_the_sheet_of_its_batch(tmp_path):
    bench = VirtualBench(tmp_path, causes=["another_fat"])
    try:
        sheet = sheet_from_text(bench.sheet_text(), "sheet")
    finally:
        bench.stop()
    assert [i.fat for i in sheet.of_phase("fat")] == ["coconut_oil"]


def test_another_lot_of_calcium_stands_in_the_sheet_of_its_batch(tmp_path):
    lots = []
    for causes in ([], ["hydrate_mistaken"]):
        bench = VirtualBench(tmp_path, causes=causes)
        bench.stop()
        sheet = sheet_from_text(bench.sheet_text(), "sheet")
        lots.append(next(i.lot for i in sheet.ingredient if i.name == "calcium chloride"))
    assert lots[0] != lots[1]


def test_the_operator_says_each_stage_the_outcome_and_the_end(tmp_path):
    bench = VirtualBench(tmp_path, causes=["thick_coat"])
    bench.stop()
    script = bench.operator_script()
    times = [t for t, _, _ in script]
    kinds = [k for _, k, _ in script]
    assert times == sorted(times)
    assert kinds.count("next") == 11
    assert kinds[-2:] == ["outcome", "run_end"]
    assert script[-2][2] == {"outcome": "rejected", "defects": ["skin too thin"]}


def test_a_bench_in_its_own_process_plays_the_same_batch(tmp_path, listen, eventually):
    with BenchProcess(tmp_path, seed=7, speed=20.0, short=True) as bench:
        file = bench_from_text(bench.bench_text(), "bench.toml")
        port = next(i.port for i in file.instrument if i.id == "bath_scale")
        listener = listen(port, "flag-first comma weight")
        eventually(lambda: len(listener.values("mass")) > 40)
        assert _in_order(listener.values("mass"), bench.run.full["bath_scale"].value)
        count = len(listener.values("mass"))
        bench.restart()
        eventually(lambda: len(listener.values("mass")) > count + 40)
        assert bench._child.poll() is None
        assert bench.operator_script() == list(bench.run.events)
        assert (bench.sheet_text(), bench.end_s) == (sheet_text(bench.run), bench.run.script.end_s)
    assert bench._child.returncode == 0
    assert list((tmp_path / "by-id").iterdir()) == []


def test_at_another_baud_rate_a_strict_bench_is_heard_as_garbage(tmp_path, eventually):
    with VirtualBench(tmp_path, speed=20.0, short=True, strict_baud=True):
        link = str(tmp_path / "by-id" / "bath_scale")
        with serial.Serial(link, 2400, timeout=0.1) as port:
            heard = eventually(lambda: port.read(200))
            assert min(heard[-20:]) >= 0x80
            port.baudrate = 9600
            eventually(lambda: port.read(200).count(b"ST,GS,") > 2)
