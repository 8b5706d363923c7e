"""How far a balance may be off: class limits.

Pure functions of numbers; used by logger.correct. Readability d and verification interval e are
in g. Air buoyancy (about 1.1 mg/g for water and oil, from memory) is left out: it nearly cancels
in ratios.
"""

import math
from typing import overload

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import InputError, OutOfRangeError
from logger.words.values import exact_text

Floats = NDArray[np.float64]

# 0.1 g is no binary fraction: 500 g must not count as more than 5000 intervals of it.
_ROUNDING = 1.0 + 1e-9

# OIML R 76-1:2006, table 6: loads in e up to which the limit is 0.5 e, 1 e and 1.5 e.
MPE_STEPS: dict[str, tuple[float, float, float]] = {
    "I": (50_000, 200_000, math.inf),
    "II": (5_000, 20_000, 100_000),
    "III": (500, 2_000, 10_000),
    "IIII": (50, 200, 1_000),
}

MOST_STEPS_IN_SERVICE = 3.0
"""Largest permissible error of any class in service [e]: twice 1.5 (table 6, 3.5.2)."""


@overload
def max_permissible_error_g(
    oiml_class: str, load_g: float, interval_g: float, *, in_service: bool = ...
) -> float: ...
@overload
def max_permissible_error_g(
    oiml_class: str, load_g: Floats, interval_g: float, *, in_service: bool = ...
) -> Floats: ...
def max_permissible_error_g(
    oiml_class: str, load_g: float | Floats, interval_g: float, *, in_service: bool = False
) -> float | Floats:
    """Maximum permissible error of a verified balance.

    Parameters
    ----------
    oiml_class : str
        Accuracy class: I, II, III or IIII.
    load_g : float or ndarray
        Load on the balance [g]; its sign does not matter; any shape.
    interval_g : float
        Verification scale interval e [g], above 0.
    in_service : bool
        Twice the limit of initial verification.

    Returns
    -------
    float or ndarray
        Half width of the permitted error [g]; NaN for elements beyond what the class can hold.

    Raises
    ------
    InputError
        If the class is unknown.
    OutOfRangeError
        If the interval is not above 0, or a single load is beyond what the class can hold.

    References
    ----------
    OIML R 76-1:2006, 3.5.1 table 6 and 3.5.2.
    """
    if oiml_class not in MPE_STEPS:
        raise InputError("balance class", repr(oiml_class), f"one of {', '.join(MPE_STEPS)}")
    if not interval_g > 0.0:
        raise OutOfRangeError("verification interval [g]", interval_g, "above 0")
    doubled = 2.0 if in_service else 1.0
    steps = [
        (limit * interval_g * _ROUNDING, factor * interval_g * doubled)
        for limit, factor in zip(MPE_STEPS[oiml_class], (0.5, 1.0, 1.5), strict=True)
    ]
    if isinstance(load_g, np.ndarray):
        load = np.abs(load_g)
        return np.select([load <= top for top, _ in steps], [e for _, e in steps], np.nan)
    for top, error_g in steps:
        if abs(load_g) <= top:
            return error_g
    raise OutOfRangeError(
        f"load on a class {oiml_class} balance [g]",
        load_g,
        f"at most {exact_text(MPE_STEPS[oiml_class][2] * interval_g, 'g')}",
    )
