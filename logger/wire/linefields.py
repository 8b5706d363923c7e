"""The fields of a line that fitted: numbers, units, flags, names of values.

Pure; each function here looks at a rule once, when the shape is loaded, and returns the function
that reads each line. Used by ``textline``.
"""

import re
from collections.abc import Callable, Collection
from typing import NamedTuple

from logger.model.reading import Flag
from logger.wire.parsed import (
    EMPTY,
    Note,
    Parsed,
    Value,
    blank_word,
    delay_ns,
    no_value,
)
from logger.wire.series.agreement import agreement_of
from logger.wire.shapes.possible import NO_VALUE, cold_junction_or_none, possible
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import FlagRule, Rule, ShapeField
from logger.wire.units import SAME, Conversion, conversion, converted

Decode = Callable[["re.Match[str]"], Parsed | None]
"""What a match says, or None when a number in it is none."""
Again = Callable[[str], Parsed | None]
"""What a line says that differs from one that fitted in its digits only."""
AgainOf = Callable[["re.Match[str]"], Again | None]
"""Makes that of a match; None where digits decide more than the numbers of the fields."""
DIGITS = frozenset("0123456789")
MAX_NAMES = 256
"""Names of values that a line of named values may bring up in all."""
MAX_CONTEXTS = 1024
UNKNOWN_UNIT = ""
"""Of a line that leaves its unit blank before any line printed one."""
_LARGEST = 1e300
_OUT_OF_RANGE = int(Flag.OUT_OF_RANGE)
_new = tuple.__new__
"""Makes a named tuple in half the time; only where each line passes."""


class _Context(NamedTuple):
    """What the units and flags of a line say; few of them occur, so they are remembered."""

    flags: int
    hows: tuple[Conversion | None, ...]
    """For each field, None where its unit is not known."""
    units: tuple[tuple[str, str], ...]
    net: bool | None
    waits: bool
    """The line leaves its unit blank and none was printed so far: no value."""


def fields_decoder(rule: Rule, shape: Shape, units_shown: dict[str, str]) -> tuple[Decode, AgainOf]:
    """Return what reads a line with a group for each field, and its like.

    Parameters
    ----------
    rule : Rule
        A reading.
    shape : Shape
        Whose fields the groups are.
    units_shown : dict
        Unit that each field's lines printed last; looked at where a line leaves its unit blank.
    """
    groups = re.compile(rule.pattern, re.ASCII).groupindex
    fields = [(n, f) for n, f in shape.channel.items() if f.group in groups]
    readers = [_field_reader(n, f, rule) for n, f in fields]
    texts = [_text_of(f, groups) for _, f in fields]
    plain = not any(f.sign_group or f.places_group or f.without or f.reversed for _, f in fields)
    context_of, context_groups = _context_reader(shape, fields, groups, units_shown)
    value_groups = tuple(str(f.group) for _, f in fields)
    colds = [f.cold_junction for _, f in fields]
    agree = [
        agreement_of(f.quantity, str(f.group), f.unit_group or f.sent_unit, f.equals)
        for _, f in fields
        if f.equals
    ]

    def decode(match: "re.Match[str]") -> Parsed | None:
        if agree and not all(agrees(match.groupdict()) for agrees in agree):
            return None
        context = context_of(match)
        if context.waits:
            return EMPTY
        values, notes = [], []
        for read, text_of, how, cold in zip(readers, texts, context.hows, colds, strict=True):
            cold_c = cold_junction_or_none(_number(match[cold])) if cold is not None else None
            found = read(text_of(match), context.flags, how, cold_c)
            if found is None:
                return None
            values.append(found[0])
            if found[1] is not None:
                notes.append(found[1])
        return Parsed(tuple(values), tuple(notes), context.units, context.net)

    def again_of(match: "re.Match[str]") -> Again | None:
        if not plain or agree:
            return None
        if any(not DIGITS.isdisjoint(match[group] or "") for group in context_groups):
            return None
        context = context_of(match)
        if context.waits:
            return None
        # A group that took no part has the span (-1, -1), which cuts the empty text.
        spans = [match.span(group) for group in value_groups]
        if len(readers) == 1 and colds[0] is None:
            return _one_again(readers[0], spans[0], context)
        cold_spans = [match.span(cold) if cold is not None else None for cold in colds]
        return _all_again(list(zip(readers, spans, context.hows, cold_spans, strict=True)), context)

    return decode, again_of


