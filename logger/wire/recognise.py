"""Which line format do these bytes have?

Pure: reads what was heard by every shape and ranks them by the share of lines that fit. A format is
claimed only where at least three lines hold a number, most lines fit, some field of it can be used,
the lines that belong to it came too, and no number goes to and fro between gross and net, or
between several probes. Used by ``bainlog ports`` and by the port threads to tell another instrument
from a wrong baud rate.
"""

import math
import re
import statistics
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from logger.model.bench import PortSettings
from logger.model.reading import Flag, Notice, RawReading
from logger.wire.columns import HIGHEST, LOWEST, Kind, kinds_of
from logger.wire.reader import LineReader
from logger.wire.shapes.shape import Shape

ENOUGH = 0.8
"""Share of lines that must fit before a shape is proposed."""
LINES = 3
"""Lines with a number before a shape is proposed."""
LEAD = 5
"""Lines before the first that fits are not counted, this many and as many as fit: a greeting, an
echo, and what came at another baud rate."""


SMALLEST = 1e-3
"""Nearer to nothing, a number is none of a register: it was read in another way than it is held."""
TURNS = 0.5
"""Share of the numbers that go from gross to net or back; nobody tares so often, so that beyond it
the lines are those of a ticket, which says two weights of one load."""


WOVEN_LINES, WOVEN_SHARE = 12, 0.85
WOVEN_LEAST, WOVEN_PART, WOVEN_TIMES = 0.3, 0.01, 10.0
"""From so many numbers on, a field shows several things in turn where this share of the steps from
one number to the next are more than so much [degC or g, or a unit of the lines], more than this
part of the value, and so many times what this share of the steps to the one after next (or the next
but two...) are at most. A display that flickers between two numbers is not in strict turn."""


class Match(NamedTuple):
    """How well one shape fits."""

    shape: str
    share: float
    """Lines that fit, of all lines from the first one with a value."""
    lines: int
    """Lines that hold a number."""
    fields: int
    """Different values that the lines brought."""
    offered: tuple[str, ...]
    """Fields that may be probes or scales."""
    left_out: tuple[tuple[str, Kind], ...]
    """Fields that are something else, and what they look like."""
    turns: int = 0
    """How often the weight went from gross to net or back."""
    woven: bool = False
    """One of the fields offered shows several things in turn."""

    @property
    def claimed(self) -> bool:
        """Whether that is enough to say that it is this format."""
        fits = self.share >= ENOUGH and self.lines >= LINES and bool(self.offered)
        return fits and not self.woven and not (self.turns > 1 and self.turns > TURNS * self.lines)


def recognise(heard: bytes, shapes: Mapping[str, Shape]) -> list[Match]:
    """Rank shapes by how much of what was heard fits them.

    Parameters
    ----------
    heard : bytes
        As it came; the first line may be half a line.
    shapes : mapping of str to Shape
        To choose from. Of registers, `heard` must hold the requests too. Formats that differ from
        another in their unit only are not looked at: the lines cannot tell them apart.

    Returns
    -------
    list of Match
        Best first; only shapes that at least one line fits. Of equal ones that with more values
        first, then with more flags, those that speak unasked, those whose lines say the unit, and
        that of the earlier name.
    """
    found = [_match(heard, shape) for shape in shapes.values() if not shape.like]
    return sorted(
        (match for match in found if match is not None),
        key=lambda m: (
            -m.share,
            -m.fields,
            -len(shapes[m.shape].flag),
            shapes[m.shape].asks,
            bool(shapes[m.shape].unsaid),
            m.shape,
        ),
    )


def best(heard: bytes, shapes: Mapping[str, Shape]) -> str | None:
    """Return the name of the shape that what was heard surely has, or None."""
    return next((m.shape for m in recognise(heard, shapes) if m.claimed), None)


def read_last(heard: bytes, shape: Shape) -> dict[str, RawReading]:
    """Return the last reading of each field.

    Parameters
    ----------
    heard : bytes
        As it came; of registers with the requests.
    shape : Shape
        The format to read it by.
    """
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    out = (one for piece in _pieces(heard, shape) for one in reader.feed(piece, 0))
    return {one.field: one for one in out if isinstance(one, RawReading)}


