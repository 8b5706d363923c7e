"""One line of text to values, by the patterns of its shape.

Pure. Two things are remembered: while a scale leaves its unit blank, the unit it printed last
holds; what a sensor reports before its first conversion counts only next to a like value. Only a
line that fits a rule from its first to its last character says anything; some lines that say that
there is no value (`ANYWHERE`) are rules of every format.

Most lines of a bench differ from one before in their digits only. Where each place of the patterns
takes either all ten digits or none (the position automaton of ``shapes.pattern`` tells), such a
line fits the same rule with its groups in the same places, so that it is not matched again: its
numbers are cut out where those of the line before it stood.
"""

import re
from collections.abc import Callable, Iterator
from functools import lru_cache

from logger.model.reading import Flag
from logger.wire.linefields import (
    DIGITS,
    MAX_NAMES,
    Again,
    AgainOf,
    Decode,
    each_decoder,
    fields_decoder,
)
from logger.wire.parsed import EMPTY, Note, Parsed, Value, delay_ns, without_values
from logger.wire.series.layout import ALIKE, Layout
from logger.wire.series.others import Weave
from logger.wire.series.printed import lost_its_point
from logger.wire.series.sudden import DECIMALS, Sudden
from logger.wire.series.switches import Switches
from logger.wire.shapes.pattern import automaton_of, first_symbols
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import Rule
from logger.wire.units import Conversion, conversion

_Compiled = tuple[
    Callable[[str], "re.Match[str] | None"], tuple[int, ...], Decode, AgainOf | None, int
]
"""Matcher, widths, decoder, decoder of lines alike, and first symbols of a rule."""

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
    "open": "open circuit",
}
ANYWHERE = (
    Rule(means="overload", pattern=r"[ -]*(?:OL|OVER|OVERLOAD|HHHH+)[ -]*"),
    Rule(means="underload", pattern=r"[ _-]*(?:UL|UNDER|UNDERLOAD|LLLL+)[ _-]*"),
    Rule(means="error", pattern=r" *(?:ERR|Err|err|ERROR|Error|error)[ :.-]*(?:\d+(?:\.\d+)?)? *"),
    Rule(means="error", pattern=r" *E[ -]*\d+ *"),
)
"""Lines that are no bad ones in any format, where none of its own rules fits; common practice, no
source."""
CACHE_SIZE = 4096
"""Lines whose meaning is remembered; a bench repeats itself."""
PASSED = 4 * CACHE_SIZE
"""Lines that are read and not remembered before the full memory is begun anew."""
UNKNOWN = Parsed((), (Note("unknown", None, ""),))
"""A line whose meaning is not remembered."""
_THREE = re.compile(rb"(?<![\d.,])\d{1,3}[.,]\d{3}(?![\d.,])")
_ADDRESS = re.compile(rb"\A *0\d(?=[,;\t ] *[-+]?\d+[.,]\d)")
"""A whole number that begins with a zero, before one with decimals: the number of a device."""
SURE = 3
"""So many lines with one address before another is of another device; one line with a letter."""
_UNIT = re.compile(r"[CFK]")
"""Where one stands in the pattern of a line, it may be the unit."""
MAX_ALIKE = 512
"""Forms of lines, digits apart, that are remembered."""
_DIGIT_BITS = sum(1 << ord(c) for c in DIGITS)


