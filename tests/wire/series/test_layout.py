"""A line that lost bytes, changed its label or follows a line of words gives no value."""

import pytest

from logger.model.reading import RawReading
from logger.wire.emit import framed
from logger.wire.recognise import best
from logger.wire.shapes.shape import builtin_shapes
from tests.wire.conftest import feed, fresh

SHAPES = builtin_shapes()
NAMED = "temperature named in words, with unit"
PLAIN = "temperature and unit"
SCALE = "signed weight and unit"
WORDS = "weight named in words, with unit"
FRAMED = "framed weight, four status letters and unit"


@pytest.mark.parametrize(
    ("name", "lines", "values"),
    [
        (SCALE, ["845.3 g", "845 g", "845.4 g"], [845.3, None, 845.4]),
        (SCALE, ["845.3 g"] + ["1845 g"] * 2, [845.3, 1845.0, 1845.0]),
        (SCALE, ["845.3 g"] + ["845 g"] * 4, [845.3, None, None, 845.0, 845.0]),
        (PLAIN, ["  52.4 C", "   52 C", "  52.5 C"], [52.4, None, 52.5]),
        (WORDS, ["Weight: 845.3 g", "Weight:45.3 g", "Weight: 45.3 g"], [845.3, None, 45.3]),
        ("S S", ["S S      845.3 g", "S S     45.3 g", "S S     1845.3 g"], [845.3, None, 1845.3]),
        (SCALE, ["  99.9 g", " 100.0 g", "   0.5 g"], [99.9, 100.0, 0.5]),
        (SCALE, ["845.3 g", "TOTAL", "3210.4 g", "845.2 g"], [845.3, None, 845.2]),
        (PLAIN, ["50.1 C", "ALARM LIMIT HIGH", "80.0 C", "50.2 C"], [50.1, None, 50.2]),
        (SCALE, ["845.3 g", "8", "45.4 g", "45.4 g"], [845.3, None, 45.4]),
        (PLAIN, ["50.1 C", "# set to 80", "50.2 C"], [50.1, 50.2]),
        (PLAIN, ["board ready", "50.1 C", "50.2 C"], [50.1, 50.2]),
        (WORDS, ["Weight: 845.3 g", "Load: 6000.0 g", "Weight: 845.4 g"], [845.3, None, 845.4]),
        (NAMED, ["Temp: 23.5 C", "T: 60.0 C", "Temp: 23.4 C"], [23.5, None, 23.4]),
        ("clock, weight, unit", ["12:00:05 845.3 g", "2026-11-30 12:00 6000.0 g"], [845.3, None]),
        (PLAIN, ["50.12 C"] * 3 + ["50.1 C", "50.155 C"], [50.12] * 3 + [None] * 2),
        (PLAIN, ["99.97 C"] * 3 + ["100.1 C", "99.98 C"], [99.97] * 3 + [100.1, 99.98]),
        (PLAIN, ["50.12 C"] * 3 + ["50.1 C"] * 4, [50.12] * 3 + [None] * 2 + [50.1] * 2),
        (SCALE, ["+0845.3 g"] * 2 + ["+084.3 g", "+00845.3 g"], [845.3, 845.3, None, None]),
        (SCALE, ["112.3 g"] * 2 + ["02.3 g", "9.3 g"], [112.3, 112.3, None, 9.3]),
        (WORDS, ["Weight:   845.3 g", "Weight:   85.3 g"], [845.3, None]),
        ("comma list of 2 probes", ["61.5,71.5", "61.5,7"], [61.5, 71.5, None, None]),
        ("names T1:, T2: in a line", ["T1: 6.5, T2: 7.5"] * 3 + ["T1: 6"], [6.5, 7.5] * 3 + [None]),
        (SCALE, ["0.85 kg", "0.85 g", "0.86 kg", "862.0 g"], [850.0, None, 860.0, 862.0]),
        ("object with weight and unit",
         ['{"weight":0.85,"unit":"kg"}', '{"weight":0.85,"unit":"g"}'], [850.0, None]),
        ("object with a list of four temperatures",
         ['{"temps":[61.5,1,2,3]}', '{"temps":[6,1.5,1,2,3]}'], [61.5, 1.0, 2.0, 3.0] + [None] * 4),
        ("object with temp_c", ['{"temp_c":6.25}'] * 9 + ['{"temp_c":6.2}'], [6.25] * 9 + [6.2]),
        (
            "comma sentence with check digits",
            ["$W,845.3,g", "$TOT,4321.0,g", "$N,120.5,g", "$W,845.4,g"],
            [845.3, None, 845.4],
        ),
    ],
)  # fmt: skip
def test_what_may_be_another_number_gives_no_value(name, lines, values):
    shape = SHAPES["letters S and S or D, weight" if name == "S S" else name]
    out = feed(fresh(shape), [framed(shape.frame, line) for line in lines])
    assert [o.value for o in out if isinstance(o, RawReading)] == values


def test_a_blank_unit_behind_an_unknown_one_stays_unknown():
    said = ["   338.0G  -  g", "   845.0G  - pcs", "   338.0GM -   ", "   845.1G  -  g"]
    out = feed(fresh(SHAPES[FRAMED]), [f"\x02{line}\x03".encode() for line in said])
    assert [o.value for o in out if isinstance(o, RawReading)] == [338.0, 845.1]


@pytest.mark.parametrize(
    "lines",
    [
        ["1 lb", "13.8 oz"] * 4,
        ["-1.0 g"] * 8,
        ["[1.1] setpoint: temp 60.0 C", "[2.1] setpoint: temp 60.1 C"] * 3,
        ['{"temp_c":2370}', '{"temp_c":2371}', '{"temp_c":2369}'],
    ],
)
def test_what_is_no_reading_of_a_bench_is_not_proposed(lines):
    assert best("\r\n".join(["x", *lines, ""]).encode(), SHAPES) is None
