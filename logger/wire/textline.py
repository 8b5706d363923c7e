"""One line of text to values, by the patterns of its shape.

Pure and stateless but for one thing: while a scale leaves its unit blank, the unit it printed last
holds. Only a line that fits a rule from its first to its last character says anything.
"""

import re
from collections.abc import Callable
from typing import NamedTuple

from logger.model.reading import Flag
from logger.wire.parsed import (
    EMPTY,
    Note,
    Parsed,
    Value,
    blank_word,
    delay_ns,
    in_range_flag,
    no_value,
)
from logger.wire.pattern import first_symbols
from logger.wire.shape import FlagRule, Rule, Shape, ShapeField
from logger.wire.units import SAME, Conversion, conversion, converted

Decode = Callable[["re.Match[str]"], Parsed | None]
_Compiled = tuple[Callable[[str], "re.Match[str] | None"], tuple[int, ...], Decode, int]
"""Matcher, widths, decoder and first symbols of a rule."""

_WHOLE_LINE = {
    "overload": Flag.OVER,
    "underload": Flag.UNDER,
    "open": Flag.OPEN,
    "error": Flag.FAULT,
}
"""Rules whose lines leave the fields without a value."""
_TEXT = {
    "overload": "over the instrument's range",
    "underload": "under the instrument's range",
    "open": "open probe",
}
CACHE_SIZE = 4096
"""Lines whose meaning is remembered; a bench repeats itself."""
_LARGEST = 1e300
_new = tuple.__new__
"""Makes a named tuple in half the time; only where each line passes."""
UNKNOWN = Parsed((), (Note("unknown", None, ""),))
"""A line whose meaning is not remembered."""
MAX_NAMES = 256
"""Names of values that a line of named values may bring up in all."""


class TextDecoder:
    """Reads lines by the rules of one shape."""

    def __init__(self, shape: Shape) -> None:
        self._control = shape.frame.control
        self._rules: list[_Compiled] = [
            (
                re.compile((r.whole or "") if r.each else r.pattern, re.ASCII).fullmatch,
                r.width,
                _decoder(r, shape, self),
                first_symbols((r.whole or "") if r.each else r.pattern),
            )
            for r in shape.line
        ]
        self._by_first: dict[str, list[_Compiled]] = {}
        self._units_seen: tuple[tuple[str, str], ...] = ()
        self.unit_shown: dict[str, str] = {}
        """Unit that a field's lines printed last."""
        self._known: dict[bytes, Parsed | None] = {}

    def reset(self) -> None:
        """Forget the units printed: another instrument may answer now."""
        self.unit_shown.clear()
        self._units_seen = ()
        self._known.clear()

    def decode(self, line: bytes) -> Parsed | None:
        """Return what a line says, or None when it fits no rule."""
        known: Parsed | None = self._known.get(line, UNKNOWN)
        if known is not UNKNOWN:
            return known
        try:
            text = line.decode()
        except UnicodeDecodeError:
            return None
        if not (text.isprintable() or self._control or text.replace("\t", " ").isprintable()):
            return None
        if not text or text.isspace():
            return EMPTY
        rules = self._by_first.get(text[0])
        if rules is None:
            rules = self._rules_for(text[0])
        parsed = None
        for fullmatch, width, decode, _ in rules:
            match = fullmatch(text)
            if match is not None and (not width or len(text) in width):
                parsed = decode(match)
                break
        if parsed is not None and parsed.units is not self._units_seen:
            self._see_units(parsed.units)
        if len(self._known) >= CACHE_SIZE:
            self._known.clear()
        self._known[line] = parsed
        return parsed

    def _see_units(self, units: tuple[tuple[str, str], ...]) -> None:
        # What is remembered of lines with a blank unit holds for one unit only.
        for field, unit in units:
            if self.unit_shown.get(field) != unit:
                self._known.clear()
                self.unit_shown[field] = unit
        self._units_seen = units

    def _rules_for(self, first: str) -> list["_Compiled"]:
        if len(self._by_first) >= MAX_NAMES:
            self._by_first.clear()
        rules = [r for r in self._rules if _may(first, r[3])]
        self._by_first[first] = rules
        return rules


