"""Frames of BCD digits and of binary numbers: only whole and checked ones are values."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.errors import InputError
from logger.model.reading import Flag, RawReading
from logger.wire.recognise import best
from logger.wire.samples import wrong_samples
from logger.wire.shapes.shape import shapes_from_text
from tests.wire.conftest import feed, fresh, pieces

# From memory: weighing indicators that send FF, a state byte and three BCD bytes, low byte first.
BCD = """
[shape."bcd"]
decode = "binary"
frame = { start = "\\u00ff", size = 5 }
flag.stable = { at = 1, bit = 4, when = 1 }
[shape."bcd".channel.mass]
at = 2
bytes = 3
as = "bcd"
order = "low first"
state_at = 1
minus_bit = 5
over_bit = 7
places_at = 1
quantity = "mass"
unit = "kg"
[[shape."bcd".sample]]
sent = "FF 12 34 12 00"
gives = { mass = 12340.0 }
says = ["stable"]
[[shape."bcd".sample]]
sent = "FF 21 05 00 00"
gives = { mass = -500.0 }
says = ["moving"]
[[shape."bcd".sample]]
sent = "FF 92 99 99 99"
none = ["mass"]
"""
WORD = """
[shape."word"]
decode = "binary"
frame = { start = "#", size = 6, check = "sum" }
channel.t1 = { at = 1, as = "int16", scale = 0.1 }
channel.t2 = { at = 3, as = "int16", scale = 0.1, order = "low first", sentinel = [32767] }
sample = [{ sent = "23 00D7 FFFF D5", gives = { t1 = 21.5, t2 = -0.1 } },
  { sent = "23 00D7 FF7F 55", gives = { t1 = 21.5 }, none = ["t2"] }]
"""
SHAPES = shapes_from_text(BCD, "x") | shapes_from_text(WORD, "y")


def values(shape, data, size=3):
    out = feed(fresh(SHAPES[shape]), pieces(data, size))
    return [o.value for o in out if isinstance(o, RawReading)]


@pytest.mark.parametrize("name", SHAPES)
def test_each_reads_its_samples(name):
    assert SHAPES[name].sample
    assert wrong_samples(SHAPES[name]) == []


@pytest.mark.parametrize("size", [1, 2, 5, 100])
def test_frames_come_in_any_pieces_and_with_junk_between(size):
    data = b"\x00\x12" + bytes.fromhex("FF12341200") + b"hello" + bytes.fromhex("FF21050000")
    assert values("bcd", data, size) == [12340.0, -500.0]


def test_a_half_byte_that_is_no_digit_or_a_wrong_sum_is_no_value():
    assert values("bcd", bytes.fromhex("FF12 3A 12 00")) == []
    assert values("word", bytes.fromhex("23 00D7 FFFF D6")) == []


@settings(deadline=None, max_examples=50, derandomize=True)
@given(st.integers(-9989, 9998), st.integers(0, 4), st.binary(max_size=4))
def test_what_is_sent_is_read_whatever_stands_before(count, at, junk):
    frame = b"#" + (count.to_bytes(2, "big", signed=True) + b"\x01\x00")
    frame += bytes([sum(frame[1:]) & 0xFF])
    junk = junk.replace(b"#", b"")
    assert values("word", junk + frame) == pytest.approx([count / 10, 0.1])
    assert values("word", junk + frame[: at + 1]) == []


def test_it_is_recognised_among_others():
    assert best(bytes.fromhex("FF12341200") * 5, SHAPES) == "bcd"
    assert best(bytes(range(256)) * 3, SHAPES) is None


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("size = 5 }", "size = 4 }", "outside the frame"),
        ('as = "bcd"', 'as = "int16"', "else noise passes"),
        (", size = 5 }", " }", r"need frame\.start, frame\.size"),
        ("at = 1, bit", "at = 9, bit", "byte 9 is outside"),
    ],
)
def test_a_frame_that_cannot_be_is_refused_when_it_is_loaded(old, new, says):
    with pytest.raises(InputError, match=says):
        shapes_from_text(BCD.replace(old, new), "x")


def test_what_moves_and_what_is_over_are_flags():
    out = feed(fresh(SHAPES["bcd"]), [bytes.fromhex("FF21050000") + bytes.fromhex("FF92999999")])
    flags = [o.flags for o in out if isinstance(o, RawReading)]
    assert flags[0] & Flag.UNSTABLE
    assert flags[1] & Flag.OVER
