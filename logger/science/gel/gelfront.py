"""How far calcium's front comes into a flat gel: Neumann's solution, and how fast calcium moves.

Calcium moves in from the bath and is bound at a sharp front; behind the front the gel is set. This
is the one-phase Stefan problem with Neumann's exact solution. Pure functions of numbers; used by
logger.science.gel.gelling for coats and by logger.science.gel.slabfit for slab tests.

References
----------
Crank, J. (1984). Free and Moving Boundary Problems. Oxford, section 1.3 and eq. 3.14: Neumann's
solution of the one-phase problem.

Notes
-----
Assumed: binding at once and for good, alginate that stays put, one diffusivity, no shrinkage. The
textbook quasi-steady law, thickness**2 B / (2 D c), is not used: with as much calcium in the bath
as a kitchen has it asks for 0.2 to 0.9 of the exact time.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from logger.model.errors import OutOfRangeError
from logger.science.heat.water import viscosity_pa_s

# Calcium in a gel at 25 degC [m2/s]. Free water: 0.79e-9 for the ion (conductivity), 1.1 to 1.3e-9
# for the salt; gels keep 60 to 95 % of it. Hence 1.0e-9, 0.6 to 1.2e-9.
D25_M2_S = 1.0e-9
D25_LOW_M2_S = 0.6e-9
D25_HIGH_M2_S = 1.2e-9


def neumann_root(stefan: ArrayLike) -> NDArray[np.float64]:
    """Solve sqrt(pi) L exp(L**2) erf(L) = St for L.

    Parameters
    ----------
    stefan : array_like, any shape
        Free calcium of the bath over capacity of the coat [1], above 0 up to 1e6.

    Returns
    -------
    ndarray, same shape
        L, exact to about 1e-12.

    Raises
    ------
    OutOfRangeError
        If a number lies outside that range or is not a number.

    References
    ----------
    Crank (1984), see the module.
    """
    # Here, because every process that may need it would pay for it at its start.
    from scipy.special import erf

    target = np.asarray(stefan, dtype=float)
    bad = ~((target > 0) & (target <= 1e6))
    if bad.any():
        raise OutOfRangeError("calcium over capacity", float(target[bad].flat[0]), "0 to 1e6")
    # Newton on the logarithm, which is nearly a straight line in ln L; starts at the St -> 0 limit.
    root = np.minimum(np.sqrt(target / 2), np.sqrt(np.log1p(target)) + 0.1)
    for _ in range(60):
        value = math.log(math.pi) / 2 + np.log(root) + root**2 + np.log(erf(root)) - np.log(target)
        slope = 1 + 2 * root**2 + root * 2 / math.sqrt(math.pi) * np.exp(-(root**2)) / erf(root)
        step = value / slope
        root = root * np.exp(-step)
        if np.all(np.abs(step) < 1e-14):
            break
    roots: NDArray[np.float64] = root
    return roots


def calcium_diffusivity_m2_s(
    temp_c: ArrayLike, *, d25_m2_s: float = D25_M2_S
) -> NDArray[np.float64]:
    """Diffusivity of calcium in the gel at a temperature [m2/s].

    Parameters
    ----------
    temp_c : array_like
        Bath temperature [degC], 0 to 60.
    d25_m2_s : float
        Value at 25 degC [m2/s].

    Raises
    ------
    OutOfRangeError
        If a temperature is outside 0 to 60 degC.

    Notes
    -----
    Stokes-Einstein: proportional to absolute temperature over viscosity of water (IAPWS).
    """
    temp = np.asarray(temp_c, dtype=float)
    if not np.all((temp >= 0) & (temp <= 60)):
        wrong = temp[~((temp >= 0) & (temp <= 60))].flat[0]
        raise OutOfRangeError("bath temperature [degC]", float(wrong), "0 to 60")
    kinds, where = np.unique(temp, return_inverse=True)
    fluidity = np.array([viscosity_pa_s(25.0) / viscosity_pa_s(float(kind)) for kind in kinds])
    scaled: NDArray[np.float64] = d25_m2_s * (temp + 273.15) / 298.15
    scaled *= fluidity[where].reshape(temp.shape)
    return scaled
