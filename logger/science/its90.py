"""Thermocouple emf to temperature and back, by the ITS-90 reference functions.

Pure functions of numbers, for one float or a float64 array alike; used by logger.correct and the
virtual bench. One float outside the range is refused with an error; in an array each such element
becomes NaN, because one bad sample must not lose the others.

An emf is in mV with the reference junction at 0 degC unless a cold junction is named. The inverse
is Newton's method on the reference function itself, so it carries no inverse-polynomial error.
"""

from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import InputError, OutOfRangeError
from logger.science.its90_coefficients import FORWARD, K_EXPONENTIAL

Floats = NDArray[np.float64]
X = TypeVar("X", float, Floats)

TYPES = ("B", "E", "J", "K", "N", "R", "S", "T")

# Type B falls to -2.6 uV near 21 degC and is back at 0 mV near 42 degC: two temperatures share an
# emf below that. Above 50 degC its function is single valued; there the inverse begins.
_LOWEST_INVERSE_C = {"B": 50.0}

_NEWTON_STEPS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    low_c: float
    high_c: float
    emf: tuple[float, ...]  # highest order first, for Horner's scheme
    slope: tuple[float, ...]
    exponential: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Curve:
    pieces: tuple[_Piece, ...]
    grid_c: tuple[float, ...]
    grid_mv: tuple[float, ...]
    grid_c_array: Floats
    grid_mv_array: Floats


def _pieces(tc_type: str) -> tuple[_Piece, ...]:
    if tc_type not in FORWARD:
        raise InputError("thermocouple type", repr(tc_type), f"one of {', '.join(TYPES)}")
    return tuple(
        _Piece(
            low_c=low,
            high_c=high,
            emf=tuple(reversed(c)),
            slope=tuple(i * c[i] for i in range(len(c) - 1, 0, -1)),
            exponential=tc_type == "K" and low == 0.0,
        )
        for low, high, c in FORWARD[tc_type]
    )


@lru_cache(maxsize=8)
def _curve(tc_type: str) -> _Curve:
    """Pieces of one type and a 1 degC grid that brackets the root of the inverse."""
    pieces = _pieces(tc_type)
    low, high = _LOWEST_INVERSE_C.get(tc_type, pieces[0].low_c), pieces[-1].high_c
    inside = np.arange(np.ceil(low), high, 1.0)
    grid = np.unique(np.concatenate(([low], inside, [high])))
    emf = _emf_array(pieces, grid)
    return _Curve(
        pieces=pieces,
        grid_c=tuple(grid.tolist()),
        grid_mv=tuple(emf.tolist()),
        grid_c_array=grid,
        grid_mv_array=emf,
    )


def _emf_and_slope(piece: _Piece, t: X) -> tuple[X, X]:
    """Emf [mV] and its derivative [mV/degC] on one piece, the same arithmetic for both kinds."""
    emf, slope = t * 0.0, t * 0.0
    for c in piece.emf:
        emf = emf * t + c
    for c in piece.slope:
        slope = slope * t + c
    if piece.exponential:
        a0, a1, a2 = K_EXPONENTIAL
        offset = t - a2
        bump = a0 * np.exp(a1 * (offset * offset))
        emf = emf + bump
        slope = slope + bump * (2.0 * a1) * offset
    return emf, slope


def _piece_at(pieces: tuple[_Piece, ...], t: float) -> _Piece:
    for piece in pieces[:-1]:
        if t <= piece.high_c:
            return piece
    return pieces[-1]


def _by_piece(pieces: tuple[_Piece, ...], t: Floats) -> tuple[Floats, Floats]:
    emf, slope = np.full(t.shape, np.nan), np.full(t.shape, np.nan)
    edges = np.array([p.high_c for p in pieces[:-1]])
    which = np.searchsorted(edges, t, side="left")
    for i, piece in enumerate(pieces):
        here = which == i
        emf[here], slope[here] = _emf_and_slope(piece, t[here])
    return emf, slope


def _emf_array(pieces: tuple[_Piece, ...], t: Floats) -> Floats:
    inside = (t >= pieces[0].low_c) & (t <= pieces[-1].high_c)
    emf = np.full(t.shape, np.nan)
    emf[inside] = _by_piece(pieces, t[inside])[0]
    return emf


def temperature_range_c(tc_type: str) -> tuple[float, float]:
    """Lowest and highest temperature of a type's reference function.

    Parameters
    ----------
    tc_type : str
        Letter of the type: B, E, J, K, N, R, S or T.

    Returns
    -------
    tuple of float
        Lowest and highest temperature [degC].

    Raises
    ------
    InputError
        If the type is unknown.
    """
    pieces = _curve(tc_type).pieces
    return pieces[0].low_c, pieces[-1].high_c


