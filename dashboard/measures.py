"""Numbers in the units that a person chose to read: degC or degF, g or oz.

The only place of the screen that converts units, through the program's one pint registry; how the
numbers are written is logger.words'. Pure.
"""

from dataclasses import dataclass
from functools import cache
from typing import Literal, TypeVar

import numpy as np

from logger.model.quantity import convert
from logger.words.bands import band_on_screen
from logger.words.digits import DASH
from logger.words.durations import clock
from logger.words.shown import AsRecorded
from logger.words.values import number_text, places_of, spread_text, unit_text, with_unit

Numeric = TypeVar("Numeric", float, np.ndarray)
_BIG = 100.0
"""A number of the usual size: its unit alone decides the decimals."""


@dataclass(frozen=True, slots=True)
class Measures(AsRecorded):
    """What the person chose to read.

    Attributes
    ----------
    temp : str
        ``"C"`` or ``"F"``.
    mass : str
        ``"g"`` or ``"oz"``.
    """

    temp: Literal["C", "F"] = "C"
    mass: Literal["g", "oz"] = "g"

    def unit(self, unit: str) -> str:
        """Return the unit that stands on the screen for `unit` of the program."""
        return self._spelled(unit)[0]

    def number(self, value: Numeric, unit: str) -> Numeric:
        """Convert a number, or an array of any shape, from `unit` to the unit shown."""
        slope, shift = _line(unit, self._spelled(unit)[1])
        return value * slope + shift

    def text(self, value: float | None, unit: str, u_expanded: float | None = None) -> str:
        """Return a number without its unit: ``"46.1"``, ``"8:20"``, or a dash for none.

        Parameters
        ----------
        value : float or None
            In `unit`.
        unit : str
            Of the program.
        u_expanded : float, optional
            Expanded uncertainty [same unit]; the number goes to its place.
        """
        if unit == "s":
            return clock(value)
        if value is None:
            return DASH
        return number_text(self.number(value, unit), self.unit(unit), self._width(u_expanded, unit))

    def spread(self, u_expanded: float | None, unit: str) -> str:
        """Return ``"± 0.6"`` for an uncertainty [unit]; empty where it is not known."""
        return spread_text(self._width(u_expanded, unit), unit, on_clock=True)

    def value(self, value: float | None, unit: str, u_expanded: float | None = None) -> str:
        """Return a number with uncertainty and unit: ``"46.1 ± 0.6 °C"``, ``"8:20 ± 3 s"``.

        Parameters
        ----------
        value : float or None
            In `unit`.
        unit : str
            Of the program.
        u_expanded : float, optional
            Expanded uncertainty [same unit].
        """
        number = self.text(value, unit, u_expanded)
        if number == DASH:
            return number
        spread = self.spread(u_expanded, unit)
        number = f"{number} {spread}" if spread else number
        return number if unit == "s" else with_unit(number, self.unit(unit))

    def band(self, low: float | None, high: float | None, unit: str) -> str:
        """Return a target: ``"44 to 58 °C"``, ``"at least 6:00"``; empty for none.

        Parameters
        ----------
        low, high : float or None
            Ends [`unit`]; None for one that is open.
        unit : str
            Unit of the program.
        """
        ends = [None if end is None else self.number(end, unit) for end in (low, high)]
        shown = self.unit(unit)
        converted = shown != unit_text(unit)
        places = places_of(_BIG, shown) if converted else None
        return band_on_screen(ends[0], ends[1], shown, places)

    def _width(self, u_expanded: float | None, unit: str) -> float | None:
        """Convert the width of an uncertainty: no shift."""
        if u_expanded is None:
            return None
        return u_expanded * _line(unit, self._spelled(unit)[1])[0]

    def _spelled(self, unit: str) -> tuple[str, str]:
        """Return (as shown, for pint)."""
        if unit == "degC":
            return ("°F", "degF") if self.temp == "F" else ("°C", "degC")
        if unit in ("K", "delta_degC"):
            return ("F°", "delta_degF") if self.temp == "F" else ("K", "delta_degC")
        if unit == "K/min":
            return ("F°/min", "delta_degF/min") if self.temp == "F" else ("K/min", unit)
        if unit == "g":
            return ("oz", "ounce") if self.mass == "oz" else ("g", "g")
        if unit == "g/min":
            return ("oz/min", "ounce/min") if self.mass == "oz" else ("g/min", unit)
        return unit_text(unit), unit


@cache
def _line(unit: str, to: str) -> tuple[float, float]:
    """Slope and shift of a conversion, asked of pint once."""
    unit = "delta_degC" if unit == "K" else unit
    unit = "delta_degC/min" if unit == "K/min" else unit
    to = "delta_degC/min" if to == "K/min" else to
    if unit == to or not to:
        return 1.0, 0.0
    shift = convert(0.0, unit, to)
    return convert(1.0, unit, to) - shift, shift
