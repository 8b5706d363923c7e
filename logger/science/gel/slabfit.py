"""The diffusivity of calcium in one's own alginate, fitted to the readings of a slab test.

Pure functions of numbers; the law of the front is logger.science.gel.gelfront's. The range, what is
refused and the file of slab tests are in logger.science.gel.slabs.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from logger.model.errors import OutOfRangeError
from logger.science.gel.gelfront import calcium_diffusivity_m2_s, neumann_root

SLAB_METHOD = (
    "Dye the sol, hold it between two glass plates, dip one open edge and read how far the firm "
    "front has come at 1, 2, 5 and 10 min."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabCalibration:
    """Diffusivity from a slab test.

    Parameters
    ----------
    d25_m2_s, u_d25_m2_s : float
        Value at 25 degC and its standard uncertainty [m2/s].
    delay_s : float
        Where the line of thickness squared meets zero [s]: the film at the edge, or a late clock.
    rms_mm : float
        Scatter of the readings about the fit [mm].
    """

    d25_m2_s: float
    u_d25_m2_s: float
    delay_s: float
    rms_mm: float


def fit_slab(
    time_s: ArrayLike, thickness_mm: ArrayLike, stefan: float, temp_c: float
) -> SlabCalibration:
    """Fit the diffusivity to thicknesses of set gel read off a slab.

    Parameters
    ----------
    time_s, thickness_mm : array_like, shape (n,), n >= 3
        When [s] and how far the front had come [mm]; both above 0.
    stefan : float
        Free calcium of the bath over capacity of the slab [1].
    temp_c : float
        Bath temperature [degC].

    Raises
    ------
    OutOfRangeError
        If there are fewer than three readings or the gel did not grow.

    Notes
    -----
    Thickness squared is a straight line in time with slope 4 D L**2. Readings of equal error in
    thickness have an error in its square that grows with thickness: weights 1/thickness.
    """
    time = np.asarray(time_s, dtype=float)
    thick = np.asarray(thickness_mm, dtype=float)
    if time.size < 3 or time.size != thick.size:
        raise OutOfRangeError("slab readings", time.size, "at least 3, a thickness for each time")
    if not (np.all(time > 0) and np.all(thick > 0)):
        raise OutOfRangeError("slab reading", float(min(time.min(), thick.min())), "more than 0")
    design = np.column_stack([time, np.ones_like(time)]) / (2 * thick)[:, None]
    target = thick / 2
    (slope, intercept), *_ = np.linalg.lstsq(design, target, rcond=None)
    if slope <= 0:
        raise OutOfRangeError("growth of thickness squared [mm2/s]", slope, "more than 0")
    residual = target - design @ np.array([slope, intercept])
    variance = float(residual @ residual) / (time.size - 2)
    u_slope = math.sqrt(variance * np.linalg.inv(design.T @ design)[0, 0])
    to_d25 = 1e-6 / (4 * float(neumann_root(stefan)) ** 2)
    to_d25 /= float(calcium_diffusivity_m2_s(temp_c, d25_m2_s=1.0))
    return SlabCalibration(
        d25_m2_s=float(slope) * to_d25,
        u_d25_m2_s=u_slope * to_d25,
        delay_s=float(-intercept / slope),
        rms_mm=math.sqrt(variance),
    )
