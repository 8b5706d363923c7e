"""What the virtual instruments print looks as the devices' papers say."""

import pytest

from logger.model.errors import InputError
from logger.wire.emit import Emitter
from logger.wire.shapes.shape import shapes_from_text
from tests.wire.written import written_shapes

SHAPES = written_shapes()


@pytest.mark.parametrize(
    ("name", "values", "how", "line"),
    [
        ("flag-first comma weight", {"mass": 123.4}, {"net": True}, b"ST,NT,+  123.4  g\r\n"),
        ("flag-first comma weight", {"mass": -5.0}, {"stable": False}, b"US,GS,-    5.0  g\r\n"),
        (
            "fixed width weight, trailing question mark",
            {"mass": 12.73},
            {"stable": False},
            b"      12.73 g    ? \r\n",
        ),
        ("fixed columns weight, blank unit", {"mass": 12.34}, {}, b"+    12.34 g  \r\n"),
        (
            "fixed 22 columns weight, blank unit",
            {"mass": 12.34},
            {"net": True, "stable": False},
            b"N     +    12.34    \r\n",
        ),
        ("asked weight, letter reply", {"mass": -12.34}, {}, b"S S     -12.34 g\r\n"),
        ("asked weight, letter reply", {"mass": 1.0}, {"over": True}, b"S +\r\n"),
        ("comma list of probes", {"t1": 21.5, "t2": 22.13, "t4": 3.0}, {},
         b"21.50,22.13,OPEN,3.00\r\n"),
        ("named values in a line", {"t1": 21.5, "t2": -3.2, "cj": 24.6}, {},
         b"T1=21.50 T2=-3.20 T3=OPEN T4=OPEN CJ=24.6\r\n"),
    ],
)  # fmt: skip
def test_lines_look_as_they_should(name, values, how, line):
    assert Emitter(SHAPES[name]).line(values, **how) == line


def test_a_line_of_16_columns_has_16_characters_with_its_end():
    assert len(Emitter(SHAPES["fixed columns weight, blank unit"]).line({"mass": 1.0})) == 16
    assert len(Emitter(SHAPES["fixed 22 columns weight, blank unit"]).line({"mass": 1.0})) == 22


def test_minus_zero_is_printed_as_zero():
    line = Emitter(SHAPES["flag-first comma weight"]).line({"mass": -0.04})
    assert line == b"ST,GS,+    0.0  g\r\n"


def test_a_question_is_answered_and_a_strange_one_is_not():
    emitter = Emitter(SHAPES["asked instrument, scanned list"], identity="a,b,c,d")
    assert emitter.reply(b"*IDN?\n", {}) == b"a,b,c,d\r\n"
    assert emitter.reply(b"READ?\n", {"t1": 1.0}).startswith(b"+1.000000E+00,+9.900000E+37")
    assert emitter.reply(b"FETC?\n", {}) == b""


def test_a_shape_without_write_cannot_be_spoken():
    text = """[shape.x]
channel.t1 = { group = "v" }
line = [{ means = "reading", pattern = '(?P<v>\\d+)' }]"""
    with pytest.raises(InputError, match="add write"):
        Emitter(shapes_from_text(text, "mine.toml")["x"]).line({"t1": 1.0})
