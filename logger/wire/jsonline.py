"""One JSON object per line to values, by the paths of its shape.

Pure. A number that is missing makes the line a bad one; ``null`` and ``NaN`` say that there is no
value. A name that stands twice in one object is a merged line. What the other keys say decides
whether the numbers are readings: in a format that came with the program, one that nobody knows may
say that they are none.
"""

import json
import math
from typing import Any

from logger.model.reading import Flag
from logger.wire.parsed import (
    Note,
    Parsed,
    Value,
    blank_word,
    delay_ns,
    fault_word,
    in_range_flag,
    no_value,
    without_values,
)
from logger.wire.series.agreement import another_says_otherwise
from logger.wire.series.printed import lost_its_point
from logger.wire.series.sudden import Sudden
from logger.wire.series.switches import Switches
from logger.wire.shapes.keys import (
    FINE_STATES,
    GOOD,
    MEASURED,
    OTHERS,
    is_name,
    is_plain,
    is_wrong,
    says_bad,
    what_says,
)
from logger.wire.shapes.possible import cold_junction_or_none, says_no_value
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import ShapeField
from logger.wire.units import Conversion, conversion, converted, quantity_of

UNIT = ("unit", "units")
MOTION = ("stable", "unstable", "moving")


class NotThereError(Exception):
    """A path that the object does not have, or something that is no number."""


class JsonDecoder:
    """Reads objects by the paths of one shape."""

    def __init__(self, shape: Shape) -> None:
        self._used = {
            path.split(".")[0]
            for field in shape.channel.values()
            for path in (field.path, field.fault, field.unit_group, field.cold_junction)
            if isinstance(path, str)
        }
        self._known_only = shape.known_only
        self._bare = bool(shape.unsaid)
        self._names: dict[str, Any] = {}
        """What names the instrument, as it was said first."""
        self._pointed: dict[str, float] = {}
        """Last number of each field that had a point."""
        self._sudden = Sudden(bare=False, silent=bool(shape.unsaid), loose=False)
        self._switches = Switches()
        self._lengths: dict[str, int] = {}
        """How many numbers a list had that values are taken from."""
        self._fields = [
            (name, field, conversion(field.quantity, field.sent_unit))
            for name, field in shape.channel.items()
        ]

    def reset(self) -> None:
        """Forget the names: another instrument may answer now."""
        self._names.clear()
        self._pointed.clear()
        self._sudden.forget()
        self._switches.forget()
        self._lengths.clear()

    def decode(self, line: bytes) -> Parsed | None:
        """Return what a line says, or None when it is not such an object."""
        if not line.strip():
            return Parsed()
        try:
            found = json.loads(line.decode(), object_pairs_hook=_distinct)
            if not isinstance(found, dict) or (self._bare and _names_unit(found)):
                return None  # where the unit stands in the object, another format reads it
            values, notes, nothing = [], [], self._says_nothing(found)
            sent: list[tuple[str, Conversion, float]] = []
            for name, field, how in self._fields:
                if field.unit_group is not None:
                    how = _said_unit(_at(found, field.unit_group), field)
                value, note = _value(found, name, field, how)
                lost = self._lost_its_point(name, _at(found, str(field.path)))
                if nothing or lost or _in_another_unit(found, field, how):
                    value, note = no_value(name, field, blank_word(field))
                other = _contradicted(found, field, how) if value.value is not None else ""
                if other:
                    value, note = no_value(name, field, f"{other} says otherwise")
                if value.value is not None and field.quantity == "mass":
                    value = value._replace(flags=value.flags | _motion(found))
                values.append(value)
                if note is not None:
                    notes.append(note)
                if value.value is not None and how is not None:
                    sent.append((name, how, (value.value - how.offset) / how.factor))
        except (ValueError, RecursionError, OverflowError, NotThereError):
            return None
        parsed = Parsed(tuple(values), tuple(notes))
        why = self._switches.doubt(sent)
        if why or self._has_other_lists(found):
            return without_values(parsed, why or "a list in it has another length")
        return self._sudden.taken_out(parsed, line)

    def _has_other_lists(self, found: dict[str, Any]) -> bool:
        """Whether a list that values are taken from is not as long as at first."""
        now = {k: len(v) for k, v in found.items() if k in self._used and isinstance(v, list)}
        return any(self._lengths.setdefault(key, size) != size for key, size in now.items())

    def _lost_its_point(self, name: str, said: Any) -> bool:
        """Whether a whole number is the one before without its point."""
        if isinstance(said, float):
            self._pointed[name] = said
            return False
        before = self._pointed.get(name)
        return before is not None and isinstance(said, int) and lost_its_point(before, said)

    def _says_nothing(self, found: dict[str, Any]) -> bool:
        """Whether an object says of itself that its numbers are no readings, or may say so."""
        real = not any(key.lower() in MEASURED for key in self._used)
        for key, said in found.items():
            if key not in self._used:
                name = key.lower()
                if (real and name in MEASURED) or not self._is_fine(name, said):
                    return True
        return False

    def _is_fine(self, key: str, said: Any) -> bool:
        """Whether what a key says leaves the numbers readings."""
        what = what_says(key)
        text = str(said).lower()
        if what == "good":
            return text in GOOD
        if what == "wrong":
            return not is_wrong(said)
        if what == "state":
            return text in FINE_STATES if self._known_only else not says_bad(text)
        if what == "kind" and text in OTHERS:
            return False
        if not self._known_only:
            return True
        if what in ("name", "kind"):
            return is_name(said) and self._names.setdefault(key, said) == said
        if what == "number":
            return is_plain(said)
        if what == "motion":
            return said in (True, False)
        return what != "unknown"


