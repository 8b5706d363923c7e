"""What no probe shows right behind its value before is no value."""

import pytest

from logger.model.reading import RawReading
from logger.wire.shapes.shape import builtin_shapes
from tests.wire.conftest import feed, fresh

SHAPES = builtin_shapes()
BARE = "comma list of 1 probe"
PAIR = "comma list of 2 probes"
PLAIN = "temperature and unit"
OBJECT = "object with temp_c"


def values(name, lines):
    reader = fresh(SHAPES[name])
    out = feed(reader, [line.encode() + b"\r\n" for line in lines])
    return reader, [o.value for o in out if isinstance(o, RawReading)]


@pytest.mark.parametrize(
    ("name", "lines", "found"),
    [
        (BARE, ["60.8", "141.4", "141.2", "60.7"], [60.8, None, None, 60.7]),
        (BARE, ["60.8", "61.0", "141.9", "141.6"], [60.8, 61.0, None, None]),
        (BARE + ", degF", ["140.0", "60.1", "60.2"], [60.0, None, None]),
        (BARE, ["22.0", "71.5", "78.0", "81.0"], [22.0, None, 78.0, 81.0]),
        (BARE, ["22.0", "65.0", "66.0"], [22.0, 65.0, 66.0]),
        (PAIR, ["60.8,21.0", "141.4,69.8"], [60.8, 21.0, None, None]),
        (PAIR, ["60.8,21.0", "141.4,21.0"], [60.8, 21.0, 141.4, 21.0]),
        ("object with a temperature", ['{"temperature":60.8}', '{"temperature":141.4}'],
         [60.8, None]),
        (PLAIN, ["60.8 C", "141.4 C"], [60.8, 141.4]),
        (PLAIN, ["60.8 C", "130.00 C", "60.9 C", "-45.00 C"], [60.8, None, 60.9, None]),
        (PLAIN, ["128.0 C", "130.0 C"], [128.0, 130.0]),
        (PLAIN, ["62.0 C", "0.0 C", "61.9 C", "850.0 C"], [62.0, None, 61.9, None]),
        (PLAIN, ["22.0 C", "0.0 C", "-0.1 C"], [22.0, 0.0, -0.1]),
        (PLAIN, ["60.8 C", "1037.55 C", "-273.15 C", "1899.59 F"], [60.8, None, None, None]),
        (OBJECT, ['{"temp_c":23.5}', '{"temp_c":235}', '{"temp_c":24}'], [23.5, None, 24.0]),
        (OBJECT, ['{"temp_c":85.0}', '{"temp_c":22.3}', '{"temp_c":-200.0}'], [None, 22.3, None]),
    ],
)  # fmt: skip
def test_what_cannot_follow_is_no_value(name, lines, found):
    assert [v if v is None else round(v, 6) for v in values(name, lines)[1]] == found


def test_a_unit_that_changed_stays_changed_when_the_port_is_opened_anew():
    reader, found = values(BARE, ["60.8", "141.4"])
    reader.reset(10**9)
    again = [o.value for o in feed(reader, [b"half\r\n141.2\r\n"]) if isinstance(o, RawReading)]
    assert (found, again) == ([60.8, None], [None])
