"""Medians, ranges and noise along the half seconds of a scale.

Pure; masses in even steps of time in, as many numbers out. Used by logger.watch.scale.pour_levels.
scipy is imported where it is called: every process that may need it would pay for it at its start.
"""

import math

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

HALF = 7
"""A median over so many half seconds to either side takes touches of up to 3.5 s away."""
LOCAL_BINS = 25
"""The noise at a time is that of so many half seconds around it."""


def running_median(mass_g: Array) -> Array:
    """Return running medians [g], over less near both ends, so that a slope stays one.

    Parameters
    ----------
    mass_g : ndarray, shape (n,)
        Masses of half seconds without a gap between them [g].
    """
    from scipy.ndimage import median_filter

    smooth = median_filter(mass_g, 2 * HALF + 1, mode="nearest")
    size = mass_g.size
    first, last = mass_g[: 2 * HALF].tolist(), mass_g[-2 * HALF :].tolist()
    for k in range(min(HALF, (size + 1) // 2)):
        smooth[k] = sorted(first[: 2 * k + 1])[k]
        smooth[size - 1 - k] = sorted(last[len(last) - 2 * k - 1 :])[k]
    return np.asarray(smooth)


def running_range(mass_g: Array, width: int) -> Array:
    """Return how far the masses around each go apart [g].

    Parameters
    ----------
    mass_g : ndarray, shape (n,)
        Masses of half seconds without a gap between them [g].
    width : int
        How many of them count, half of them to either side; odd.
    """
    from scipy.ndimage import maximum_filter1d, minimum_filter1d

    return np.asarray(maximum_filter1d(mass_g, width) - minimum_filter1d(mass_g, width))


def bend_noise_g(mass_g: Array) -> Array:
    """Return the robust standard deviation of each mass about its neighbours' slope [g].

    Parameters
    ----------
    mass_g : ndarray, shape (n,)
        Masses of half seconds without a gap between them [g].
    """
    from scipy.ndimage import median_filter

    if mass_g.size < 4:
        return np.zeros(mass_g.size)
    bends = np.abs(mass_g[2:] - 2.0 * mass_g[1:-1] + mass_g[:-2])
    bends = np.concatenate((bends[:1], bends, bends[-1:]))
    return np.asarray(1.4826 / math.sqrt(6.0) * median_filter(bends, LOCAL_BINS, mode="nearest"))