def _text_of(field: ShapeField, groups: Collection[str]) -> Callable[["re.Match[str]"], str]:
    """Return what puts the number of a field together: its sign, its digits, its point."""
    group = str(field.group)
    sign = field.sign_group if field.sign_group in groups else None
    places = field.places_group if field.places_group in groups else None
    bit, minus = field.minus_bit, frozenset(field.minus)
    without = {ord(character): None for character in field.without}

    def text_of(match: "re.Match[str]") -> str:
        text: str = match[group] or ""
        if without:
            text = text.translate(without)
        if field.reversed:
            text = text[::-1]
        if places is not None:
            said = match[places] or ""
            count = field.places.get(said, int(said) if said.isdecimal() else -1)
            if not 0 <= count < len(text):
                return ""  # no number: the line says what cannot be
            text = f"{text[: len(text) - count]}.{text[len(text) - count :]}" if count else text
        if sign is not None:
            said = match[sign] or ""
            negative = said.strip() in minus if bit is None else bool(ord(said or " ") >> bit & 1)
            text = f"-{text}" if negative else text
        return text

    return text_of


def _one_again(read: "FieldReader", span: tuple[int, int], context: _Context) -> Again:
    """Return what reads the only field of a line, which stands in `span`."""
    start, end = span
    flags, (how,), units, net, _ = context

    def again(text: str) -> Parsed | None:
        found = read(text[start:end], flags, how, None)
        if found is None:
            return None
        value, note = found
        return _new(Parsed, ((value,), () if note is None else (note,), units, net))

    return again


def _all_again(
    parts: "list[tuple[FieldReader, tuple[int, int], Conversion | None, tuple[int, int] | None]]",
    context: _Context,
) -> Again:
    """Return what reads all fields of a line, each with its span and that of a cold junction."""
    flags, _, units, net, _ = context
    places = [(read, *span, how, cold) for read, span, how, cold in parts]

    def again(text: str) -> Parsed | None:
        values, notes = [], []
        for read, start, end, how, cold in places:
            cold_c = None
            if cold is not None:
                cold_c = cold_junction_or_none(_number(text[cold[0] : cold[1]]))
            found = read(text[start:end], flags, how, cold_c)
            if found is None:
                return None
            value, note = found
            values.append(value)
            if note is not None:
                notes.append(note)
        return _new(Parsed, (tuple(values), tuple(notes), units, net))

    return again


def _context_reader(
    shape: Shape,
    fields: list[tuple[str, ShapeField]],
    groups: Collection[str],
    units_shown: dict[str, str],
) -> tuple[Callable[["re.Match[str]"], _Context], list[str]]:
    flags_of = _flags(shape, groups)
    unit_groups = [f.unit_group for _, f in fields]
    net_rule = shape.flag.get("net")
    says_net = net_rule is not None and net_rule.group in groups
    wanted = [g for g in [*unit_groups, *(r.group for r in shape.flag.values())] if g is not None]
    named = sorted({g for g in wanted if g in groups})
    known: dict[object, _Context] = {}

    def make(match: "re.Match[str]") -> _Context:
        flags = flags_of(match)
        hows, shown, waits = [], [], False
        for (name, field), group in zip(fields, unit_groups, strict=True):
            unit = (match[group] or "").strip() if group is not None else ""
            if unit:
                unit = field.units.get(unit, unit)
                shown.append((name, unit))
            elif group and field.unit is None:
                unit = units_shown.get(name, UNKNOWN_UNIT)
            else:
                unit = units_shown.get(name, field.sent_unit) if group else field.sent_unit
            waits |= unit == UNKNOWN_UNIT
            hows.append(conversion(field.quantity, unit))
        net = bool(flags & Flag.NET) if says_net else None
        return _Context(flags, tuple(hows), tuple(shown), net, waits)

    if not named:
        return lambda match: known.get(None) or known.setdefault(None, make(match)), named

    def context_of(match: "re.Match[str]") -> _Context:
        key = match.group(*named)
        context = known.get(key)
        if context is None:
            context = make(match)
            if len(context.units) == sum(g is not None for g in unit_groups):
                known[key] = context  # a blank unit is looked up anew each time
            if len(known) > MAX_CONTEXTS:
                known.clear()
        return context

    return context_of, named


