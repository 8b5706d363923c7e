"""How far a probe runs behind the food, and what to do about it afterwards.

Pure functions of numbers and arrays, first order: tau dy/dt = T - y (y reading, T true). A plunge
test (logger.science.heat.plunge) gives tau; the correction is for review only and is stored beside
the raw values, never instead of them.
"""

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import OutOfRangeError

Floats = NDArray[np.float64]


def _positive(name: str, value: float) -> float:
    if not value > 0.0:
        raise OutOfRangeError(name, value, "above 0")
    return value


@lru_cache(maxsize=64)
def _weights(points: int, step_s: float, time_constant_s: float, place: int) -> Floats:
    """Weights of the corrected value at `place` of a straight line through `points` readings."""
    # Here and not above: a recorder must start quickly, and takes a lag off only at a run's end.
    from scipy.signal import savgol_coeffs

    value = savgol_coeffs(points, 1, deriv=0, delta=step_s, pos=place, use="dot")
    slope = savgol_coeffs(points, 1, deriv=1, delta=step_s, pos=place, use="dot")
    weights: Floats = np.asarray(value + time_constant_s * slope, dtype=np.float64)
    return weights


def _check_window(time_constant_s: float, step_s: float, points: int) -> None:
    _positive("time between readings [s]", step_s)
    if not time_constant_s >= 0.0:
        raise OutOfRangeError("probe time constant [s]", time_constant_s, "0 or more")
    if points < 3 or points % 2 == 0:
        raise OutOfRangeError("readings in the window", points, "an odd number, 3 or more")


def window_points(time_constant_s: float, step_s: float) -> int:
    """Smallest odd window that spans twice the time constant.

    Parameters
    ----------
    time_constant_s : float
        Time constant of the probe [s], 0 or more.
    step_s : float
        Time between readings [s], above 0.

    Returns
    -------
    int
        Number of readings, odd, 3 or more.

    Raises
    ------
    OutOfRangeError
        If an argument is out of its range.
    """
    _check_window(time_constant_s, step_s, 3)
    return max(3, 2 * math.ceil(time_constant_s / step_s) + 1)


def correct_lag(shown_c: Floats, step_s: float, time_constant_s: float) -> Floats:
    """Take a probe's lag off a finished, evenly sampled trace.

    Parameters
    ----------
    shown_c : ndarray
        Readings at even steps [degC]; shape (n,); NaN where there is none.
    step_s : float
        Time between readings [s], above 0.
    time_constant_s : float
        Time constant of the probe [s], 0 or more.

    Returns
    -------
    ndarray
        Corrected temperature [degC]; shape (n,). NaN within half a window of a NaN; all NaN if
        the trace is shorter than the window.

    Raises
    ------
    OutOfRangeError
        If an argument is out of its range.

    Notes
    -----
    Value and slope of a straight line over a window of twice the time constant, centred; at both
    ends the line of the outermost window is read off-centre and is noisier there.

    References
    ----------
    Savitzky and Golay, Anal. Chem. 36 (1964) 1627, DOI 10.1021/ac60214a047.
    """
    points = window_points(time_constant_s, step_s)
    out = np.full(shown_c.shape, np.nan)
    if shown_c.size < points:
        return out
    windows = np.lib.stride_tricks.sliding_window_view(shown_c, points)
    half = points // 2
    out[half : shown_c.size - half] = windows @ _weights(points, step_s, time_constant_s, half)
    for place in range(half):
        out[place] = windows[0] @ _weights(points, step_s, time_constant_s, place)
        mirrored = points - 1 - place
        out[shown_c.size - 1 - place] = windows[-1] @ _weights(
            points, step_s, time_constant_s, mirrored
        )
    return out
