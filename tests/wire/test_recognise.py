"""What was heard tells its shape."""

import pytest

from logger.wire.emit import Emitter
from logger.wire.recognise import best, recognise
from logger.wire.shapes.shape import builtin_shapes

SHAPES = builtin_shapes()


def test_every_built_in_shape_is_recognised_from_the_middle_of_a_stream(shape, wire):
    data = b"".join(wire.message(shape, wire.values(shape, step)) for step in (0, 3, 1, 4, 4, 5))
    alike = {name: one for name, one in SHAPES.items() if one.asks == shape.asks}
    assert best(data[5:], alike) == shape.name


@pytest.mark.parametrize(
    "heard",
    [b"", b"hello\r\nworld\r\n", bytes(range(128, 256)) * 4, b"x\r\nInternal Temp = 23.06\r\n" * 4],
)
def test_what_no_shape_prints_is_not_recognised(heard):
    assert best(heard, SHAPES) is None


def test_some_unread_lines_lower_the_share():
    line = Emitter(SHAPES["comma list of probes"]).line(
        {"t1": 1.0, "t2": 2.0, "t3": 3.0, "t4": 4.0}
    )
    first = recognise(b"x\r\n" + line + b"#\r\n" + line + line, SHAPES)[0]
    assert (first.shape, first.share, first.fields) == ("comma list of probes", 0.75, 4)