def _number(text: str | None) -> float | None:
    try:
        return float(text or "")
    except ValueError:
        return None


FieldReader = Callable[
    [str, int, Conversion | None, float | None], tuple[Value, Note | None] | None
]


def _field_reader(name: str, field: ShapeField, rule: Rule) -> FieldReader:
    blank = frozenset((*rule.blank, *field.blank))
    sentinel = frozenset((*rule.sentinel, *field.sentinel))
    missing = no_value(name, field, blank_word(field))
    scale, comma = field.scale, field.decimal == ","
    no_value_scaled = NO_VALUE[field.quantity]
    if scale == 1.0:
        sentinel |= no_value_scaled
    low, high = possible(field.quantity, field.range)
    delay, unit_out, width = delay_ns(field), field.unit_out, field.width
    smallest, largest = -_LARGEST, _LARGEST

    def read(
        text: str, flags: int, how: Conversion | None, cold_c: float | None
    ) -> tuple[Value, Note | None] | None:
        if blank and text.strip() in blank:
            return missing
        if width and len(text) not in width:
            return None
        try:
            digits = text.replace(" ", "")
            value = float(digits if not comma else digits.replace(",", "."))
        except ValueError:
            return None
        if how is None or not smallest < value < largest:
            return None
        if value in sentinel:
            return missing
        if scale != 1.0:
            value = round(value * scale, 9)
            if value in no_value_scaled:
                return missing
        if how is not SAME:
            value = converted(value, how)
        if not low <= value <= high:
            flags |= _OUT_OF_RANGE
        return _new(Value, (name, delay, value, unit_out, flags, cold_c)), None

    return read


def each_decoder(rule: Rule, shape: Shape) -> Decode:
    """Return what reads a line of named values.

    A name nobody declared is a field of its own where it differs from a declared one in its number
    only, as T9 from T1; what any other name means is not known, so its number is no value.
    """
    # The line was matched by `whole`; the pattern fits one value of it.
    finditer = re.compile(rule.pattern, re.ASCII).finditer
    by_key = {f.key or n.upper(): (n, f) for n, f in shape.channel.items()}
    readers = {
        key: (_field_reader(n, f, rule), conversion(f.quantity, f.sent_unit))
        for key, (n, f) in by_key.items()
    }

    stems = {
        key.rstrip("0123456789"): name for key, (name, _) in by_key.items() if key[-1:] in DIGITS
    }

    def decode(match: "re.Match[str]") -> Parsed | None:
        values: dict[str, Value] = {}
        notes = []
        for one in finditer(match.string):
            key = one["ch"]
            if key not in readers:
                stem = stems.get(key.rstrip("0123456789"))
                if stem is None or key[-1:] not in DIGITS:
                    continue
                if len(readers) >= MAX_NAMES:
                    return None
                field = shape.channel[stem]
                how = conversion(field.quantity, field.sent_unit)
                readers[key] = (_field_reader(key.lower(), field, rule), how)
            read, how = readers[key]
            found = read(one["v"] or "", 0, how, None)
            if found is None or found[0].field in values:
                return None
            values[found[0].field] = found[0]
            if found[1] is not None:
                notes.append(found[1])
        return Parsed(tuple(values.values()), tuple(notes)) if values else None

    return decode


def _flags(shape: Shape, groups: Collection[str]) -> Callable[["re.Match[str]"], int]:
    tests = []
    for name, rule in shape.flag.items():
        if rule.group not in groups:
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