class TextDecoder:
    """Reads lines by the rules of one shape."""

    def __init__(self, shape: Shape) -> None:
        self._control = shape.frame.control
        self.unit_shown: dict[str, str] = {}
        """Unit that a field's lines printed last."""
        rules = (*shape.line, *ANYWHERE)
        self._rules = [_compiled(rule, shape, self.unit_shown) for rule in rules]
        self._digits_alike = all(_digits_alike(_whole(rule)) for rule in rules)
        self._alike: dict[bytes, Again] = {}
        self._by_first: dict[str, list[_Compiled]] = {}
        self._units_seen: tuple[tuple[str, str], ...] = ()
        self._known: dict[bytes, Parsed | None] = {}
        self._passed = 0
        self._encoding = shape.frame.encoding
        self._prompt = shape.frame.prompt.encode("latin-1")
        asked = shape.begin if shape.ask == "none" else (*shape.ask.questions, *shape.begin)
        self._echo = frozenset(text.strip().encode("latin-1") for text in asked)
        self._sudden, self._switches = _sudden_of(shape), Switches()
        self._blanks_unit = any(f.unit_group and f.unit is None for f in shape.channel.values())
        self._bare = bool(shape.unsaid)
        """The lines say no unit."""
        self._weighs = any(f.quantity == "mass" for f in shape.channel.values())
        """Weights came without decimals so far, or none came."""
        self._came_whole = shape.whole
        self._constant = re.compile(shape.constant.encode()) if shape.constant else _ADDRESS
        self._sure = 1 if shape.constant else SURE
        self._kept, self._kept_lines = b"", 0
        """What must stay as it is, and in how many lines it did."""
        comma = any(field.decimal == "," for field in shape.channel.values())
        self._point = b"," if comma else b"."
        self._layout, self._weave = Layout("," if comma else "."), Weave()
        self._points, self._pointed = 0, EMPTY
        """Most points of a line so far, and what the last such line said."""
        self._quantity = {name: (f.quantity, f.sent_unit) for name, f in shape.channel.items()}

    def reset(self) -> None:
        """Forget the units printed: another instrument may answer now."""
        self._forget_units()
        self._layout.forget()
        self._weave.forget()
        self._switches.forget()
        if self._sudden is not None:
            self._sudden.forget()
        self._points, self._pointed = 0, EMPTY
        self._kept, self._kept_lines = b"", 0

    def _forget_units(self) -> None:
        """Forget the unit that a blank one stands for: it may be another one by now."""
        if self.unit_shown:
            self.unit_shown.clear()
            self._units_seen = ()
            self._known.clear()
            self._alike.clear()

    def decode(self, line: bytes) -> Parsed | None:
        """Return what a line says, or None when it fits no rule."""
        if self._prompt and line.startswith(self._prompt):
            line = line[len(self._prompt) :].lstrip(b" ")
        parsed = self._read(line)
        if parsed is None:
            self._layout.unread(line)
            if self._blanks_unit:
                self._forget_units()
            return None
        if any(value.value is not None for value in parsed.values):
            points = line.count(self._point)
            if points < self._points and self._lost_its_point(parsed):
                return None
            why = self._layout.doubt(line) or self._switches.doubt(self._sent(parsed))
            if why:
                if self._sudden is not None:
                    self._sudden.taken_out(parsed, line)  # a unit may have changed with the form
                return without_values(parsed, why)
            if points >= self._points:
                self._points, self._pointed = points, parsed
            if (self._bare or self._sure == 1) and not self._stays(line):
                return without_values(parsed, "a letter or a number that was another one before")
            if self._weighs and self._has_new_decimals(line):
                return without_values(parsed, "its point may stand between thousands")
            if self._sudden is not None:
                parsed = self._sudden.taken_out(parsed, line)
            return self._parted(parsed)
        self._layout.passed(line)
        return parsed

    def _parted(self, parsed: Parsed) -> Parsed:
        """Take out the values of a line whose field shows two things in turn."""
        woven = [
            self._weave.woven(one.field, one.value)
            for one in parsed.values
            if one.value is not None
        ]
        return without_values(parsed, "two things in turn") if any(woven) else parsed

    def _stays(self, line: bytes) -> bool:
        """Whether what must not change is as it was."""
        found = self._constant.search(line)
        said = found[0].strip() if found is not None else b""
        said = said.translate(ALIKE) if b":" in said else said  # a clock goes on
        if said == self._kept:
            self._kept_lines += 1
        elif self._kept and self._kept_lines >= self._sure:
            return False
        else:
            self._kept, self._kept_lines = said, 1
        return True

    def _has_new_decimals(self, line: bytes) -> bool:
        """Whether a weight has three decimals where those before had none.

        A scale that shows whole grams below 1000 shows 1488 as 1.488 where points stand between
        thousands.
        """
        if _THREE.search(line):
            self._weighs = self._came_whole
            return self._came_whole
        if DECIMALS.search(line):
            self._weighs = False
        else:
            self._came_whole = True
        return False

    def _lost_its_point(self, parsed: Parsed) -> bool:
        """Whether a number without its point is the one before, a power of ten too large."""
        before = {value.field: value.value for value in self._pointed.values}
        for field, how, said in self._sent(parsed):
            old = before.get(field)
            if old is not None and lost_its_point((old - how.offset) / how.factor, said):
                return True
        return False

    def _sent(self, parsed: Parsed) -> Iterator[tuple[str, Conversion, float]]:
        """Yield field, unit and number as they were sent."""
        units = dict(parsed.units)
        for value in parsed.values:
            quantity, unit = self._quantity.get(value.field, ("temperature", "degC"))
            unit = units.get(value.field) or self.unit_shown.get(value.field) or unit
            how = conversion(quantity, unit)
            if value.value is not None and how is not None:
                yield value.field, how, (value.value - how.offset) / how.factor

    def _read(self, line: bytes) -> Parsed | None:
        known: Parsed | None = self._known.get(line, UNKNOWN)
        if known is not UNKNOWN:
            return known
        again = self._alike.get(line.translate(ALIKE))
        if again is None:
            return self._match(line)
        parsed = again(line.decode("ascii"))
        if parsed is not None and parsed.units is not self._units_seen:
            self._see_units(parsed.units)
        self._remember(line, parsed)
        return parsed

    def _match(self, line: bytes) -> Parsed | None:
        """Find the rule that a line fits."""
        try:
            text = line.decode(self._encoding)
        except UnicodeDecodeError:
            return None
        if not (text.isprintable() or self._control or text.replace("\t", " ").isprintable()):
            return None
        if not text or text.isspace() or (self._echo and line.strip() in self._echo):
            return EMPTY
        rules = self._by_first.get(text[0])
        if rules is None:
            rules = self._rules_for(text[0])
        parsed = again = None
        for fullmatch, width, decode, again_of, _ in rules:
            match = fullmatch(text)
            if match is not None and (not width or len(text) in width):
                parsed = decode(match)
                if self._digits_alike and again_of is not None and line.isascii():
                    again = again_of(match)
                break
        if parsed is not None and parsed.units is not self._units_seen:
            self._see_units(parsed.units)
        self._remember(line, parsed)
        if again is not None:
            if len(self._alike) >= MAX_ALIKE:
                self._alike.clear()
            self._alike[line.translate(ALIKE)] = again
        return parsed

    def _remember(self, line: bytes, parsed: Parsed | None) -> None:
        if len(self._known) >= CACHE_SIZE:
            # Lines that hardly come again are not worth the room: it is made only now and then.
            self._passed += 1
            if self._passed < PASSED:
                return
            self._known.clear()
            self._passed = 0
        self._known[line] = parsed

    def _see_units(self, units: tuple[tuple[str, str], ...]) -> None:
        # What is remembered of lines with a blank unit holds for one unit only.
        for field, unit in units:
            if self.unit_shown.get(field) != unit:
                self._known.clear()
                self._alike.clear()
                self.unit_shown[field] = unit
        self._units_seen = units

    def _rules_for(self, first: str) -> list["_Compiled"]:
        if len(self._by_first) >= MAX_NAMES:
            self._by_first.clear()
        rules = [r for r in self._rules if _may(first, r[4])]
        self._by_first[first] = rules
        return rules


