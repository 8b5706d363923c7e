"""Where the loss of water stops being steady and begins to fall: the bend of a drying curve.

Pure functions of arrays; used by logger.science.drying.drying. A film of loose water evaporates at
a steady rate. When it gives out, the rate goes on falling, about in proportion to what is left.
Other air (a fan, a lid, a door) changes the rate, too, but then it is steady again at its new
level, or drifts as a whole. So a bend is found only where the curve of a film that gives out fits
the masses clearly better than steady rates with one or two changes, and than a slow drift.
"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MOST_BLOCKS, FEWEST_BLOCKS = 90, 30
CLEARLY = 20.0
"""Twice the logarithm of the likelihood ratio, less the cost of parameters, from which one curve is
clearly the better (Kass and Raftery 1995, 3.2: above 10 is very strong; but wet skin may burst)."""
SETTLES = 0.2
"""A rate that settles at more than this share of the first may be that of other air."""
WITHIN = 2.706
"""Of the chi-squared distribution with one degree of freedom: 90 %."""
_BENDS, _KNOTS = 24, 18
_FALLS_S = np.geomspace(20.0, 3600.0, 16)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """Where the rate began to fall.

    Attributes
    ----------
    at_s, early_s, late_s : float
        Time of the bend since the first mass, with its 90 % interval [s].
    steady_g_h, now_g_h : float
        Rate before it, and at the last mass [g/h].
    better_by : float
        How clearly it is better than a change of the air: see `CLEARLY`.
    """

    at_s: float
    early_s: float
    late_s: float
    steady_g_h: float
    now_g_h: float
    better_by: float


def find_bend(time_s: Array, mass_g: Array, step_g: float) -> Bend | None:
    """Fit a steady loss that begins to fall, if any curve of changing air fits worse.

    Parameters
    ----------
    time_s, mass_g : ndarray, shape (n,)
        Times from 0 [s], rising, and masses [g].
    step_g : float
        Step of the scale [g].

    Returns
    -------
    Bend or None
        None where there is too little to fit, or no fit has a rate that falls.

    Notes
    -----
    One change of the air is a case of two: its fit is no better than theirs.

    References
    ----------
    Kass and Raftery, Bayes factors, J. Am. Stat. Assoc. 90 (1995) 773-795, for what is clear.
    """
    t, m = blocks(time_s, mass_g)
    if t.size < FEWEST_BLOCKS:
        return None
    coarse = _Fits(t, m, np.linspace(0.1 * t[-1], 0.95 * t[-1], _BENDS), _FALLS_S)
    if not coarse.found:
        return None
    near = coarse.nearer(1.5)
    best = near.nearer(0.3)
    noise = _noise(best.residual(), step_g)
    settling = _Fits(t, m, coarse.bends_s, coarse.falls_s, SETTLES)
    if settling.found:
        settling = settling.nearer(1.5).nearer(0.3)
    others = [*_other_air(t, m), (settling.least, 5)]
    better_by = min((s - best.least) / noise - math.log(t.size) * (5 - n) for s, n in others)
    early_s, late_s = near.within(best.least + WITHIN * noise)
    block_s = float(t[-1]) / t.size
    steady, rest = best.rates
    gone = math.exp(-max(float(t[-1]) - best.at_s, 0.0) / best.fall_s)
    return Bend(
        at_s=best.at_s,
        early_s=min(early_s, best.at_s) - block_s,
        late_s=max(late_s, best.at_s) + block_s,
        steady_g_h=3600.0 * steady,
        now_g_h=3600.0 * (rest + (steady - rest) * gone),
        better_by=float(better_by),
    )


class _Fits:
    """Fits of a steady loss that falls, one for each bend and time constant of the fall.

    Only those count whose last rate is at least a share of the first.
    """

    def __init__(
        self, t: Array, m: Array, bends_s: Array, falls_s: Array, least_share: float = -1e9
    ) -> None:
        self._t, self._m, self._least_share = t, m, least_share
        self.bends_s, self.falls_s = bends_s, falls_s
        at_s, fall_s = np.meshgrid(bends_s, falls_s, indexing="ij")
        self._at_s, self._fall_s = at_s.ravel(), fall_s.ravel()
        self._columns = _falling(t, self._at_s, self._fall_s)
        squares, self._weights = _fit(self._columns, m)
        first, last = self._weights[:, 0], self._weights[:, 1]
        falls = (first > 0.0) & (last < first) & (last >= least_share * np.abs(first))
        self._sums = np.where(falls, squares, np.inf)
        self._best = int(np.argmin(self._sums))
        self.least = float(self._sums[self._best])
        self.found = math.isfinite(self.least)
        self.at_s, self.fall_s = float(self._at_s[self._best]), float(self._fall_s[self._best])

    def nearer(self, steps: float) -> "_Fits":
        """Return the fits within so many steps of the grid around the best."""
        reach_s = steps * float(self.bends_s[1] - self.bends_s[0])
        ratio = float(self.falls_s[1] / self.falls_s[0]) ** steps
        bends_s = np.linspace(self.at_s - reach_s, self.at_s + reach_s, self.bends_s.size)
        falls_s = np.geomspace(self.fall_s / ratio, self.fall_s * ratio, self.falls_s.size)
        return _Fits(self._t, self._m, bends_s, falls_s, self._least_share)

    @property
    def rates(self) -> tuple[float, float]:
        """First and last rate of the best fit [g/s]."""
        steady, rest = self._weights[self._best]
        return float(steady), float(rest)

    def residual(self) -> Array:
        """Return what the best fit leaves [g], up to a constant."""
        left: Array = self._m - self._columns[self._best] @ self._weights[self._best]
        return left

    def within(self, most: float) -> tuple[float, float]:
        """Return the first and the last bend whose sum of squares is at most this [s]."""
        inside = self._at_s[self._sums <= most]
        if inside.size == 0:
            return self.at_s, self.at_s
        return float(inside.min()), float(inside.max())


def blocks(time_s: Array, mass_g: Array) -> tuple[Array, Array]:
    """Means of equal spans of time, at most `MOST_BLOCKS`.

    Parameters
    ----------
    time_s, mass_g : ndarray, shape (n,)
        Times from 0 [s], rising, and masses [g].

    Returns
    -------
    tuple of ndarray
        Mean times [s] and masses [g] of the spans with readings.
    """
    span_s = max(10.0, float(time_s[-1]) / MOST_BLOCKS)
    which = np.minimum((time_s / span_s).astype(np.intp), MOST_BLOCKS - 1)
    counts = np.bincount(which)
    full = counts > 0
    t = np.bincount(which, weights=time_s)[full] / counts[full]
    m = np.bincount(which, weights=mass_g)[full] / counts[full]
    return t, m


def _falling(t: Array, at_s: Array, fall_s: Array) -> Array:
    """Return, for each pair, the columns of the first and the last rate; shape (g, n, 2)."""
    since = np.maximum(t[None, :] - at_s[:, None], 0.0)
    fades = fall_s[:, None] * -np.expm1(-since / fall_s[:, None])
    before = np.minimum(t[None, :], at_s[:, None])
    return np.stack([-(before + fades), -(since - fades)], axis=-1)


def _other_air(t: Array, m: Array) -> list[tuple[float, int]]:
    """Return the least sum of squares of each curve of changing air, with its parameters."""
    x = (t - t[0]) / (t[-1] - t[0])
    found = []
    for degree in (2, 3):
        drift = np.polynomial.polynomial.polyvander(x, degree)[:, 1:]
        squares, _ = _fit(drift[None], m)
        found.append((float(squares[0]), degree + 1))
    pairs = list(itertools.combinations(np.linspace(0.03, 0.97, _KNOTS), 2))
    for half in (0.5 / _KNOTS, 0.2 / _KNOTS, 0.08 / _KNOTS):
        squares, _ = _fit(np.stack([_broken(x, pair) for pair in pairs]), m)
        first, second = pairs[int(np.argmin(squares))]
        moves = (-2.0 * half, -half, 0.0, half, 2.0 * half)
        pairs = [(first + a, second + b) for a in moves for b in moves]
    squares, _ = _fit(np.stack([_broken(x, pair) for pair in pairs]), m)
    found.append((float(squares.min()), 6))
    return found


def _broken(x: Array, knots: tuple[float, ...]) -> Array:
    """Return the columns of a line that changes its slope at each knot."""
    return np.column_stack([x, *(np.maximum(x - k, 0.0) for k in knots)])


def _fit(columns: Array, m: Array) -> tuple[Array, Array]:
    """Least squares of many sets of columns and a level; sums of squares (g,), weights (g, p)."""
    centred = m - m.mean()
    columns = columns - columns.mean(axis=1, keepdims=True)
    size = np.sqrt(np.einsum("gni,gni->gi", columns, columns)) + 1e-30
    columns = columns / size[:, None, :]
    normal = np.einsum("gni,gnj->gij", columns, columns) + 1e-10 * np.eye(columns.shape[2])
    right = np.einsum("gni,n->gi", columns, centred)
    weights = np.linalg.solve(normal, right[..., None])[..., 0]
    residual = centred - np.einsum("gni,gi->gn", columns, weights)
    return np.einsum("gn,gn->g", residual, residual), weights / size


def _noise(residual: Array, step_g: float) -> float:
    """Variance that independent block means of such residuals would have [g2].

    Notes
    -----
    Neighbours that err alike count for fewer: by (1 + r) / (1 - r) of their correlation r. The
    steps of the scale leave at least a tenth of a step.
    """
    residual = residual - residual.mean()
    variance = float(residual @ residual) / max(residual.size - 5, 1)
    alike = float(residual[1:] @ residual[:-1]) / max(float(residual @ residual), 1e-30)
    alike = min(max(alike, 0.0), 0.9)
    return max(variance * (1.0 + alike) / (1.0 - alike), (0.1 * step_g) ** 2)