def emf_range_mv(tc_type: str) -> tuple[float, float]:
    """Lowest and highest emf that the inverse accepts, reference junction at 0 degC.

    Parameters
    ----------
    tc_type : str
        Letter of the type: B, E, J, K, N, R, S or T.

    Returns
    -------
    tuple of float
        Lowest and highest emf [mV].

    Raises
    ------
    InputError
        If the type is unknown.

    Notes
    -----
    Type B begins at 50 degC, where its function is single valued.
    """
    curve = _curve(tc_type)
    return curve.grid_mv[0], curve.grid_mv[-1]


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
    pieces = _curve(tc_type).pieces
    if isinstance(temp_c, np.ndarray):
        return _emf_array(pieces, np.asarray(temp_c, dtype=np.float64))
    return float(_emf_and_slope(_inside(tc_type, pieces, temp_c), temp_c)[0])


@overload
def seebeck_uv_per_k(tc_type: str, temp_c: float) -> float: ...
@overload
def seebeck_uv_per_k(tc_type: str, temp_c: Floats) -> Floats: ...
def seebeck_uv_per_k(tc_type: str, temp_c: float | Floats) -> float | Floats:
    """Slope of the emf with temperature (Seebeck coefficient).

    Parameters
    ----------
    tc_type : str
        Letter of the type: B, E, J, K, N, R, S or T.
    temp_c : float or ndarray
        Temperature [degC]; any shape.

    Returns
    -------
    float or ndarray
        Slope [uV/K], of the shape of `temp_c`; NaN for elements outside the range.

    Raises
    ------
    InputError
        If the type is unknown.
    OutOfRangeError
        If a single temperature is NaN or outside the range of the reference function.

    References
    ----------
    Derivative of the functions of NIST Standard Reference Database 60.
    """
    pieces = _curve(tc_type).pieces
    if isinstance(temp_c, np.ndarray):
        t = np.asarray(temp_c, dtype=np.float64)
        inside = (t >= pieces[0].low_c) & (t <= pieces[-1].high_c)
        slope = np.full(t.shape, np.nan)
        slope[inside] = _by_piece(pieces, t[inside])[1]
        return slope * 1000.0
    return float(_emf_and_slope(_inside(tc_type, pieces, temp_c), temp_c)[1]) * 1000.0


def _inside(tc_type: str, pieces: tuple[_Piece, ...], temp_c: float) -> _Piece:
    low, high = pieces[0].low_c, pieces[-1].high_c
    if not low <= temp_c <= high:
        raise OutOfRangeError(
            f"temperature of a type {tc_type} junction [degC]", temp_c, f"{low:g} to {high:g}"
        )
    return _piece_at(pieces, temp_c)


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
    curve = _curve(tc_type)
    if isinstance(measured_mv, np.ndarray):
        cold = np.broadcast_to(np.asarray(cold_junction_c, dtype=np.float64), measured_mv.shape)
        total = np.asarray(measured_mv, dtype=np.float64) + _emf_array(curve.pieces, cold)
        return _inverse_array(curve, total)
    total_mv = measured_mv + emf_mv(tc_type, float(cold_junction_c))
    low, high = curve.grid_mv[0], curve.grid_mv[-1]
    if not low <= total_mv <= high:
        raise OutOfRangeError(
            f"emf of a type {tc_type} thermocouple against 0 degC [mV]",
            total_mv,
            f"{low:.3f} to {high:.3f}; an open or reversed probe reads like this",
        )
    return _inverse(curve, total_mv)


def _inverse(curve: _Curve, emf: float) -> float:
    i = min(max(bisect_right(curve.grid_mv, emf), 1), len(curve.grid_mv) - 1)
    low, high = curve.grid_c[i - 1], curve.grid_c[i]
    e_low, e_high = curve.grid_mv[i - 1], curve.grid_mv[i]
    t = low + (emf - e_low) / (e_high - e_low) * (high - low)
    for _ in range(_NEWTON_STEPS):
        found, slope = _emf_and_slope(_piece_at(curve.pieces, t), t)
        t = min(max(float(t - (found - emf) / slope), low), high)
    return t


def _inverse_array(curve: _Curve, emf: Floats) -> Floats:
    e, grid = curve.grid_mv_array, curve.grid_c_array
    out = np.full(emf.shape, np.nan)
    inside = (emf >= e[0]) & (emf <= e[-1])
    wanted = emf[inside]
    i = np.clip(np.searchsorted(e, wanted, side="right"), 1, e.size - 1)
    low, high = grid[i - 1], grid[i]
    t = low + (wanted - e[i - 1]) / (e[i] - e[i - 1]) * (high - low)
    for _ in range(_NEWTON_STEPS):
        found, slope = _by_piece(curve.pieces, t)
        t = np.minimum(np.maximum(t - (found - wanted) / slope, low), high)
    out[inside] = t
    return out
