"""A number in a register is a reading only at the factor that a display shows."""

import pytest

from logger.model.errors import InputError
from logger.wire.modbus import plan_of, request_bytes, response_bytes
from logger.wire.recognise import read_last
from logger.wire.shapes.shape import builtin_shapes, shapes_from_text
from logger.wire.shapes.together import together
from logger.wire.teaching.registers import (
    format_of,
    matched,
    numbered,
    pointed,
    registers_in,
)

EIGHT = builtin_shapes()["registers, eight inputs in tenths"]
HELD = [2153, 64, 0, 1, 215, 33, 0x8000, 700]
TEXT = together({3: (EIGHT, tuple(EIGHT.channel))}, EIGHT.port)
SHAPE = shapes_from_text(TEXT, "x")["registers of devices 3"]


def heard(shape, held):
    request = plan_of(shape)[0][0]
    return request_bytes(3, request) + response_bytes(3, request, held)


FOUND = registers_in(heard(SHAPE, HELD), SHAPE, EIGHT.factors)


@pytest.mark.parametrize(
    ("shown", "factor", "value_c"),
    [("21.53 degC", 0.01, 21.53), ("215.3", 0.1, 215.3), ("64 °C", 1.0, 64.0),
     ("70.0 degC", 0.1, 70.0), ("91.4 degF", None, None), ("3.3 C", 0.1, 3.3)],
)  # fmt: skip
def test_what_a_display_shows_says_the_factor_of_one_register_and_of_no_other(
    shown, factor, value_c
):
    if factor is None:
        with pytest.raises(InputError, match=r"no register reads 91\.4 degF"):
            matched(FOUND, [shown], "")
        return
    said = matched(FOUND, [shown], "degC")
    (one,) = [one for one in said if one.factor is not None]
    assert (one.factor, one.value) == (factor, value_c)
    shape = shapes_from_text(format_of(TEXT, "mine", said), "x")["mine"]
    assert list(shape.channel) == [one.field]
    number = int(one.field.removeprefix("d3_t")) - 1
    read = read_last(heard(shape, HELD[number : number + 1]), shape)
    assert {name: r.value for name, r in read.items()} == {one.field: value_c}


@pytest.mark.parametrize("shown", ["21.5 degC", "0 degC", "6.4", "30.0 degC", "warm"])
def test_where_it_fits_more_than_one_none_or_has_no_unit_nothing_is_made(shown):
    with pytest.raises(InputError):
        matched(FOUND, [shown], "")


def test_a_register_without_a_number_is_not_offered():
    assert [one.field for one in FOUND] == [f"d3_t{n}" for n in (1, 2, 3, 4, 5, 6, 8)]


def test_each_number_can_be_pointed_at_and_what_was_said_is_not_asked_again():
    pieces = numbered(FOUND)
    assert pieces[:4] == [
        ("device 3, input register 0: ", 0), ("2153", 1), ("215.3", 2), ("21.53", 3)
    ]  # fmt: skip
    said = pointed(FOUND, 3, "degF")
    assert said[0].factor == 0.01
    assert said[0].value == pytest.approx((21.53 - 32) / 1.8)
    assert numbered(said)[:2] == [("device 3, input register 1: ", 0), ("64", 1)]
    with pytest.raises(InputError):
        pointed(FOUND, 300, "degC")
    with pytest.raises(InputError):
        pointed(FOUND, 3, "")