def _match(heard: bytes, shape: Shape) -> Match | None:
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    values: list[float] = []
    series: dict[str, list[float]] = {}
    numbers: Counter[str] = Counter()
    fields: dict[str, None] = {}
    lead = lead_bad = turns = 0
    for piece in _pieces(heard, shape):
        out = reader.feed(piece, 0)
        if not fields and not any(isinstance(o, RawReading) for o in out):
            lead, lead_bad = reader.counters.lines, reader.counters.bad
        for one in out:
            if isinstance(one, RawReading):
                fields[one.field] = None
                numbers[one.field] += one.value is not None and not one.flags & Flag.OUT_OF_RANGE
                if one.value is not None:
                    values.append(one.value)
                    series.setdefault(one.field, []).append(one.value)
            turns += isinstance(one, Notice) and one.kind == "tare"
    if not fields or (shape.decode == "modbus" and not _may_be_registers(values)):
        return None
    lines, bad = reader.counters.lines - lead, reader.counters.bad - lead_bad
    if lead_bad > lines - bad + LEAD:
        lines, bad = lines + lead_bad, bad + lead_bad
    left_out = _left_out(heard, shape)
    beside = not shape.companions or any(c.encode() in heard for c in shape.companions)
    offered = tuple(f for f in fields if beside and f in shape.channel and f not in left_out)
    most = max((numbers[f] for f in offered), default=0)
    further: Kind = "further"
    others = (*left_out.items(), *((f, further) for f in fields if f not in shape.channel))
    mixed = any(woven(series.get(f, ())) for f in offered)
    return Match(shape.name, 1 - bad / lines, most, len(fields), offered, others, turns, mixed)


def woven(values: Sequence[float]) -> bool:
    """Whether numbers come from several things in turn, such as four probes in one column.

    Parameters
    ----------
    values : sequence of float
        In order [degC or g, or a unit of the lines].
    """
    if len(values) < WOVEN_LINES:
        return False
    step = _steps(values, 1)[-math.ceil(WOVEN_SHARE * (len(values) - 1))]
    if step <= max(WOVEN_LEAST, WOVEN_PART * statistics.median(map(abs, values))):
        return False
    for turn in range(2, len(values) // 3 + 1):
        near = _steps(values, turn)
        if near[math.ceil(WOVEN_SHARE * len(near)) - 1] * WOVEN_TIMES < step:
            return True
    return False


def _steps(values: Sequence[float], apart: int) -> list[float]:
    """Return the sizes of all steps between numbers that lie so far apart, smallest first."""
    return sorted(abs(b - a) for a, b in zip(values, values[apart:], strict=False))


def _may_be_registers(values: list[float]) -> bool:
    """Whether numbers in registers may be temperatures; read in a wrong way they are far off."""
    likely = all(LOWEST <= v <= HIGHEST and (v == 0 or abs(v) >= SMALLEST) for v in values)
    return likely and any(values)


def _pieces(heard: bytes, shape: Shape) -> Iterator[bytes]:
    end = shape.frame.end.encode("latin-1")
    frames = shape.decode == "binary" or (shape.decode == "modbus" and shape.transmission == "rtu")
    if frames or shape.frame.check in ("xor", "sum"):
        yield heard
        return
    *lines, rest = heard.split(end)
    yield from (line + end for line in lines)
    yield rest


def _left_out(heard: bytes, shape: Shape) -> dict[str, Kind]:
    """Return the fields of a list without units that are no probes."""
    if not shape.unsaid or shape.decode != "lines" or shape.frame.start:
        return {}
    groups = {f.group: name for name, f in shape.channel.items() if f.group is not None}
    columns: dict[str, list[str]] = {name: [] for name in groups.values()}
    fits = [re.compile(r.pattern, re.ASCII).fullmatch for r in shape.line if r.means == "reading"]
    for line in heard.split(shape.frame.end.encode("latin-1"))[1:]:
        text = (
            line.strip(b"\r\0\x02").decode("latin-1").removeprefix(shape.frame.prompt).lstrip(" ")
        )
        match = next((m for m in (fit(text) for fit in fits) if m is not None), None)
        for group, cell in (match.groupdict() if match is not None else {}).items():
            if group in groups:
                columns[groups[group]].append(cell or "")
    kinds = kinds_of(list(columns.values()))
    found = zip(columns.items(), kinds, strict=True)
    return {name: kind for (name, cells), kind in found if cells and kind != "number"}
