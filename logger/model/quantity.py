"""Text with a unit to a number in the unit the code uses, and back.

The only door for pint on the way in: files and typed values come as ``"42 degC"`` and leave as a
float in the unit that the name of the field says. Pure; pint is imported at the first use because
it is slow to import and most commands need no unit.
"""

import math
import re
from functools import cache
from typing import Any

_QUANTITY = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*")
_LONGEST = 100
_PRICE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([A-Z]{3})\s*/\s*(.+?)\s*")
_SPELLED = {
    "%": "percent",
    "°C": "degC",
    "°F": "degF",
    "C": "degC",
    "F": "degF",
    "": "dimensionless",
}


@cache
def registry() -> Any:
    """Return the one unit registry of the program (pint)."""
    import pint

    ureg: Any = pint.UnitRegistry(cache_folder=None)
    ureg.formatter.default_format = "~P"
    return ureg


def _unit(text: str) -> Any:
    return registry().Unit(_SPELLED.get(text, text))


def number_in(text: str, unit: str) -> float:
    """Read a quantity such as ``"42 degC"`` as a number in ``unit``.

    Parameters
    ----------
    text : str
        A number and a unit; the unit may be left out only where `unit` is dimensionless.
    unit : str
        The unit wanted. ``"delta_degC"`` reads a temperature difference, written in K or degC.

    Returns
    -------
    float
        The number in `unit`.

    Raises
    ------
    ValueError
        If the text is no quantity, or its unit does not measure the same thing.
    """
    if len(text) > _LONGEST:
        raise ValueError(f"{text[:_LONGEST]!r}... is too long for a number with a unit")
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is not a number with a unit, such as {example(unit)!r}")
    number, spelled = float(match[1]), match[2]
    if not spelled and unit not in ("dimensionless", "percent"):
        raise ValueError(f"{text!r} has no unit; write for example {example(unit)!r}")
    ureg = registry()
    try:
        found = _unit(spelled or ("percent" if unit == "percent" else ""))
        if unit == "delta_degC" and found in (ureg.degC, ureg.degF):
            found = ureg.delta_degC if found == ureg.degC else ureg.delta_degF
        value = float(ureg.Quantity(number, found).to(unit).magnitude)
    except Exception as cause:  # pint raises many kinds; each means the same here
        raise ValueError(f"{text!r} is not in a unit like {example(unit)!r}") from cause
    if not math.isfinite(value):
        raise ValueError(f"{text!r} is beyond any number")
    return value


def price_per_kg(text: str) -> tuple[float, str]:
    """Read a price such as ``"14.20 EUR/kg"`` as (price per kg, currency code).

    Raises
    ------
    ValueError
        If the text is no price per mass.
    """
    match = _PRICE.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is not a price per mass, such as '14.20 EUR/kg'")
    per_unit_kg = number_in(f"1 {match[3]}", "kg")
    return float(match[1]) / per_unit_kg, match[2]


def convert(value: float, unit: str, to: str) -> float:
    """Convert a number between two units that measure the same thing.

    Parameters
    ----------
    value : float
        Number in the unit `unit`.
    unit, to : str
        Units as pint spells them; they must measure the same thing.

    Returns
    -------
    float
        Number in the unit `to`.
    """
    ureg = registry()
    return float(ureg.Quantity(value, _unit(unit)).to(_unit(to)).magnitude)


_EXAMPLES = {
    "degC": "42 degC",
    "delta_degC": "2 K",
    "g": "180 g",
    "s": "8 min",
    "percent": "1.5 %",
    "mm": "26 mm",
    "g/min": "90 g/min",
    "kPa": "98.2 kPa",
    "m": "340 m",
    "J/K": "210 J/K",
}


def example(unit: str) -> str:
    """Return an example of a quantity in `unit`, for messages."""
    return _EXAMPLES.get(unit, f"1 {unit}")
