"""One way to fit a curve: weighted nonlinear least squares, with what the fit can know.

Pure. Used by logger.science.heat.cooling for every forecast; the same function is held against the
certified nonlinear data sets of NIST in the tests. Residuals and their Jacobian come from the
caller, already divided by their standard uncertainties.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Where a fit ended.

    Attributes
    ----------
    params : ndarray, shape (p,)
        Parameters at the smallest sum of squares.
    residuals : ndarray, shape (m,)
        Weighted residuals there.
    jacobian : ndarray, shape (m, p)
        Derivatives of the residuals there.
    converged : bool
        Whether a stopping rule of the solver was met (and not its limit of steps).
    """

    params: Array
    residuals: Array
    jacobian: Array
    converged: bool

    @property
    def sum_of_squares(self) -> float:
        """Sum of squared residuals."""
        return float(self.residuals @ self.residuals)


def fit_least_squares(
    residuals: Callable[[Array], Array],
    jacobian: Callable[[Array], Array],
    start: Array,
    scale: Array,
    *,
    tolerance: float = 1e-8,
    max_steps: int = 200,
) -> Fit:
    """Minimise the sum of squared residuals from a start value.

    Parameters
    ----------
    residuals : callable
        Takes parameters, shape (p,); gives weighted residuals, shape (m,), m >= p, all finite.
    jacobian : callable
        Takes parameters, shape (p,); gives the derivatives of the residuals, shape (m, p).
    start : ndarray, shape (p,)
        Where to begin, each in the unit of its parameter.
    scale : ndarray, shape (p,)
        Size of a typical step in each parameter, in its unit, above 0.
    tolerance : float
        Relative change of parameters, cost and gradient at which to stop [1].
    max_steps : int
        Most evaluations of the residuals.

    Returns
    -------
    Fit
        Parameters, residuals and Jacobian at the end.

    References
    ----------
    Levenberg-Marquardt as in MINPACK; More, J. J. (1978), "The Levenberg-Marquardt algorithm:
    implementation and theory", Lecture Notes in Mathematics 630, pp. 105-116.
    """
    # Here, because it takes a tenth of a second that every command would pay at its start.
    from scipy.optimize import least_squares

    done = least_squares(
        residuals,
        start,
        jac=jacobian,
        method="lm",
        x_scale=scale,
        xtol=tolerance,
        ftol=tolerance,
        gtol=tolerance,
        max_nfev=max_steps,
    )
    return Fit(
        params=np.asarray(done.x, dtype=np.float64),
        residuals=np.asarray(done.fun, dtype=np.float64),
        jacobian=np.asarray(done.jac, dtype=np.float64),
        converged=bool(done.status > 0),
    )
