"""The piecewise reference function of one thermocouple type and its root finding.

Pure; the working part of logger.science.metrology.its90, which is the door and checks ranges. One
float and an array go through the same arithmetic, so that they give the same bits.
"""

from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import InputError
from logger.science.metrology.its90_coefficients import FORWARD, K_EXPONENTIAL

Floats = NDArray[np.float64]
X = TypeVar("X", float, Floats)

TYPES = ("B", "E", "J", "K", "N", "R", "S", "T")

# Type B falls to -2.6 uV near 21 degC and is back at 0 mV near 42 degC: two temperatures share an
# emf below that. Above 50 degC its function is single valued; there the inverse begins.
_LOWEST_INVERSE_C = {"B": 50.0}

_NEWTON_STEPS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One segment of a reference function.

    Attributes
    ----------
    low_c, high_c : float
        Range of the segment [degC].
    emf, slope : tuple of float
        Coefficients of the emf [mV] and of its derivative [mV/degC], highest order first.
    exponential : bool
        Whether the exponential term of type K is added.
    """

    low_c: float
    high_c: float
    emf: tuple[float, ...]
    slope: tuple[float, ...]
    exponential: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """All segments of one type and a 1 degC grid over the range of its inverse.

    Attributes
    ----------
    pieces : tuple of Piece
        Segments, rising.
    grid_c, grid_mv, grid_c_array, grid_mv_array
        Temperatures [degC] and emfs [mV] that bracket the root, as tuples and as arrays.
    """

    pieces: tuple[Piece, ...]
    grid_c: tuple[float, ...]
    grid_mv: tuple[float, ...]
    grid_c_array: Floats
    grid_mv_array: Floats


def pieces_of(tc_type: str) -> tuple[Piece, ...]:
    """Segments of a type's reference function.

    Raises
    ------
    InputError
        If the type is unknown.
    """
    if tc_type not in FORWARD:
        raise InputError("thermocouple type", repr(tc_type), f"one of {', '.join(TYPES)}")
    return tuple(
        Piece(
            low_c=low,
            high_c=high,
            emf=tuple(reversed(c)),
            slope=tuple(i * c[i] for i in range(len(c) - 1, 0, -1)),
            exponential=tc_type == "K" and low == 0.0,
        )
        for low, high, c in FORWARD[tc_type]
    )


@lru_cache(maxsize=8)
def curve_of(tc_type: str) -> Curve:
    """Pieces of one type and a 1 degC grid that brackets the root of the inverse."""
    pieces = pieces_of(tc_type)
    low, high = _LOWEST_INVERSE_C.get(tc_type, pieces[0].low_c), pieces[-1].high_c
    inside = np.arange(np.ceil(low), high, 1.0)
    grid = np.unique(np.concatenate(([low], inside, [high])))
    emf = emf_array(pieces, grid)
    return Curve(
        pieces=pieces,
        grid_c=tuple(grid.tolist()),
        grid_mv=tuple(emf.tolist()),
        grid_c_array=grid,
        grid_mv_array=emf,
    )


def emf_and_slope(piece: Piece, t: X) -> tuple[X, X]:
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


def piece_at(pieces: tuple[Piece, ...], t: float) -> Piece:
    """Segment that holds a temperature [degC] within the whole range."""
    for piece in pieces[:-1]:
        if t <= piece.high_c:
            return piece
    return pieces[-1]


def by_piece(pieces: tuple[Piece, ...], t: Floats) -> tuple[Floats, Floats]:
    """Emf [mV] and slope [mV/degC] at temperatures within the whole range [degC]."""
    emf, slope = np.full(t.shape, np.nan), np.full(t.shape, np.nan)
    edges = np.array([p.high_c for p in pieces[:-1]])
    which = np.searchsorted(edges, t, side="left")
    for i, piece in enumerate(pieces):
        here = which == i
        emf[here], slope[here] = emf_and_slope(piece, t[here])
    return emf, slope


def emf_array(pieces: tuple[Piece, ...], t: Floats) -> Floats:
    """Emf [mV] at temperatures [degC]; NaN outside the range."""
    inside = (t >= pieces[0].low_c) & (t <= pieces[-1].high_c)
    emf = np.full(t.shape, np.nan)
    emf[inside] = by_piece(pieces, t[inside])[0]
    return emf


def inverse(curve: Curve, emf: float) -> float:
    """Temperature [degC] of an emf [mV] that lies on the grid: Newton within a 1 degC bracket."""
    i = min(max(bisect_right(curve.grid_mv, emf), 1), len(curve.grid_mv) - 1)
    low, high = curve.grid_c[i - 1], curve.grid_c[i]
    e_low, e_high = curve.grid_mv[i - 1], curve.grid_mv[i]
    t = low + (emf - e_low) / (e_high - e_low) * (high - low)
    for _ in range(_NEWTON_STEPS):
        found, slope = emf_and_slope(piece_at(curve.pieces, t), t)
        t = min(max(float(t - (found - emf) / slope), low), high)
    return t


def inverse_array(curve: Curve, emf: Floats) -> Floats:
    """Temperatures [degC] of emfs [mV]; NaN off the grid. The arithmetic of `inverse`."""
    e, grid = curve.grid_mv_array, curve.grid_c_array
    out = np.full(emf.shape, np.nan)
    inside = (emf >= e[0]) & (emf <= e[-1])
    wanted = emf[inside]
    i = np.clip(np.searchsorted(e, wanted, side="right"), 1, e.size - 1)
    low, high = grid[i - 1], grid[i]
    t = low + (wanted - e[i - 1]) / (e[i] - e[i - 1]) * (high - low)
    for _ in range(_NEWTON_STEPS):
        found, slope = by_piece(curve.pieces, t)
        t = np.minimum(np.maximum(t - (found - wanted) / slope, low), high)
    out[inside] = t
    return out
