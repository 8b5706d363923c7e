"""Numbers in the units that a person chose to read: degC or degF, g or oz.

The only place of the screen that converts units, through the program's one pint registry; how the
numbers are written is logger.words'. Pure.
"""

import re
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, TypeVar

import numpy as np
from dash.development.base_component import Component

from logger.model.quantity import convert
from logger.words.bands import band_on_screen
from logger.words.digits import DASH, MINUS, PLUS_MINUS
from logger.words.durations import clock
from logger.words.shown import AsRecorded
from logger.words.values import number_text, places_of, spread_text, unit_text, with_unit

Numeric = TypeVar("Numeric", float, np.ndarray)
_BIG = 100.0
"""A number of the usual size: its unit alone decides the decimals."""
_OF_TEXT = {unit_text(unit): unit for unit in ("degC", "K", "K/min", "g", "g/min")}
"""By how a unit is written in a sentence, the unit of the program: those that can be chosen."""
_NUMBER = rf"{MINUS}?\d+(?:\.\d+)?"
_SAID = re.compile(
    rf"(?<![\w.:{MINUS}])(?P<between>between )?(?P<first>{_NUMBER})"
    rf"(?:(?P<by> to | {PLUS_MINUS} | and )(?P<second>{_NUMBER}))?"
    rf" (?P<unit>{'|'.join(sorted(_OF_TEXT, key=len, reverse=True))})(?![\w/])"
)
_UNIT = re.compile(r"(\d) (?=(?:°[CF]|F°|K|g|oz|mm|%|min|s|h)(?!\w))")
_SPOKEN = ("children", "title", "aria-label")
"""Where a part has text to read."""


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

    def said(self, text: str) -> str:
        """Return a sentence of the program with its values in the units that were chosen.

        Parameters
        ----------
        text : str
            With values as ``logger.words`` writes them: ``"46.1 ± 0.6 °C"``, ``"44 to 58 °C"``.
        """
        return text if self == Measures() else _SAID.sub(self._converted, text)

    def _converted(self, found: re.Match[str]) -> str:
        unit, by = _OF_TEXT[found["unit"]], found["by"]
        if self.unit(unit) == found["unit"]:
            return found[0]
        if by == " and " and not found["between"]:  # two things, of which one has a unit
            return f"{found['first']}{by}{self._one(found['second'], unit)}"
        if by is None:
            return self._one(found["first"], unit)
        if by == f" {PLUS_MINUS} ":
            return self.value(_number(found["first"]), unit, _number(found["second"]))
        first, second = (self._one(found[end], unit) for end in ("first", "second"))
        bare = first.removesuffix(f" {self.unit(unit)}")
        return f"{found['between'] or ''}{bare}{by}{second}"

    def _one(self, written: str, unit: str) -> str:
        """Convert a number; one without decimals was set by somebody and keeps none needlessly."""
        value = _number(written)
        return self.plain(value, unit) if "." in written else self.band(value, value, unit)

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


def unbroken(text: str) -> str:
    """Return a headline whose units stay on the line of their numbers."""
    return _UNIT.sub("\\1\N{NO-BREAK SPACE}", text)


def in_units(drawn: Any, measures: Measures) -> Any:
    """Return a drawn part with the values in its sentences in the units that were chosen.

    Parameters
    ----------
    drawn : component, list, str or None
        Written by the program; what a person typed must not be in it. Components are changed.
    measures : Measures
        How numbers are written.
    """
    if measures == Measures():
        return drawn
    if isinstance(drawn, str):
        return measures.said(drawn)
    if isinstance(drawn, list | tuple):
        return [in_units(part, measures) for part in drawn]
    if isinstance(drawn, Component):
        for name in _SPOKEN:
            inside = getattr(drawn, name, None)
            if inside is not None:
                setattr(drawn, name, in_units(inside, measures))
    return drawn


def _number(written: str) -> float:
    return float(written.replace(MINUS, "-"))


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
