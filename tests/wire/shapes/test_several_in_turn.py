"""Lines in which one place shows several things, or no reading, give no format and no value."""

import pytest

from logger.model.errors import InputError
from logger.model.reading import RawReading
from logger.wire.recognise import best, read_last
from logger.wire.series.turns import woven
from logger.wire.shapes.shape import builtin_shapes, shapes_from_text
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
    lines = [f"{62.3 + i % 3 / 10 - 30 * (i % 2):.1f} C" for i in N]
    with pytest.raises(InputError, match="several things in turn"):
        taught(heard(lines), Marks(shown=("62.3 C",)), name="mine")


@pytest.mark.parametrize(
    ("text", "codes", "shown"),
    [
        ("CH{code}: {value} C", "1234", "62.3 C"),
        ("t={value} C fault={code}", "0004", "62.3 C"),
        ("{value},{code}", "1112", "62.3"),
    ],
)
def test_a_lesson_reads_only_lines_with_the_code_that_was_shown(text, codes, shown):
    """A code numbers channels, faults or units; nobody said what the others mean."""
    apart = [40.0 * (code != codes[0]) for code in codes]
    values = [62.3, *(62.0 + i % 3 / 10 - apart[i % 4] for i in range(1, 20))]
    lines = [text.format(value=f"{v:.1f}", code=codes[i % 4]) for i, v in enumerate(values)]
    shape = taught(heard(lines), Marks(shown=(shown,), unit="degC"), name="mine").shape
    assert read_by(shape, text.format(value="61.5", code=codes[0])) == {"t1": 61.5}
    assert read_by(shape, text.format(value="21.5", code=codes[3])) == {}


def test_a_lesson_goes_on_where_a_humidity_changes():
    lines = [f"T {61.5 + i / 10:.1f} C H {45 + i % 2} %" for i in N]
    shape = taught(heard(lines), Marks(shown=("61.5 C",)), name="mine").shape
    assert read_by(shape, "T 61.9 C H 51 %") == {"t1": 61.9}


@pytest.mark.parametrize(
    ("text", "shown"), [("3 lb {} oz", "8.2 oz"), ("1.29{0[0]},0{0[2]} g", "1.298 g")]
)
def test_a_part_of_a_weight_is_no_weight(text, shown):
    lines = [text.format(f"{8.1 + i % 5 / 10:.1f}") for i in N]
    with pytest.raises(InputError):
        taught(heard(lines), Marks(shown=(shown,)), name="mine")


def test_a_point_that_may_mark_thousands_is_not_taught():
    lines = [f"1.30{i % 5} g" for i in N]
    with pytest.raises(InputError, match="between thousands"):
        taught(heard(lines), Marks(shown=("1.301 g",)), name="mine")
    assert taught(heard([*lines, "0.120 g"]), Marks(shown=("1.301 g",)), name="mine").shape


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("unit, then weight", "kg    0{}508"),
        ("temperature and unit", "143{}6 F"),
        ("comma list of 2 probes", "62{}1,42{}1"),
        ("weight with a decimal comma and unit", "   512{}3 g"),
    ],
)
def test_a_number_that_lost_its_point_is_no_value(name, line):
    shape = builtin_shapes()[name]
    point = "," if "comma and" in name else "."
    good = line.replace("{}", point)
    lost = line.replace("{}", "", 1).replace("{}", point)
    assert read_last(heard([good]), shape)
    assert read_last(heard([good, lost]), shape) == read_last(heard([good]), shape)
    assert read_last(heard(["99.9 C", "100 C"]), builtin_shapes()["temperature and unit"])[
        "t1"
    ].value == pytest.approx(100.0)


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
        '"valid": 0',
        '"valid": "false"',
        '"status": "sensor fault"',
        '"connected": false',
        '"overload": true',
        '"mode": "set"',
        '"role": "setpoint"',
        '"state": "tare"',
        '"sensor": "cold_junction"',
        '"id": "avg10"',
        '"age_s": 900',
        '"n": "late"',
        '"stable": "perhaps"',
    ],
)
def test_an_object_that_says_so_is_no_reading(beside):
    shape = builtin_shapes()["object with temp_c"]
    assert read_by(shape, '{"temp_c": 62.5}') == {"t1": 62.5}
    for fine in ('"unit": "C", "error": null', '"fault": [0, 0]', '"error": {}', '"ok": true'):
        assert read_by(shape, f'{{"temp_c": 62.5, {fine}}}') == {"t1": 62.5}
    assert read_by(shape, f'{{"temp_c": 62.5, {beside}}}') == {"t1": None}


@pytest.mark.parametrize(
    "beside",
    [
        '"id": "28FF641E821607", "seq": 7, "bat": 3.91',
        '"sensor": "probe 1", "type": "K", "time": "09:17:00"',
        '"status": "ok", "connected": true, "valid": 1, "setpoint_c": 65.0',
        '"rssi": -71, "rh": 45, "stable": true',
    ],
)
def test_an_object_with_keys_that_do_no_harm_is_a_reading(beside):
    shape = builtin_shapes()["object with temp_c"]
    assert read_by(shape, f'{{"temp_c": 62.5, {beside}}}') == {"t1": 62.5}


def test_an_object_of_another_probe_later_gives_no_value_and_a_user_s_own_keys_are_left_alone(wire):
    lines = [b'{"temp_c": %d.5, "ch": %d}\n' % (60 + n, n % 2) for n in range(3)]
    found = wire.feed(wire.fresh(builtin_shapes()["object with temp_c"]), lines)
    assert [o.value for o in found if isinstance(o, RawReading)] == [60.5, None, 62.5]
    text = '[shape."x"]\ndecode = "json"\nchannel.t1 = { path = "a" }\n'
    own = shapes_from_text(text, "x")["x"]
    assert read_by(own, '{"a": 62.5, "dish": "soup", "state": "cooking"}') == {"t1": 62.5}
    assert read_by(own, '{"a": 62.5, "state": "sensor lost"}') == {"t1": None}
