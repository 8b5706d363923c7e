"""How far a probe runs behind the food, and what to do about it afterwards.

Pure functions of numbers and arrays, first order: tau dy/dt = T - y (y reading, T true). The
plunge test gives tau; the correction is for review only and is stored beside the raw values, never
instead of them.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.signal import savgol_coeffs

from logger.model.errors import OutOfRangeError

Floats = NDArray[np.float64]

DEFAULT_TIME_CONSTANT_S = 5.0
"""Typical, unverified; a plunge test replaces it."""


def time_constant_from_t50_s(t50_s: float) -> float:
    """Time constant from the time to half of a step.

    Parameters
    ----------
    t50_s : float
        Time to 50 % of a step [s], above 0.

    Returns
    -------
    float
        Time constant [s], t50 / ln 2.

    Raises
    ------
    OutOfRangeError
        If the time is not above 0.
    """
    return _positive("time to half of a step [s]", t50_s) / math.log(2.0)


def time_constant_from_t90_s(t90_s: float) -> float:
    """Time constant from the time to nine tenths of a step.

    Parameters
    ----------
    t90_s : float
        Time to 90 % of a step [s], above 0.

    Returns
    -------
    float
        Time constant [s], t90 / ln 10.

    Raises
    ------
    OutOfRangeError
        If the time is not above 0.

    Notes
    -----
    Real probes are not first order: t50 and t90 of one data sheet give different constants.
    """
    return _positive("time to nine tenths of a step [s]", t90_s) / math.log(10.0)


def ramp_lag_k(rate_k_per_s: float, time_constant_s: float) -> float:
    """How far the reading trails on a steady ramp.

    Parameters
    ----------
    rate_k_per_s : float
        Rate of the true temperature [K/s].
    time_constant_s : float
        Time constant of the probe [s], 0 or more.

    Returns
    -------
    float
        True minus shown [K].

    Raises
    ------
    OutOfRangeError
        If the time constant is negative.
    """
    if time_constant_s < 0.0:
        raise OutOfRangeError("probe time constant [s]", time_constant_s, "0 or more")
    return rate_k_per_s * time_constant_s


def _positive(name: str, value: float) -> float:
    if not value > 0.0:
        raise OutOfRangeError(name, value, "above 0")
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Plunge:
    """What a plunge test says of a probe.

    Attributes
    ----------
    time_constant_s, u_time_constant_s : float
        Time constant and its standard uncertainty [s].
    start_c, end_c : float
        Temperatures before and long after the plunge [degC].
    plunge_s : float
        When the probe went in, on the axis of the readings [s].
    rms_k : float
        Misfit of the first-order curve [K]; large when the probe is not first order.
    """

    time_constant_s: float
    u_time_constant_s: float
    start_c: float
    end_c: float
    plunge_s: float
    rms_k: float


def fit_plunge(time_s: Floats, shown_c: Floats) -> Plunge:
    """Time constant of a probe from a plunge into stirred water.

    Parameters
    ----------
    time_s : ndarray
        Times, rising [s]; shape (n,), n at least 8.
    shown_c : ndarray
        Readings from a few seconds before the plunge until they are steady [degC]; shape (n,).

    Returns
    -------
    Plunge
        Time constant with its uncertainty, and what the fit found.

    Raises
    ------
    OutOfRangeError
        If there are too few finite readings, the step is below 5 K, or the readings end before
        two time constants have passed.

    Notes
    -----
    Fits start, end, time of the plunge and time constant together by least squares. The
    uncertainty is that of the fit for independent readings; still or thick food is 2 to 5 times
    slower than stirred water (from memory).
    """
    keep = np.isfinite(time_s) & np.isfinite(shown_c)
    t, y = time_s[keep], shown_c[keep]
    if t.size < 8:
        raise OutOfRangeError("readings in the plunge test", t.size, "8 or more")
    edge = max(2, t.size // 20)
    start, end = float(np.median(y[:edge])), float(np.median(y[-edge:]))
    if abs(end - start) < 5.0:
        raise OutOfRangeError("step of the plunge test [K]", abs(end - start), "5 or more")
    done = (y - start) / (end - start)
    t10, t63 = float(t[np.argmax(done >= 0.1)]), float(t[np.argmax(done >= 0.632)])
    tau0 = max(t63 - t10, float(np.median(np.diff(t))) / 2.0)

    def misfit(p: Floats) -> Floats:
        since = np.maximum(t - p[2], 0.0)
        curve: Floats = p[1] + (p[0] - p[1]) * np.exp(-since / math.exp(p[3])) - y
        return curve

    fit = least_squares(
        misfit,
        np.array([start, end, t10, math.log(tau0)]),
        x_scale=np.array([1.0, 1.0, tau0, 0.3]),
    )
    jacobian = np.asarray(fit.jac, dtype=np.float64)
    tau = math.exp(float(fit.x[3]))
    if t[-1] - fit.x[2] < 2.0 * tau:
        raise OutOfRangeError(
            "time after the plunge [s]", float(t[-1] - fit.x[2]), f"at least {2.0 * tau:.3g}"
        )
    variance = 2.0 * fit.cost / (t.size - 4)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * variance
    return Plunge(
        time_constant_s=tau,
        u_time_constant_s=tau * math.sqrt(float(covariance[3, 3])),
        start_c=float(fit.x[0]),
        end_c=float(fit.x[1]),
        plunge_s=float(fit.x[2]),
        rms_k=math.sqrt(2.0 * fit.cost / t.size),
    )


@lru_cache(maxsize=64)
def _weights(points: int, step_s: float, time_constant_s: float, place: int) -> Floats:
    """Weights of the corrected value at `place` of a straight line through `points` readings."""
    value = savgol_coeffs(points, 1, deriv=0, delta=step_s, pos=place, use="dot")
    slope = savgol_coeffs(points, 1, deriv=1, delta=step_s, pos=place, use="dot")
    weights: Floats = np.asarray(value + time_constant_s * slope, dtype=np.float64)
    return weights


def noise_gain(
    time_constant_s: float, step_s: float, points: int, *, centred: bool = True
) -> float:
    """Noise of the corrected value over noise of the reading.

    Parameters
    ----------
    time_constant_s : float
        Time constant of the probe [s], 0 or more.
    step_s : float
        Time between readings [s], above 0.
    points : int
        Readings in the window, odd, 3 or more.
    centred : bool
        At the middle of the window (for review), or at its newest reading.

    Returns
    -------
    float
        Ratio of standard deviations, for independent noise.

    Raises
    ------
    OutOfRangeError
        If an argument is out of its range.

    References
    ----------
    Savitzky and Golay, Anal. Chem. 36 (1964) 1627, DOI 10.1021/ac60214a047.
    """
    _check_window(time_constant_s, step_s, points)
    place = points // 2 if centred else points - 1
    return float(np.linalg.norm(_weights(points, step_s, time_constant_s, place)))


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
