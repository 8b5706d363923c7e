"""Streams of the built-in formats: lines as in their samples, with values that move a little."""

import json
import random
import re
from typing import Any, NamedTuple

from logger.wire.emit import Emitter, framed
from logger.wire.samples import sample_bytes
from logger.wire.series.agreement import terms_of
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import ShapeField
from logger.wire.units import conversion
from tests.wire.conftest import sample_values

LINES = 16
BASES = {
    "temperature": (21.5, 62.3, 97.4, 9.2, 121.6),
    "mass": (12.3, 845.3, 97.9, 5123.4, 1280.0),
    "emf": (812.5, 2404.1, 812.5, 2404.1, 812.5),
}
"""Where a stream begins [degC, g, uV]."""
STEPS = (0.07, 0.31, -0.19, 1.3)
APART = 7.3
"""What two probes of a line are apart [degC, g, uV]."""
SIGNS = ("+", "-", "−")


class Tick(NamedTuple):
    """What an instrument says at one moment."""

    shape: Shape
    before: bytes
    """Lines ahead of the one with the value."""
    text: str
    spans: dict[str, tuple[int, int]]
    """Where the number of each field stands, and its unit under ``unit`` and its name."""
    true: dict[str, float]

    def data(self, text: str | None = None) -> bytes:
        """Return the bytes, perhaps with another text in place of the line."""
        return self.before + framed(self.shape.frame, self.text if text is None else text)


class _Cell(NamedTuple):
    """A number in a line that is to be written anew."""

    name: str
    field: ShapeField
    span: tuple[int, int]
    unit: str
    places: int = 0
    """Decimals, where the line says in another place how many there are."""
    negative: bool = False
    of: str = ""
    """The field whose value it says once more, in another unit or with a tare."""
    less: float = 0.0
    """What is to be added to that one [the unit]."""


def starts(shape: Shape) -> list[tuple[bytes, str]]:
    """Return the lines with a value that a format may have, and what stands ahead of each."""
    if not shape.sample:
        line = Emitter(shape).line(dict(sample_values(shape)))
        start, end = shape.frame.start.encode("latin-1"), shape.frame.end.encode("latin-1")
        text = line[len(start) : line.rindex(end)].decode(shape.frame.encoding)
        return [(b"", text.removesuffix("\r"))]
    found, before = [], b""
    for sample in shape.sample:
        if sample.gives:
            found.append((before, sample.sent))
            before = b""
        elif not sample.none:
            before += sample_bytes(shape, sample)
    return found


def ticks_of(shape: Shape, start: int, base: int, by: random.Random) -> list[Tick]:
    """Return the lines of an instrument whose values move a little; none if they can't be."""
    before, text = starts(shape)[start]
    step, found = by.choice(STEPS), []
    for n in range(LINES):
        tick = tick_of(shape, before, text, base, n * step + by.choice((-0.1, 0.0, 0.1)))
        if tick is None:
            return []
        found.append(tick)
    return found


def tick_of(shape: Shape, before: bytes, text: str, base: int, moved: float) -> Tick | None:
    """Return a line as in a sample with other values, or None where it has no room for them."""
    if shape.decode == "json":
        return _object(shape, before, text, base, moved)
    prompt = shape.frame.prompt
    bare = text.removeprefix(prompt).lstrip(" ") if prompt else text
    cells = _cells(shape, bare)
    spans, true = {c.name: c.span for c in cells}, {}
    names = [c.name for c in cells if not c.of and not c.name.startswith("unit ")]
    for cell in sorted(cells, key=lambda c: bool(c.of)):
        how = conversion(cell.field.quantity, cell.unit)
        if cell.name.startswith("unit ") or (how is None and cell.of):
            continue
        if how is None:
            return None
        a, b = spans[cell.name]
        if cell.of:
            number = (true[cell.of] - how.offset) / how.factor + cell.less
        else:
            value = BASES[cell.field.quantity][base] + moved + APART * names.index(cell.name)
            size = abs((value - how.offset) / how.factor / cell.field.scale)
            number = -size if cell.negative else size
        put = _number(bare[a:b], number, cell, bare[:a])
        if put is None:
            return None
        new, blanks, said = put
        bare = bare[: a - max(blanks, 0)] + " " * -min(blanks, 0) + new + bare[b:]
        spans = {
            n: (c + len(new) - (b - a) - blanks, d + len(new) - (b - a) - blanks)
            if c >= b
            else (c, d)
            for n, (c, d) in spans.items()
        }
        spans[cell.name] = (a - blanks, a - blanks + len(new))
        if not cell.of:
            true[cell.name] = round(said * cell.field.scale * how.factor + how.offset, 9)
    lead = len(text) - len(text.removeprefix(prompt).lstrip(" ")) if prompt else 0
    kept = {n: (a + lead, b + lead) for n, (a, b) in spans.items() if not n.startswith("=")}
    return Tick(shape, before, text[:lead] + bare, kept, true) if true else None


def _cells(shape: Shape, text: str) -> list[_Cell]:
    """Return the numbers in a line, and the units of fields as cells of their own."""
    for rule in shape.line:
        whole = re.compile(rule.whole or rule.pattern, re.ASCII).fullmatch(text)
        if rule.means != "reading" or whole is None:
            continue
        if rule.each:
            by_key = {f.key or n.upper(): (n, f) for n, f in shape.channel.items()}
            return [
                _Cell(*by_key[m["ch"]], m.span("v"), by_key[m["ch"]][1].sent_unit,
                      negative=m["v"].strip().startswith("-"))
                for m in re.finditer(rule.pattern, text, re.ASCII)
                if m["ch"] in by_key and re.search(r"\d", m["v"] or "")
            ]  # fmt: skip
        return [cell for n, f in shape.channel.items() for cell in _of_field(n, f, whole)]
    return []


