"""A line format that was taught reads every line right, or there is none."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.model.errors import InputError
from logger.model.reading import Flag, RawReading
from logger.wire.checks import CHECKS
from logger.wire.recognise import best
from logger.wire.samples import wrong_samples
from logger.wire.shapes.shape import builtin_shapes, shapes_from_text
from logger.wire.teaching.marks import Marks
from logger.wire.teaching.taught import taught
from tests.wire.conftest import feed, fresh
from tests.wire.teaching.made_up import wrong_lines

SHAPES = builtin_shapes()


def heard_of(lines):
    return b"half a line\n" + b"".join(line.encode() + b"\r\n" for line in lines)


def teach(lines, *shown, **marks):
    return taught(heard_of(lines), Marks(shown=shown, **marks), name="mine")


def read(made, lines):
    out = feed(fresh(made.shape), [line.encode() + b"\r\n" for line in lines])
    return [o for o in out if isinstance(o, RawReading)]


KNOWN = [
    (["#1 PV=  21.5 SP= 60.0", "#1 PV=  21.6 SP= 60.0", "#1 PV=  -1.6 SP= 61.0"], "21.6 C"),
    (["A/0012.34 kg/", "A/0012.50 kg/", "A/0012.51 kg/"], "12.51"),
    (["X 00215 OK", "X 00216 OK", "X 00317 OK"], "21.6 degC"),
    (["=043.210", "=053.210", "=063.210"], "12.36 g"),
    (["08:15:01;21,5;7", "08:15:02;21,6;8", "8:15:03;OPEN;9", "09:15:04;21,9;9"], "21,6 °C"),
    (["N-,  12.5,g", "N+,  12.6,g", "N+,  12.7,g"], "-12.5"),
    (["2.15E+01 C", "2.16E+01 C", "2.17E+01 C"], "21.6"),
    (["T-3.2", "T21.5", "T21.6", "T21.7"], "21.6 C"),
    (["<W 12.5 lb>", "<W 12.6 lb>", "<W 12.7 lb>"], "12.6 lb"),
]
RIGHT = [21.6, 12510.0, 21.6, 12.36, 21.6, -12.5, 21.6, 21.6, 5715.263862]


@pytest.mark.parametrize(("known", "value"), list(zip(KNOWN, RIGHT, strict=True)))
def test_a_format_is_made_of_its_lines_and_one_look_at_the_display(known, value):
    lines, shown = known
    made = teach(lines, shown)
    values = [o.value for o in read(made, lines)]
    assert any(v == pytest.approx(value, abs=1e-6) for v in values if v is not None)
    again = shapes_from_text(made.text, "mine.shapes.toml")
    assert wrong_samples(again["mine"]) == []
    assert best(heard_of(lines), again) == "mine"


def test_what_moves_is_flagged_and_a_state_that_nobody_explained_gives_no_value():
    lines = ["W S  12.5 g", "W D  12.6 g", "W S  12.7 g", "W S  12.8 g", "W T   1.0 g"]
    made = teach(lines, "12.7 g", moving=("D",))
    found = read(made, lines)
    assert [o.value for o in found] == [12.5, 12.6, 12.7, 12.8]
    moves = [bool(o.flags & Flag.UNSTABLE) for o in found]
    assert moves == [False, True, False, False]
    assert (made.read, made.passed) == (4, 1)


def test_a_mark_behind_the_line_while_it_moves_is_a_flag_too():
    lines = ["  12.5 g", "  12.6 g ?", "  12.7 g", "  12.8 g ?"]
    found = read(teach(lines, "12.7", moving=("?",)), lines)
    assert [bool(o.flags & Flag.STABLE) for o in found] == [True, False, True, False]


def test_a_word_for_no_probe_is_no_value():
    lines = ["P1 21.5 C", "P1 lost", "P1 21.6 C", "P1 21.7 C"]
    found = read(teach(lines, "21.7", missing=("lost",)), lines)
    assert [o.value for o in found] == [21.5, None, 21.6, 21.7]


def with_check(body, check):
    return body + CHECKS[check].text(body.encode()).decode()


@pytest.mark.parametrize("check", [name for name, one in CHECKS.items() if one.digits])
def test_check_digits_are_found_out_and_compared(check):
    bodies = [f"$W,{n:03},+{512.3 + n / 10:06.1f},g" for n in range(907, 940)]
    lines = [with_check(body, check) for body in bodies]
    made = teach(lines, "603.3 g")
    assert (made.shape.frame.check, made.passed) == (check, 0)
    assert "are compared" in made.says
    assert [o.value for o in read(made, lines)] == [round(603.0 + n / 10, 1) for n in range(33)]
    assert read(made, [line.replace("+0", "+1", 1) for line in lines]) == []


def test_check_digits_of_an_unknown_kind_are_passed_over_and_the_person_is_told():
    lines = [f"$W,+{512.3 + n / 10:06.1f},g*{(n * 37 + 11) % 256:02X}" for n in range(16)]
    made = teach(lines, "512.9 g")
    assert made.passed == 0
    assert "not compared" in made.says
    assert len(read(made, [line[:-2] + "FE" for line in lines])) == len(lines)


@pytest.mark.parametrize("end", [" ok C", " C", " F", " g 12", " C,3"])
def test_what_is_no_check_is_left_alone(end):
    assert teach([f"W 12.{n} g{end}" for n in range(9)], "12.3").says.endswith("no value.")


FOUR = [f"CH1 {t:6.1f}C CH2 9999.0C CH3 -----C CH4 {t + 30:6.1f}C" for t in (24.0, 24.3, 24.5)]


@pytest.mark.parametrize(
    "missing", [(), ("9999.0",), ("9999",), ("9999.0C",), ("-----C",), ("-----", "9999 C")]
)
def test_a_channel_without_a_probe_on_a_line_of_four_is_no_value_of_that_channel(missing):
    made = teach(FOUR, "24.3 C", missing=missing)
    assert [o.value for o in read(made, [*FOUR, FOUR[0].replace("24.0", "-----")])] == [
        24.0, 24.3, 24.5, None,
    ]  # fmt: skip


def test_a_number_that_means_no_probe_is_none_where_somebody_said_so():
    lines = ["W  12.5 g", "W  12.6 g", "W  12.7 g", "W 888.8 g"]
    made = teach(lines, "12.6", missing=("888.8 g",))
    assert [o.value for o in read(made, lines)] == [12.5, 12.6, 12.7, None]
    with pytest.raises(InputError, match=r"no line has '777\.7'"):
        teach(lines, "12.6", missing=("777.7",))


def test_where_the_value_itself_is_said_to_be_missing_the_person_is_told_so():
    lines = ["A 12.5 g", "A 12.5 g", "A 12.5 g"]
    with pytest.raises(InputError, match="0 of them have the value"):
        teach(lines, "12.5", missing=("12.5",))
    with pytest.raises(InputError, match="every line has a word for no value"):
        teach(lines, "12.5", missing=("A",))


def test_several_values_of_a_line_are_several_fields():
    lines = ["a21.5|b60.1|", "a21.6|b60.2|", "a21.7|b60.3|"]
    made = teach(lines, "21.6", "60.2", unit="degC")
    assert made.fields == ("t1", "t2")
    assert [o.value for o in read(made, lines)] == [21.5, 60.1, 21.6, 60.2, 21.7, 60.3]


@pytest.mark.parametrize(
    ("lines", "shown", "said"),
    [
        (["21,5", "21,6", "21,7"], "21 C", "more than one number"),
        (["v 1,234.5 g", "v 1,235.5 g", "v 1,236.5 g"], "234.5", "part of a longer one"),
        (["x 9.53 1", "x 9.53 2", "x 9.53 3"], "53 C", "part of a longer one"),
        (["x 9.53,5", "x 9.53,6", "x 9.53,7"], "53,5 C", "part of a longer one"),
        (["a 21.5 b 21.5"] * 4, "21.5 C", "more than one number"),
        (["W 12.5", "W 12.6", "W 12.7"], "12.6", "the lines print none"),
        (["W 12.5 g", "W 12.6 g", "W 12.7 g"], "12.6 kg", "the lines say g"),
        (["kg 12.5", "kg 12.6", "kg 12.7"], "12.6 g", "a word in the lines is kg"),
        (["W 12.5 g", "W 12.6 g", "W 12.7 g"], "13.5 g", "no number in the lines is 13.5"),
        (["W 12.5 g", "x", "y", "z"], "12.5", "1 of them have the value"),
        (["W 12.5 g"], "12.5", "too few whole lines"),
        (["=0.00000"] * 8, "0.0 g", "how other numbers are written"),
        ([*["W 000000"] * 8, "W 001501"], "0 g", "how other numbers are written"),
        ([f"t<{65.0 if n % 2 else 60.5 - n}>" for n in range(10)], "58.5 degC", "several things"),
        ([f"{n}.0 g 1.{n} g/s" for n in range(4, 9)], "1.8 g", "the lines say g/s"),
        ([f"1.023{n} g/cm3" for n in range(4)], "1.0233 g", "the lines say g/cm"),
        ([f"100{n}.1 hPa" for n in range(4)], "1003.1 g", "the lines say hPa"),
        ([f"45.{n} %" for n in range(4)], "45.3 g", "the lines say %"),
        ([f"7.0{n} pH 25.1 C" for n in range(4)], "7.03 degC", "the lines say pH"),
        ([f"P1 25.{n}/80.0 C" for n in range(4)], "25.3 degF", "the lines say C, not degF"),
        ([f'{{"temp_c":25.{n}}}' for n in range(4)], "25.3 degF", "the lines say C, not degF"),
        (["  222.5 g", "  223.1 g", "  224.0  ", "  224.1  "] * 2, "224.1 g", "others have one"),
        (["W 12.5 g"] * 4, "heavy", "write the number"),
        ([f"W 12.5 g {c}x{c}" for c in "abcdefghijklmnop"], "12.5", "different kinds of lines"),
    ],
)
def test_where_nothing_certain_can_be_made_it_says_why(lines, shown, said):
    with pytest.raises(InputError, match=said):
        teach(lines, shown)


N = range(10)
CODES = (100, 104, 100, 108, 100, 112, 100, 100, 104, 100)


@pytest.mark.parametrize(
    ("lines", "shown", "taken"),
    [
        ([f"{CODES[n]},{62.1 + n / 10:.1f},C" for n in N], "62.5 C", [0, 2, 4, 6, 7, 9]),
        ([f"{512.1 + n / 10:.1f} g /{CODES[n] - 84}" for n in N], "512.5", [0, 2, 4, 6, 7, 9]),
        ([f"{CODES[n] % 33:02X} {62.1 + n / 10:.1f} C" for n in N], "62.5", [0, 2, 4, 6, 7, 9]),
        ([f"1{'FC'[n % 2]} {62.1 + n / 10:.1f} C" for n in N], "62.5", [0, 2, 4, 6, 8]),
        ([f"{['Kern', 'Wasser'][n % 2]} {62.1 + n / 10:.1f} C" for n in N], "62.5", [*N[::2]]),
        ([f"{62.1 + n / 10:.1f} C {45 + n // 4} %" for n in N], "62.5", [*N]),
        ([f"No{n} {62.1 + n / 10:.1f} C" for n in N], "62.5", [*N]),
    ],
)
def test_only_lines_with_the_code_or_label_that_was_shown_are_read(lines, shown, taken):
    made = teach(lines, shown)
    first = 512.1 if "g" in lines[0] else 62.1
    wanted = [round(first + n / 10, 1) for n in taken]
    assert [o.value for o in read(made, lines)] == wanted
    assert (made.read, made.passed) == (len(taken), len(lines) - len(taken))


def test_a_lesson_with_a_code_says_that_lines_with_another_are_not_read():
    lines = [f"{CODES[n]},{62.1 + n / 10:.1f},C" for n in N]
    assert "Only lines with 100 as shown are read" in teach(lines, "62.5 C").says
    for before in ("T1", "ID12"):
        with pytest.raises(InputError, match=r"no number in the lines is 62\.5"):
            teach([f"{before}{62.1 + n / 10:.1f}C" for n in N], "62.5 C")
    changing = [f"{'abcdefghij'[n]}x{'jihgfedcba'[n]} {62.1 + n / 10:.1f} C" for n in N]
    with pytest.raises(InputError, match="a word or code beside the value is another one"):
        teach(changing, "62.5 C")


@settings(deadline=None, max_examples=40, derandomize=True)
@given(st.integers(0, 10**9))
def test_a_taught_format_reads_no_line_of_a_made_up_one_otherwise_than_it_was_meant(seed):
    assert not wrong_lines(seed)
