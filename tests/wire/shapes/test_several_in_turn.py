"""Lines in which one place shows several things, or no reading, give no format and no value."""

import pytest

from logger.model.errors import InputError
from logger.wire.recognise import best, read_last
from logger.wire.series.turns import woven
from logger.wire.shapes.shape import builtin_shapes
from logger.wire.teaching.marks import Marks
from logger.wire.teaching.taught import taught

N = range(12)


def heard(lines):
    return "\r\n".join(["", *lines, ""]).encode()


def read_by(shape, line):
    """Return what a line gives: values by field."""
    return {field: one.value for field, one in read_last(heard([line]), shape).items()}


@pytest.mark.parametrize(
    ("lines", "format_of_one"),
    [
        ([f"{512.3 + i % 3 / 10 + 1000 * (i % 2):+9.1f} g" for i in N], "two weights"),
        ([f"{62.3 + i % 3 / 10 - 30 * (i % 2):.1f} C" for i in N], "two probes"),
        ([f"{i % 4 + 1};{62.3 + i % 3 / 10 + 10 * (i % 4):.1f}" for i in N], "four probes"),
    ],
)
def test_numbers_of_several_in_turn_are_no_format(lines, format_of_one):
    assert best(heard(lines), builtin_shapes()) is None, format_of_one


def test_what_moves_rests_or_flickers_is_one_thing():
    assert not woven([21.5, 21.6] * 6)
    assert not woven([0.0, 1.0, 1.0, 0.0, 0.0, 1.0, 0.0, 1.0, 1.0, 1.0, 0.0, 0.0] * 2)
    assert not woven([0.0, 0.1] * 6)
    assert not woven([20.0 + 2.5 * i for i in N])
    assert not woven([500.0] * 6 + [900.0] * 6)
    assert woven([62.8, 65.0] * 6)
    assert woven([62.3, 72.3, 82.3, 92.4] * 3)


def test_a_lesson_whose_number_is_of_several_is_refused():
    lines = [f"CH{i % 4 + 1}: {62.3 + i % 3 / 10 + 10 * (i % 4):.1f} C" for i in N]
    with pytest.raises(InputError, match="several things in turn"):
        taught(heard(lines), Marks(shown=("62.3 C",)), name="mine")


def test_a_line_that_lost_its_beginning_gives_no_part_of_another_number():
    lines = [f"0008 {520.7 + i % 5 / 10:.1f} g" for i in N]
    shape = taught(heard(lines), Marks(shown=("520.7 g",)), name="mine").shape
    assert read_by(shape, "0008 520.9 g") == {"mass": 520.9}
    assert read_by(shape, "520.7 g") == {}


@pytest.mark.parametrize("text", ["Temperature = {:.2f}", "C = {:.2f}"])
def test_a_format_whose_other_lines_never_came_is_not_claimed(text):
    shapes = builtin_shapes()
    found = best(heard([text.format(140 + i / 10) for i in N]), shapes)
    assert found is None or shapes[found].unsaid, "the unit is asked for, or nothing is said"


@pytest.mark.parametrize(
    "beside",
    [
        '"unit": "F"',
        '"ok": false',
        '"error": 4',
        '"fault": [0, 4]',
        '"kind": "setpoint"',
        '"units": "%"',
    ],
)
def test_an_object_that_says_so_is_no_reading(beside):
    shape = builtin_shapes()["object with temp_c"]
    assert read_by(shape, '{"temp_c": 62.5}') == {"t1": 62.5}
    for fine in ('"unit": "C", "error": null', '"fault": [0, 0]', '"error": {}', '"ok": true'):
        assert read_by(shape, f'{{"temp_c": 62.5, {fine}}}') == {"t1": 62.5}
    assert read_by(shape, f'{{"temp_c": 62.5, {beside}}}') == {"t1": None}
