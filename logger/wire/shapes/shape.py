"""What a line of an instrument looks like: one TOML table per line format.

Pure data, validated. ``reader`` reads bytes by it, ``emit`` writes bytes by it, ``ports`` opens and
asks by it. The tables::

    [shape."a name"]
    says = "one sentence for a person"
    decode = "lines" | "json" | "modbus" | "binary"
    port = { baud, bits, parity, stop, dtr, rts, settle }    # settle: seconds a board boots
    frame = { end, start, max, check, control, encoding, prompt, size }   # size: of binary frames
    ask = "none" | { send, every, timeout, init, then }
    begin = ["..."]                                           # sent once; it speaks by itself then
    device, every, timeout, transmission = "rtu" | "ascii"    # of registers (Modbus)
    identify = { send, pattern, timeout }                     # the reply must fit the pattern
    expect = { rate, silent_after, stuck_after }
    columns = { count, prefix, separator, cell, ... }         # a list of n like cells, spelled out
    unsaid = [unit, ...]                                      # units that the lines do not say
    counter = "group"               # holds a running number; a channel number is another format
    companions = ["...", ...]       # one of them is in the lines beside, or the format is another
    known_only = true               # an object with a key that nobody knows gives no value
    constant = "pattern"            # what it fits in a line stays as it was first, or no value
    whole = true                    # weights have no decimals: 1.488 g gives no value
    factors = [1, 0.1, 0.01]        # of whole numbers in registers, where the device does not say
    source = "where the format is published, or: from memory"
    sample = [{ sent, gives, none, says }, ...]               # lines, and what they must give
    [[shape."a name".line]]      # the first that fits the whole line counts
    means, pattern, whole, each, join, width, blank, sentinel, power_on, field, write
    [shape."a name".channel.X]
    group | path | register, device | key, quantity, unit, unit_group, units, sign_group, minus,
    minus_bit, places_group, places, without, reversed, scale, equals, cold_junction, fault, faults,
    fault_as, range, delay, blank, sentinel, decimal, width, table, as, words, write
    at, bytes, order, state_at, over_bit, places_at           # in binary frames, bytes from 0
    [shape."a name".flag.stable]  # or flag.net
    group, true, false | bit, when

Beyond the plain schema of named groups stand: ``write`` (how the virtual bench prints it),
``width`` (exact lengths of a line or a number, for fixed columns), ``columns``, ``identify``,
``key`` (name before the value in a line of named values), ``bit`` (one bit of a status character),
``faults`` (what a fault number means), ``settle``, ``control`` (lines may hold control characters),
``prompt`` (taken off a line), ``power_on`` (what a sensor reports before it measured), ``unsaid``:
lines without a unit fit one format for each unit they may be in, named after the first, as in
``"comma list of 1 probe, degF"``; a person says which it is.
"""

import difflib
import re
from functools import cache
from importlib import resources
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, ValidationError, model_validator

from logger.model.errors import InputError
from logger.model.files import table_of
from logger.model.written import Written
from logger.wire.shapes.columns import spelled_out
from logger.wire.shapes.pattern import PatternTooWildError, check_pattern
from logger.wire.shapes.tables import (
    FAR,
    Ask,
    Expect,
    FlagRule,
    Frame,
    Identify,
    PortLine,
    Rule,
    Sample,
    Seconds,
    ShapeField,
)
from logger.wire.units import conversion, quantity_of

FULL_OF_NINES = 9999.0


