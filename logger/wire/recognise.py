"""Which line format do these bytes have?

Pure: reads what was heard by every shape and ranks them by the share of lines that fit. A format is
claimed only where at least three lines hold a number, most lines fit, some field of it can be used,
the lines that belong to it came too, and no number goes to and fro between gross and net, or
between several probes. Used by ``bainlog ports`` and by the port threads to tell another instrument
from a wrong baud rate.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from logger.model.bench import PortSettings
from logger.model.reading import Flag, RawReading
from logger.wire.columns import HIGHEST, LOWEST, Kind, kinds_of
from logger.wire.reader import LineReader
from logger.wire.series.beside import made_of_two
from logger.wire.series.others import lines_in_turn
from logger.wire.series.printed import (
    lacks_its_point,
    may_be_grouped,
    may_be_two_numbers,
    may_mark_thousands,
)
from logger.wire.series.sudden import DECIMALS
from logger.wire.series.turns import channels_in_turn, comes_again, counts_on, in_turn
from logger.wire.shapes.possible import RANGE_ENDS
from logger.wire.shapes.shape import Shape
from logger.wire.units import quantity_of

ENOUGH = 0.8
"""Share of lines that must fit before a shape is proposed."""
LINES = 3
"""Lines with a number before a shape is proposed."""
LEAD = 5
"""Lines before the first that fits are not counted, this many and as many as fit: a greeting, an
echo, and what came at another baud rate."""


FEW = 4
"""Of so many values at most one is looked at as made of two others: of more some are by chance."""
SMALLEST = 1e-3
"""Nearer to nothing, a number is none of a register: it was read in another way than it is held."""
NEVER_G = frozenset((-1.0,))
"""A weight that never moves from there is what a driver says for none [g]; common practice, no
source."""
TURNS = 0.5
"""Share of the numbers that go from gross to net or back; nobody tares so often, so that beyond it
the lines are those of a ticket, which says two weights of one load."""


COLD = "cj"
"""Field of a cold junction: beside a probe it is recorded, alone it is no sensor of a bench."""
NO_READING = ("count", "clock", "blank")
Doubt = Literal["", "in turn", "beside", "count", "thousands", "point", "always moving"]
"""Why lines that fit are not claimed: several things in turn, in the values or in what stands
beside them, whole numbers that count, a point
that may stand between thousands, one that may be left out, a letter for moving and never one for
stable."""


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
    whole: bool = False
    """Whether weights came without decimals."""
    doubt: Doubt = ""
    """Why it is not certain what the numbers are."""

    @property
    def claimed(self) -> bool:
        """Whether that is enough to say that it is this format."""
        fits = self.share >= ENOUGH and self.lines >= LINES and bool(self.offered)
        return fits and not self.doubt and not (self.turns > 1 and self.turns > TURNS * self.lines)


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


def units_of(shape: Shape, match: Match) -> tuple[str, ...]:
    """Return the units that numbers may be in whose lines say none.

    Of several columns at most one is a weight, and nothing says which.

    Parameters
    ----------
    shape : Shape
        Their line format.
    match : Match
        How it fits.
    """
    several = len(match.offered) + sum(kind not in NO_READING for _, kind in match.left_out) > 1
    return tuple(u for u in shape.unsaid if not several or quantity_of(u) != "mass")


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


@dataclass(slots=True)
class _Read:
    """What one shape read of what was heard."""

    lines: int = 0
    bad: int = 0
    turns: int = 0
    fields: dict[str, None] = field(default_factory=dict)
    numbers: Counter[str] = field(default_factory=Counter)
    series: dict[str, list[float]] = field(default_factory=dict)
    units: int = 0
    """How often the unit changed."""
    moving: int = 0
    """Numbers that the line says are on their way, less those that it says are stable."""


def _match(heard: bytes, shape: Shape) -> Match | None:
    read = _read(heard, shape)
    registers = shape.decode == "modbus"
    if not read.fields or (registers and not _may_be_registers(read.series)):
        return None
    cells = _cells(heard, shape)
    left_out = _left_out(shape, cells, read.series)
    beside = not shape.companions or any(c.encode() in heard for c in shape.companions)
    offered = tuple(f for f in read.fields if beside and f in shape.channel and f not in left_out)
    most = max((read.numbers[f] for f in offered), default=0)
    further: Kind = "further"
    others = (*left_out.items(), *((f, further) for f in read.fields if f not in shape.channel))
    if set(offered) <= {COLD}:
        offered = ()
    doubt = _doubt(heard, shape, cells, {f: read.series.get(f, []) for f in offered}, read.moving)
    weighs = any(shape.channel[field].quantity == "mass" for field in offered)
    if weighs and read.units > 1 and read.units > TURNS * read.lines * len(read.fields):
        doubt = "in turn"
    each = any(rule.each for rule in shape.line)
    if offered and not doubt and not each and lines_in_turn(_whole_lines(heard, shape)):
        doubt = "beside"
    share = 1 - read.bad / read.lines
    whole = weighs and shape.decode == "lines" and DECIMALS.search(heard) is None
    return Match(
        shape.name, share, most, len(read.fields), offered, others, read.turns, whole, doubt
    )


def _read(heard: bytes, shape: Shape) -> _Read:
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    found = _Read()
    lead = lead_bad = 0
    for piece in _pieces(heard, shape):
        out = reader.feed(piece, 0)
        if not found.fields and not any(isinstance(o, RawReading) for o in out):
            lead, lead_bad = reader.counters.lines, reader.counters.bad
        for one in out:
            if isinstance(one, RawReading):
                found.fields[one.field] = None
                if one.value is not None:
                    found.numbers[one.field] += not one.flags & Flag.OUT_OF_RANGE
                    found.series.setdefault(one.field, []).append(one.value)
                    found.moving += bool(one.flags & Flag.UNSTABLE)
                    found.moving -= len(heard) * bool(one.flags & Flag.STABLE)
            elif one.kind in ("tare", "unit_change"):
                found.turns += one.kind == "tare"
                found.units += one.kind == "unit_change"
    found.lines, found.bad = reader.counters.lines - lead, reader.counters.bad - lead_bad
    if lead_bad > found.lines - found.bad + LEAD:
        found.lines, found.bad = found.lines + lead_bad, found.bad + lead_bad
    return found


def _doubt(
    heard: bytes,
    shape: Shape,
    cells: Mapping[str, Sequence[str]],
    series: Mapping[str, Sequence[float]],
    moving: int,
) -> Doubt:
    """Return why it is not certain what the numbers of the offered fields are."""
    if any(in_turn(values) for values in series.values()):
        return "in turn"
    whole = [some for name, some in cells.items() if name not in series and _are_whole(some)]
    if any(channels_in_turn(c, v) for c in whole for v in series.values()):
        return "in turn"
    if any(map(counts_on, series.values())):
        return "count"
    if comes_again(cells.get(shape.counter, ())):
        return "in turn"
    commas = [v for n, v in series.items() if shape.unsaid and shape.channel[n].decimal == ","]
    if len(series) == 1 and any(map(may_be_two_numbers, commas)):
        return "point"
    lines = _lines(heard, shape)
    if shape.unsaid and may_be_grouped(lines[1:-1]):
        return "thousands"
    mass = any(shape.channel[name].quantity == "mass" for name in series)
    if mass and not shape.unsaid and may_mark_thousands(lines):
        return "thousands"
    if shape.decode == "lines":
        plain = [shape.channel[name] for name in series]
        if shape.unsaid and lacks_its_point([text for f in cells.values() for text in f]):
            return "point" if not any(f.places_group for f in plain) else ""
    letters = shape.flag["stable"].true if "stable" in shape.flag else ()
    lettered = bool(letters) and all(len(text) == 1 and text.isalpha() for text in letters)
    return "always moving" if lettered and moving >= LINES else ""


def _lines(heard: bytes, shape: Shape) -> list[str]:
    """Return the lines of a format of lines."""
    if shape.decode != "lines":
        return []
    return [line.decode("latin-1") for line in heard.split(shape.frame.end.encode("latin-1"))]


def _whole_lines(heard: bytes, shape: Shape) -> list[str]:
    """Return the whole lines of a format of lines or objects."""
    if shape.decode not in ("lines", "json"):
        return []
    lines = heard.split(shape.frame.end.encode("latin-1"))[1:-1]
    return [line.decode("latin-1").strip("\r\0\x02") for line in lines]


def _are_whole(cells: Sequence[str]) -> bool:
    return bool(cells) and all(cell.strip().isdecimal() for cell in cells)


def _may_be_registers(series: Mapping[str, Sequence[float]]) -> bool:
    """Whether numbers in registers may be temperatures; read in a wrong way they are far off."""
    values = [value for some in series.values() for value in some]
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


def _left_out(
    shape: Shape, cells: Mapping[str, Sequence[str]], series: Mapping[str, Sequence[float]]
) -> dict[str, Kind]:
    """Return the fields that are no probes: columns without units, and what two others make."""
    columns = {name: some for name, some in cells.items() if name in shape.channel}
    if shape.unsaid and shape.decode == "json":
        columns = {name: [str(value) for value in some] for name, some in series.items()}
    named = any(rule.each for rule in shape.line)
    kinds = kinds_of(list(columns.values()), named=named) if shape.unsaid else []
    found = zip(columns.items(), kinds, strict=False)
    left: dict[str, Kind] = {n: kind for (n, some), kind in found if some and kind != "number"}
    heats = [n for n in series if n in shape.channel and shape.channel[n].unit_out == "degC"]
    if all(quantity_of(unit) == "temperature" for unit in shape.unsaid):
        hot = [n for n in heats if min(series[n]) > HIGHEST]
        left |= dict.fromkeys(hot, "out of range")
    # A difference may stand behind a number that looks like a humidity.
    names = [n for n in series if n in shape.channel and left.get(n, "humidity") == "humidity"]
    ends = [n for n in names if _at_end(series[n], shape.channel[n].unit_out)]
    left |= dict.fromkeys(ends, "range end")
    for at in made_of_two([series[n] for n in names]) if len(names) <= FEW else ():
        left[names[at]] = "made of two"
    return left


def _at_end(values: Sequence[float], unit: str) -> bool:
    """Whether a value stays at the end of a range, or at -1 g, as where nothing is measured."""
    ends = {"degC": RANGE_ENDS, "g": NEVER_G}.get(unit, frozenset())
    return len(values) >= LINES and len(set(values)) == 1 and values[0] in ends


def _cells(heard: bytes, shape: Shape) -> dict[str, list[str]]:
    """Return what stands in the groups of the fields, and of the counter, of all lines that fit."""
    if shape.decode != "lines" or not (shape.unsaid or shape.counter):
        return {}
    groups = {f.group: name for name, f in shape.channel.items() if f.group is not None}
    groups |= {shape.counter: shape.counter} if shape.counter else {}
    names = {f.key or name.upper(): name for name, f in shape.channel.items()}
    found: dict[str, list[str]] = {name: [] for name in (*groups.values(), *names.values())}
    rules = [r for r in shape.line if r.means == "reading"]
    fits = [(re.compile(r.whole or r.pattern, re.ASCII), re.compile(r.pattern)) for r in rules]
    for line in heard.split(shape.frame.end.encode("latin-1"))[1:]:
        text = line.strip(b"\r\0\x02").decode(shape.frame.encoding, "replace")
        text = text.removeprefix(shape.frame.prompt)
        match, part = _fitted(text, fits)
        if match is None or part is None:
            continue
        for group, cell in match.groupdict().items():
            if group in groups:
                found[groups[group]].append(cell or "")
        for each in part.finditer(text) if "ch" in part.groupindex else ():
            if each["ch"] in names:
                found[names[each["ch"]]].append(each["v"] or "")
    return {name: some for name, some in found.items() if some}


def _fitted(
    text: str, fits: Sequence[tuple[re.Pattern[str], re.Pattern[str]]]
) -> tuple[re.Match[str] | None, re.Pattern[str] | None]:
    """Return how a line fits the first of some patterns, and the pattern of one value in it."""
    for whole, part in fits:
        match = whole.fullmatch(text) or whole.fullmatch(text.lstrip(" "))
        if match is not None:
            return match, part
    return None, None