def _may(first: str, symbols: int) -> bool:
    return bool(symbols >> min(ord(first), 128) & 1)


def _decoder(rule: Rule, shape: Shape, owner: TextDecoder) -> Decode:
    if rule.means == "reading":
        return _each(rule, shape) if rule.each else _fields(rule, shape, owner)
    if rule.means == "ignore":
        return lambda match: EMPTY
    names = [rule.field] if rule.field else list(shape.channel)
    flag = _WHOLE_LINE.get(rule.means)
    values = tuple(
        Value(n, delay_ns(shape.channel[n]), None, shape.channel[n].unit_out, int(flag), None)
        for n in names
        if flag is not None
    )
    field = rule.field or (names[0] if len(names) == 1 and flag is not None else None)

    def decode(match: "re.Match[str]") -> Parsed:
        text = _TEXT.get(rule.means) or match[0].strip()
        return Parsed(values, (Note(rule.means, field, text),))

    return decode


class _Context(NamedTuple):
    """What the units and flags of a line say; few of them occur, so they are remembered."""

    flags: int
    hows: tuple[Conversion | None, ...]
    """For each field, None where its unit is not known."""
    units: tuple[tuple[str, str], ...]
    net: bool | None


def _fields(rule: Rule, shape: Shape, owner: TextDecoder) -> Decode:
    groups = re.compile(rule.pattern, re.ASCII).groupindex
    fields = [(n, f) for n, f in shape.channel.items() if f.group in groups]
    readers = [_field_reader(n, f, rule) for n, f in fields]
    context_of = _context_reader(shape, fields, groups, owner)
    value_groups = tuple(str(f.group) for _, f in fields)
    cold_groups = tuple(f.cold_junction for _, f in fields if f.cold_junction)

    if len(readers) == 1 and not cold_groups:
        read_one, group = readers[0], value_groups[0]

        def decode_one(match: "re.Match[str]") -> Parsed | None:
            flags, hows, units, net = context_of(match)
            found = read_one(match[group], flags, hows[0], None)
            if found is None:
                return None
            value, note = found
            return _new(Parsed, ((value,), () if note is None else (note,), units, net))

        return decode_one

    colds = [f.cold_junction for _, f in fields]

    def decode(match: "re.Match[str]") -> Parsed | None:
        context = context_of(match)
        values, notes = [], []
        for read, group, how, cold in zip(readers, value_groups, context.hows, colds, strict=True):
            cold_c = float(match[cold]) if cold is not None and match[cold] else None
            found = read(match[group], context.flags, how, cold_c)
            if found is None:
                return None
            values.append(found[0])
            if found[1] is not None:
                notes.append(found[1])
        return Parsed(tuple(values), tuple(notes), context.units, context.net)

    return decode


def _context_reader(
    shape: Shape, fields: list[tuple[str, ShapeField]], groups: object, owner: TextDecoder
) -> Callable[["re.Match[str]"], _Context]:
    flags_of = _flags(shape, groups)
    unit_groups = [f.unit_group for _, f in fields]
    net_rule = shape.flag.get("net")
    says_net = net_rule is not None and net_rule.group in groups  # type: ignore[operator]
    wanted = [g for g in [*unit_groups, *(r.group for r in shape.flag.values())] if g is not None]
    named = sorted({g for g in wanted if g in groups})  # type: ignore[operator]
    known: dict[object, _Context] = {}

    def make(match: "re.Match[str]") -> _Context:
        flags = flags_of(match)
        hows, shown = [], []
        for (name, field), group in zip(fields, unit_groups, strict=True):
            unit = (match[group] or "").strip() if group is not None else ""
            if unit:
                shown.append((name, unit))
            else:
                unit = owner.unit_shown.get(name, field.sent_unit) if group else field.sent_unit
            hows.append(conversion(field.quantity, unit))
        net = bool(flags & Flag.NET) if says_net else None
        return _Context(flags, tuple(hows), tuple(shown), net)

    if not named:
        return lambda match: known.get(None) or known.setdefault(None, make(match))

    def context_of(match: "re.Match[str]") -> _Context:
        key = match.group(*named)
        context = known.get(key)
        if context is None:
            context = make(match)
            if len(context.units) == sum(g is not None for g in unit_groups):
                known[key] = context  # a blank unit is looked up anew each time
            if len(known) > CACHE_SIZE:
                known.clear()
        return context

    return context_of


