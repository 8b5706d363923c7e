"""Is the limit met, given what the probe can know? Guard-banded decisions.

Pure functions of numbers; used by logger.watch for every check. The rule is chosen in the sheet
before the run and stored with it. Without a stated uncertainty there is no verdict.
"""

import math

from logger.model.errors import InputError, OutOfRangeError
from logger.model.finding import Verdict

GUARD_5_PERCENT = 1.645
"""Standard uncertainties in a guard band for 5 % risk: the 95th percentile of the normal law.
ILAC-G8:09/2019 gives it as 0.83 U with U = 2 u (from memory)."""

RULES: dict[str, str] = {
    "simple": "no guard band: a pass at the limit is wrong up to one time in two",
    "guarded": "guard band of the expanded uncertainty: a pass at its edge is wrong up to 2.5 %",
    "guarded 5 %": "guard band of 1.645 standard uncertainties: wrong up to 5 %",
}


def guard_band(u: float, rule: str, coverage: float = 2.0) -> float:
    """Width of the guard band that a decision rule puts inside a limit.

    Parameters
    ----------
    u : float
        Standard uncertainty [any unit], 0 or more; NaN is unknown.
    rule : str
        ``"simple"`` (w = 0), ``"guarded"`` (w = U) or ``"guarded 5 %"`` (w = 1.645 u).
    coverage : float
        Coverage factor of U [1], for the rule ``"guarded"``.

    Returns
    -------
    float
        Width w [same unit]; NaN if `u` is unknown, whatever the rule.

    Raises
    ------
    InputError
        If the rule is unknown.
    OutOfRangeError
        If `u` is negative.

    References
    ----------
    ILAC-G8:09/2019, decision rules with guard bands; JCGM 106:2012, clause 8.
    """
    if rule not in RULES:
        raise InputError("decision rule", repr(rule), f"one of {', '.join(RULES)}")
    if u < 0.0:
        raise OutOfRangeError("standard uncertainty", u, "0 or more")
    widths = {"simple": 0.0, "guarded": coverage, "guarded 5 %": GUARD_5_PERCENT}
    return widths[rule] * u if not math.isnan(u) else math.nan


def decide(
    value: float | None,
    u: float,
    *,
    low: float | None = None,
    high: float | None = None,
    rule: str = "guarded",
    coverage: float = 2.0,
) -> Verdict:
    """Compare a value with its limits by a decision rule.

    Parameters
    ----------
    value : float or None
        What was measured [any unit]; None or NaN is not measured.
    u : float
        Its standard uncertainty [same unit]; NaN is unknown.
    low, high : float or None
        Limits [same unit]; at least one.
    rule : str
        ``"simple"``, ``"guarded"`` or ``"guarded 5 %"``.
    coverage : float
        Coverage factor of the expanded uncertainty [1].

    Returns
    -------
    str
        ``"met"`` inside both limits by the guard band or more, ``"not met"`` outside one by more
        than the guard band, else ``"undecided"``. An unknown `u` is undecided even far from a
        limit; no value is ``"not measured"``.

    Raises
    ------
    InputError
        If no limit is given, the limits are crossed or the rule is unknown.
    OutOfRangeError
        If `u` is negative.

    Notes
    -----
    The guard band is one-sided at each limit. Where a band is hardly wider than twice the guard
    band, the risk of both sides adds up, at most to double.

    References
    ----------
    ILAC-G8:09/2019; JCGM 106:2012, clause 8.
    """
    if low is None and high is None:
        raise InputError("limits", "none", "give a low or a high limit")
    lower, upper = -math.inf if low is None else low, math.inf if high is None else high
    if not lower <= upper:
        raise InputError("limits", f"low {lower:g}, high {upper:g}", "low must not be above high")
    w = guard_band(u, rule, coverage)
    if value is None or math.isnan(value):
        return "not measured"
    if math.isnan(w):
        return "undecided"
    if lower + w <= value <= upper - w:
        return "met"
    if value < lower - w or value > upper + w:
        return "not met"
    return "undecided"
