"""Quantities for readers of both systems: degC with degF, g with oz and lb.

Pure text; what has no other unit is written once. Converted through logger.model.quantity.
"""

from logger.model.quantity import convert
from logger.words.bands import band_on_screen, span_text
from logger.words.digits import exact, fixed
from logger.words.values import value_text, with_unit

_OTHER = {
    "degC": ("degC", "degF", "°F", 0),
    "K": ("delta_degC", "delta_degF", "F°", 0),
    "delta_degC": ("delta_degC", "delta_degF", "F°", 0),
    "g": ("g", "ounce", "oz", 2),
    "g/min": ("g/min", "ounce/min", "oz/min", 1),
}
"""By unit of the code: for pint from and to, as shown, and decimals."""
_OZ_IN_LB = 16
_FEWEST_OZ, _LEAST_OZ = 10.0, 0.01


def band_twofold(low: float | None, high: float | None, unit: str) -> str:
    """Write a target in both: ``"47 to 58 °C (117 to 136 °F)"``; empty for none.

    Parameters
    ----------
    low, high : float or None
        Ends [`unit`]; None for one that is open.
    unit : str
        Of the code.
    """
    first = band_on_screen(low, high, unit)
    if unit not in _OTHER or not first:
        return first
    of, to, shown, places = _OTHER[unit]
    ends = [None if end is None else convert(end, of, to) for end in (low, high)]
    return f"{first} ({band_on_screen(ends[0], ends[1], shown, places)})"


def value_twofold(value: float, unit: str) -> str:
    """Write what a sheet sets in both: ``"3 °C (37 °F)"``.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        Of the code.
    """
    return band_twofold(value, value, unit)


def span_twofold(low: float, high: float, unit: str) -> str:
    """Write from where to where measured values lie, in both: ``"48.2 to 49.8 °C (118.8 ...)"``.

    Parameters
    ----------
    low, high : float
        Smallest and largest [`unit`].
    unit : str
        Of the code.
    """
    first = _span(low, high, unit)
    if unit not in _OTHER:
        return first
    of, to, shown, _ = _OTHER[unit]
    return f"{first} ({_span(convert(low, of, to), convert(high, of, to), shown)})"


def _span(low: float, high: float, unit: str) -> str:
    return value_text(low, unit) if low == high else span_text(low, high, unit)


def ounces_text(mass_g: float) -> str:
    """Write a mass [g] in avoirdupois: ``"6.35 oz"``, ``"2 lb 12 oz"`` from a pound on."""
    ounces = convert(mass_g, "g", "ounce")
    if ounces < _LEAST_OZ:
        return f"under {with_unit(exact(_LEAST_OZ), 'oz')}"
    if ounces < _OZ_IN_LB - 0.05:
        return with_unit(fixed(ounces, 2 if ounces < _FEWEST_OZ else 1), "oz")
    pounds, left = divmod(round(ounces, 1), _OZ_IN_LB)
    rest = f" {exact(left, 1)} oz" if round(left, 1) else ""
    return f"{pounds:.0f} lb{rest}"
