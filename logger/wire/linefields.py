"""The fields of a line that fitted: numbers, units, flags, names of values.

Pure; each function here looks at a rule once, when the shape is loaded, and returns the function
that reads each line. Used by ``textline``.
"""

import re
from collections.abc import Callable, Collection
from typing import NamedTuple

from logger.model.reading import Flag
from logger.wire.parsed import (
    Note,
    Parsed,
    Value,
    blank_word,
    delay_ns,
    in_range_flag,
    no_value,
)
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import FlagRule, Rule, ShapeField
from logger.wire.units import SAME, Conversion, conversion, converted

Decode = Callable[["re.Match[str]"], Parsed | None]
"""What a match says, or None when a number in it is none."""
MAX_NAMES = 256
"""Names of values that a line of named values may bring up in all."""
MAX_CONTEXTS = 1024
_LARGEST = 1e300
_new = tuple.__new__
"""Makes a named tuple in half the time; only where each line passes."""


class _Context(NamedTuple):
    """What the units and flags of a line say; few of them occur, so they are remembered."""

    flags: int
    hows: tuple[Conversion | None, ...]
    """For each field, None where its unit is not known."""
    units: tuple[tuple[str, str], ...]
    net: bool | None


def fields_decoder(rule: Rule, shape: Shape, units_shown: dict[str, str]) -> Decode:
    """Return what reads a line with a group for each field.

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
    context_of = _context_reader(shape, fields, groups, units_shown)
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
            cold_c = _number(match[cold]) if cold is not None else None
            found = read(match[group], context.flags, how, cold_c)
            if found is None:
                return None
            values.append(found[0])
            if found[1] is not None:
                notes.append(found[1])
        return Parsed(tuple(values), tuple(notes), context.units, context.net)

    return decode


def _context_reader(
    shape: Shape,
    fields: list[tuple[str, ShapeField]],
    groups: Collection[str],
    units_shown: dict[str, str],
) -> Callable[["re.Match[str]"], _Context]:
    flags_of = _flags(shape, groups)
    unit_groups = [f.unit_group for _, f in fields]
    net_rule = shape.flag.get("net")
    says_net = net_rule is not None and net_rule.group in groups
    wanted = [g for g in [*unit_groups, *(r.group for r in shape.flag.values())] if g is not None]
    named = sorted({g for g in wanted if g in groups})
    known: dict[object, _Context] = {}

    def make(match: "re.Match[str]") -> _Context:
        flags = flags_of(match)
        hows, shown = [], []
        for (name, field), group in zip(fields, unit_groups, strict=True):
            unit = (match[group] or "").strip() if group is not None else ""
            if unit:
                shown.append((name, unit))
            else:
                unit = units_shown.get(name, field.sent_unit) if group else field.sent_unit
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
            if len(known) > MAX_CONTEXTS:
                known.clear()
        return context

    return context_of


def _number(text: str | None) -> float | None:
    try:
        return float(text or "")
    except ValueError:
        return None


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


def each_decoder(rule: Rule, shape: Shape) -> Decode:
    """Return what reads a line of named values; a name nobody declared is a field of its own."""
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
