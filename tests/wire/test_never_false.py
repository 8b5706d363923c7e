"""What is no measured value is never taken for one, and never proposed as one."""

import pytest

from logger.model.reading import Flag, RawReading
from logger.wire.columns import kinds_of
from logger.wire.recognise import best, recognise, units_of
from logger.wire.shapes.pattern import check_pattern
from logger.wire.shapes.shape import builtin_shapes, shapes_from_text
from logger.wire.textline import ANYWHERE

SHAPES = builtin_shapes()
N = range(9)


def values(wire, name, *lines):
    out = wire.feed(wire.fresh(SHAPES[name]), [line + b"\r\n" for line in lines])
    return [o.value for o in out if isinstance(o, RawReading)]


@pytest.mark.parametrize(
    ("name", "lines", "read"),
    [
        ("temperature in degC, degF and kelvin", [b"25.0 C 77.0 F", b"25.0 C 80.0 F"], [25.0]),
        ("temperature in degC, degF and kelvin", [b"25C 77F 298K", b"25C 77F 308K"], [25.0]),
        ("weight in g, and in another unit", [b"25.0 g 0.882 oz", b"26.0 g 0.882 oz"], [25.0]),
        ("weight in g, and in another unit", [b"0.5 kg / 4.905 N"], [500.0]),
        (
            "gross, tare and net in one line",
            [b"G 813.5 g T 200.0 g N 613.4 g", b"G 813.5 g T 200.0 g N 663.5 g"],
            [613.4],
        ),
        ("signed weight and unit", [b"-12.3 g", b"-12.4 g", b"\x0012.5 g"], [-12.3, -12.4]),
        ("signed weight and unit", [b"12.3 g", b"12.4 g", b"\x02" b"2.5 g"], [12.3, 12.4]),
        ("signed weight and unit", [b"2.3 g", b"\x002.4 g", b"\x00\x002.5 g"], [2.3, 2.4, 2.5]),
    ],
)  # fmt: skip
def test_a_line_that_contradicts_itself_or_lost_a_character_is_dropped(wire, name, lines, read):
    assert values(wire, name, *lines) == read


@pytest.mark.parametrize(
    ("name", "said", "read"),
    [
        ("object with temp_c", '"temp_c":61.2,"temp_f":75.0', None),
        ("object with temp_c", '"temp_c":61.2,"temp_f":142.2', 61.2),
        ("object with temp_c", '"temp_c":61,"temp_f":142,"temp_k":334', 61.0),
        ("object with temp_c", '"temp_c":61.200001,"temp_f":142.160004', 61.200001),
        ("object with temp_f", '"temp_c":61.2,"temp_f":75.0', None),
        ("object with a mass in grams", '"mass_g":512.3,"mass_oz":18.07', 512.3),
        ("object with a mass in grams", '"mass_g":512.3,"mass_oz":18.77', None),
        ("object with a temp", '"temp":142.2,"temp_c":61.2', None),
        ("object with temp and unit", '"temp":141.8,"unit":"F","temp_c":61.0', 61.0),
        ("object with temp and unit", '"temp":61.0,"unit":"F","temp_c":61.0', None),
    ],
)
def test_an_object_that_says_one_thing_in_two_ways_gives_it_where_they_agree(
    name, said, read, wire
):
    """1 degC is 1.8 degF from 32, 1 oz is 453.592 37 / 16 g: NIST SP 811:2008, B.8."""
    out = wire.feed(wire.fresh(SHAPES[name]), [b"{%s}\r\n" % said.encode()])
    assert next(o.value for o in out if isinstance(o, RawReading)) == read
    assert (read is None) == any("says otherwise" in getattr(o, "text", "") for o in out)


