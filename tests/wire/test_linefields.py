"""A sign apart from its digits is read, whatever the decimal mark."""

import pytest

from logger.model.bench import PortSettings
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import shapes_from_text

SHAPE = r"""
[shape."sign apart"]
frame = {{ end = "\n", max = 40 }}
channel.mass = {{ group = "v", quantity = "mass", unit = "g", decimal = "{mark}" }}
line = [ {{ means = "reading", pattern = 'g (?P<v>[+-] *\d+[.,]\d+)' }} ]
"""


@pytest.mark.parametrize("mark", [".", ","])
def test_a_sign_apart_from_its_digits_is_read_with_either_decimal_mark(mark):
    shape = shapes_from_text(SHAPE.format(mark=mark), "made up")["sign apart"]
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.feed(b"half a line\n", 10**9)
    got = reader.feed(f"g -   3{mark}25\ng +  12{mark}50\n".encode(), 2 * 10**9)
    assert [reading.value for reading in got] == [-3.25, 12.5]
