"""How noisy a scale's readings are, and means of them in which a beating whisk hardly shows.

Pure; used by logger.science.statistics.pourstart. Noise is read off second differences, so that a
pour's slope does not count, and from their smaller part, so that touches do not.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

WIDTHS_S = (0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7)
_WORTH = 0.8
"""A wider mean is taken where its noise, for the time it takes, is less than this share."""
_SMALLER_PART, _FULL = 0.75, 1.647
"""Share of squared differences used, and what makes their root mean square a standard deviation.

For |z| < 1.150 (75 % of a normal distribution) the mean square is 1 - 2 z phi(z)/0.75 = 0.369.
"""
_MAD = 1.4826
_WIDEST = 30


def means_of(t_s: Array, mass_g: Array, width_s: float) -> tuple[Array, Array]:
    """Mean times and mean readings of spans of one width that hold a reading.

    Parameters
    ----------
    t_s, mass_g : ndarray, shape (n,)
        Rising times [s] and readings [g].
    width_s : float
        Width of a span [s], above 0.

    Returns
    -------
    tuple of ndarray
        Times [s] and means [g].
    """
    place = np.floor((t_s - t_s[0]) / width_s).astype(np.intp)
    count = np.bincount(place)
    held = count > 0
    count = count[held]
    times = np.bincount(place, t_s)[held] / count
    return times, np.bincount(place, mass_g)[held] / count


def noise_along(values: Array, half: int) -> Array:
    """Standard deviation of each value about its neighbours' course.

    Parameters
    ----------
    values : ndarray
        At about even distances, in any one unit; shape (n,), n >= 3.
    half : int
        How many neighbours on either side count, at least 1; 30 at most are used.

    Returns
    -------
    ndarray
        Same unit, shape (n,).
    """
    half = min(half, _WIDEST, values.size - 1)
    squares = (values[1:-1] - 0.5 * (values[:-2] + values[2:])) ** 2 / 1.5
    squares = np.concatenate((squares[:1], squares, squares[-1:]))
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(squares, half, mode="reflect"), 2 * half + 1
    )
    used = max(int(_SMALLER_PART * (2 * half + 1)), 1)
    return np.asarray(_FULL * np.sqrt(np.sort(around, axis=1)[:, :used].mean(axis=1)))


def best_width_s(t_s: Array, mass_g: Array, gap_s: float) -> float:
    """Width of the means in which the readings are least noisy for the time they take [s].

    Where a whisk beats, that is about a whole number of beats.

    Parameters
    ----------
    t_s, mass_g : ndarray, shape (n,)
        Rising times [s] and readings [g].
    gap_s : float
        Usual time between two readings [s].
    """
    best_s, least = max(WIDTHS_S[0], 1.01 * gap_s), math.inf
    for width_s in WIDTHS_S:
        if width_s < 1.01 * gap_s:
            continue
        means = means_of(t_s, mass_g, width_s)[1]
        if means.size < 8:
            break
        noise = float(np.median(noise_along(means, min(12, means.size // 3))))
        if noise * math.sqrt(width_s) < _WORTH * least:
            best_s, least = width_s, noise * math.sqrt(width_s)
    return best_s


def slow_share(level: Array, noise_g: float) -> float:
    """By how much the noise of a level is larger than its neighbours tell, at least 1.

    A whisk and a scale that sends seldom make a slow swell that second differences miss.

    Parameters
    ----------
    level : ndarray, shape (n,)
        Readings of one level [g].
    noise_g : float
        Noise that neighbours tell [g], above 0.
    """
    share = 1.0
    for count in (1, 2, 4):
        means = np.convolve(level, np.full(count, 1.0 / count), "valid")
        apart = float(np.median(np.abs(means - np.median(means))))
        share = max(share, _MAD * apart * math.sqrt(count) / noise_g)
    return share
