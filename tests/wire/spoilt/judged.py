"""The values of a spoilt stream that are false, and whether anything in the line tells.

An instrument says a line a second; each value that is read must be the true one of its moment. A
line whose digits changed and that the instrument prints so for another value can't be told by its
look: what no reader can know is counted apart.
"""

import random
import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from logger.model.reading import Flag, RawReading
from logger.wire.series.layout import ALIKE
from logger.wire.shapes.shape import Shape
from tests.wire.conftest import fresh
from tests.wire.spoilt.mutations import MUTATIONS, Said, plain
from tests.wire.spoilt.speaking import BASES, LINES, Tick, starts, tick_of, ticks_of

NEVER_KNOWN = ("swapped", "other lines", "blanks")
"""Two probes that change places, two instruments of a kind on one line; and a column that is set
right has a blank where a digit was, too."""
VALUES = (0.0, 0.4, 3.0, 9.6, 20.0, 99.0, 250.0, 999.0, 1500.0, 12000.0)
_FILLED = re.compile(rb"(?<![\d.,])0\d")
CLOSE = 2e-6
"""Part of a value that two conversions may be apart."""


class Wrong(NamedTuple):
    """A value that is not the true one of its moment."""

    at: int
    field: str
    value: float
    true: tuple[float | None, ...]
    data: bytes


def false_values(shape: Shape, said: Sequence[Said]) -> list[Wrong]:
    """Return the values that are read and that are not true."""
    reader = fresh(shape)
    found = []
    fields = {name for one in said for true in one.true for name in true}
    for n, (line, trues) in enumerate(_fed(shape, said)):
        for out in reader.feed(line, n * 1_000_000_000):
            if not isinstance(out, RawReading) or out.value is None or out.field not in fields:
                continue
            if out.flags & Flag.OUT_OF_RANGE:
                continue
            right = tuple(true[out.field] for true in trues if out.field in true)
            if not any(_close(out.value, one) for one in right):
                found.append(Wrong(n, out.field, out.value, right, line))
    return found


def _fed(shape: Shape, said: Sequence[Said]) -> Iterator[tuple[bytes, list[dict[str, float]]]]:
    """Yield each line with its end, and the values that were true while its bytes came."""
    end = shape.frame.end.encode("latin-1")
    tail = shape.frame.check in ("xor", "sum")
    line, trues, before = b"", [], []
    for one in said:
        trues = [*trues, *one.true]
        parts = (line + one.data).split(end)
        line = parts.pop()
        for part in parts:
            yield part + end, trues + (before if tail else [])
            before, trues = trues, list(one.true)
        if not line:
            trues = []


def _close(value: float, true: float) -> bool:
    return abs(value - true) <= CLOSE * max(1.0, abs(true))


def forms_of(shape: Shape, start: int) -> set[bytes]:
    """Return the lines, digits apart, that an instrument prints for any value, of either sign."""
    before, text = starts(shape)[start]
    found = set()
    for value in VALUES:
        tick = _at_value(shape, before, text, value)
        if tick is not None:
            found |= set(_lines(shape, tick.data()))
    for form in tuple(found):
        for dash in re.finditer("-|−".encode(), form):
            found |= {form[: dash.start()] + new + form[dash.end() :] for new in (b"", b" ")}
    if _FILLED.search(text.encode()) is None and "  " not in text:
        found |= {_short(shape, form) for form in found}
    return found


def _at_value(shape: Shape, before: bytes, text: str, value: float) -> Tick | None:
    quantity = next(iter(shape.channel.values())).quantity
    return tick_of(shape, before, text, 0, value - BASES[quantity][0])


def form_of(shape: Shape, line: bytes) -> bytes:
    """Return what a line looks like, digits apart."""
    end = shape.frame.end.encode("latin-1")
    return line.removesuffix(end).removesuffix(b"\r").translate(ALIKE)


def _lines(shape: Shape, data: bytes) -> Iterator[bytes]:
    for part in data.split(shape.frame.end.encode("latin-1")):
        if re.search(rb"\d", part):
            yield form_of(shape, part)


def may_be(shape: Shape, line: bytes, forms: set[bytes]) -> bool:
    """Whether the instrument may print such a line for other values: nothing in it tells."""
    form = form_of(shape, line)
    return form in forms or _short(shape, form) in forms


def _short(shape: Shape, form: bytes) -> bytes:
    """Return a form with one digit in front of each point: numbers in a list grow on their own.

    In an object their decimals do so too, as zeros at the end are left out.
    """
    if shape.decode == "json":
        return re.sub(rb"0+(?:\.0+)?", b"0", form)
    comma = any(field.decimal == "," for field in shape.channel.values())
    return re.sub(rb"(?<![0,])0+" if comma else rb"(?<![0.])0+", b"0", form)


class Tried(NamedTuple):
    """One spoilt stream."""

    mutation: str
    known: list[Wrong]
    """False values of lines that show it."""
    unknown: list[Wrong]
    """False values that nothing tells: the instrument may print such a line for another value."""


def tried(
    shape: Shape, start: int, base: int, seed: int, mutations: Sequence[str] = tuple(MUTATIONS)
) -> Iterator[Tried]:
    """Spoil a stream of a format in some ways; the first is the stream as it is."""
    ticks = ticks_of(shape, start, base, random.Random(f"{shape.name} {start} {base}"))
    if not ticks:
        return
    yield Tried("", false_values(shape, plain(ticks)), [])
    forms = forms_of(shape, start)
    for name in mutations:
        by = random.Random(f"{shape.name} {start} {base} {name} {seed}")
        said = MUTATIONS[name](ticks, by.randrange(4, LINES - 2), by)
        if said is None:
            continue
        false = false_values(shape, said)
        known = [w for w in false if name not in NEVER_KNOWN and not may_be(shape, w.data, forms)]
        yield Tried(name, known, [wrong for wrong in false if wrong not in known])
