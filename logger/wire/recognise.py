"""Which line format do these bytes have?

Pure: reads what was heard by every shape and ranks them by the share of lines that fit. Used by
``bainlog ports`` and by the port threads to tell another instrument from a wrong baud rate.
"""

from collections.abc import Mapping
from typing import NamedTuple

from logger.model.bench import PortSettings
from logger.model.reading import RawReading
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import Shape

ENOUGH = 0.8
"""Share of lines that must fit before a shape is proposed."""


class Match(NamedTuple):
    """How well one shape fits."""

    shape: str
    share: float
    """Lines that fit and bring a reading, of all lines."""
    lines: int
    fields: int
    """Different values that the lines brought."""


def recognise(heard: bytes, shapes: Mapping[str, Shape]) -> list[Match]:
    """Rank shapes by how much of what was heard fits them.

    Parameters
    ----------
    heard : bytes
        As it came; the first line may be half a line.
    shapes : mapping of str to Shape
        To choose from. Of registers, `heard` must hold the requests too.

    Returns
    -------
    list of Match
        Best first; only shapes that at least one line fits. Of equal ones that with more values
        first, then those that speak unasked, then that of the earlier name.
    """
    found = []
    for name, shape in shapes.items():
        reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
        outcomes = reader.feed(heard, 0)
        readings = [o for o in outcomes if isinstance(o, RawReading)]
        lines = reader.counters.lines
        fitting = len({r.t_ns for r in readings if r.field == readings[0].field})
        if fitting:
            fields = len({r.field for r in readings})
            found.append(Match(name, fitting / lines, lines, fields))
    return sorted(found, key=lambda m: (-m.share, -m.fields, shapes[m.shape].asks, m.shape))


def best(heard: bytes, shapes: Mapping[str, Shape]) -> str | None:
    """Return the name of the shape that what was heard surely has, or None."""
    ranked = recognise(heard, shapes)
    return ranked[0].shape if ranked and ranked[0].share >= ENOUGH else None
