"""How far new thermocouple wire, or a platinum resistor, may be off: the standards' classes.

Pure functions of numbers, for one float or a float64 array; used by logger.correct. A class says
nothing outside its temperature range: one float there is refused, array elements become NaN.
Tolerances hold for new wire as delivered, not for wire that has aged in hot fat.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import overload

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import InputError, OutOfRangeError
from logger.words.bands import band_text

Floats = NDArray[np.float64]
WireClass = int | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Tolerance over one temperature range: the greater of two terms.

    Attributes
    ----------
    low_c, high_c : float
        Range in which the band holds [degC].
    fixed_k : float
        First term [K].
    relative : float
        Second term as a share of the temperature, or of the part above `from_c` [K/K].
    from_c : float
        Where the relative term begins; not 0 only for types R and S, class 1 [degC].
    """

    low_c: float
    high_c: float
    fixed_k: float
    relative: float
    from_c: float = 0.0


def _band(low: float, high: float, fixed: float, relative: float) -> Band:
    return Band(low_c=low, high_c=high, fixed_k=fixed, relative=relative)


# IEC 60584-2:1993 (with JIS C1602-1995), table of tolerance classes. Types E, N, R, S and B were
# read in three reproductions that agree (two makers' tables, one handbook), not in the standard.
IEC_60584_2: dict[tuple[str, WireClass], tuple[Band, ...]] = {
    ("T", 1): (_band(-40, 350, 0.5, 0.004),),
    ("T", 2): (_band(-40, 350, 1.0, 0.0075),),
    ("T", 3): (_band(-200, 40, 1.0, 0.015),),
    ("E", 1): (_band(-40, 800, 1.5, 0.004),),
    ("E", 2): (_band(-40, 900, 2.5, 0.0075),),
    ("E", 3): (_band(-200, 40, 2.5, 0.015),),
    ("J", 1): (_band(-40, 750, 1.5, 0.004),),
    ("J", 2): (_band(-40, 750, 2.5, 0.0075),),
    ("K", 1): (_band(-40, 1000, 1.5, 0.004),),
    ("K", 2): (_band(-40, 1200, 2.5, 0.0075),),
    ("K", 3): (_band(-200, 40, 2.5, 0.015),),
    ("N", 1): (_band(-40, 1000, 1.5, 0.004),),
    ("N", 2): (_band(-40, 1200, 2.5, 0.0075),),
    ("N", 3): (_band(-200, 40, 2.5, 0.015),),
    # 1 K up to 1100 degC, then 1 + 0.003 (t - 1100)
    ("R", 1): (Band(low_c=0, high_c=1600, fixed_k=1.0, relative=0.003, from_c=1100),),
    ("R", 2): (_band(0, 1600, 1.5, 0.0025),),
    ("S", 1): (Band(low_c=0, high_c=1600, fixed_k=1.0, relative=0.003, from_c=1100),),
    ("S", 2): (_band(0, 1600, 1.5, 0.0025),),
    ("B", 2): (_band(600, 1700, 1.5, 0.0025),),
    ("B", 3): (_band(600, 1700, 4.0, 0.005),),
}

# ASTM E230/E230M table 1, above 0 degC from three reproductions that agree. Below 0 degC types E
# and T from two that agree; type K from two that differ (2 % and 1 %): the wider one stands here.
# Type N below 0 degC is given by one only and left out. There is no special tolerance below 0.
ASTM_E230: dict[tuple[str, WireClass], tuple[Band, ...]] = {
    ("T", "standard"): (_band(-200, 0, 1.0, 0.015), _band(0, 370, 1.0, 0.0075)),
    ("T", "special"): (_band(0, 370, 0.5, 0.004),),
    ("E", "standard"): (_band(-200, 0, 1.7, 0.01), _band(0, 870, 1.7, 0.005)),
    ("E", "special"): (_band(0, 870, 1.0, 0.004),),
    ("J", "standard"): (_band(0, 760, 2.2, 0.0075),),
    ("J", "special"): (_band(0, 760, 1.1, 0.004),),
    ("K", "standard"): (_band(-200, 0, 2.2, 0.02), _band(0, 1260, 2.2, 0.0075)),
    ("K", "special"): (_band(0, 1260, 1.1, 0.004),),
    ("N", "standard"): (_band(0, 1260, 2.2, 0.0075),),
    ("N", "special"): (_band(0, 1260, 1.1, 0.004),),
    ("R", "standard"): (_band(0, 1480, 1.5, 0.0025),),
    ("R", "special"): (_band(0, 1480, 0.6, 0.001),),
    ("S", "standard"): (_band(0, 1480, 1.5, 0.0025),),
    ("S", "special"): (_band(0, 1480, 0.6, 0.001),),
    ("B", "standard"): (_band(870, 1700, 0.0, 0.005),),
    ("B", "special"): (_band(870, 1700, 0.0, 0.0025),),
}

# IEC 60751:2008, tolerance classes of wire-wound and film resistors: AA 0.1 + 0.0017 |t|,
# A 0.15 + 0.002 |t|, B 0.3 + 0.005 |t|, C 0.6 + 0.01 |t| (C from memory).
PLATINUM_WIDEST = (0.6, 0.01)
"""The widest class of platinum resistors, C: half width at 0 degC [K], and its growth [K/K]."""

_STANDARDS = {"IEC 60584-2": IEC_60584_2, "ASTM E230": ASTM_E230}