def _motion(found: dict[str, Any]) -> int:
    """Return the flag of a weight whose object says whether it is stable."""
    said = [found[key] == (key == "stable") for key in MOTION if found.get(key) in (True, False)]
    return int(Flag.STABLE if all(said) else Flag.UNSTABLE) if said else 0


def _said_unit(said: Any, field: ShapeField) -> Conversion:
    """Return how a number becomes one in g or degC, by the unit that stands beside it."""
    how = conversion(field.quantity, said) if isinstance(said, str) else None
    if how is None:
        raise NotThereError(repr(said))
    return how


def _names_unit(found: dict[str, Any]) -> bool:
    """Whether an object names a unit that is known."""
    said = (found.get(key) for key in UNIT)
    return any(isinstance(one, str) and quantity_of(one) is not None for one in said)


def _in_another_unit(found: dict[str, Any], field: ShapeField, how: Any) -> bool:
    """Whether an object names a unit that is not the one of a field."""
    said = next((found[key] for key in UNIT if isinstance(found.get(key), str)), None)
    if said is None:
        return False
    quantity = quantity_of(said)
    if quantity is None:
        return True
    return quantity == field.quantity and conversion(quantity, said) != how


def _contradicted(found: dict[str, Any], field: ShapeField, how: Any) -> str:
    """Return the name of the same value in another unit that says otherwise."""
    number, path = _number(_at(found, str(field.path))), str(field.path)
    if number is None:
        return ""
    return another_says_otherwise(found, path, field.quantity, number * field.scale, how)


def _value(found: Any, name: str, field: ShapeField, how: Any) -> tuple[Value, Note | None]:
    if isinstance(field.fault, str):
        code = _number(_at(found, field.fault))
        word = fault_word(int(code), field) if code is not None else None
        if word is not None:
            return no_value(name, field, word)
    number = _number(_at(found, str(field.path)))
    if number is None or number in field.sentinel:
        return no_value(name, field, blank_word(field))
    scaled = round(number * field.scale, 9) if field.scale != 1.0 else number
    if says_no_value(scaled, field.quantity):
        return no_value(name, field, blank_word(field))
    value = converted(scaled, how)
    cold = _number(_at(found, field.cold_junction)) if field.cold_junction else None
    flags = in_range_flag(value, field)
    return Value(
        name, delay_ns(field), value, field.unit_out, flags, cold_junction_or_none(cold)
    ), None


def _at(found: Any, path: str) -> Any:
    for step in path.split("."):
        if isinstance(found, dict) and step in found:
            found = found[step]
        elif isinstance(found, list) and step.isdecimal() and int(step) < len(found):
            found = found[int(step)]
        else:
            raise NotThereError(path)
    return found


def _number(found: Any) -> float | None:
    if found is None:
        return None
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise NotThereError(repr(found))
    number = float(found)
    if math.isnan(number):
        return None
    if math.isinf(number):
        raise NotThereError("infinity")
    return number


def _distinct(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name is there twice")
    return found
