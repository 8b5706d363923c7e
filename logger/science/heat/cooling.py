"""How a vessel left alone loses its heat: the loss model in closed form.

Pure functions of numbers. Used by logger.science.heat.timeleft, which fits the model to a window of
readings, and by the plan. Model: with D the excess over the air,
dD/dt = -k D (D/30 K)^(n-1), k in 1/s and n the loss exponent (1 is Newton's law of cooling, 1.25
laminar natural convection).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

REFERENCE_EXCESS_K = 30.0
_NEWTON_BAND = 1e-4
_FARTHEST_K = 1e4


def excess_after(
    excess_k: float | Array, k_per_s: float | Array, exponent: float | Array, time_s: float | Array
) -> Array:
    """Excess over the air after a time (or before it, for negative times).

    Parameters
    ----------
    excess_k : float or ndarray
        Excess at time 0 [K], above 0.
    k_per_s : float or ndarray
        Loss constant [1/s], above 0.
    exponent : float or ndarray
        Loss exponent [1], 0.5 to 3.
    time_s : float or ndarray
        Times [s].

    Returns
    -------
    ndarray
        Excess [K], broadcast over the arguments; cut off at 1e4 K.

    Notes
    -----
    D(t) = 30 [(D0/30)^-m + m k t]^(-1/m), m = n - 1; within 1e-4 of Newton's law its expansion
    to first order in m is used, which differs by less than 1e-8 of D.
    """
    excess = np.asarray(excess_k, dtype=np.float64)
    m = np.asarray(exponent, dtype=np.float64) - 1.0
    kt = np.asarray(k_per_s, dtype=np.float64) * np.asarray(time_s, dtype=np.float64)
    log_start = np.log(excess / REFERENCE_EXCESS_K)
    newton = np.abs(m) < _NEWTON_BAND
    safe_m = np.where(newton, 1.0, m)
    base = np.exp(-safe_m * log_start) + safe_m * kt
    power = -np.log(np.maximum(base, 1e-12)) / safe_m
    straight = log_start - kt
    straight = np.minimum(straight, 50.0)
    near = straight - 0.5 * m * (log_start**2 - straight**2)
    # Backwards in time the curve has a pole; far off is far enough there.
    farthest = math.log(_FARTHEST_K / REFERENCE_EXCESS_K)
    after: Array = REFERENCE_EXCESS_K * np.exp(np.minimum(np.where(newton, near, power), farthest))
    return after


def excess_derivatives(excess_k: float, k_per_s: float, exponent: float, time_s: Array) -> Array:
    """Derivatives of `excess_after` by the excess at time 0, by ln k and by the exponent.

    Parameters
    ----------
    excess_k : float
        Excess at time 0 [K], above 0.
    k_per_s, exponent : float
        Loss constant [1/s], above 0, and loss exponent.
    time_s : ndarray, shape (n,)
        Times [s].

    Returns
    -------
    ndarray, shape (n, 3)
        Columns [K/K], [K] and [K].
    """
    m = exponent - 1.0
    after = excess_after(excess_k, k_per_s, exponent, time_s)
    by_start = (after / excess_k) ** exponent
    by_log_k = -k_per_s * time_s * after * (after / REFERENCE_EXCESS_K) ** m
    log_start = math.log(excess_k / REFERENCE_EXCESS_K)
    log_after = np.log(after / REFERENCE_EXCESS_K)
    if abs(m) < _NEWTON_BAND:
        by_exponent = -0.5 * after * (log_start**2 - (log_start - k_per_s * time_s) ** 2)
    else:
        base = np.exp(-m * log_after)
        inner = k_per_s * time_s - math.exp(-m * log_start) * log_start
        by_exponent = -after / m * (log_after + inner / base)
    return np.column_stack([by_start, by_log_k, by_exponent])


def time_to_excess(
    excess_k: float | Array,
    target_k: float | Array,
    k_per_s: float | Array,
    exponent: float | Array,
) -> Array:
    """Time until the excess over the air has fallen to a target.

    Parameters
    ----------
    excess_k : float or ndarray
        Excess now [K].
    target_k : float or ndarray
        Excess at the limit [K]; 0 or less is never reached.
    k_per_s, exponent : float or ndarray
        Loss constant [1/s], above 0, and loss exponent.

    Returns
    -------
    ndarray
        Time [s]: 0 when already there, ``inf`` when the limit is not above the air.
    """
    m = np.asarray(exponent, dtype=np.float64) - 1.0
    target = np.asarray(target_k, dtype=np.float64)
    now = np.maximum(np.asarray(excess_k, dtype=np.float64), 1e-9) / REFERENCE_EXCESS_K
    goal = np.maximum(target, 1e-9) / REFERENCE_EXCESS_K
    log_now, log_goal = np.log(now), np.log(goal)
    newton = np.abs(m) < _NEWTON_BAND
    safe_m = np.where(newton, 1.0, m)
    power = (np.exp(-safe_m * log_goal) - np.exp(-safe_m * log_now)) / safe_m
    near = (log_now - log_goal) + 0.5 * m * (log_goal**2 - log_now**2)
    left = np.where(newton, near, power) / np.asarray(k_per_s, dtype=np.float64)
    left = np.where(target <= 0.0, np.inf, left)
    reached: Array = np.where(np.asarray(excess_k) <= target, 0.0, left)
    return reached


def lag_ahead_s(k_per_s: float, lag_s: float) -> float:
    """How far the contents are ahead of a lagging probe [s].

    Exact for Newton's law: -ln(1 - k tau)/k; about ``lag_s`` [s] for a slow vessel.
    """
    product = k_per_s * lag_s
    return lag_s if product < 1e-9 else -math.log(max(1.0 - product, 1e-6)) / k_per_s