class Shape(Written):
    """One line format."""

    name: str
    says: str = ""
    decode: Literal["lines", "json", "modbus", "binary"] = "lines"
    port: PortLine = PortLine()
    frame: Frame = Frame()
    ask: Ask | Literal["none"] = "none"
    begin: tuple[str, ...] = ()
    """Sent once after opening, to an instrument that speaks by itself from then on."""
    identify: Identify | None = None
    expect: Expect = Expect()
    line: tuple[Rule, ...] = ()
    channel: dict[str, ShapeField] = Field(default_factory=dict)
    flag: dict[Literal["stable", "net"], FlagRule] = Field(default_factory=dict)
    unsaid: tuple[str, ...] = ()
    """Units that the numbers may be in, where the lines do not say: the first is the format's own,
    each other one makes a format of its own."""
    companions: tuple[str, ...] = ()
    """One of these stands in lines that come with the readings; without it another instrument
    speaks."""
    counter: str = ""
    """Group of a running number. Where it holds a few numbers in turn, they are channels or codes,
    and another instrument speaks."""
    constant: str = ""
    """Pattern of what stays the same in all lines, such as a letter before the number; a line with
    another gives no value."""
    whole: bool = False
    """Weights came without decimals: a point before three digits stands between thousands."""
    known_only: bool = False
    """An object gives no value where a key beside the values is none that is known to leave them
    readings."""
    factors: tuple[float, ...] = ()
    """What whole numbers in registers may be multiplied by, where the device does not say."""
    source: str = ""
    sample: tuple[Sample, ...] = ()
    like: str = ""
    """The format that this one differs from in its unit only."""
    device: int = Field(default=1, ge=1, le=247)
    transmission: Literal["rtu", "ascii"] = "rtu"
    """How registers are sent: as bytes, or as hex digits between a colon and a line end."""
    every_s: Annotated[Seconds, Field(alias="every")] = 0.5
    timeout_s: Annotated[Seconds, Field(alias="timeout")] = 0.3

    @model_validator(mode="after")
    def _whole(self) -> "Shape":
        if self.decode == "lines":
            _check_rules(self)
        elif self.decode == "binary":
            _check_bytes(self)
        else:
            key = "path" if self.decode == "json" else "register"
            attribute = "path" if self.decode == "json" else "register_"
            if not self.channel:
                raise ValueError("no channel; add at least one")
            for name, field in self.channel.items():
                if getattr(field, attribute) is None:
                    raise ValueError(f"channel.{name} has no {key}; a {self.decode} shape needs it")
                far = abs(field.fault - (field.register_ or 0)) if type(field.fault) is int else 0
                if far > FAR:
                    raise ValueError(
                        f"channel.{name}: its status register lies {far} from its value; "
                        f"one request reads 125 registers, so at most {FAR}"
                    )
        if self.frame.check in ("xor", "sum") and not self.frame.start:
            raise ValueError(f"frame.check {self.frame.check!r} needs frame.start; add it")
        for unit in self.unsaid:
            if quantity_of(unit) is None:
                raise ValueError(f"unsaid: {unit!r} is not a unit of mass or temperature")
        for name, field in self.channel.items():
            if conversion(field.quantity, field.sent_unit) is None:
                raise ValueError(
                    f"channel.{name}: unit {field.sent_unit!r} is not a unit of {field.quantity}"
                )
        return self

    def in_unit(self, unit: str) -> "Shape":
        """Return the format whose numbers are in one of the units that the lines do not say."""
        quantity = quantity_of(unit)
        first = unit == self.unsaid[0]
        channel = {
            name: field.model_copy(
                update={
                    "unit": unit,
                    "quantity": quantity,
                    "range": field.range if quantity == field.quantity else None,
                }
            )
            for name, field in self.channel.items()
        }
        line = self.line if quantity == "temperature" else tuple(map(_of_a_scale, self.line))
        return self.model_copy(
            update={
                "line": line,
                "name": self.name if first else f"{self.name}, {unit}",
                "says": f"{self.says}, in {unit}",
                "like": "" if first else self.name,
                "channel": channel,
            }
        )

    @property
    def asks(self) -> bool:
        """True when the instrument speaks only when asked."""
        return self.ask != "none" or self.decode == "modbus"

    @property
    def patterns(self) -> list[str]:
        """All patterns of the shape, to be tried on hostile lines."""
        found = [p for rule in self.line for p in (rule.pattern, rule.whole) if p]
        found += [self.constant] if self.constant else []
        return found + ([self.identify.pattern] if self.identify else [])


def _of_a_scale(rule: Rule) -> Rule:
    # What a thermometer prints for no value is a weight on a scale, but for a row of nines.
    sentinel = tuple(number for number in rule.sentinel if abs(number) >= FULL_OF_NINES)
    return rule.model_copy(update={"sentinel": sentinel, "power_on": ()})


def _check_bytes(shape: Shape) -> None:
    size, check = shape.frame.size, shape.frame.check
    checked = check in ("xor", "sum")
    if not shape.frame.start or not size or not shape.channel:
        raise ValueError("binary frames need frame.start, frame.size and a channel; add them")
    if check != "none" and not checked:
        raise ValueError(f"frame.check {check!r} is none of a binary frame; write xor or sum")
    if not checked and not all(f.as_ == "bcd" for f in shape.channel.values()):
        raise ValueError('binary numbers need frame.check = "xor" or "sum": else noise passes')
    last = size - 1 if checked else size
    for name, field in shape.channel.items():
        if field.at is None or field.at + field.bytes_ > last:
            raise ValueError(f"channel.{name}: at + bytes are outside the frame's {last} bytes")
        if field.as_ != "bcd" and field.bytes_ != (2 if field.as_.endswith("16") else 4):
            raise ValueError(f"channel.{name}: {field.as_} has not {field.bytes_} bytes")
    for place in [f.state_at for f in shape.channel.values()] + [
        *(f.places_at for f in shape.channel.values()),
        *(f.at for f in shape.flag.values()),
    ]:
        if place is not None and place >= last:
            raise ValueError(f"byte {place} is outside the frame's {last} bytes")


