"""How far a number can be trusted: combining uncertainties by the GUM.

Pure functions of numbers; used by logger.correct and by every check. Verdicts made of
them are in logger.science.metrology.conformance. An unknown uncertainty is NaN here and stays NaN
in every sum: it is never taken as zero.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from logger.model.errors import InputError, OutOfRangeError

Distribution = Literal["normal", "rectangular", "unknown"]


def resolution_u(step: float) -> float:
    """Standard uncertainty of a display that moves in steps.

    Parameters
    ----------
    step : float
        Smallest step [any unit], 0 or more.

    Returns
    -------
    float
        Standard uncertainty, step / sqrt(12) [same unit].

    Raises
    ------
    OutOfRangeError
        If the step is negative.

    References
    ----------
    JCGM 100:2008 (GUM), F.2.2.1.
    """
    return _not_negative("display step", step) / math.sqrt(12.0)


def mean_u(standard_deviation: float, count: int) -> float:
    """Standard uncertainty of the mean of independent readings.

    Parameters
    ----------
    standard_deviation : float
        Of single readings [any unit], 0 or more.
    count : int
        Number of readings, 1 or more.

    Returns
    -------
    float
        Standard uncertainty of the mean [same unit].

    Raises
    ------
    OutOfRangeError
        If the deviation is negative or the count below 1.

    References
    ----------
    JCGM 100:2008 (GUM), 4.2.3.
    """
    if count < 1:
        raise OutOfRangeError("number of readings", count, "1 or more")
    return _not_negative("standard deviation", standard_deviation) / math.sqrt(count)


def _not_negative(name: str, value: float) -> float:
    if value < 0.0:
        raise OutOfRangeError(name, value, "0 or more")
    return value


def combined_u(
    us: Sequence[float],
    sensitivities: Sequence[float] | None = None,
    correlations: Mapping[tuple[int, int], float] | None = None,
) -> float:
    """Combined standard uncertainty of a result from those of its inputs.

    Parameters
    ----------
    us : sequence of float
        Standard uncertainties of the inputs [each in its unit], 0 or more; NaN is unknown.
    sensitivities : sequence of float, optional
        Change of the result per unit of each input; all 1 when left out.
    correlations : mapping, optional
        Correlation coefficient [1], -1 to 1, of pairs of inputs by their places ``(i, j)``; each
        pair once. Pairs left out are independent.

    Returns
    -------
    float
        Combined standard uncertainty [unit of the result]; NaN if any input is unknown.

    Raises
    ------
    OutOfRangeError
        If an uncertainty is negative or a correlation outside -1 to 1.
    InputError
        If the sensitivities do not match the inputs, or a pair is no pair of inputs.

    References
    ----------
    JCGM 100:2008 (GUM), equations 10 and 16.
    """
    c = [1.0] * len(us) if sensitivities is None else list(sensitivities)
    if len(c) != len(us):
        raise InputError("sensitivities", f"{len(c)} for {len(us)} inputs", "give one for each")
    parts = [ci * _not_negative("standard uncertainty", ui) for ci, ui in zip(c, us, strict=True)]
    variance = math.fsum(p * p for p in parts)
    pairs = correlations or {}
    for (i, j), r in pairs.items():
        if i == j or not (0 <= i < len(us) and 0 <= j < len(us)) or (i > j and (j, i) in pairs):
            raise InputError("correlation", f"pair ({i}, {j})", "name two different inputs, once")
        if not -1.0 <= r <= 1.0:
            raise OutOfRangeError(f"correlation of inputs {i} and {j}", r, "-1 to 1")
        variance += 2.0 * r * parts[i] * parts[j]
    return math.sqrt(max(variance, 0.0)) if not math.isnan(variance) else math.nan
