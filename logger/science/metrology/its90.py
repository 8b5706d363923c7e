"""Thermocouple emf to temperature and back, by the ITS-90 reference functions.

Pure functions of numbers, for one float or a float64 array alike; used by logger.correct and the
virtual bench. One float outside the range is refused with an error; in an array each such element
becomes NaN, because one bad sample must not lose the others.

An emf is in mV with the reference junction at 0 degC unless a cold junction is named. The inverse
is Newton's method on the reference function itself, so it carries no inverse-polynomial error.
"""

from typing import overload

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import OutOfRangeError
from logger.science.metrology.its90_curve import (
    Piece,
    curve_of,
    emf_and_slope,
    emf_array,
    inverse,
    inverse_array,
    piece_at,
)
from logger.words.bands import band_text

Floats = NDArray[np.float64]


@overload
def emf_mv(tc_type: str, temp_c: float) -> float: ...
@overload
def emf_mv(tc_type: str, temp_c: Floats) -> Floats: ...
def emf_mv(tc_type: str, temp_c: float | Floats) -> float | Floats:
    """Emf of a thermocouple with its reference junction at 0 degC.

    Parameters
    ----------
    tc_type : str
        Letter of the type: B, E, J, K, N, R, S or T.
    temp_c : float or ndarray
        Temperature of the measuring junction [degC]; any shape.

    Returns
    -------
    float or ndarray
        Emf [mV], of the shape of `temp_c`; NaN for elements outside the range.

    Raises
    ------
    InputError
        If the type is unknown.
    OutOfRangeError
        If a single temperature is NaN or outside the range of the reference function.

    References
    ----------
    NIST Standard Reference Database 60 (NIST Monograph 175, 1993); IEC 60584-1.
    """
    pieces = curve_of(tc_type).pieces
    if isinstance(temp_c, np.ndarray):
        return emf_array(pieces, np.asarray(temp_c, dtype=np.float64))
    return float(emf_and_slope(_inside(tc_type, pieces, temp_c), temp_c)[0])


def _inside(tc_type: str, pieces: tuple[Piece, ...], temp_c: float) -> Piece:
    low, high = pieces[0].low_c, pieces[-1].high_c
    if not low <= temp_c <= high:
        raise OutOfRangeError(
            f"temperature of a type {tc_type} junction [degC]", temp_c, band_text(low, high, "")
        )
    return piece_at(pieces, temp_c)


@overload
def temperature_c(tc_type: str, measured_mv: float, cold_junction_c: float = 0.0) -> float: ...
@overload
def temperature_c(
    tc_type: str, measured_mv: Floats, cold_junction_c: float | Floats = 0.0
) -> Floats: ...
def temperature_c(
    tc_type: str, measured_mv: float | Floats, cold_junction_c: float | Floats = 0.0
) -> float | Floats:
    """Temperature of a junction from its emf and the cold junction's temperature.

    Parameters
    ----------
    tc_type : str
        Letter of the type: B, E, J, K, N, R, S or T.
    measured_mv : float or ndarray
        Emf as measured [mV]; any shape.
    cold_junction_c : float or ndarray
        Temperature of the cold junction [degC]; 0 when the emf is already referred to 0 degC.
        Same shape as `measured_mv`, or one float.

    Returns
    -------
    float or ndarray
        Temperature [degC], of the shape of `measured_mv`; NaN for elements outside the range.

    Raises
    ------
    InputError
        If the type is unknown.
    OutOfRangeError
        If a single emf or cold junction is NaN or outside the range of the reference function.

    Notes
    -----
    The emf of the cold junction is added to the measured emf; adding degrees instead errs by about
    0.8 degC for type K at 71 degC. The root is bracketed by a 1 degC grid and refined by Newton
    steps on the reference function, clamped to the bracket.

    References
    ----------
    NIST Standard Reference Database 60; IEC 60584-1.
    """
    curve = curve_of(tc_type)
    if isinstance(measured_mv, np.ndarray):
        cold = np.broadcast_to(np.asarray(cold_junction_c, dtype=np.float64), measured_mv.shape)
        total = np.asarray(measured_mv, dtype=np.float64) + emf_array(curve.pieces, cold)
        return inverse_array(curve, total)
    total_mv = measured_mv + emf_mv(tc_type, float(cold_junction_c))
    low, high = curve.grid_mv[0], curve.grid_mv[-1]
    if not low <= total_mv <= high:
        raise OutOfRangeError(
            f"emf of a type {tc_type} thermocouple against 0 degC [mV]",
            total_mv,
            f"{band_text(low, high, '')}; an open or reversed probe reads like this",
        )
    return inverse(curve, total_mv)
