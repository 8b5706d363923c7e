"""What a person says of lines: what the display shows, the unit, what means moving or no value.

Pure; the marks are laid on the lines by ``places`` and ``lines``.
"""

import re
from dataclasses import dataclass
from typing import NamedTuple

from logger.model.errors import InputError
from logger.wire.units import quantity_of

_SHOWN = re.compile(
    r"\s*(?P<sign>[+\-−]?)\s*(?P<digits>\d+(?:[.,]\d+)?(?:[eE][+-]?\d{1,3})?)\s*"
    r"(?P<unit>[^\d\s]\S*)?\s*"
)

_WITH_UNIT = re.compile(r"(?P<word>[^\w\s]+|[+\-−]?\d+(?:[.,]\d+)?) ?(?P<unit>[^\d\s.,-]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What somebody said of lines."""

    shown: tuple[str, ...]
    """What the display shows, one text for each value: ``"21.5"``, ``"-3,2 °C"``."""
    line: int | None = None
    """Line that somebody pointed at, from 0."""
    number: int | None = None
    """Which number of the line counts, from 1."""
    unit: str = ""
    """Unit of the numbers, where the lines print none."""
    moving: tuple[str, ...] = ()
    """Words or signs that mean that the value still moves."""
    missing: tuple[str, ...] = ()
    """Words or numbers that mean that there is no value, perhaps with their unit."""

    @property
    def missing_words(self) -> frozenset[str]:
        """Those of them that are words, without a unit behind them."""
        return frozenset(bare for bare in map(_bare, self.missing) if number_in(bare) is None)

    @property
    def missing_numbers(self) -> frozenset[float]:
        """Those of them that are numbers, as sent."""
        found = (number_in(_bare(text)) for text in self.missing)
        return frozenset(number for number in found if number is not None)


class Shown(NamedTuple):
    """What a display shows."""

    value: float
    places: int
    """Decimals."""
    digits: int
    """Significant digits."""
    unit: str


def number_in(text: str) -> float | None:
    """Return the number that a text is, with a point or a comma; None where it is a word."""
    match = _SHOWN.fullmatch(text)
    return shown_of(text).value if match is not None and not match["unit"] else None


def _bare(text: str) -> str:
    """Return a word without the unit behind it, where it is a number or a row of marks."""
    match = _WITH_UNIT.fullmatch(text.strip())
    return match["word"] if match is not None and quantity_of(match["unit"]) else text.strip()


def shown_of(text: str) -> Shown:
    """Return what somebody read off a display.

    Parameters
    ----------
    text : str
        A number, perhaps with a unit.

    Raises
    ------
    InputError
        If it is none.
    """
    match = _SHOWN.fullmatch(text)
    unit = (match["unit"] or "") if match is not None else ""
    if match is None or (unit and quantity_of(unit) is None):
        raise InputError(
            "display", repr(text[:40]), 'write the number, as in "21.5 degC" or "512 g"'
        )
    digits = match["digits"].replace(",", ".")
    value = float(digits) * (-1 if match["sign"] in ("-", "−") else 1)
    plain = re.split("[eE]", digits)[0]
    places = len(plain.partition(".")[2]) if plain == digits else MOST_DECIMALS
    return Shown(value, places, len(plain.replace(".", "").lstrip("0")), unit)


MOST_DECIMALS = 9
"""Decimals that are compared where the number has an exponent."""
