"""A frame of a fixed number of bytes to values.

Pure. The sign and the number of decimals may stand in bits of another byte.
"""

import struct

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
from logger.wire.shapes.possible import says_no_value
from logger.wire.shapes.shape import Shape
from logger.wire.shapes.tables import FlagRule, ShapeField
from logger.wire.units import conversion, converted

FORMATS = {"int16": "h", "uint16": "H", "int32": "i", "uint32": "I", "float32": "f"}
PLACES_BITS = 0b111
_FLAGS = {"stable": (Flag.STABLE, Flag.UNSTABLE), "net": (Flag.NET, Flag.NONE)}


class BinaryDecoder:
    """Reads the frames of one line format."""

    def __init__(self, shape: Shape) -> None:
        self._shape = shape

    def reset(self) -> None:
        """Nothing is remembered."""

    def decode(self, frame: bytes) -> Parsed | None:
        """Return what a frame says."""
        flags, values, notes = 0, [], []
        for flag, rule in self._shape.flag.items():
            yes, no = _FLAGS[flag]
            flags |= int(yes if _holds(rule, frame) else no)
        for name, field in self._shape.channel.items():
            value, note = _value(name, field, frame, flags)
            values.append(value)
            if note is not None:
                notes.append(note)
        net = bool(flags & Flag.NET) if "net" in self._shape.flag else None
        return Parsed(tuple(values), tuple(notes), (), net)


def _holds(rule: FlagRule, frame: bytes) -> bool:
    bit = frame[rule.at or 0] >> (rule.bit or 0) & 1
    return bit == rule.when


def _value(name: str, field: ShapeField, frame: bytes, flags: int) -> tuple[Value, Note | None]:
    if field.over_bit is not None and frame[field.state_at or 0] >> field.over_bit & 1:
        return no_value(name, field, "over")
    number = _number(field, frame)
    if field.minus_bit is not None and frame[field.state_at or 0] >> field.minus_bit & 1:
        number = -number
    if number in field.sentinel or number != number or abs(number) == float("inf"):
        return no_value(name, field, blank_word(field))
    places = frame[field.places_at] & PLACES_BITS if field.places_at is not None else 0
    scaled = round(number * field.scale / 10**places, 9)
    if says_no_value(scaled, field.quantity):
        return no_value(name, field, blank_word(field))
    how = conversion(field.quantity, field.sent_unit)
    value = scaled if how is None else converted(scaled, how)
    flags |= in_range_flag(value, field)
    return Value(name, delay_ns(field), value, field.unit_out, flags, None), None


def _number(field: ShapeField, frame: bytes) -> float:
    """Return the number without its sign bit, as sent."""
    at = field.at or 0
    data = frame[at : at + field.bytes_]
    if field.as_ == "bcd":
        return float((data if field.order == "high first" else data[::-1]).hex())
    order = ">" if field.order == "high first" else "<"
    return float(struct.unpack(order + FORMATS[field.as_], data)[0])