FieldReader = Callable[
    [str | None, int, Conversion | None, float | None], tuple[Value, Note | None] | None
]


def _field_reader(name: str, field: ShapeField, rule: Rule) -> FieldReader:
    blank = frozenset((*rule.blank, *field.blank))
    sentinel = frozenset((*rule.sentinel, *field.sentinel))
    missing = no_value(name, field, blank_word(field))
    scale, comma, bounded = field.scale, field.decimal == ",", field.range is not None
    delay, unit_out, width = delay_ns(field), field.unit_out, field.width

    def read(
        text: str | None, flags: int, how: Conversion | None, cold_c: float | None
    ) -> tuple[Value, Note | None] | None:
        text = text or ""
        if blank and text.strip() in blank:
            return missing
        if width and len(text) not in width:
            return None
        try:
            value = float(text.replace(" ", "") if not comma else text.replace(",", "."))
        except ValueError:
            return None
        if how is None or not -_LARGEST < value < _LARGEST:
            return None
        if value in sentinel:
            return missing
        if scale != 1.0:
            value = round(value * scale, 9)
        if how is not SAME:
            value = converted(value, how)
        if bounded:
            flags |= in_range_flag(value, field)
        return _new(Value, (name, delay, value, unit_out, flags, cold_c)), None

    return read


def _each(rule: Rule, shape: Shape) -> Decode:
    # The line was matched by `whole`; the pattern fits one value of it.
    finditer = re.compile(rule.pattern, re.ASCII).finditer
    by_key = {f.key or n.upper(): (n, f) for n, f in shape.channel.items()}
    readers = {
        key: (_field_reader(n, f, rule), conversion(f.quantity, f.sent_unit))
        for key, (n, f) in by_key.items()
    }

    def decode(match: "re.Match[str]") -> Parsed | None:
        values: dict[str, Value] = {}
        notes = []
        for one in finditer(match.string):
            key = one["ch"]
            if key not in readers:
                if len(readers) >= MAX_NAMES:
                    return None
                readers[key] = (_field_reader(key.lower(), ShapeField(), rule), SAME)
            read, how = readers[key]
            found = read(one["v"], 0, how, None)
            if found is None or found[0].field in values:
                return None
            values[found[0].field] = found[0]
            if found[1] is not None:
                notes.append(found[1])
        return Parsed(tuple(values.values()), tuple(notes)) if values else None

    return decode


def _flags(shape: Shape, groups: object) -> Callable[["re.Match[str]"], int]:
    tests = []
    for name, rule in shape.flag.items():
        if rule.group not in groups:  # type: ignore[operator]
            continue
        yes, no = (Flag.STABLE, Flag.UNSTABLE) if name == "stable" else (Flag.NET, Flag.NONE)
        tests.append((rule.group, _holds(rule), int(yes), int(no)))

    def flags(match: "re.Match[str]") -> int:
        found = 0
        for group, holds, yes, no in tests:
            found |= yes if holds(match[group] or "") else no
        return found

    return flags


def _holds(rule: FlagRule) -> Callable[[str], bool]:
    if rule.bit is not None:
        bit, when = rule.bit, rule.when
        return lambda text: len(text) == 1 and (ord(text) >> bit & 1) == when
    true = {text.strip() for text in rule.true}
    return lambda text: text.strip() in true
