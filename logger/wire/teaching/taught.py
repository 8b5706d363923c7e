"""A line format from lines and from what somebody said of them, tried before it is given.

Pure. The format is written as a file would hold it, read again, and must read its own samples and
every line it was made from, and be claimed for them: one that cannot record is never proposed.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import tomli_w

from logger.model.bench import PortSettings
from logger.model.errors import InputError
from logger.model.reading import RawReading
from logger.wire.reader import LineReader
from logger.wire.recognise import recognise
from logger.wire.samples import wrong_samples
from logger.wire.shapes.possible import says_no_value
from logger.wire.shapes.shape import Shape, shapes_from_text
from logger.wire.shapes.tables import PortLine
from logger.wire.teaching.checked import checked_of
from logger.wire.teaching.lines import Sorted, refuse_zeros, sorted_lines
from logger.wire.teaching.marks import Marks, shown_of
from logger.wire.teaching.pattern import Column, pattern_of, unit_place
from logger.wire.teaching.quantities import refuse_other_units
from logger.wire.teaching.tokens import BLANKS, Token, key_of, numbers_at
from logger.wire.units import conversion, converted, quantity_of

LEAST = 3
"""Lines with a value before they are a format."""
MOST_RULES = 12
MOST_SAMPLES = 3
SENTINELS = (-127.0,)
"""What a 1-wire probe reports where there is none [degC]; common practice, no source."""
POWER_ON = 85.0
"""What a 1-wire probe reports before its first conversion [degC]."""
CLOSE = 1e-6
_BELOW_ONE = re.compile(rb"(?<![\d.,])0\.\d")
"""A weight below 1 says that the point is a decimal one."""


class Taught(NamedTuple):
    """A line format that reads its lines."""

    name: str
    text: str
    """The file."""
    shape: Shape
    fields: tuple[str, ...]
    read: int
    """Lines that it reads."""
    passed: int
    """Lines that give no value."""
    says: str
    """For a person: how many lines are read, and what becomes of check digits."""


def cut_lines(heard: bytes) -> tuple[list[bytes], str]:
    """Cut what was heard into whole lines, and return how they end.

    Raises
    ------
    InputError
        If there are no ends of lines.
    """
    for end in (b"\n", b"\r", b"\x03"):
        pieces = heard.split(end)
        if len(pieces) > LEAST:
            lines = [piece.rstrip(b"\r").lstrip(b"\x00\x02\r") for piece in pieces[1:-1]]
            return [line for line in lines if line.strip()], end.decode("ascii")
    raise InputError("lines", "too few whole lines were heard", "wait for more, or check the speed")


def taught(heard: bytes, marks: Marks, *, name: str, port: PortLine | None = None) -> Taught:
    """Make a line format.

    Parameters
    ----------
    heard : bytes
        As it came; the first line may be half a line.
    marks : Marks
        What somebody said of the lines.
    name : str
        Name of the format.
    port : PortLine, optional
        Settings of the line that it was heard at.

    Raises
    ------
    InputError
        If nothing certain can be made of it; says what to do.
    """
    raw, end = cut_lines(heard)
    checked = checked_of(raw)
    lines, encoding = _decoded(checked.bodies)
    found = sorted_lines(lines, marks)
    refuse_zeros(found, marks)
    unit = _unit(found, marks)
    table = _table(found, marks, unit, encoding, end, port)
    table["frame"] |= {"check": checked.check} if checked.check != "none" else {}
    for rule in table["line"]:
        rule["pattern"] += checked.behind
    fields = tuple(table["channel"])
    wanted = [
        _values(found, at, unit, marks) if kind == "reading" else {}
        for at, kind in enumerate(found.classes)
    ]
    whole = _decoded(raw)[0] if checked.unknown else lines
    table["sample"] = _samples(whole, found, wanted)
    text = tomli_w.dumps({"shape": {name: table}})
    shape = _read_again(text, name)
    _try(shape, heard, raw, wanted, found)
    read = sum(kind == "reading" for kind in found.classes)
    passed = len(lines) - read
    says = f"it reads {read} of these lines; {passed} give no value. {checked.says}".strip()
    if found.codes and passed:
        codes = " and ".join(dict.fromkeys(found.codes))
        says += (
            f" Only lines with {codes} as shown are read: nobody said what another number means."
        )
    return Taught(name, text, shape, fields, read, passed, says)


def _read_again(text: str, name: str) -> Shape:
    """Return the format that a text holds.

    Raises
    ------
    InputError
        If it holds none, in words of the lines, as nobody has seen the text.
    """
    try:
        return shapes_from_text(text, name)[name]
    except InputError as cause:
        raise InputError(
            "lines", "no line format can be made of them", "write it by hand; see hardware_notes.md"
        ) from cause


def _decoded(raw: Sequence[bytes]) -> tuple[list[str], str]:
    try:
        return [line.decode("utf-8") for line in raw], "utf-8"
    except UnicodeDecodeError:
        return [line.decode("latin-1") for line in raw], "latin-1"


def _unit(found: Sorted, marks: Marks) -> str:
    """Return the unit of numbers that come without one; empty where the lines print it."""
    said = {shown.unit for shown in map(shown_of, marks.shown) if shown.unit} | (
        {marks.unit} if marks.unit else set()
    )
    if marks.unit and quantity_of(marks.unit) is None:
        raise InputError("unit", repr(marks.unit[:20]), "give degC, degF, g, kg, lb or oz")
    model = found.tokens[found.places[0].line]
    printed = {
        model[at].text if (at := unit_place(model, _token_of(model, place.number))) >= 0 else ""
        for place in found.places
    }
    refuse_other_units(found, said)
    if len(printed) > 1:
        raise InputError("lines", "only some of the numbers have a unit", "teach one at a time")
    unit = printed.pop()
    if not unit and len(said) != 1:
        raise InputError("unit", "the lines print none", "say which: degC, degF, g, kg, lb or oz")
    if unit and any(_how(one) != _how(unit) for one in said):
        raise InputError("unit", f"the lines say {unit}", "say the same, or leave it out")
    for word in [] if unit else [token.text for token in model if token.kind == "word"]:
        other = next(iter(said))
        if quantity_of(word) == quantity_of(other) and _how(word) != _how(other):
            raise InputError("unit", f"a word in the lines is {word}, not {other}", "say the same")
    return "" if unit else said.pop()


def _how(unit: str) -> object:
    quantity = quantity_of(unit)
    return quantity, conversion(quantity or "mass", unit)


def _token_of(tokens: Sequence[Token], number: int) -> int:
    return numbers_at(tokens)[number]


def _names(found: Sorted, unit: str) -> list[str]:
    model = found.tokens[found.places[0].line]
    printed = unit or model[unit_place(model, _token_of(model, found.places[0].number))].text
    if quantity_of(printed) == "mass":
        return ["mass", *(f"mass{n}" for n in range(2, len(found.places) + 1))]
    return [f"t{n}" for n in range(1, len(found.places) + 1)]


def _table(
    found: Sorted, marks: Marks, unit: str, encoding: str, end: str, port: PortLine | None
) -> dict[str, Any]:
    groups: dict[tuple[object, ...], list[int]] = {}
    signs = {place.sign for place in found.places}
    for at, (tokens, kind) in enumerate(zip(found.tokens, found.classes, strict=True)):
        key = tuple("sign" if i in signs else k for i, k in enumerate(key_of(tokens)))
        groups.setdefault((kind, key), []).append(at)
    if len(groups) > MOST_RULES:
        raise InputError(
            "lines", f"{len(groups)} different kinds of lines", "too many to learn from; set the "
            "instrument to print plain readings"
        )  # fmt: skip
    names = _names(found, unit)
    mass = names[0] == "mass"
    widths: dict[str, set[int | None]] = {name: set() for name in names}
    rules = []
    for kind in ("missing", "reading", "other"):
        for (one, _), members in groups.items():
            if one == kind:
                rules.append(_rule(found, marks, kind, members, names, widths, mass))
    width = {name: all_[0] for name, one in widths.items() if len(all_ := list(one)) == 1}
    channel = {
        name: _channel(name, found, n, unit, mass, width.get(name)) for n, name in enumerate(names)
    }
    table: dict[str, Any] = {"says": "taught from its lines", "source": "taught from its lines"}
    settings = port.model_dump(by_alias=True, exclude_defaults=True) if port is not None else {}
    if settings:
        table["port"] = settings
    longest = max(sum(len(t.text) for t in tokens) for tokens in found.tokens)
    frame: dict[str, Any] = {"end": end, "max": max(40, 2 * longest), "encoding": encoding}
    if any(not t.text.isprintable() and t.text.strip() for line in found.tokens for t in line):
        frame["control"] = True
    table |= {"frame": frame, "channel": channel, "line": rules}
    if marks.moving:
        table["flag"] = {
            "stable": {"group": "st", "true": ["", *found.steady], "false": list(marks.moving)}
        }
    return table


def _rule(
    found: Sorted,
    marks: Marks,
    kind: str,
    members: Sequence[int],
    names: Sequence[str],
    widths: Mapping[str, set[int | None]],
    mass: bool,
) -> dict[str, Any]:
    lines = [found.tokens[at] for at in members]
    model = lines[0]
    if kind != "reading":
        means = "ignore" if kind == "other" else "error" if mass else "open"
        return {"means": means, "pattern": pattern_of(lines, {}, {}, found.writing).pattern}
    columns, named = {}, {}
    for n, (name, place) in enumerate(zip(names, found.places, strict=True)):
        at = _token_of(model, place.number)
        unit_at = unit_place(model, at)
        columns[at] = Column(name, f"u{n}", unit_at, place.reversed, place.sign is not None)
        if place.sign is not None:
            named[place.sign] = "sign"
    state = (*marks.moving, *found.steady)
    states = [i for i, t in enumerate(model) if t.text in state and t.kind in ("word", "mark")]
    if marks.moving and states:
        named[states[0]] = "st"
    blank = sorted(
        ({t.text.strip() for line in lines for t in line} | marks.missing_words) & set(BLANKS)
    )
    made = pattern_of(lines, columns, named, found.writing, blank, found.codes)
    for name in names:
        widths[name].add(made.widths.get(name))
    pattern = made.pattern + ("(?P<st>)" if marks.moving and not states else "")
    rule: dict[str, Any] = {"means": "reading", "pattern": pattern}
    if blank:
        rule["blank"] = blank
    sentinel = sorted({*marks.missing_numbers, *(() if mass else SENTINELS)})
    rule |= {"sentinel": sentinel} if sentinel else {}
    if not mass:
        rule["power_on"] = [POWER_ON]
    return rule


def _channel(
    name: str, found: Sorted, n: int, unit: str, mass: bool, width: int | None
) -> dict[str, Any]:
    place = found.places[n]
    quantity = "mass" if mass else "temperature"
    channel: dict[str, Any] = {"group": name, "quantity": quantity}
    channel |= {"unit": unit} if unit else {"unit_group": f"u{n}"}
    if place.sign is not None:
        channel["sign_group"] = "sign"
    if place.reversed:
        channel["reversed"] = True
    if place.scale != 1.0:
        channel["scale"] = place.scale
    if found.writing.comma:
        channel["decimal"] = ","
    if width is not None:
        channel["width"] = [width]
    return channel


def _values(found: Sorted, at: int, unit: str, marks: Marks) -> dict[str, float | None]:
    """Return what a line says, read without any pattern."""
    tokens = found.tokens[at]
    values: dict[str, float | None] = {}
    for name, place in zip(_names(found, unit), found.places, strict=True):
        index = _token_of(tokens, place.number)
        token = tokens[index]
        number = Token("number", token.text[::-1]).number if place.reversed else token.number
        if number is not None and place.sign is not None and tokens[place.sign].text == "-":
            number = -number
        printed = unit or tokens[unit_place(tokens, index)].text
        quantity = quantity_of(printed) or "temperature"
        how = conversion(quantity, printed)
        scaled = None if number is None else round(number * place.scale, 9)
        if scaled is not None and says_no_value(scaled, quantity):
            scaled = None
        if number in marks.missing_numbers or (quantity == "temperature" and number in SENTINELS):
            scaled = None
        values[name] = None if scaled is None or how is None else converted(scaled, how)
    return values


def _samples(
    lines: Sequence[str], found: Sorted, wanted: Sequence[Mapping[str, float | None]]
) -> list[dict[str, Any]]:
    first = found.places[0].line
    order = sorted(range(len(lines)), key=lambda at: (at != first, at))
    seen: list[dict[str, Any]] = []
    for at in order:
        values = wanted[at]
        if not values or POWER_ON in values.values() or len(seen) >= MOST_SAMPLES:
            continue
        gives = {name: value for name, value in values.items() if value is not None}
        gone = [name for name, value in values.items() if value is None]
        sample = {"sent": lines[at], "gives": gives} | ({"none": gone} if gone else {})
        if sample not in seen:
            seen.append(sample)
    return seen


def _try(
    shape: Shape,
    heard: bytes,
    raw: Sequence[bytes],
    wanted: Sequence[Mapping[str, float | None]],
    found: Sorted,
) -> None:
    """Refuse a format that reads a line otherwise than it was read by hand, or that is not claimed.

    Raises
    ------
    InputError
        If it does.
    """
    whole = sum(any(v is not None for v in values.values()) for values in wanted)
    if whole < LEAST and found.changing:
        raise InputError(
            "lines",
            "a word or code beside the value is another one from line to line",
            "set the instrument to print one thing, or write a line format; see hardware_notes.md",
        )
    if whole < LEAST:
        raise InputError(
            "lines", f"{whole} of them have the value", f"listen until there are {LEAST}"
        )
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.reset(-1_000_000_000)
    end = shape.frame.end.encode("latin-1")
    wrong = wrong_samples(shape)
    for line, values, kind in zip(raw, wanted, found.classes, strict=True):
        out = [o for o in reader.feed(line + end, 0) if isinstance(o, RawReading)]
        read = {o.field: o.value for o in out}
        if kind != "reading" and all(value is None for value in read.values()):
            continue
        same = read.keys() == values.keys() and all(
            _close(read[name], value) for name, value in values.items()
        )
        if not same:
            wrong.append(f"{line!r} gives {read or 'nothing'}, not {dict(values)}")
    found_again = recognise(heard, {shape.name: shape})
    if any(match.doubt == "in turn" for match in found_again):
        raise InputError(
            "lines",
            "one place shows several things in turn, such as one probe after the other",
            "write a line format that tells them apart; see hardware_notes.md",
        )
    if wrong:
        raise InputError("lines", wrong[0], "write the line format by hand")
    unsure = any(match.doubt == "thousands" for match in found_again)
    if unsure and not any(_BELOW_ONE.search(line) for line in raw):
        raise InputError(
            "lines",
            "the point of the weights may stand between thousands",
            "show a weight below 1 g, or set the instrument to fewer decimals",
        )
    passed = ("thousands", "beside")  # codes beside the value stay as they were shown
    known = [m._replace(doubt="") if m.doubt in passed else m for m in found_again]
    if not any(match.claimed for match in known):
        raise InputError("lines", "too few of them are alike", "listen longer, or write it by hand")


def _close(read: float | None, wanted: float | None) -> bool:
    if read is None:
        return wanted is None or wanted == POWER_ON or re.match("85", f"{wanted:g}") is not None
    return wanted is not None and abs(read - wanted) <= CLOSE
