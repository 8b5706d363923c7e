"""Units that instruments print, turned into the three that the code uses: g, degC and uV.

Pure. Not pint: this runs for every line, and an instrument's unit is one of a dozen words.
"""

from typing import Literal, NamedTuple

Quantity = Literal["mass", "temperature", "emf"]

UNIT_OF: dict[str, str] = {"mass": "g", "temperature": "degC", "emf": "uV"}
"""The unit that the values of a quantity come out in."""


class Conversion(NamedTuple):
    """``value * factor + offset`` is in g, degC or uV."""

    factor: float
    offset: float


SAME = Conversion(1.0, 0.0)

CONVERSIONS: dict[str, dict[str, Conversion]] = {
    "mass": {
        "g": SAME,
        "kg": Conversion(1000.0, 0.0),
        "mg": Conversion(0.001, 0.0),
        # NIST Handbook 44 (2024), appendix C: 1 avoirdupois pound is exactly 453.592 37 g.
        "lb": Conversion(453.59237, 0.0),
        "oz": Conversion(453.59237 / 16, 0.0),
        # Same place: 1 troy ounce is exactly 31.103 476 8 g; 1 metric carat is 200 mg.
        "ozt": Conversion(31.1034768, 0.0),
        "ct": Conversion(0.2, 0.0),
        "G": SAME,
        "KG": Conversion(1000.0, 0.0),
        "Kg": Conversion(1000.0, 0.0),
        "LB": Conversion(453.59237, 0.0),
        "lbs": Conversion(453.59237, 0.0),
        "OZ": Conversion(453.59237 / 16, 0.0),
    },
    "temperature": {
        "degC": SAME,
        "C": SAME,
        "°C": SAME,
        "degF": Conversion(5 / 9, -160 / 9),
        "F": Conversion(5 / 9, -160 / 9),
        "°F": Conversion(5 / 9, -160 / 9),
        "K": Conversion(1.0, -273.15),
        "degrees C": SAME,
        "deg C": SAME,
        "deg F": Conversion(5 / 9, -160 / 9),
        "° C": SAME,
        "Celsius": SAME,
        "*C": SAME,
        "*F": Conversion(5 / 9, -160 / 9),
    },
    "emf": {
        "uV": SAME,
        "mV": Conversion(1000.0, 0.0),
        "V": Conversion(1e6, 0.0),
    },
}


def conversion(quantity: str, unit: str) -> Conversion | None:
    """Return how a printed unit becomes the code's, or None for a unit nobody knows.

    Parameters
    ----------
    quantity : str
        ``"mass"``, ``"temperature"`` or ``"emf"``.
    unit : str
        As printed, without blanks around it.
    """
    return CONVERSIONS[quantity].get(unit)


def quantity_of(unit: str) -> Quantity | None:
    """Return ``"mass"`` or ``"temperature"`` for a unit of it, None for any other."""
    if unit in CONVERSIONS["mass"]:
        return "mass"
    return "temperature" if unit in CONVERSIONS["temperature"] else None


def converted(value: float, how: Conversion) -> float:
    """Return a value in the code's unit; nine decimals, so that 213 tenths are 21.3."""
    if how is SAME:
        return value
    return round(value * how.factor + how.offset, 9)
