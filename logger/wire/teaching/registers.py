"""Numbers in registers whose factor no device says, and the line format once a person did.

Pure. A register of whole numbers may hold degrees, tenths or hundredths, so that it is no reading
until somebody says what the display shows. ``ports.finding`` brings what was heard.
"""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import tomli_w

from logger.model.errors import InputError
from logger.wire.recognise import read_last
from logger.wire.shapes.shape import Shape
from logger.wire.teaching.marks import Shown, shown_of
from logger.wire.units import conversion, converted, quantity_of
from logger.words.digits import exact

NEAR = 1.0
"""A display that was looked at a little later may differ by this much [its unit]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """One number, and what it reads at each factor it may have."""

    field: str
    place: str
    """Where it is, for a person: ``"device 3, holding register 0"``."""
    number: float
    """As held [any]."""
    factors: tuple[float, ...]
    factor: float | None = None
    """The one that somebody said."""
    unit: str = ""
    """Of the number times its factor, as somebody said."""

    def at(self, factor: float) -> float:
        """Return what it reads [any].

        Parameters
        ----------
        factor : float
            What the number is multiplied by [1].
        """
        return round(self.number * factor, 9)

    @property
    def value(self) -> float | None:
        """What it reads [g or degC]; None while nobody said the factor."""
        quantity = quantity_of(self.unit)
        how = conversion(quantity, self.unit) if quantity is not None else None
        if how is None or self.factor is None:
            return None
        return converted(self.at(self.factor), how)

    @property
    def says(self) -> str:
        """The number at each factor, for a person."""
        *first, last = [exact(self.at(factor)) for factor in self.factors]
        return f"{self.place}: {', '.join(first)} or {last}" if first else f"{self.place}: {last}"


def registers_in(heard: bytes, shape: Shape, factors: Sequence[float]) -> tuple[Register, ...]:
    """Return the registers that hold a number.

    Parameters
    ----------
    heard : bytes
        Requests and answers.
    shape : Shape
        Format of registers.
    factors : sequence of float
        What a whole number may be multiplied by [1].
    """
    bare = {
        name: field.model_copy(update={"scale": 1.0, "unit": None, "range": None})
        for name, field in shape.channel.items()
    }
    last = read_last(heard, shape.model_copy(update={"channel": bare}))
    found = []
    for name, field in shape.channel.items():
        reading = last.get(name)
        if reading is None or reading.value is None:
            continue
        whole = field.as_ != "float32"
        found.append(
            Register(
                field=name,
                place=f"device {field.device or shape.device}, {field.table} register "
                f"{field.register_}",
                number=reading.value,
                factors=tuple(factors) if whole else (field.scale,),
            )
        )
    return tuple(found)


def numbered(registers: Sequence[Register]) -> list[tuple[str, int]]:
    """Return what to point at: texts, each with the number `pointed` takes, 0 for none."""
    found, number = [], 0
    for one in registers:
        if one.factor is not None:
            continue
        found.append((f"{one.place}: ", 0))
        for factor in one.factors:
            number += 1
            found.append((exact(one.at(factor)), number))
    return found


def pointed(registers: Sequence[Register], number: int, unit: str) -> tuple[Register, ...]:
    """Return the registers, one with its factor said.

    Parameters
    ----------
    registers : sequence of Register
        As `numbered` took them.
    number : int
        Which of its numbers somebody pointed at, from 1.
    unit : str
        Unit on the display.

    Raises
    ------
    InputError
        If there is no such number, or the unit is none.
    """
    places = [
        (at, factor)
        for at, one in enumerate(registers)
        if one.factor is None
        for factor in one.factors
    ]
    if not 0 < number <= len(places):
        raise InputError("number", str(number), "listen again, then point at one that is shown")
    at, factor = places[number - 1]
    return _said(registers, at, factor, unit)


def matched(registers: Sequence[Register], shown: Sequence[str], unit: str) -> tuple[Register, ...]:
    """Return the registers, those that a display shows with their factors said.

    Parameters
    ----------
    registers : sequence of Register
        As `registers_in` gives them.
    shown : sequence of str
        What the display shows, one text for each value: ``"21.53 degC"``.
    unit : str
        Unit of texts that have none.

    Raises
    ------
    InputError
        If a text is no value, or no register or more than one way to read one fits it.
    """
    found = tuple(registers)
    for text in shown:
        one = shown_of(text)
        fits = _fits(found, one, 0.5 * 10.0**-one.places) or _fits(found, one, NEAR)
        if not fits:
            raise InputError("display", f"no register reads {text}", _choice(found))
        if len(fits) > 1:
            raise InputError(
                "display",
                f"more than one register or factor reads {text}",
                "change what it measures until they differ, and write all digits it shows",
            )
        found = _said(found, *fits[0], one.unit or unit)
    return found


def _fits(registers: Sequence[Register], shown: Shown, within: float) -> list[tuple[int, float]]:
    slack = within * (1.0 + 1e-9)
    return [
        (at, factor)
        for at, one in enumerate(registers)
        if one.factor is None
        for factor in one.factors
        if abs(one.at(factor) - shown.value) <= slack
    ]


def _choice(registers: Sequence[Register]) -> str:
    said = "; ".join(one.says for one in registers if one.factor is None)
    return f"write what one of them shows ({said})"


def _said(registers: Sequence[Register], at: int, factor: float, unit: str) -> tuple[Register, ...]:
    if quantity_of(unit) is None:
        raise InputError("unit", repr(unit) if unit else "not given", "say degC, degF, g or kg")
    done = replace(registers[at], factor=factor, unit=unit)
    return (*registers[:at], done, *registers[at + 1 :])


def format_of(text: str, name: str, registers: Sequence[Register]) -> str:
    """Return the file of a line format that reads the registers whose factor was said.

    Parameters
    ----------
    text : str
        File of the format that they were found by.
    name : str
        Name of the new one.
    registers : sequence of Register
        At least one with its factor.
    """
    table = next(iter(tomllib.loads(text)["shape"].values()))
    table.pop("unsaid", None)
    said = [one for one in registers if one.factor is not None]
    table["source"] = "factors as a display showed them"
    table["channel"] = {
        one.field: table["channel"][one.field]
        | {"scale": one.factor, "unit": one.unit, "quantity": quantity_of(one.unit)}
        for one in said
    }
    return tomli_w.dumps({"shape": {name: table}})
