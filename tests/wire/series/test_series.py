"""The order of numbers tells what their line format cannot."""

import pytest

from logger.wire.recognise import best, recognise
from logger.wire.series.beside import made_of_two
from logger.wire.series.others import Weave, lines_in_turn
from logger.wire.series.printed import may_be_two_numbers, may_mark_thousands
from logger.wire.series.turns import channels_in_turn, comes_again, in_turn
from logger.wire.shapes.shape import builtin_shapes

SHAPES = builtin_shapes()
N = range(13)


def heard(lines):
    return "\r\n".join(["", *lines, ""]).encode()


def test_a_set_value_between_readings_that_creep_past_it_is_found():
    creeping = [round(64.6 + n / 20, 1) if n % 2 else 65.0 for n in N]
    assert in_turn(creeping)
    assert not in_turn([value for value in creeping if value != 65.0])
    assert not in_turn([65.0, 65.1] * 6), "a display that flickers"
    assert not in_turn([65.0] * 13), "a thermometer at rest"
    assert best(heard([f"{value} C" for value in creeping]), SHAPES) is None


def test_a_format_is_not_named_before_it_is_sure_that_one_thing_is_shown():
    lines = [f"{65.0 if n % 2 else 62.0 + n / 10} C" for n in N]
    assert [best(heard(lines[:n]), SHAPES) for n in (3, 4, 5, 13)] == [None] * 4
    assert best(heard(["0.0 g", "250.0 g", "0.0 g", "0.0 g", "0.1 g"]), SHAPES)


@pytest.mark.parametrize("lines", [4, 5])
def test_a_set_value_between_a_few_readings_is_found(lines):
    for values in (
        ["63.4", "65.0", "62.1", "65.0", "60.9"],
        ["65.0", "63.4", "65.0", "62.1", "65.0"],
    ):
        assert best(heard([f"{value} C" for value in values[:lines]]), SHAPES) is None
    assert not in_turn([512.0, 513.0, 512.0, 513.0]), "a display that flickers"
    assert not in_turn([0.0, 3.0, 1.0, 4.0, 2.0]), "a restless weight"


def test_whole_numbers_that_go_on_by_one_step_are_a_count():
    assert best(heard([f"{9 + 3 * n} C" for n in N]), SHAPES) is None
    assert best(heard([f"{9 + n} C" for n in N]), SHAPES) == "temperature and unit"


def test_a_difference_or_a_mean_is_no_third_probe():
    first, second = [62.3 + n / 10 for n in N], [40.1 + n / 5 for n in N]
    assert made_of_two([first, second, [a - b for a, b in zip(first, second, strict=True)]]) == [2]
    assert made_of_two([first, second, [(a + b) / 2 for a, b in zip(first, second, strict=True)]])
    assert made_of_two([first, second, [21.5] * 13]) == []
    assert made_of_two([[21.5] * 13, [21.4] * 13, [0.1] * 13]) == [], "probes side by side"
    lines = [f"T1: {62 + n / 10:.1f} C, T2: 40.0 C, T3: {22 + n / 10:.1f} C" for n in N]
    match = recognise(heard(lines), SHAPES)[0]
    assert (match.offered, match.left_out) == (("t1", "t2"), (("t3", "made of two"),))
    found = recognise(heard(["63.4,22.8,40.6"] * 6), SHAPES)[0].left_out
    assert found == (("t1", "humidity"), ("t3", "made of two"))


def test_a_point_that_may_mark_thousands_is_asked_about():
    assert may_mark_thousands([f"1.30{n} g" for n in range(4)])
    assert may_mark_thousands([f"{990 + 5 * n} g" if n < 2 else f"1.00{n} g" for n in range(6)])
    for text in ("12.3{} g", "1234.12{} g", "0001.30{} g", "1.30{} kg", "1.30{} g/l"):
        assert not may_mark_thousands([text.format(n) for n in range(4)]), text
    for text in ("1.30{} g", "+0.90{} g"):
        found = best(heard([text.format(n) for n in range(6)]), SHAPES)
        assert SHAPES[found].unsaid == ("g", "kg"), text


@pytest.mark.parametrize(
    "text", ["1,28{}.3", "1,28{} g", "1 28{}.3 g", "12 28{}.3 g", "1,28{}", "-1,01{}.25"]
)
def test_thousands_are_never_cut_from_a_number(text):
    found = best(heard([text.format(n % 4) for n in N]), SHAPES)
    assert found is None, f"{text} is {found}"
    whole = best(heard([f"128{n * n % 7 % 4},{n % 3}oz" for n in N]), SHAPES)
    assert whole == "weight with a decimal comma and unit"


def test_digits_whose_point_may_be_left_out_are_not_claimed():
    framed = "\x03".join(["", *(f"\x02+{5123 + n:06d}1" for n in range(6)), ""])
    assert best(framed.encode(), SHAPES) is None
    assert may_be_two_numbers([62.52, 63.53, 62.51, 64.52])
    assert not may_be_two_numbers([62.95, 63.05, 62.98, 63.02])
    assert best(heard([f"62{n},52{n}" for n in range(6)]), SHAPES) is None


@pytest.mark.parametrize("text", ["{};{}", "{} {} C", "{:04d} {} g"])
def test_a_channel_number_before_the_reading_is_no_running_number(text):
    lines = [text.format(n % 4 + 1, 62.3 + n % 3 / 10 + 10 * (n % 4)) for n in N]
    assert best(heard(lines), SHAPES) is None
    codes = [str(n % 4) for n in N]
    assert channels_in_turn(codes, [20.0 + 10 * (n % 4) for n in N])
    assert not channels_in_turn(codes, [20.0 + n % 3 for n in N])
    assert comes_again(codes)
    assert not comes_again([str(n) for n in N])


def test_a_letter_for_moving_that_never_rests_may_be_another_word():
    assert best(heard([f"D   +204.{n} g" for n in range(6)]), SHAPES) is None
    assert best(heard([f"{'DS'[n % 2]}   +204.{n} g" for n in range(6)]), SHAPES)


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        (["PV 22.8 C SV 60.0 C OUT 50%", "PV 23.1 C SV 65.0 C OUT 50%"] * 3, True),
        (["Ambient = 22.10*C Object = 23.24*C", "Ambient = 22.00*C Object = 24.10*C"] * 2, True),
        (["Temp: 22.1 C", "Humidity: 45 %", "Temp: 22.2 C", "Humidity: 52 %"] * 3, True),
        (["ROM = 28 FF 4A", "T = 22.1", "ROM = 28 AA 51", "T = 22.2"] * 3, True),
        ([f"T = 22.{n % 3} C RH = 4{n % 5 // 2} %" for n in range(12)], False),
        (["22.1 C", "1372.0 C"] * 4, False),
        (["A = 21.5 C", "A = 70.7 F"] * 4, False),
        (['{"t":21.5}', '{"t":null}'] * 4, False),
        (["$W,505.2,g*1C", "$W,506.2,g*1F", "$W,508.0,g*13", "$W,512.4,g*1C", "$W,503.5,g*1C"],
         False),
    ],
)  # fmt: skip
def test_what_stands_beside_the_values_tells_several_things_in_turn(lines, found):
    assert lines_in_turn(lines) is found


def test_a_channel_whose_values_part_is_no_single_thing_from_then_on():
    weave = Weave()
    near = [weave.woven("t1", 23.0 + n % 2 / 10) for n in range(12)]
    apart = [weave.woven("t1", 23.0 + n % 2 * 20) for n in range(12)]
    assert not any(near)
    assert apart[-1]
    assert weave.woven("t1", 23.0)
