"""The time constant of a probe from a plunge into stirred water.

Pure; used by the sensor check. The time constant goes into the bench file and from there to the lag
correction (logger.science.heat.lag) and the forecasts.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import OutOfRangeError

Floats = NDArray[np.float64]


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

    # Here, because it takes a tenth of a second that every command would pay at its start.
    from scipy.optimize import least_squares

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