def classes_of(tc_type: str, standard: str) -> tuple[WireClass, ...]:
    """Classes that a standard defines for a thermocouple type.

    Parameters
    ----------
    tc_type : str
        Letter of the type: B, E, J, K, N, R, S or T.
    standard : str
        ``"IEC 60584-2"`` (classes 1, 2, 3) or ``"ASTM E230"`` (``"standard"``, ``"special"``).

    Returns
    -------
    tuple
        The classes; empty for an unknown type.

    Raises
    ------
    InputError
        If the standard is unknown.
    """
    if standard not in _STANDARDS:
        raise InputError("tolerance standard", repr(standard), f"one of {', '.join(_STANDARDS)}")
    return tuple(c for letter, c in _STANDARDS[standard] if letter == tc_type)


@overload
def wire_tolerance_k(
    tc_type: str, wire_class: WireClass, temp_c: float, standard: str = ...
) -> float: ...
@overload
def wire_tolerance_k(
    tc_type: str, wire_class: WireClass, temp_c: Floats, standard: str = ...
) -> Floats: ...
def wire_tolerance_k(
    tc_type: str, wire_class: WireClass, temp_c: float | Floats, standard: str = "IEC 60584-2"
) -> float | Floats:
    """Tolerance of new thermocouple wire at a temperature.

    Parameters
    ----------
    tc_type : str
        Letter of the type: B, E, J, K, N, R, S or T.
    wire_class : int or str
        1, 2, 3 for IEC 60584-2; ``"standard"`` or ``"special"`` for ASTM E230.
    temp_c : float or ndarray
        Temperature [degC]; any shape.
    standard : str
        ``"IEC 60584-2"`` or ``"ASTM E230"``.

    Returns
    -------
    float or ndarray
        Half width of the tolerance [K], of the shape of `temp_c`; NaN for elements outside the
        range of the class.

    Raises
    ------
    InputError
        If the standard is unknown or has no such class for the type.
    OutOfRangeError
        If a single temperature is NaN or outside the range of the class.

    Notes
    -----
    At the joint of two ranges (0 degC, ASTM E230) the wider tolerance is taken.

    References
    ----------
    IEC 60584-2:1993, tolerance classes; ASTM E230/E230M, table 1.
    """
    bands = _bands_of(tc_type, wire_class, standard)
    if isinstance(temp_c, np.ndarray):
        return _tolerance_array(bands, np.asarray(temp_c, dtype=np.float64))
    widths = [_width(b, temp_c) for b in bands if b.low_c <= temp_c <= b.high_c]
    if not widths:
        raise OutOfRangeError(
            f"temperature of type {tc_type} wire, {standard} class {wire_class} [degC]",
            temp_c,
            f"{band_text(bands[0].low_c, bands[-1].high_c, '')}: the class says nothing outside",
        )
    return max(widths)


BASE_METAL = ("E", "J", "K", "N", "T")
"""Types of base-metal wire: what a thermocouple of unknown type in a kitchen is."""


@overload
def widest_wire_k(tc_type: str | None, temp_c: float) -> float: ...
@overload
def widest_wire_k(tc_type: str | None, temp_c: Floats) -> Floats: ...
def widest_wire_k(tc_type: str | None, temp_c: float | Floats) -> float | Floats:
    """Widest tolerance that any class of either standard gives wire of a type.

    Parameters
    ----------
    tc_type : str or None
        Letter of the type; None is any type of base metal.
    temp_c : float or ndarray
        Temperature [degC]; any shape.

    Returns
    -------
    float or ndarray
        Half width [K], of the shape of `temp_c`; NaN where no class says anything.

    References
    ----------
    IEC 60584-2:1993, tolerance classes; ASTM E230/E230M, table 1.
    """
    bands = _all_bands(tc_type)
    if isinstance(temp_c, np.ndarray):
        return _tolerance_array(bands, np.asarray(temp_c, dtype=np.float64))
    widths = [_width(b, temp_c) for b in bands if b.low_c <= temp_c <= b.high_c]
    return max(widths, default=math.nan)


@cache
def _all_bands(tc_type: str | None) -> tuple[Band, ...]:
    types = BASE_METAL if tc_type is None else (tc_type,)
    return tuple(
        band
        for table in _STANDARDS.values()
        for (letter, _), bands in table.items()
        if letter in types
        for band in bands
    )


def _bands_of(tc_type: str, wire_class: WireClass, standard: str) -> tuple[Band, ...]:
    known = classes_of(tc_type, standard)
    if wire_class not in known:
        listed = ", ".join(str(c) for c in known) or "none"
        raise InputError(
            f"tolerance class of type {tc_type} wire",
            repr(wire_class),
            f"{standard} defines {listed} for this type",
        )
    return _STANDARDS[standard][tc_type, wire_class]


def _width(band: Band, t: float) -> float:
    if band.from_c:
        return band.fixed_k + band.relative * max(t - band.from_c, 0.0)
    return max(band.fixed_k, band.relative * abs(t))


def _tolerance_array(bands: tuple[Band, ...], t: Floats) -> Floats:
    out = np.full(t.shape, np.nan)
    for b in bands:
        if b.from_c:
            width = b.fixed_k + b.relative * np.maximum(t - b.from_c, 0.0)
        else:
            width = np.maximum(b.fixed_k, b.relative * np.abs(t))
        out = np.where((t >= b.low_c) & (t <= b.high_c), np.fmax(out, width), out)
    return out
