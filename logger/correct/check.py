"""A check at a known temperature or mass: from a minute of readings to a dated correction.

Pure; used by the sensor check of the command line and the screen. The reference comes from
logger.science.metrology.reference_points (ice, boiling water) or is the mass on a check weight.
Shown values go in uncorrected, so that a new check replaces the old one instead of adding to it.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import OutOfRangeError
from logger.science.metrology.uncertainty import combined_u, mean_u, resolution_u

Floats = NDArray[np.float64]

FEWEST_READINGS = 20
SHORTEST_S = 30.0
WIDEST_DRIFT_STEPS = 2.0
"""How far the readings may drift during the check, in steps of the display, or `WIDEST_DRIFT` if
that is more: common practice, no source."""
WIDEST_DRIFT = {"degC": 0.2, "g": 0.1}
FARTHEST = {"degC": 5.0, "g": 50.0}
"""An offset beyond this is no offset: the probe is not in the bath, the weight is another one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """What a check found.

    Attributes
    ----------
    shown, reference, offset : float
        Mean shown value, true value, and what must be added [unit of the channel].
    u : float
        Standard uncertainty of the offset [same unit].
    drift : float
        Change over the check by a straight line [same unit].
    count : int
        Number of readings used.
    """

    shown: float
    reference: float
    offset: float
    u: float
    drift: float
    count: int


def check_readings(
    time_s: Floats,
    shown: Floats,
    *,
    reference: float,
    u_reference: float,
    unit: str,
    step: float,
) -> CheckResult:
    """Offset of a channel from readings at a known value.

    Parameters
    ----------
    time_s : ndarray
        Times, rising [s]; shape (n,).
    shown : ndarray
        Uncorrected readings [`unit`]; shape (n,); NaN for none.
    reference : float
        True value [`unit`].
    u_reference : float
        Its standard uncertainty [`unit`], 0 or more.
    unit : str
        ``"degC"`` or ``"g"``.
    step : float
        Smallest step of the display [`unit`], 0 or more.

    Returns
    -------
    CheckResult
        The offset to add, with its uncertainty.

    Raises
    ------
    OutOfRangeError
        If there are too few readings, too short a time, a drift (not settled yet), or an offset
        too large to be one.

    References
    ----------
    JCGM 100:2008 (GUM), 4.2.3 and 5.1.2.
    """
    keep = np.isfinite(shown) & np.isfinite(time_s)
    t, y = time_s[keep], shown[keep]
    if y.size < FEWEST_READINGS:
        raise OutOfRangeError("readings in the check", y.size, f"at least {FEWEST_READINGS}")
    lasted_s = float(t[-1] - t[0])
    if lasted_s < SHORTEST_S:
        raise OutOfRangeError("length of the check [s]", lasted_s, f"at least {SHORTEST_S:g}")
    drift = float(np.polyfit(t - t[0], y, 1)[0]) * lasted_s
    allowed = max(WIDEST_DRIFT_STEPS * step, WIDEST_DRIFT[unit])
    if abs(drift) > allowed:
        raise OutOfRangeError(
            f"drift during the check [{unit}]",
            drift,
            f"at most {allowed:g}; wait until it is steady and check again",
        )
    mean = float(np.mean(y))
    offset = reference - mean
    if abs(offset) > FARTHEST[unit]:
        raise OutOfRangeError(
            f"offset of the check [{unit}]",
            offset,
            f"at most {FARTHEST[unit]:g}; is it the right probe or weight, and all the way in?",
        )
    parts = [
        u_reference,
        resolution_u(step),
        mean_u(float(np.std(y, ddof=1)), y.size),
        abs(drift) / (2.0 * math.sqrt(3.0)),
    ]
    return CheckResult(
        shown=mean,
        reference=reference,
        offset=offset,
        u=combined_u(parts),
        drift=drift,
        count=int(y.size),
    )