def _sudden_of(shape: Shape) -> Sudden | None:
    """Return what looks after the probes of a format; a scale has none."""
    probes = [f for f in shape.channel.values() if f.quantity == "temperature"]
    if not probes:
        return None
    readings = [rule for rule in shape.line if rule.means == "reading"]
    named = any(f.unit_group for f in probes) or any(_UNIT.search(r.pattern) for r in readings)
    plain = all(f.sent_unit in ("degC", "C") and not f.width for f in shape.channel.values())
    return Sudden(
        power_on=[value for rule in shape.line for value in rule.power_on],
        bare=bool(shape.unsaid),
        silent=not named,
        loose=plain and not any(rule.width for rule in shape.line),
    )


def _may(first: str, symbols: int) -> bool:
    return bool(symbols >> min(ord(first), 128) & 1)


def _whole(rule: Rule) -> str:
    """Return the pattern that a whole line must fit."""
    return (rule.whole or "") if rule.each else rule.pattern


@lru_cache(maxsize=1024)
def _digits_alike(pattern: str) -> bool:
    """Whether each place of a pattern takes all ten digits or none of them."""
    return all(found & _DIGIT_BITS in (0, _DIGIT_BITS) for found in automaton_of(pattern).sets)


def _compiled(rule: Rule, shape: Shape, units_shown: dict[str, str]) -> _Compiled:
    pattern = _whole(rule)
    again_of: AgainOf | None = None
    if rule.means == "reading" and not rule.each:
        decode, again_of = fields_decoder(rule, shape, units_shown)
    else:
        decode = _decoder(rule, shape)
    fullmatch = re.compile(pattern, re.ASCII).fullmatch
    return fullmatch, rule.width, decode, again_of, first_symbols(pattern)


def _decoder(rule: Rule, shape: Shape) -> Decode:
    if rule.means == "reading":
        return each_decoder(rule, shape)
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
