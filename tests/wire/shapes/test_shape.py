"""Line shapes are read from TOML, and told off in words a person can act on."""

import pytest

from logger.model.errors import InputError
from logger.wire.shapes.shape import builtin_shapes, shapes_from_text

GOOD = """
[shape."a scale"]
channel.mass = { group = "v", unit_group = "u", quantity = "mass" }
line = [{ means = "reading", pattern = '(?P<v>\\d+) (?P<u>g|kg)' }]
"""


def told(text: str) -> str:
    with pytest.raises(InputError) as caught:
        shapes_from_text(text, "mine.toml")
    return str(caught.value)


def test_a_shape_is_read_with_its_name():
    shape = shapes_from_text(GOOD, "mine.toml")["a scale"]
    assert (shape.name, list(shape.channel), shape.port.baud) == ("a scale", ["mass"], 9600)


def test_every_family_of_the_agreed_list_is_built_in():
    assert {
        "flag-first comma weight", "fixed width weight, trailing question mark",
        "fixed columns weight, blank unit", "fixed 22 columns weight, blank unit",
        "asked weight, letter reply", "control characters weight, check byte",
        "comma list of probes", "comma list of 8 probes", "named values in a line",
        "one object per line, microvolts", "asked instrument, scanned list", "registers, mixed",
        "registers, tenths", "chatty board",
    } <= set(builtin_shapes())  # fmt: skip


def test_every_built_in_shape_says_what_it_is(shape):
    assert shape.says


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("quantity", "quantitty"), "did you mean 'quantity'"),
        (('"reading"', '"redding"'), "line[0].means"),
        (("(?P<v>", "("), "no group of any channel"),
        (('unit_group = "u"', 'unit_group = "w"'), "group 'w' is in no pattern"),
        (("\\d+", "(\\d+)+"), "run away"),
        (("\\d+", "\\d+("), "not a pattern"),
        (("channel.mass", "name"), ".name: unknown key"),
        (('quantity = "mass"', 'unit = "kg"'), "'kg' is not a unit of temperature"),
        (("[shape.", "[shapes."), "unknown table"),
        (("line = [", "line = "), "not TOML"),
    ],
)
def test_a_mistake_is_named_with_file_and_key(change, words):
    text = told(GOOD.replace(*change))
    assert "mine.toml" in text
    assert words in text


def test_a_shape_without_a_reading_is_refused():
    assert 'no line with means = "reading"' in told("[shape.x]\nframe.max = 10\n")


def test_named_values_need_the_whole_line():
    text = """[shape.x]
line = [{ means = "reading", each = true, pattern = '(?P<ch>[A-Z])=(?P<v>\\d+)' }]"""
    assert "each needs whole" in told(text)


def test_columns_are_spelled_out():
    text = """[shape.x]
columns = { count = 3, separator = ";", cell = '-?\\d+(?:,\\d+)?', blank = ["--"] }"""
    shape = shapes_from_text(text, "mine.toml")["x"]
    assert list(shape.channel) == ["t1", "t2", "t3"]
    assert shape.line[0].pattern.count(r"\;") == 2


@pytest.mark.parametrize("columns", ["{ count = 0 }", "{ count = 99 }", "{ cuont = 3 }", "7"])
def test_columns_that_make_no_sense_are_refused(columns):
    assert "columns" in told(f"[shape.x]\ncolumns = {columns}")


def test_a_user_shape_can_have_a_decimal_comma(wire):
    text = """[shape.x]
columns = { count = 2, separator = ";", decimal = ",", cell = '-?\\d+(?:,\\d+)?', write = ".1f" }"""
    shape = shapes_from_text(text, "mine.toml")["x"]
    line = wire.message(shape, {"t1": 21.5, "t2": -3.0})
    assert line == b"21,5;-3,0\r\n"
    assert wire.said(wire.feed(wire.fresh(shape), [line])) == [
        ("t1", 21.5, "degC", 0),
        ("t2", -3.0, "degC", 0),
    ]
