"""Numbers as a person at the bench reads them: degC or degF, g or oz, minutes and seconds.

The only place of the screen that converts units, through the program's one pint registry. Pure.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, TypeVar

import numpy as np

from logger.model.quantity import convert

Numeric = TypeVar("Numeric", float, np.ndarray)

DASH = "–"
_DIGITS = {"°C": 1, "°F": 1, "K": 1, "F°": 1, "g": 1, "oz": 2, "g/min": 0, "oz/min": 1, "%": 1}
_DIGITS |= {"mm": 2, "min": 1, "Hz": 1, "s": 0}


@dataclass(frozen=True, slots=True)
class Measures:
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

    @classmethod
    def of(cls, choices: dict[str, Any] | None) -> "Measures":
        """Read the choices kept in the browser; anything unknown is degC and g."""
        choices = choices or {}
        return cls(
            temp="F" if choices.get("temp") == "F" else "C",
            mass="oz" if choices.get("mass") == "oz" else "g",
        )

    def unit(self, unit: str) -> str:
        """Return the unit that stands on the screen for `unit` of the program."""
        return self._spelled(unit)[0]

    def number(self, value: Numeric, unit: str) -> Numeric:
        """Convert a number, or an array of any shape, from `unit` to the unit shown."""
        slope, shift = _line(unit, self._spelled(unit)[1])
        return value * slope + shift

    def text(self, value: float | None, unit: str, digits: int | None = None) -> str:
        """Return a number without its unit: ``"46.1"``, ``"8:20"``, or a dash for none."""
        if value is None or not math.isfinite(value):
            return DASH
        if unit == "s":
            return clock(value)
        shown = self.number(float(value), unit)
        places = _DIGITS.get(self.unit(unit), 1) if digits is None else digits
        text = f"{shown:.{places}f}"
        return text.replace("-", "−") if float(text) != 0.0 else f"{0:.{places}f}"

    def spread(self, u_expanded: float | None, unit: str) -> str:
        """Return ``"± 0.6"``; empty when the uncertainty is not known."""
        if u_expanded is None or not math.isfinite(u_expanded):
            return ""
        slope, _ = _line(unit, self._spelled(unit)[1])
        shown = u_expanded * slope
        if unit == "s":
            return f"± {shown:.0f} s" if shown >= 0.95 else f"± {shown:.1g} s" if shown else ""
        places = _DIGITS.get(self.unit(unit), 1)
        if shown < 0.5 * 10.0**-places:
            places += 1
        return f"± {shown:.{places}f}"

    def band(self, low: float | None, high: float | None, unit: str) -> str:
        """Return a target in words: ``"44 to 58 °C"``, ``"at least 6:00"``; empty for none."""
        shown = "" if unit == "s" else f" {self.unit(unit)}"
        if low is not None and high is not None:
            return f"{self._limit(low, unit)} to {self._limit(high, unit)}{shown}"
        if low is not None:
            return f"at least {self._limit(low, unit)}{shown}"
        if high is not None:
            return f"at most {self._limit(high, unit)}{shown}"
        return ""

    def _limit(self, value: float, unit: str) -> str:
        text = self.text(value, unit)
        return text.rstrip("0").rstrip(".") if "." in text else text

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
        return {"percent": "%"}.get(unit, unit), unit


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


def clock(duration_s: float | None) -> str:
    """Return ``m:ss``, from an hour on ``h:mm:ss``; a dash for none."""
    if duration_s is None or not math.isfinite(duration_s):
        return DASH
    whole = round(abs(duration_s))
    sign = "−" if duration_s < 0 and whole else ""
    hours, rest = divmod(whole, 3600)
    if hours:
        return f"{sign}{hours}:{rest // 60:02d}:{rest % 60:02d}"
    return f"{sign}{rest // 60}:{rest % 60:02d}"