def _of_field(name: str, field: ShapeField, line: "re.Match[str]") -> list[_Cell]:
    """Return the number of a field, its unit, and what says it again."""
    said = {group: text or "" for group, text in line.groupdict().items()}
    number = said.get(str(field.group), "")
    if not re.search(r"\d", number):
        return []
    printed = said.get(field.unit_group or "", "").strip()
    unit = field.units.get(printed, printed) or field.sent_unit
    told = said.get(field.places_group or "", "")
    places = field.places.get(told, int(told) if told.isdecimal() else 0)
    negative = number.strip().startswith("-")
    if field.sign_group:
        sign = said.get(field.sign_group, "")
        bit = field.minus_bit
        negative = sign.strip() in field.minus if bit is None else bool(ord(sign or " ") >> bit & 1)
    found = [_Cell(name, field, line.span(str(field.group)), unit, places, negative)]
    if printed:
        found.append(_Cell(f"unit {name}", field, line.span(str(field.unit_group)), unit))
    for terms in map(terms_of, field.equals):
        if all(said.get(t.group) for t in terms):
            first, *rest = terms
            its = (said.get(first.unit) or first.unit).strip()
            less = -sum(t.sign * float(said[t.group].replace(" ", "")) for t in rest)
            span = line.span(first.group)
            found.append(_Cell(f"={name} {its}", field, span, its, of=name, less=less))
    return found


def _number(old: str, number: float, cell: _Cell, ahead: str) -> tuple[str, int, float] | None:
    """Write a number as another one was.

    Returns its text, how many blanks in front it takes, and its value as printed; None where it
    doesn't fit.
    """
    field, old = cell.field, old[::-1] if cell.field.reversed else old
    if "e" in old.lower():
        digits = len(re.split("[eE]", old)[0].partition(".")[2])
        new = f"{number:+.{digits}{'E' if 'E' in old else 'e'}}"
        return (new if old.strip()[0] in "+-" else new.lstrip("+")), 0, float(new)
    decimals = len(re.sub(r"\D", "", old.partition(field.decimal)[2]))
    body = f"{abs(number):.{cell.places if field.places_group else decimals}f}"
    value = float(body) * (-1 if number < 0 else 1)
    body = _dressed(body, field)
    stripped = old.strip()
    sign = stripped[0] if stripped[:1] in SIGNS and (number < 0 or stripped[0] == "+") else ""
    sign = "-" if number < 0 and not sign and not field.sign_group else sign
    rest = stripped[1:] if stripped[:1] in SIGNS else stripped
    head = len(old) - len(old.lstrip(" "))
    if re.match(r"0\d", rest) or (field.width and rest.isdecimal()):
        new = " " * head + sign + body.zfill(len(rest))  # filled with zeros
    elif rest[:1] == " ":
        new = sign + body.rjust(len(old) - len(sign))  # the sign stands in front of the blanks
    elif head:
        new = (sign + body).rjust(len(old))
    else:
        new = sign + body
        blanks, grown = len(ahead) - len(ahead.rstrip(" ")), len(new) - len(old)
        if field.width and len(new) not in field.width:
            return None
        if blanks >= 2:  # a column that is set right
            return (new, grown, value) if grown < blanks - 1 else None
        return (new[::-1] if field.reversed else new), 0, value
    return (new[::-1] if field.reversed else new, 0, value) if len(new) == len(old) else None


def _dressed(body: str, field: ShapeField) -> str:
    """Return digits with what stands in them: brackets, thousands, a comma, or no point."""
    if field.places_group:
        body = body.replace(".", "")
    if "[" in field.without:
        return f"{body[:-1]}[{body[-1]}]"
    front, point, behind = body.partition(".")
    if field.without and len(front) > 3:
        front = front[:-3] + field.without[0] + front[-3:]
    return front + point.replace(".", field.decimal) + behind


def _object(shape: Shape, before: bytes, text: str, base: int, moved: float) -> Tick:
    """Return an object with other values."""
    found, true, spans = json.loads(text), {}, {}
    for at, (name, field) in enumerate(shape.channel.items()):
        *steps, last = str(field.path).split(".")
        here: Any = found
        for step in steps:
            here = here[step]
        key: Any = int(last) if isinstance(here, list) else last
        if here[key] is None or here[key] == -127.0:
            continue
        unit = found[field.unit_group] if field.unit_group else field.sent_unit
        how = conversion(field.quantity, unit)
        assert how is not None
        value = BASES[field.quantity][base] + moved + APART * at
        places = len(repr(here[key]).partition(".")[2])
        here[key] = round((value - how.offset) / how.factor, places)
        true[name] = round(here[key] * how.factor + how.offset, 9)
    text = json.dumps(found, separators=(",", ":"))
    for name, field in shape.channel.items():
        key, _, place = str(field.path).partition(".")
        skip = r"[^,\]]*," * int(place or 0)
        number = re.search(rf'"{key}":\[?{skip}(-?[\d.]+)', text)
        unit = re.search(r'"unit":"(\w+)"', text)
        if number and name in true:
            spans[name] = number.span(1)
        if field.unit_group and unit:
            spans[f"unit {name}"] = unit.span(1)
    return Tick(shape, before, text, spans, true)
