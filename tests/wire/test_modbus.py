"""Modbus RTU frames against the published specification and a reference library."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.framer.rtu import FramerRTU

from logger.model.errors import InputError
from logger.model.reading import Flag, Notice, RawReading
from logger.wire.emit import Emitter
from logger.wire.modbus import (
    Request,
    answers_in,
    crc16,
    exception_bytes,
    number_of,
    plan_of,
    registers_of,
    request_bytes,
    response_bytes,
)
from logger.wire.shapes.shape import builtin_shapes, shapes_from_text
from logger.wire.shapes.tables import ShapeField

TENTHS = builtin_shapes()["registers, tenths"]
MIXED = builtin_shapes()["registers, mixed"]


def test_crc_of_the_published_example():
    """MODBUS over Serial Line V1.02, appendix B, example of CRC calculation, frame 02 07: 41 12."""
    assert crc16(bytes([0x02, 0x07])) == bytes([0x41, 0x12])


@given(st.binary(min_size=1, max_size=256))
def test_crc_is_that_of_the_reference_library(data):
    assert int.from_bytes(crc16(data), "big") == FramerRTU.compute_CRC(data)


def test_requests_are_those_of_the_published_examples():
    """MODBUS Application Protocol V1.1b3, 6.3 (registers 108 to 110) and 6.4 (input register 9)."""
    assert request_bytes(1, Request("holding", 107, 3))[1:-2] == bytes.fromhex("03 006B 0003")
    assert request_bytes(1, Request("input", 8, 1))[1:-2] == bytes.fromhex("04 0008 0001")


def test_the_response_of_the_published_example():
    """V1.1b3, 6.3: registers 108 to 110 hold 022B, 0000, 0064."""
    frame = response_bytes(1, Request("holding", 107, 3), [0x022B, 0, 0x64])
    assert frame[1:-2] == bytes.fromhex("03 06 022B 0000 0064")


@pytest.mark.parametrize(
    ("kind", "words", "value", "expected"),
    [
        ("float32", "high first", 21.5, [0x41AC, 0x0000]),
        ("float32", "low first", 21.5, [0x0000, 0x41AC]),
        ("int16", "high first", -1, [0xFFFF]),
        ("int32", "low first", -2, [0xFFFE, 0xFFFF]),
        ("uint16", "high first", 40000, [40000]),
    ],
)
def test_numbers_and_registers(kind, words, value, expected):
    """IEEE 754 binary32 of 21.5 is 41AC0000."""
    field = ShapeField.model_validate({"register": 0, "as": kind, "words": words})
    assert registers_of(value, field) == expected
    assert number_of(expected, field) == value


def test_neighbours_are_asked_in_one_request_and_gaps_are_not_read():
    text = """[shape.x]
decode = "modbus"
channel = { t1 = { register = 0 }, t2 = { register = 1 }, t3 = { register = 9 },
  t4 = { register = 4, table = "input" } }"""
    shape = shapes_from_text(text.replace("\n  ", " "), "mine.toml")["x"]
    assert plan_of(shape) == [
        (Request("holding", 0, 2), ["t1", "t2"]),
        (Request("holding", 9, 1), ["t3"]),
        (Request("input", 4, 1), ["t4"]),
    ]


def test_a_status_register_too_far_from_its_value_is_refused():
    text = '[shape.x]\ndecode = "modbus"\nchannel.t1 = { register = 0, fault = 300 }'
    with pytest.raises(InputError, match="125"):
        shapes_from_text(text, "mine.toml")


def test_a_sentinel_register_is_an_open_probe(wire):
    asked = request_bytes(1, plan_of(TENTHS)[0][0])
    answer = response_bytes(1, plan_of(TENTHS)[0][0], [215, 0x8000, 0x7FFF, 0, 1, 2, 3, 65534])
    out = wire.feed(wire.fresh(TENTHS), [asked + answer])
    values = [o.value for o in out if isinstance(o, RawReading)]
    assert values == [21.5, None, None, 0.0, 0.1, 0.2, 0.3, -0.2]


@pytest.mark.parametrize(
    ("word", "flag", "kind"),
    [
        ("open", Flag.OPEN, "open"), ("over", Flag.OVER, "overload"),
        ("under", Flag.UNDER, "underload"), ("shorted", Flag.FAULT, "fault"),
    ],
)  # fmt: skip
def test_a_status_register_says_why_there_is_no_value(word, flag, kind, wire):
    values = wire.values(MIXED)
    out = wire.feed(wire.fresh(MIXED), [wire.message(MIXED, values, faults={"t2": word})])
    second = next(o for o in out if isinstance(o, RawReading) and o.field == "t2")
    assert (second.value, second.flags) == (None, int(flag))
    assert [(o.kind, o.field) for o in out if isinstance(o, Notice)] == [(kind, "t2")]


def test_an_exception_is_an_error_and_no_number(wire):
    asked = request_bytes(1, plan_of(TENTHS)[0][0])
    answer = Emitter(TENTHS).reply(asked, {}, exception=2)
    out = wire.feed(wire.fresh(TENTHS), [asked + answer])
    assert {o.value for o in out if isinstance(o, RawReading)} == {None}
    assert [o.text for o in out if isinstance(o, Notice)] == [
        "Modbus exception 2: no such register"
    ]


def test_an_answer_nobody_asked_for_is_not_read(wire):
    answer = response_bytes(1, plan_of(TENTHS)[0][0], [1] * 8)
    out = wire.feed(wire.fresh(TENTHS), [answer])
    assert [o.kind for o in out] == ["bad_line"]


def test_the_answer_of_another_device_is_not_read(wire):
    request = plan_of(TENTHS)[0][0]
    out = wire.feed(
        wire.fresh(TENTHS), [request_bytes(1, request) + response_bytes(2, request, [1] * 8)]
    )
    assert not [o for o in out if isinstance(o, RawReading)]


@given(st.binary(max_size=60))
def test_garbage_between_question_and_answer_is_passed_over(garbage):
    from logger.model.bench import PortSettings
    from logger.wire.reader import LineReader

    request = plan_of(TENTHS)[0][0]
    reader = LineReader(TENTHS, settings=PortSettings(), delay_s=0.0)
    answer = response_bytes(1, request, list(range(8)))
    data = request_bytes(1, request) + garbage + request_bytes(1, request) + answer
    out = reader.feed(data, 0)
    values = [o.value for o in out if isinstance(o, RawReading)]
    assert values[-8:] == pytest.approx([n / 10 for n in range(8)])
    assert struct.unpack(">H", answer[3:5])[0] == 0


def test_who_answered_is_told_from_whole_responses_and_what_else_came():
    """An echo of the request, a text and half a response are nobody's answer."""
    asked = Request("holding", 0, 1)
    one, two = response_bytes(1, asked, [215]), exception_bytes(9, asked, 2)
    assert answers_in(one + two) == ([1, 9], b"")
    assert answers_in(b"ES\r\n" + one) == ([1], b"ES\r\n")
    for junk in (request_bytes(1, asked), one[:-1], one[:4] + b"\x00" + one[5:], b"\x01\x03\x00"):
        assert answers_in(junk) == ([], junk)


@given(st.binary(max_size=40), st.integers(1, 247), st.lists(st.integers(0, 0xFFFF), max_size=4))
def test_whatever_came_before_an_answer_is_found_behind_it(junk, number, registers):
    said = response_bytes(number, Request("input", 0, 1), registers or [1])
    found, rest = answers_in(said + junk)
    assert number in found
    assert len(rest) <= len(junk)
