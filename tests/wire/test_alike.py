"""A line that differs from one before in its digits only is read without being matched again."""

import random

import pytest

from logger.wire.emit import Emitter
from logger.wire.shapes.shape import shapes_from_text
from logger.wire.textline import MAX_ALIKE, TextDecoder
from tests.wire.written import written_shapes

SHAPES = {name: shape for name, shape in written_shapes().items() if shape.decode == "lines"}
SCALE = "flag-first comma weight"
STEPS = 400


def lines_of(name: str, seed: int) -> list[bytes]:
    """Return lines as the instrument prints them, some of them damaged."""
    shape, by = SHAPES[name], random.Random(f"{name} {seed}")
    emitter, lines = Emitter(shape), []
    for _ in range(STEPS):
        values = {
            field: None
            if how.quantity != "mass" and by.random() < 0.05
            else round(by.uniform(-1, 1) * by.choice([9, 900]), 1)
            for field, how in shape.channel.items()
        }
        print_as = {}
        if any(how.quantity == "mass" for how in shape.channel.values()):
            print_as = {"unit": by.choice(["g", "g", "g", "kg"]), "net": by.random() < 0.2}
        line = bytearray(emitter.line(values, **print_as).rstrip(b"\r\n"))
        for _ in range(by.choice([0, 0, 0, 1, 2])):
            line[by.randrange(len(line))] = ord(by.choice("0123456789+-., gkozlb\t"))
        lines.append(bytes(line))
    return lines


@pytest.mark.parametrize("name", SHAPES)
def test_what_is_read_is_what_matching_each_line_gives(name):
    for seed in range(5):
        quick, strict = TextDecoder(SHAPES[name]), TextDecoder(SHAPES[name])
        strict._digits_alike = False
        for line in lines_of(name, seed):
            assert quick.decode(line) == strict.decode(line), line


def test_most_lines_of_a_scale_are_not_matched_again(monkeypatch):
    decoder, matched = TextDecoder(SHAPES[SCALE]), []
    match = decoder._match
    monkeypatch.setattr(decoder, "_match", lambda line: matched.append(line) or match(line))
    for tenths in range(10_000, 20_000):
        parsed = decoder.decode(b"ST,GS,+%8.1f  g" % (tenths / 10))
        assert parsed.values[0].value == tenths / 10
    assert len(matched) == 1


def test_digits_that_decide_are_never_taken_for_alike():
    """A pattern that takes some digits only: 7 is not 8, and nothing is remembered by form."""
    shape = shapes_from_text(
        '[shape."x"]\n[[shape."x".line]]\nmeans = "reading"\npattern = "[0-7]=(?P<v>\\\\d+)"\n'
        '[shape."x".channel.mass]\ngroup = "v"\nquantity = "mass"\nunit = "g"\n', "x"
    )["x"]  # fmt: skip
    decoder = TextDecoder(shape)
    assert decoder.decode(b"7=12") is not None
    assert decoder.decode(b"8=12") is None


def test_forms_that_are_remembered_are_bounded():
    decoder = TextDecoder(SHAPES[SCALE])
    for width in range(3 * MAX_ALIKE):
        decoder.decode(b"ST,GS,+%s1.5  g" % (b" " * width))
    assert 0 < len(decoder._alike) <= MAX_ALIKE
