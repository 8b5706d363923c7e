"""What a number can be at all, whatever its line format says.

Pure data, used by every decoder. A format may narrow the range and name further numbers for no
value; it can't widen the one or take back the other.
"""

import math

from logger.wire.units import Quantity

Range = tuple[float, float]

POSSIBLE: dict[Quantity, Range] = {
    # 0 K is -273.15 degC (SI Brochure, 9th edition, 2.3.1). The hottest thermocouple, type A, ends
    # at 2500 degC (IEC 60584-1:2013; from memory).
    "temperature": (-273.15, 2500.0),
    # A kitchen has no scale for a tonne; common practice, no source.
    "mass": (-1e6, 1e6),
    "emf": (-math.inf, math.inf),
}
"""In degC, g and uV; a value outside is kept and flagged, and never judged."""

# Every segment of a display with a point is lit when it tests itself; 8888 whole grams may be true.
_EIGHTS = (8888.8, 88888.8)
_NINES = (99999.9, 999999.0, 999999.9, 9999999.0)
_BITS = (32767.0, -32768.0, 3276.7, -3276.8, 65535.0, 6553.5)
# Full scale of converters of 12 and 14 bits in quarters of a degC, and what a platinum sensor's
# smallest and largest reading come to, in degF too; absolute zero (component datasheets and
# drivers; from memory).
_CONVERTERS = (
    1023.75, 1024.0, 2047.75, -242.02, 988.79, -246.84, 1037.55, 128.86, -46.85, -273.15,
    1811.82, 1899.59, 263.95, -52.33, 499.51, 931.12,
)  # fmt: skip
# A display of three and a half digits ends at 1999.
_DISPLAYS = (888.0, 888.8, 999.0, -99.9, -99.99, 1999.0, 1999.9, -1999.0, -199.9, 2000.0, 3000.0)
# The reference tables end type K at 1372 degC, J at 1200, N at 1300, E at 1000, R and S at 1768.1
# and B at 1820 (IEC 60584-1; from memory); an open probe is often shown as the end of its type, in
# degF as well. Type T ends at 400, which an oven reaches.
_ENDS = (1000.0, 1200.0, 1300.0, 1370.0, 1372.0, 1768.0, 1768.1, 1820.0, 2500.0)
_ENDS_F = (1832.0, 2192.0, 2372.0, 2498.0, 2501.6, 2502.0, 3214.0, 3308.0)
_FOR_NO_PROBE = (
    -127.0, -196.6,
    *_ENDS, *_ENDS_F, -999.0, 999.9, -999.9, 9999.0, -9999.0, 9999.9, -9999.9, *_BITS,
    *_CONVERTERS, *_DISPLAYS, *_EIGHTS,
)  # fmt: skip
"""Rows of nines, and the ends of 16 bits, whole and in tenths; common practice, no source."""
NO_VALUE: dict[Quantity, frozenset[float]] = {
    "temperature": frozenset((*_FOR_NO_PROBE, *_NINES)),
    # Shorter rows of nines are weights of a bench scale: 999.9 g is no less true than 999.8 g.
    "mass": frozenset(
        (*_NINES, *(-nines for nines in _NINES), -9999.0, -9999.9, 65535.0, 6553.5, *_EIGHTS)
    ),
    "emf": frozenset(),
}
"""Numbers in the unit as sent that instruments send for no value."""
RANGE_ENDS = frozenset((
    -250.0, -200.0, -100.0, -55.0, -50.0, -45.0, -40.0, -0.06, 0.0, 85.0, 125.0, 130.0, 150.0,
    500.0, 850.0,
))  # fmt: skip
"""Ends of the ranges of usual sensors [degC], and the smallest step below 0, which a bus reads
where nothing answers: one that never moves from there may be none, nor one that jumps there. Common
practice, no source."""
DIGITS = 2
"""Decimals to which they are compared: 999.9 as float32 is 999.90002."""


def possible(quantity: Quantity, declared: Range | None) -> Range:
    """Return the values that are possible [degC, g or uV].

    Parameters
    ----------
    quantity : str
        Of the field.
    declared : tuple of float, optional
        Range that its line format declares [degC, g or uV].
    """
    low, high = POSSIBLE[quantity]
    return (low, high) if declared is None else (max(low, declared[0]), min(high, declared[1]))


def says_no_value(number: float, quantity: Quantity) -> bool:
    """Return whether a number stands for no value.

    Parameters
    ----------
    number : float
        In the unit as sent, after any scale [unit of the field].
    quantity : str
        Of the field.
    """
    return round(number, DIGITS) in NO_VALUE[quantity]


def cold_junction_or_none(number: float | None) -> float | None:
    """Return the temperature of a cold junction [degC]; None where it can be none.

    Parameters
    ----------
    number : float or None
        As sent [degC].
    """
    if number is None or says_no_value(number, "temperature"):
        return None
    low, high = POSSIBLE["temperature"]
    return number if low <= number <= high else None