@pytest.mark.parametrize(
    ("columns", "kinds"),
    [
        ([["21.5", "21.6", "21.5"]], ["number"]),
        ([["1", "2", "3"], ["21.5", "21.6", "21.5"]], ["clock", "number"]),
        ([["93101", "93102", "93104"], ["21.5", "21.6", "21.5"]], ["clock", "number"]),
        ([["0.5", "1.0", "1.5"], ["21.5", "21.6", "21.5"]], ["clock", "number"]),
        ([["21.5", "21.6", "21.5"], ["OPEN"] * 3], ["number", "number"]),
        ([["0", "0", "1"], ["21.5", "21.6", "21.5"]], ["count", "number"]),
        ([["21.5", "21.6", "21.5"], ["45.2", "45.3", "45.2"]], ["number", "humidity"]),
        ([["21.5", "21.6", "21.5"], ["1013.2", "1013.3", "1013.2"]], ["number", "out of range"]),
        ([["21.5", "21.6", "21.5"], ["620.0", "618.0", "616.0"]], ["number", "out of range"]),
        ([["600.0", "598.0", "596.0"], ["21.5", "21.6", "21.5"]], ["out of range", "number"]),
        (
            [[f"{20 - n / 2}" for n in N], [f"{60 + n % 3 / 10}" for n in N]],
            ["clock", "number"],
        ),
        (
            [[f"{n * 1.01 + n % 2 / 50:.2f}" for n in N], [f"{60 + n % 3 / 10}" for n in N]],
            ["clock", "number"],
        ),
        ([[f"{62 + n % 3 / 10}" for n in N], ["65.0"] * 9], ["number", "set value"]),
        ([[f"{82 + n % 3 / 10}" for n in N], ["21.3"] * 9], ["number", "number"]),
        ([[f"{62 + n % 3 / 10}" for n in N], ["21.3"] * 9], ["humidity", "number"]),
        ([["3.71", "3.72"] * 3, ["62.80", "62.81"] * 3], ["battery", "number"]),
        ([["3.71", "3.72"] * 3, ["4.80", "4.81"] * 3], ["number", "number"]),
        ([["5.31", "5.32"] * 3, ["62.8", "62.9"] * 3], ["other quantity", "number"]),
        (
            [["62.8", "62.9"] * 3, ["5.31", "5.32"] * 3, ["221.3", "221.4"] * 3],
            ["other quantity"] * 3,
        ),
        ([["62.8", "62.9"] * 3, ["74.7", "12.1"] * 3], ["number", "output"]),
        ([["44.8", "44.7"] * 3, ["23.0", "22.9"] * 3], ["humidity", "number"]),
        ([["60.8", "63.4"] * 3, ["23.0", "22.9"] * 3], ["number", "number"]),
        (
            [["23.0", "22.9"] * 3, ["101.2", "101.3"] * 3, ["45.2", "45.1"] * 3],
            ["number", "out of range", "humidity"],
        ),
        ([["63.4", "62.1", "60.9"], ["65.0"] * 3], ["number", "set value"]),
        ([["63.6", "62.4", "61.1"], ["146.5", "144.3", "142.0"]], ["other quantity"] * 2),
        ([["63.6", "62.4", "61.1"], ["336.8", "335.6", "334.3"]], ["other quantity"] * 2),
        ([["62.10", "60.10"] * 2, ["124.05", "123.28"] * 2], ["other quantity"] * 2),
        ([["312.2", "313.3"] * 2, ["42.76", "42.91"] * 2], ["other quantity"] * 2),
        (
            [["22.8", "22.7", "22.6"], ["54.7", "55.1", "55.0"], ["13.3", "13.2", "13.2"]],
            ["number", "humidity", "other quantity"],
        ),
        (
            [["63.5", "63.6", "63.4"], ["63.4"] * 3, ["63.7"] * 3],
            ["number", "made of two", "made of two"],
        ),
        ([["0.02", "0.05", "0.08", "0.12"], ["62.10", "61.05"] * 2], ["clock", "number"]),
        ([["62.10", "60.80"] * 3, ["12.09", "12.08"] * 3], ["number", "battery"]),
        ([["504.4", "505.1"] * 3, ["804.4", "804.9"] * 3], ["number", "number"]),
        (
            [["1.1", "1.2", "1.1"], ["60.0", "60.1", "60.0"], ["OPEN"] * 3, [""] * 3],
            ["number", "number", "number", "blank"],
        ),
    ],
)
def test_a_column_that_is_no_temperature_is_not_offered(columns, kinds):
    assert kinds_of(columns) == kinds


def test_a_count_beside_a_probe_is_left_out_and_the_probe_is_offered():
    match = recognise(b"x\n7,21.5\n8,21.7\n9,21.4\n", SHAPES)[0]
    assert (match.offered, match.left_out) == (("t2",), (("t1", "clock"),))