def _check_rules(shape: Shape) -> None:
    if not any(rule.means == "reading" for rule in shape.line):
        raise ValueError('no line with means = "reading"; add one')
    for number, rule in enumerate(shape.line):
        for pattern in (rule.pattern, rule.whole):
            if pattern is not None:
                _check_pattern(pattern, f"line[{number}]")
        groups = re.compile(rule.pattern, re.ASCII).groupindex if rule.pattern else {}
        if rule.means != "reading":
            continue
        if rule.each and not {"ch", "v"} <= set(groups):
            raise ValueError(f"line[{number}]: each needs the groups ch and v in its pattern")
        if rule.each and rule.whole is None:
            raise ValueError(f"line[{number}]: each needs whole, or a merged line would pass")
        wanted = [] if rule.each else _groups_wanted(shape)
        if not rule.each and not any(f.group in groups for f in shape.channel.values()):
            raise ValueError(f"line[{number}]: its pattern has no group of any channel")
        for group in wanted:
            if not any(group in re.compile(r.pattern).groupindex for r in shape.line):
                raise ValueError(f"group {group!r} is in no pattern; name it there")
    if shape.constant:
        _check_pattern(shape.constant, "constant")
    if shape.identify is not None:
        _check_pattern(shape.identify.pattern, "identify")


def _groups_wanted(shape: Shape) -> list[str]:
    named = [
        g
        for f in shape.channel.values()
        for g in (f.group, f.unit_group, f.cold_junction, f.sign_group, f.places_group)
    ]
    return [g for g in [*named, *(f.group for f in shape.flag.values())] if g is not None]


def _check_pattern(pattern: str, where: str) -> None:
    try:
        check_pattern(pattern)
    except PatternTooWildError as cause:
        raise ValueError(f"{where}: pattern {pattern!r}: {cause}") from cause


def shapes_from_text(text: str, name: str) -> dict[str, Shape]:
    """Read a file of line formats.

    Parameters
    ----------
    text : str
        TOML with one ``[shape."name"]`` table per shape.
    name : str
        File name for messages.

    Returns
    -------
    dict of str to Shape
        In the order of the file.

    Raises
    ------
    InputError
        With the file, the shape and the key, what was found and what would do. A pattern whose
        matching time can grow without bound is refused here; patterns that are only slow are found
        by ``ports.shapefiles``.
    """
    data = table_of(text, name)
    tables = data.pop("shape", {})
    if data:
        raise InputError(f"{name}: {next(iter(data))}", "unknown table", 'write [shape."name"]')
    if not isinstance(tables, dict) or not tables:
        raise InputError(name, "no line format", 'write one as [shape."name"]')
    found = {}
    for key, table in tables.items():
        shape = _shape(str(key), table, name)
        for one in [shape.in_unit(unit) for unit in shape.unsaid] or [shape]:
            found[one.name] = one
    return found


def _shape(key: str, table: Any, file: str) -> Shape:
    where = f'{file}: shape."{key}"'
    if not isinstance(table, dict):
        raise InputError(where, "not a table", 'write [shape."name"] and its keys below')
    for taken in {"name", "like"} & set(table):
        raise InputError(f"{where}.{taken}", "unknown key", "the name is in the table's head")
    try:
        return Shape.model_validate({"name": key, **spelled_out(table)})
    except ValueError as cause:
        if isinstance(cause, ValidationError):
            raise _told(cause, where) from cause
        raise InputError(where, str(cause), "correct it") from cause


def _told(cause: ValidationError, where: str) -> InputError:
    # An unknown key explains a missing one, so it is told first.
    error = min(cause.errors(), key=lambda e: e["type"] != "extra_forbidden")
    path = "".join(f"[{p}]" if isinstance(p, int) else f".{p}" for p in error["loc"])
    if error["type"] == "extra_forbidden":
        near = difflib.get_close_matches(str(error["loc"][-1]), _keys(Shape), n=1, cutoff=0.5)
        return InputError(
            where + path, "unknown key", f"did you mean {near[0]!r}?" if near else "take it out"
        )
    if error["type"] == "missing":
        return InputError(where + path, "missing", "add it")
    found = error["msg"].removeprefix("Value error, ")
    return InputError(where + path, found, f"found {str(error['input'])[:60]!r}; correct it")


@cache
def _keys(model: type[BaseModel]) -> list[str]:
    models = (model, PortLine, Frame, Ask, Identify, Expect, Rule, ShapeField, FlagRule, Sample)
    return [f.alias or key for m in models for key, f in m.model_fields.items()]


@cache
def _builtin() -> dict[str, Shape]:
    found: dict[str, Shape] = {}
    folder = resources.files("logger.wire") / "shapes"
    for path in sorted(folder.iterdir(), key=lambda p: p.name):
        if path.name.endswith(".toml"):
            found.update(shapes_from_text(path.read_text(encoding="utf-8"), path.name))
    return found


def builtin_shapes() -> dict[str, Shape]:
    """Return the line formats that come with the program, by name.

    Their patterns are proven tame by a test, not at each start.
    """
    return dict(_builtin())
