"""Check digits, several devices on one line, registers as hex digits, questions in a round."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.framer.ascii import FramerAscii

from logger.model.errors import InputError
from logger.model.reading import RawReading
from logger.ports.shapefiles import load_shapes
from logger.wire.checks import CHECKS, byte_sum, lrc
from logger.wire.emit import Emitter
from logger.wire.modbus import on_the_wire, plan_of, request_bytes, rtu_of
from logger.wire.shapes.shape import shapes_from_text

FRAMED = """
[shape."x"]
frame = {{ {start}end = "\\u0003", max = 20, check = "{check}" }}
channel.mass = {{ group = "v", quantity = "mass", unit = "g" }}
line = [{{ means = "reading", pattern = 'W(?P<v>-?[0-9.]+)' }}]
sample = [{{ sent = "W12.5", gives = {{ mass = 12.5 }} }}]
"""
START = 'start = "\\u0002", '
TWO = """
[shape."x"]
decode = "modbus"
transmission = "{how}"
device = 3
channel.t1 = {{ register = 0, scale = 0.1 }}
channel.t2 = {{ register = 1, scale = 0.1 }}
channel.t3 = {{ register = 0, scale = 0.1, device = 4 }}
"""
VALUES = {"t1": 21.5, "t2": 22.5, "t3": 60.1}


def framed_shape(check, start=START):
    return shapes_from_text(FRAMED.format(check=check, start=start), "x")["x"]


def values(wire, shape, data):
    out = wire.feed(wire.fresh(shape), wire.pieces(data, 3))
    return [o.value for o in out if isinstance(o, RawReading)]


def spoken(shape):
    emitter = Emitter(shape)
    asked = [on_the_wire(shape, request_bytes(shape.device, r)) for r, _ in plan_of(shape)]
    return b"".join(question + emitter.reply(question, VALUES) for question in asked)


@pytest.mark.parametrize(
    ("check", "line"),
    [
        ("sum hex", b"\x02W12.51D\x03"),  # 57h + 31h + 32h + 2Eh + 35h = 11Dh
        ("lrc hex", b"\x02W12.5E3\x03"),
        ("sum", b"\x02W12.5\x03\x20"),
        ("xor hex", b"\x02W12.54F\x03"),
    ],
)
def test_a_frame_counts_only_with_its_check(check, line, wire):
    shape = framed_shape(check)
    assert values(wire, shape, line) == [12.5]
    assert values(wire, shape, line.replace(b"12.5", b"12.6", 1)) == []


@pytest.mark.parametrize("check", [name for name, check in CHECKS.items() if check.digits])
def test_digits_in_front_of_the_end_need_no_start(check, wire, tmp_path):
    text = FRAMED.format(check=check, start="")
    (tmp_path / "x.shapes.toml").write_text(text)
    shape = load_shapes([tmp_path])["x"]  # reads its sample
    digits = CHECKS[check].text(b"W12.5")
    assert values(wire, shape, b"W12.5" + digits + b"\x03") == [12.5]
    assert values(wire, shape, b"W12.6" + digits + b"\x03") == []


def test_a_check_byte_behind_the_end_needs_a_start():
    with pytest.raises(InputError, match=r"needs frame\.start"):
        framed_shape("sum", start="")


@given(st.binary(min_size=1, max_size=100))
def test_the_lrc_is_that_of_the_reference_library_and_makes_the_sum_zero(data):
    assert lrc(data) == FramerAscii.compute_LRC(data)
    assert byte_sum(data + bytes([lrc(data)])) == 0


@pytest.mark.parametrize("how", ["rtu", "ascii"])
def test_several_devices_of_one_line_are_read_each_by_its_number(how, wire):
    shape = shapes_from_text(TWO.format(how=how), "x")["x"]
    assert [(r.device, names) for r, names in plan_of(shape)] == [
        (None, ["t1", "t2"]),
        (4, ["t3"]),
    ]
    assert values(wire, shape, spoken(shape)) == [21.5, 22.5, 60.1]


def test_registers_as_hex_digits_count_only_with_their_lrc(wire):
    """Form: MODBUS over Serial Line V1.02, 2.5.2. 03 03 00 00 00 02 sums up to 08, LRC F8."""
    shape = shapes_from_text(TWO.format(how="ascii"), "x")["x"]
    data = spoken(shape)
    assert data.startswith(b":030300000002F8\r\n:030304")
    assert rtu_of(b":030300000002F9") is None
    broken = data.replace(b"00D7", b"00D8")
    assert values(wire, shape, broken) == [60.1]


def test_the_questions_of_a_round_are_all_answered_and_their_echo_is_no_line(wire):
    shape = shapes_from_text(
        """[shape."x"]
ask = { send = "#01\\r", then = ["#02\\r"], every = 1.0 }
frame = { end = "\\r" }
channel.t1 = { group = "a" }
channel.t2 = { group = "b" }
line = [{ means = "reading", pattern = '>01(?P<a>[0-9.]+)' },
  { means = "reading", pattern = '>02(?P<b>[0-9.]+)' }]
""",
        "x",
    )["x"]
    assert shape.ask.questions == ("#01\r", "#02\r")
    reader = wire.fresh(shape)
    out = reader.feed(b"#01\r>0121.5\r#02\r>0222.5\r", 0)
    assert [(o.field, o.value) for o in out] == [("t1", 21.5), ("t2", 22.5)]
    assert reader.counters.bad == 0