@pytest.mark.parametrize(
    "heard",
    [
        b"\n21.5\n21.6\n",
        b"\n21,50\n21,60\n21,40\n",
        b"\n1\n2\n3\n4\n",
        b"\nOPEN\nOPEN\nOPEN\n",
        b"\n-127.00\n-127.00\n-127.00\n-127.00\n",
        b"\n85.00\n85.00\n85.00\n85.00\n",
    ],
)
def test_less_than_three_lines_with_a_number_are_no_format_of_probes(heard):
    assert best(heard, {n: s for n, s in SHAPES.items() if n.startswith("comma list")}) is None


def test_a_greeting_an_echo_and_what_came_at_another_baud_rate_do_not_count():
    heard = b"\xfe\x80\x12\n\xf0\xf0\nboard 3, v1\n" + b"ST,GS,+   12.5  g\r\n" * 3
    assert best(heard, SHAPES) == "flag-first comma weight"
    assert best(b"\n" + b"SI\r\nS S      12.50 g\r\n" * 3, SHAPES) == "asked weight, letter reply"


@pytest.mark.parametrize("missing", [b"-127.00", b"9999.0", b"---", b"nan", b"OPEN", b"-999.0"])
def test_what_stands_for_no_probe_is_no_value(missing, wire):
    name = "comma list of 2 probes"
    assert values(wire, name, b"21.5," + missing) == [21.5, None]
    assert values(wire, name + ", degF", b"50.0," + missing) == [10.0, None]


def test_what_a_sensor_reports_before_it_measured_is_no_value(wire):
    name = "comma list of 1 probe"
    assert values(wire, name, b"85.00", b"21.50", b"85.00", b"21.75") == [None, 21.5, None, 21.75]
    assert values(wire, name, b"84.75", b"85.00", b"85.25") == [84.75, 85.0, 85.25]
    assert values(wire, name + ", degF", b"185.00", b"50.00") == [None, 10.0]
    assert values(wire, name + ", g", b"85.00", b"-127.00") == [85.0, -127.0]


def test_a_reset_forgets_what_was_measured_before(wire):
    reader = wire.fresh(SHAPES["comma list of 1 probe"])
    assert [o.value for o in reader.feed(b"84.75\r\n85.00\r\n", 0)] == [84.75, 85.0]
    reader.reset(1_000_000_000)
    assert reader.feed(b"85.00\r\n", 2_000_000_000)[0].value is None


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("flag-first comma weight", b"ST,TR,+  250.0  g"),
        ("fixed width weight, trailing question mark", b"     250.00 g     TARE"),
        ("fixed width weight, trailing question mark", b"    1250.00 g     TOTAL"),
    ],
)
def test_a_tare_or_a_total_is_no_mass(name, line, wire):
    assert values(wire, name, line) == []


@pytest.mark.parametrize("words", [(b"G:", b"T:", b"N:"), (b"Gross:", b"Tare:", b"Net:")])
def test_gross_and_net_of_one_load_are_a_ticket_and_no_jumping_mass(words, wire):
    gross, tare, net = words
    lines = [gross + b"   400.0 g", tare + b"   120.5 g", net + b"   279.5 g", b""]
    name = best(b"x\r\n" + b"\r\n".join(lines * 4), SHAPES)
    assert values(wire, name, *lines * 4) == [279.5] * 4
    held = b"x\r\n" + b"".join(gross + b"   400.0 g\r\n" for _ in range(4))
    tared = b"".join(net + b"     0.0 g\r\n" for _ in range(4))
    assert best(held + tared, SHAPES) == "mode, colon, weight"


def test_lines_of_gross_and_net_in_turn_are_not_claimed_where_no_ticket_fits():
    heard = b"x\r\n" + b"ST,GS,+0400.0,g\r\nST,TR,+0120.5,g\r\nST,NT,+0279.5,g\r\n" * 4
    assert best(heard, SHAPES) is None


def test_gross_and_net_are_flags(wire):
    shape = SHAPES["fixed width weight, trailing question mark"]
    lines = [b"      12.50 g     GROSS\r\n", b"      12.50 g     NET\r\n"]
    out = [o for o in wire.feed(wire.fresh(shape), lines) if isinstance(o, RawReading)]
    assert [bool(o.flags & Flag.NET) for o in out] == [False, True]


def test_a_named_value_that_is_no_temperature_is_no_value(wire):
    found = values(wire, "named values in a line", b"T1=21.50 RH=45.2 N=7 T7=22.00")
    assert found == [21.5, 22.0]


