"""What one line said, before it has a time. Made by the decoders, timed by ``reader``."""

from typing import NamedTuple

from logger.model.reading import Flag
from logger.wire.shapes.possible import possible
from logger.wire.shapes.tables import ShapeField


class Value(NamedTuple):
    """One field's value; the order is that of `RawReading` with the delay in place of the time."""

    field: str
    delay_ns: int
    """Delay that the line format declares for the field [ns]."""
    value: float | None
    unit: str
    flags: int
    cold_junction_c: float | None


class Note(NamedTuple):
    """Something that holds while lines say it, or happens once."""

    kind: str
    field: str | None
    text: str


class Parsed(NamedTuple):
    """One line that fitted its shape."""

    values: tuple[Value, ...] = ()
    notes: tuple[Note, ...] = ()
    units: tuple[tuple[str, str], ...] = ()
    """Field and unit as printed, where the line prints one."""
    net: bool | None = None
    """The scale shows a net weight; None where the line does not say."""


EMPTY = Parsed()
"""A line that is to be ignored."""

_WORDS = {
    "open": (Flag.OPEN, "open", "open circuit"),
    "over": (Flag.OVER, "overload", "over the instrument's range"),
    "under": (Flag.UNDER, "underload", "under the instrument's range"),
}


def no_value(name: str, field: ShapeField, what: str) -> tuple[Value, Note]:
    """Return the missing value of a field and the note that says why.

    Parameters
    ----------
    name : str
        Name of the field.
    field : ShapeField
        Its description.
    what : str
        ``open``, ``over``, ``under``, or other words for a fault.
    """
    flag, kind, text = _WORDS.get(what, (Flag.FAULT, "fault", what))
    value = Value(name, delay_ns(field), None, field.unit_out, int(flag), None)
    return value, Note(kind, name, text)


def without_values(parsed: Parsed, why: str) -> Parsed:
    """Return what a line said, without its numbers, and why.

    Parameters
    ----------
    parsed : Parsed
        What it says by its format.
    why : str
        In words, for each of its values.
    """
    values = tuple(v._replace(value=None, flags=int(Flag.FAULT)) for v in parsed.values)
    return Parsed(values, tuple(Note("fault", value.field, why) for value in values))


def blank_word(field: ShapeField) -> str:
    """Return what a missing number means for a field: an open probe, or a fault of a scale."""
    return "no value" if field.quantity == "mass" else "open"


def in_range_flag(value: float, field: ShapeField) -> int:
    """Return the flag of a value [g, degC or uV] outside of what is possible for its field."""
    low, high = possible(field.quantity, field.range)
    return 0 if low <= value <= high else int(Flag.OUT_OF_RANGE)


def delay_ns(field: ShapeField) -> int:
    """Return the delay that the line format declares for a field [ns]."""
    return round(field.delay_s * 1e9)


def fault_word(code: int, field: ShapeField) -> str | None:
    """Return what a fault number means, or None when it says that all is well."""
    if field.fault_as == "code":
        return None if code == 0 else field.faults.get(code, f"fault {code}")
    words = [word for mask, word in field.faults.items() if code & mask]
    known = 0
    for mask in field.faults:
        known |= mask
    if code & ~known:
        words.append(f"fault bits {code & ~known}")
    if not words:
        return None
    return "open" if "open" in words else words[0] if len(words) == 1 else " and ".join(words)
