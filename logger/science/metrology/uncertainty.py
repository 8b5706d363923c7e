"""How far a number can be trusted: combining uncertainties by the GUM.

Pure functions of numbers; used by logger.correct and by every check. Verdicts made of these stand
in logger.science.metrology.conformance. An unknown uncertainty is NaN here and stays NaN in every
sum: it is never taken as zero.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from scipy.special import stdtrit

from logger.model.errors import InputError, OutOfRangeError

Distribution = Literal["normal", "rectangular", "unknown"]

_DOF_WHERE_K_IS_2 = 60  # t_0.975(60) = 2.0003


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One line of an uncertainty budget.

    Attributes
    ----------
    name : str
        What contributes: ``"cold junction"``.
    u : float
        Standard uncertainty in the unit of the result, sensitivity included; NaN is unknown.
    distribution : str
        Shape behind it: normal, rectangular or unknown.
    source : str
        Where the number comes from, or ``"typical, unverified"``.
    dof : float
        Degrees of freedom; infinite for a stated limit.
    """

    name: str
    u: float
    distribution: Distribution
    source: str
    dof: float = math.inf


def rectangular_u(half_width: float) -> float:
    """Standard uncertainty of a value that lies anywhere within a half width.

    Parameters
    ----------
    half_width : float
        Half width of the interval [any unit], 0 or more.

    Returns
    -------
    float
        Standard uncertainty, half width / sqrt(3) [same unit].

    Raises
    ------
    OutOfRangeError
        If the half width is negative.

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.7.
    """
    return _not_negative("half width", half_width) / math.sqrt(3.0)


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
        Correlation coefficient, -1 to 1, of pairs of inputs by their places ``(i, j)``; each pair
        once. Pairs left out are independent.

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


def effective_dof(us: Sequence[float], dofs: Sequence[float]) -> float:
    """Effective degrees of freedom of a combined uncertainty (Welch-Satterthwaite).

    Parameters
    ----------
    us : sequence of float
        Standard uncertainties in the unit of the result, sensitivities included, 0 or more.
    dofs : sequence of float
        Degrees of freedom of each, above 0; infinite for a stated limit.

    Returns
    -------
    float
        Effective degrees of freedom; infinite if nothing finite contributes, NaN if unknown.

    Raises
    ------
    InputError
        If the two sequences differ in length.
    OutOfRangeError
        If a number of degrees of freedom is not above 0.

    References
    ----------
    JCGM 100:2008 (GUM), equation G.2b; for independent inputs.
    """
    if len(us) != len(dofs):
        raise InputError("degrees of freedom", f"{len(dofs)} for {len(us)} inputs", "give each one")
    for dof in dofs:
        if not dof > 0.0:
            raise OutOfRangeError("degrees of freedom", dof, "above 0")
    below = math.fsum(u**4 / dof for u, dof in zip(us, dofs, strict=True))
    return combined_u(us) ** 4 / below if below != 0.0 else math.inf


def coverage_factor(dof: float = math.inf) -> float:
    """Coverage factor k for about 95 %.

    Parameters
    ----------
    dof : float
        Effective degrees of freedom, 1 or more; truncated to a whole number.

    Returns
    -------
    float
        t_0.975 of the degrees of freedom, or 2 from 60 on; NaN if `dof` is.

    Raises
    ------
    OutOfRangeError
        If `dof` is below 1.

    References
    ----------
    JCGM 100:2008 (GUM), G.4.1, G.6.4 and table G.2; k = 2 from 6.3.3.
    """
    if math.isnan(dof):
        return math.nan
    if dof < 1.0:
        raise OutOfRangeError("effective degrees of freedom", dof, "1 or more")
    return 2.0 if dof >= _DOF_WHERE_K_IS_2 else float(stdtrit(math.floor(dof), 0.975))


def expanded_u(budget: Sequence[Contribution]) -> tuple[float, float]:
    """Expanded uncertainty of a budget of independent contributions.

    Parameters
    ----------
    budget : sequence of Contribution
        Lines in the unit of the result.

    Returns
    -------
    tuple of float
        Expanded uncertainty U [unit of the result] and its coverage factor; NaN when unknown.

    References
    ----------
    JCGM 100:2008 (GUM), 6.2.1 and G.6.4.
    """
    us = [c.u for c in budget]
    k = coverage_factor(effective_dof(us, [c.dof for c in budget]))
    return k * combined_u(us), k
