"""A number as digits: fixed places, a true minus sign, no negative zero.

Pure; the ground of the other modules of this room. Units and uncertainties are theirs.
"""

import math

DASH = "–"
"""Stands where there is no number."""
MINUS = "\N{MINUS SIGN}"
PLUS_MINUS = "\N{PLUS-MINUS SIGN}"
MOST_PLACES = 6
"""Decimals beyond these are below anything that is measured here."""
_EXACT_DIGITS, _EXACT_PLACES = 6, 4
_LARGEST = 1e12
_EXPORTED_DIGITS = 12


def fixed(value: float, places: int) -> str:
    """Write a number with so many decimals, for people.

    Parameters
    ----------
    value : float
        In any unit [any].
    places : int
        Decimals, 0 or more.

    Returns
    -------
    str
        ``"−0.5"`` with U+2212; ``"0.0"`` for what rounds to zero; a dash for NaN and infinities.
    """
    if not math.isfinite(value):
        return DASH
    if abs(value) >= _LARGEST:
        return f"{value:.3g}".replace("-", MINUS)
    text = f"{value:.{places}f}"
    return text.replace("-", "" if float(text) == 0.0 else MINUS)


def exact(value: float, places: int | None = None) -> str:
    """Write a number that somebody set, such as a limit, with the digits it has.

    Parameters
    ----------
    value : float
        In any unit [any].
    places : int, optional
        Most decimals; by default six significant digits and four decimals at most.

    Returns
    -------
    str
        ``"178.2"``, ``"47"``, ``"22.4"`` for 22.400000000000002; the whole part is never rounded.
    """
    if not math.isfinite(value) or abs(value) >= _LARGEST:
        return fixed(value, 0)
    if places is None:
        whole_digits = len(str(int(abs(value))))
        places = min(max(_EXACT_DIGITS - whole_digits, 0), _EXACT_PLACES)
    text = fixed(value, places)
    return text.rstrip("0").rstrip(".") if "." in text else text


def places_for(u_expanded: float) -> int:
    """Return the decimals that show an uncertainty [any unit] and its value.

    One significant digit, two where the first is a 1 (JCGM 100:2008, 7.2.6, asks for two at most);
    the whole part is kept, so 31 stays 31.
    """
    exponent = math.floor(math.log10(u_expanded))
    begins_with_1 = u_expanded / 10.0**exponent < 1.95
    return min(max(-exponent + (1 if begins_with_1 else 0), 0), MOST_PLACES)


def has_uncertainty(u_expanded: float | None) -> bool:
    """Tell whether an uncertainty [any unit] is known and large enough to be written."""
    if u_expanded is None or not math.isfinite(u_expanded):
        return False
    return u_expanded >= 0.5 * 10.0**-MOST_PLACES


def exported(value: float) -> float:
    """Return a number for a file: its own digits without the noise of binary fractions.

    Parameters
    ----------
    value : float
        In any unit [any]; kept to 12 significant digits.

    Returns
    -------
    float
        22.4 for 22.400000000000002; NaN and infinities as they are.
    """
    return float(f"{value:.{_EXPORTED_DIGITS}g}") + 0.0 if math.isfinite(value) else value
