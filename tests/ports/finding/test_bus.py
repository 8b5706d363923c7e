"""Devices with registers are found by their numbers, also several on one line."""

import struct

import pytest

from logger.model.files import bench_from_text
from logger.ports.finding import bus, listener
from logger.ports.finding.heard import bench_text
from logger.ports.finding.listen import survey
from logger.ports.shapefiles import keep_shape, load_shapes
from logger.wire.checks import crc16
from logger.wire.modbus import Request, exception_bytes, response_bytes
from logger.wire.questions import bytes_may_be_sent
from logger.wire.shapes.shape import builtin_shapes
from logger.wire.teaching.registers import format_of, matched
from tests.ports.conftest import Bench

TENTHS, FLOATS = "register, one in tenths", "registers, four input floats, high word first"
SHAPES = {
    name: builtin_shapes()[name].model_copy(update={"timeout_s": 20.0})
    for name in (TENTHS, f"{TENTHS}, degF", FLOATS, f"{FLOATS}, degF")
}
AT = [(9600, 8, "N")]


@pytest.fixture(autouse=True)
def _one_setting(monkeypatch):
    for name in ("SETTINGS", "REGISTERS", "ASKED"):
        monkeypatch.setattr(listener, name, AT)
    monkeypatch.setattr(listener, "EACH_S", 0.05)
    monkeypatch.setattr(listener, "NUMBERS", (1, 2, 5, 7))
    monkeypatch.setattr(bus, "GAP_S", 0.05)


def line_of(devices):
    """Return what answers a request on a line of devices, each with its registers by table."""

    def answer(question):
        number, function, address, count = struct.unpack(">BBHH", question[:6])
        if crc16(question[:6]) != question[6:] or number not in devices:
            return b""
        table = {3: "holding", 4: "input"}[function]
        request, registers = Request(table, address, count), devices[number].get(table, [])
        if address + count > len(registers):
            return exception_bytes(number, request, 2)
        return response_bytes(number, request, registers[address : address + count])

    return answer


def floats(*values):
    return [w for v in values for w in struct.unpack(">2H", struct.pack(">f", v))]


def heard_on(bench, devices):
    line = bench.line()
    bench.answerer(line, line_of(devices), fixed=8)
    (heard,) = survey(0.05, devices=[line.port], only=True, shapes=SHAPES)
    return heard


def test_a_device_of_another_number_is_found_and_the_number_is_in_the_bench_file(bench: Bench):
    heard = heard_on(bench, {7: {"input": floats(21.5, 22.5, 23.5, 24.5)}})
    assert (heard.shape, heard.address) == (FLOATS, 7)
    assert "device 7" in heard.says
    text = bench_text([heard.in_unit("degC", SHAPES)])
    assert bench_from_text(text, "b").instrument[0].device == 7


def test_several_devices_on_one_line_are_one_instrument_whose_values_name_them(
    bench: Bench, tmp_path
):
    devices = {2: {"holding": [215]}, 5: {"input": floats(60.5, 61.5, 62.5, 63.5)}}
    heard = heard_on(bench, devices)
    assert "device 2, holding register 0: 215, 21.5 or 2.15; device 5" in heard.says
    assert bench_from_text(bench_text([heard]), "b").instrument == []
    registers = matched(heard.registers, ["21.5 degC", "63.5"], "degC")
    known = heard.said(registers, "both")
    assert known.says.endswith("reads now d2_t1 21.5 °C, d5_t4 63.5 °C")
    instrument = bench_from_text(bench_text([known]), "b").instrument[0]
    keep_shape(tmp_path, "both", format_of(heard.registers_text, "both", registers))
    shape = load_shapes([tmp_path])[instrument.shape].model_copy(update={"timeout_s": 20.0})
    bench.thread(instrument.port, shape)
    bench.sink.wait(lambda s: len(s.values("d5_t4")) >= 2, "values of both")
    assert set(bench.sink.values("d2_t1")) == {21.5}
    assert set(bench.sink.values("d5_t4")) == {63.5}


def test_where_an_answer_is_spoilt_each_number_is_asked_by_itself(bench: Bench, monkeypatch):
    monkeypatch.setattr(bus, "SLOW_S", 1.5)
    monkeypatch.setattr(listener, "NUMBERS", (1, 5))
    devices, replies = {5: {"holding": [215]}}, []

    def answer(question):
        if reply := line_of(devices)(question):
            replies.append(reply)
        return reply[:-1] if len(replies) == 1 else reply

    line = bench.line()
    bench.answerer(line, answer, fixed=8)
    (heard,) = survey(0.05, devices=[line.port], only=True, shapes=SHAPES)
    assert [(one.place, one.number) for one in heard.registers] == [
        ("device 5, holding register 0", 215.0)
    ]


@pytest.mark.parametrize("number", bus.NUMBERS)
def test_what_devices_are_looked_for_with_holds_no_byte_that_is_a_command_by_itself(number):
    assert bytes_may_be_sent(bus._knock(number))
    assert not bytes_may_be_sent(b"\x09t")
