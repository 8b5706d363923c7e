"""A value with its unit and its uncertainty, a limit, a percentage.

Pure text. The uncertainty has one significant digit, two where it begins with 1; the value goes to
the same place; the unit stands once. Seconds are written by logger.words.durations.
"""

import math
import re

from logger.words.digits import DASH, MOST_PLACES, exact, fixed, has_uncertainty, places_for
from logger.words.durations import (
    clock_spread,
    duration_spread,
    duration_text,
    exact_duration,
)

_UNITS = {
    "degC": "°C",
    "degF": "°F",
    "delta_degC": "K",
    "percent": "%",
    "dimensionless": "",
}
_PLACES = {"°C": 1, "°F": 1, "K": 1, "F°": 1, "g": 1, "oz": 2, "g/min": 0, "oz/min": 1, "%": 1}
_PLACES |= {"mm": 2, "Hz": 1, "log": 2, "K/min": 1, "g/h": 1, "F°/min": 1, "s": 0, "min": 0}
_PLACES_ELSEWHERE = 3
_CURRENCY, _PLACES_OF_MONEY = re.compile(r"[A-Z]{3}(/.+)?"), 2
_DIGITS_WEIGHED, _SMALLEST_AS_SET_G = 4, 0.01
_SMALL_G = 10.0
"""Below this a mass without an uncertainty has one decimal more: a pinch of salt is no 0.2 g."""


def unit_text(unit: str) -> str:
    """Return a unit as it is shown: ``"°C"`` for ``"degC"``."""
    return _UNITS.get(unit, unit)


def with_unit(number: str, unit: str) -> str:
    """Put a unit behind digits, with a space before it, ``%`` too."""
    return f"{number} {unit_text(unit)}".rstrip()


def places_of(value: float, unit: str, u_expanded: float | None = None) -> int:
    """Return the decimals of a value.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        Of the code or as shown.
    u_expanded : float, optional
        Its expanded uncertainty [same unit]; without one the unit decides.
    """
    if u_expanded is not None and has_uncertainty(u_expanded):
        return places_for(u_expanded)
    shown = unit_text(unit)
    if _CURRENCY.fullmatch(shown):
        return _PLACES_OF_MONEY
    return _PLACES.get(shown, _PLACES_ELSEWHERE) + (shown == "g" and abs(value) < _SMALL_G)


def number_text(value: float | None, unit: str, u_expanded: float | None = None) -> str:
    """Write a value without its unit, to the place of its uncertainty; a dash for none.

    Parameters
    ----------
    value : float or None
        In `unit`.
    unit : str
        Decides the decimals where there is no uncertainty.
    u_expanded : float, optional
        Expanded uncertainty [same unit].
    """
    if value is None or not math.isfinite(value):
        return DASH
    return fixed(value, places_of(value, unit, u_expanded))


def spread_text(u_expanded: float | None, unit: str = "", on_clock: bool = False) -> str:
    """Write an uncertainty alone: ``"± 0.6"``, ``"± 3 s"``; empty where it is not known.

    Parameters
    ----------
    u_expanded : float or None
        Expanded uncertainty [unit].
    unit : str
        Seconds are written with theirs, the others stand behind the value.
    on_clock : bool
        Of a time on a clock, which has whole seconds.
    """
    if u_expanded is None or not has_uncertainty(u_expanded):
        return ""
    if unit == "s":
        return f"± {clock_spread(u_expanded) if on_clock else duration_spread(u_expanded)}"
    return f"± {fixed(u_expanded, places_for(u_expanded))}"


def value_text(value: float | None, unit: str, u_expanded: float | None = None) -> str:
    """Write a measured value for a sentence or a table.

    Parameters
    ----------
    value : float or None
        In `unit`.
    unit : str
        Of the code, such as ``"degC"``; seconds are written as minutes and hours where they are.
    u_expanded : float, optional
        Expanded uncertainty [same unit]; None, 0 or NaN leaves the ± out.

    Returns
    -------
    str
        ``"46.1 ± 0.6 °C"``, ``"8 min 3 s ± 1 s"``, ``"−0.4 K"``; a dash for none.
    """
    if value is None or not math.isfinite(value):
        return DASH
    if unit == "s":
        return duration_text(value, u_expanded)
    spread = spread_text(u_expanded)
    number = number_text(value, unit, u_expanded)
    return with_unit(f"{number} {spread}" if spread else number, unit)


def rounded_text(value: float | None, unit: str) -> str:
    """Write a value in whole units, where no more matters: ``"142 g"``; a dash for none.

    Parameters
    ----------
    value : float or None
        In `unit`.
    unit : str
        Of the code.
    """
    if value is None or not math.isfinite(value):
        return DASH
    return with_unit(fixed(value, 0), unit)


def exact_text(value: float | None, unit: str) -> str:
    """Write a number that somebody set, with the digits it has: ``"178.2 g"``, ``"1 h 30 s"``.

    Parameters
    ----------
    value : float or None
        In `unit`, such as a limit of the sheet.
    unit : str
        Of the code.
    """
    if value is None:
        return DASH
    return exact_duration(value) if unit == "s" else with_unit(exact(value), unit)


def limit_number(value: float, unit: str) -> str:
    """Write a limit without its unit: as it was set; a computed mass has four digits: ``"487.6"``.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        Of the code, or as shown.
    """
    return exact(value, _places_weighed(value) if unit == "g" and value > 0.0 else None)


def weighed_text(mass_g: float) -> str:
    """Write a mass [g] to weigh in: ``"492.5 g"``, ``"5.216 g"`` for 5.21631.

    As it was set where that is two decimals at most; what was computed has four digits, a tenth of
    a gram at least.
    """
    if 0.0 < mass_g < 0.5 * 10.0**-MOST_PLACES:
        return f"under {with_unit(exact(10.0**-MOST_PLACES, MOST_PLACES), 'g')}"
    return with_unit(exact(mass_g, _places_weighed(mass_g)), "g")


def _places_weighed(mass_g: float) -> int:
    """Return the decimals of a mass [g] that was set or computed."""
    as_set = abs(mass_g - round(mass_g, 2)) < 1e-9 and mass_g >= _SMALLEST_AS_SET_G
    digits = _DIGITS_WEIGHED - 1 - math.floor(math.log10(mass_g)) if mass_g > 0.0 else 1
    return min(max(digits, 2 if as_set else 1), MOST_PLACES)


def tolerance_text(percent: float) -> str:
    """Write how far [%] an amount may be off: ``"± 1 %"``, ``"± 6.67 %"``."""
    return f"± {exact_text(float(f'{percent:.3g}'), '%')}"


def part_text(percent: float) -> str:
    """Write how much [%] of a whole an ingredient is: ``"52.5 %"``, ``"1.5 %"``, ``"0.0352 %"``."""
    digits = 2 - math.floor(math.log10(percent)) if percent > 0.0 else 1
    return with_unit(exact(percent, min(max(digits, 1), MOST_PLACES)), "%")


def percent_text(share: float | None) -> str:
    """Write a share [1] as whole percent: ``"98 %"``; a dash for none.

    What is not quite nothing or not quite all is never rounded to it: ``"under 1 %"``,
    ``"over 99 %"``.
    """
    if share is None or not math.isfinite(share):
        return DASH
    if 0.0 < share < 0.005:
        return "under 1 %"
    if 0.995 <= share < 1.0:
        return "over 99 %"
    return with_unit(fixed(100.0 * share, 0), "%")