def test_a_prompt_is_taken_off_the_line(wire):
    shape = shapes_from_text(
        '[shape."x"]\nframe = { prompt = ">" }\ncolumns = { count = 1 }\n', "x"
    )["x"]
    out = wire.feed(wire.fresh(shape), [b"> 21.5\r\n", b">22.5\r\n", b"23.5\r\n", b">>24.5\r\n"])
    assert [o.value for o in out if isinstance(o, RawReading)] == [21.5, 22.5, 23.5]


@pytest.mark.parametrize(
    ("name", "moving"),
    [
        ("weight with a decimal comma and unit", b"     +514,20    "),
        ("signed weight and unit", b"+0514.20  "),
    ],
)
def test_a_scale_that_leaves_its_unit_out_while_it_moves_gives_no_value_and_no_bad_line(
    name, moving, wire
):
    good = b"     +512,34 g  " if b"," in moving else b"+0512.34 g"
    reader = wire.fresh(SHAPES[name])
    lines = [good + b"\r\n", moving + b"\r\n", moving + b"\r\n", good + b"\r\n"]
    found = [o.value for o in wire.feed(reader, lines) if isinstance(o, RawReading)]
    assert (found, reader.counters.bad) == ([512.34, 512.34], 0)


@pytest.mark.parametrize("said", [b"----OL----", b"Err 3", b"  UL  ", b"E-04", b"ERROR: 12"])
def test_a_line_that_says_no_value_is_a_bad_one_in_no_format_of_lines(said, wire):
    for name in ("weight, status letter last", "comma list of probes", "unit, then weight"):
        reader = wire.fresh(SHAPES[name])
        out = wire.feed(reader, [said + b"\r\n"])
        assert {o.value for o in out if isinstance(o, RawReading)} == {None}, name
        assert reader.counters.bad == 0


def test_the_rules_of_every_format_are_tame():
    for rule in ANYWHERE:
        check_pattern(rule.pattern)


OUT = int(Flag.OUT_OF_RANGE)


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("-300.0", [(-300.0, OUT)]),
        ("99999999", [(99999999.0, OUT)]),
        *(
            (word, [(None, int(Flag.OPEN))])
            for word in ("3276.7", "-999.9", "999.9", "9999", "1372.0", "2501.6")
        ),
    ],
)
def test_what_no_probe_can_show_is_never_a_good_temperature(said, found, wire):
    for name, line in (
        ("names T1:, T2: with C", f"T1: {said} C"),
        ("object with temp_c", f'{{"temp_c": {said}}}'),
        ("temperature and unit", f"{said} C"),
    ):
        out = wire.feed(wire.fresh(SHAPES[name]), [line.encode() + b"\r\n"])
        flags = [(o.value, o.flags) for o in out if isinstance(o, RawReading)]
        assert flags == found, name


def test_a_number_that_means_no_probe_is_an_ordinary_weight(wire):
    name = "weight named in words, with unit"
    said = (b"999.9", b"9999.0", b"3276.7", b"-999.0", b"99999.9")
    found = values(wire, name, *(b"Weight: " + number + b" g" for number in said))
    assert found == [999.9, 9999.0, 3276.7, -999.0, None]


def test_one_more_value_than_the_format_names_is_told():
    line = b" ".join(b"T%d: 2%d.5 C" % (n, n) for n in range(1, 10)) + b"\r\n"
    name = "names T1:, T2: with C"
    match = recognise(b"x\r\n" + line * 3, {name: SHAPES[name]})[0]
    assert match.offered == tuple(f"t{n}" for n in range(1, 9))
    assert match.left_out == (("t9", "further"),)


@pytest.mark.parametrize("said", ["999.9", "-300.0", "32767", "1e9"])
def test_what_no_cold_junction_can_be_is_none(said, wire):
    shape = SHAPES["one object per line, microvolts"]
    line = f'{{"uv": [812.5, 1, 2, 3], "cj": {said}, "fault": [0, 0, 0, 0]}}\r\n'
    out = wire.feed(wire.fresh(shape), [line.encode()])
    read = {o.field: o for o in out if isinstance(o, RawReading)}
    assert (read["t1"].value, read["t1"].cold_junction_c) == (812.5, None)


def test_a_sensor_that_just_woke_says_85_in_any_format_that_prints_decimals(wire):
    name = "temperature and unit"
    assert values(wire, name, b"85.00 C", b"22.30 C", b"85.00 C") == [None, 22.3, None]
    assert values(wire, name, b"185.0 F", b"84.9 C", b"85.0 C") == [None, 84.9, 85.0]
    assert values(wire, name, b"85 C") == [85.0]


