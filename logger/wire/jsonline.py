"""One JSON object per line to values, by the paths of its shape.

Pure. A number that is missing makes the line a bad one; ``null`` and ``NaN`` say that there is no
value. A name that stands twice in one object is a merged line.
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
)
from logger.wire.shapes.possible import cold_junction_or_none, says_no_value
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import ShapeField
from logger.wire.units import Conversion, conversion, converted, quantity_of

GOOD, WRONG = ("ok", "valid"), ("error", "err", "fault")
FINE = ("none", "false", "0", "0.0", "", "ok")
KIND = ("type", "kind")
OTHERS = (
    "tare", "setpoint", "set", "target", "total", "min", "max", "rate", "slope", "delta",
    "difference", "average", "mean", "raw", "limit", "alarm", "offset", "calibration",
)  # fmt: skip
MEASURED = ("actual", "current", "pv", "measured", "process")
"""Beside one of these, a number of another name is the one that was set."""
UNIT = ("unit", "units")
"""What an object says beside its numbers, and of which words they are no readings: common practice,
no source."""


class NotThereError(Exception):
    """A path that the object does not have, or something that is no number."""


class JsonDecoder:
    """Reads objects by the paths of one shape."""

    def __init__(self, shape: Shape) -> None:
        self._used = {
            path.split(".")[0]
            for field in shape.channel.values()
            for path in (field.path, field.fault, field.unit_group)
            if isinstance(path, str)
        }
        self._fields = [
            (name, field, conversion(field.quantity, field.sent_unit))
            for name, field in shape.channel.items()
        ]

    def reset(self) -> None:
        """Nothing is remembered."""

    def decode(self, line: bytes) -> Parsed | None:
        """Return what a line says, or None when it is not such an object."""
        if not line.strip():
            return Parsed()
        try:
            found = json.loads(line.decode(), object_pairs_hook=_distinct)
            if not isinstance(found, dict):
                return None
            values, notes, nothing = [], [], self._says_nothing(found)
            for name, field, how in self._fields:
                if field.unit_group is not None:
                    how = _said_unit(_at(found, field.unit_group), field)
                value, note = _value(found, name, field, how)
                if nothing or _in_another_unit(found, field, how):
                    value, note = no_value(name, field, blank_word(field))
                if value.value is not None and field.quantity == "mass":
                    value = value._replace(flags=value.flags | _motion(found))
                values.append(value)
                if note is not None:
                    notes.append(note)
        except (ValueError, RecursionError, OverflowError, NotThereError):
            return None
        return Parsed(tuple(values), tuple(notes))

    def _says_nothing(self, found: dict[str, Any]) -> bool:
        """Whether an object says of itself that its numbers are no readings."""
        beside = {key.lower(): v for key, v in found.items() if key not in self._used}
        bad = any(beside.get(key, True) is False for key in GOOD)
        wrong = any(_is_wrong(beside.get(key)) for key in WRONG)
        another = any(str(beside.get(key)).lower() in OTHERS for key in KIND)
        real = not any(key.lower() in MEASURED for key in self._used)
        return bad or wrong or another or (real and any(key in MEASURED for key in beside))


def _is_wrong(said: Any) -> bool:
    """Whether what is said of errors names one; in a list or an object, any of them."""
    if isinstance(said, list | dict):
        return any(_is_wrong(one) for one in (said.values() if isinstance(said, dict) else said))
    return str(said).lower() not in FINE


def _motion(found: dict[str, Any]) -> int:
    """Return the flag of a weight whose object says whether it is stable."""
    said = found.get("stable")
    return int(Flag.STABLE if said else Flag.UNSTABLE) if isinstance(said, bool) else 0


def _said_unit(said: Any, field: ShapeField) -> Conversion:
    """Return how a number becomes one in g or degC, by the unit that stands beside it."""
    how = conversion(field.quantity, said) if isinstance(said, str) else None
    if how is None:
        raise NotThereError(repr(said))
    return how


def _in_another_unit(found: dict[str, Any], field: ShapeField, how: Any) -> bool:
    """Whether an object names a unit that is not the one of a field."""
    said = next((found[key] for key in UNIT if isinstance(found.get(key), str)), None)
    if said is None:
        return False
    quantity = quantity_of(said)
    if quantity is None:
        return True
    return quantity == field.quantity and conversion(quantity, said) != how


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