@pytest.mark.parametrize(
    "said",
    ["999 C", "888.8 C", "988.79 C", "1023.75 C", "-99.9 C", "1999.0 C", "8888.8 g", "-9999 g"],
)
def test_a_display_that_tests_itself_or_has_no_probe_shows_no_value(said):
    assert best(b"x\r\n" + f"{said}\r\n".encode() * 12, SHAPES) is None


@pytest.mark.parametrize("said", ["-40.0", "0.0", "125.00", "150.0"])
def test_a_probe_that_stays_at_the_end_of_a_range_is_not_offered(said):
    lines = [f"T1: {62 + n % 3 / 10:.1f} C, T2: {said} C\r\n" for n in range(6)]
    match = recognise(("x\r\n" + "".join(lines)).encode(), SHAPES)[0]
    assert (match.offered, match.left_out) == (("t1",), (("t2", "range end"),))


def test_a_probe_of_a_bare_list_that_is_gone_and_shows_zero_is_no_value(wire):
    name = "comma list of 2 probes"
    assert values(wire, name, b"60.25,3.25", b"60.50,0.00") == [60.25, 3.25, 60.5, 0.0]
    assert values(wire, name, b"60.25,21.25", b"60.50,0.00") == [60.25, 21.25, 60.5, None]


def test_a_line_without_its_beginning_gives_no_value_and_one_of_another_address_neither(wire):
    name = "temperature and unit"
    assert values(wire, name, b"63.6 C", b"3.9 C", b"63.4 C") == [63.6, None, 63.4]
    assert values(wire, name, b"10.1 C", b"9.9 C", b"4.2 C", b"61.5 C") == [10.1, 9.9, 4.2, 61.5]
    name = "comma list of 2 probes"
    said = [b"01,47.6"] * 3 + [b"02,21.0", b"01,47.5"]
    assert values(wire, name, *said)[1::2] == [47.6, 47.6, 47.6, None, 47.5]
    counted = [b"%02d,47.6" % n for n in range(1, 12)]
    assert values(wire, name, *counted)[1::2] == [47.6] * 11


def test_a_letter_that_nobody_explained_is_not_claimed_and_a_type_that_changes_gives_no_value(wire):
    for letter in "NESR":
        lines = "".join(f"{letter} {62 + n % 3 / 10:.1f} C\r\n" for n in range(6))
        assert best(f"x\r\n{lines}".encode(), SHAPES) is None, letter
    found = values(wire, "type letter and temperature", b"K 47.6 C", b"J 21.0 C", b"K 47.5 C")
    assert found == [47.6, None, 47.5]


@pytest.mark.parametrize(
    ("name", "text"), [("signed weight and unit", "{} g"), ("mode, colon, weight", "Net: {} g")]
)
def test_decimals_that_come_with_the_load_may_mark_thousands(name, text, wire):
    said = [text.format(number).encode() for number in ("0", "1.488", "1.489")]
    assert values(wire, name, *said) == [0.0, None, None]
    said = [text.format(number).encode() for number in ("0.0", "1.4", "1.488")]
    assert values(wire, name, *said) == [0.0, 1.4, 1.488]


def test_bare_numbers_in_tenths_without_a_point_are_not_claimed():
    for lines in (["00621", "00622", "00620"] * 2, ["000000"] * 6, ["T=994", "T=991"] * 3):
        assert best("\r\n".join(["x", *lines, ""]).encode(), SHAPES) is None, lines


def test_an_object_that_names_its_unit_is_not_asked_for_it():
    lines = ['{"temp":21.5,"unit":"C"}'] * 3 + ['{"temp":21.5,"unit":" "}']
    assert best("\r\n".join(["x", *lines, ""]).encode(), SHAPES) is None


def test_of_several_bare_columns_none_is_offered_as_a_weight():
    shape = SHAPES["comma list of 2 probes"]
    for first, units in (
        ("7", shape.unsaid),
        ("21.5", ("degC", "degF")),
        ("512.5", ("degC", "degF")),
    ):
        lines = [f"{first},62.{n % 3}" for n in range(6)]
        match = recognise("\r\n".join(["x", *lines, ""]).encode(), SHAPES)[0]
        assert (match.shape, units_of(shape, match)) == (shape.name, units)
