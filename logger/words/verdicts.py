"""A verdict by its name, and the sentence of evidence behind it.

Pure text; the verdicts themselves are decided in logger.science.metrology.conformance. In files a
verdict keeps its key (``undecided``); here it becomes what a person reads.
"""

from typing import Literal

from logger.words.bands import band_text
from logger.words.values import value_text

NOT_THERE_YET = "not there yet"
"""Of a value on its way to its band: nothing is decided before it arrives."""
FOR_INFORMATION = "for information"
UNCERTAINTY_UNKNOWN = "uncertainty unknown"
_NAMES = {
    "met": "met",
    "not met": "not met",
    "undecided": "too close to call",
    "not measured": "not measured",
    "no limit": FOR_INFORMATION,
}

_RULES = {
    "simple": "simple: the value alone decides",
    "guarded": "guarded: met only if the value with all of its ± is within the target",
    "guarded 5 %": "guarded 5 %: met only if it is wrong in 5 % of cases at most",
}


def rule_text(rule: str) -> str:
    """Return what a sheet's decision rule does; another than the three is returned as it is."""
    return _RULES.get(rule, rule)


def verdict_text(
    verdict: str,
    *,
    has_target: bool = True,
    u_known: bool = True,
    assumed: bool = False,
) -> str:
    """Return the name of a verdict as a person reads it.

    Parameters
    ----------
    verdict : str
        Key: ``met``, ``not met``, ``undecided``, ``not measured`` or ``no limit``; others are
        returned as they are.
    has_target : bool
        Whether there is a target; an undecided value without one is "for information".
    u_known : bool
        Whether the uncertainty is known; an undecided value without one is not "too close".
    assumed : bool
        An uncertainty behind the verdict was assumed.

    Returns
    -------
    str
        ``"too close to call"``, ``"met (assumed)"``.
    """
    name = _NAMES.get(verdict, verdict)
    if verdict == "undecided" and not has_target:
        name = FOR_INFORMATION
    elif verdict == "undecided" and not u_known:
        name = UNCERTAINTY_UNKNOWN
    return f"{name} (assumed)" if assumed else name


def verdict_of(
    verdict: str,
    *,
    value: float | None,
    u_expanded: float | None,
    low: float | None,
    high: float | None,
    assumed: bool = False,
) -> str:
    """Return the name of a finding's verdict, from what the finding holds.

    Parameters
    ----------
    verdict : str
        Key, as for `verdict_text`.
    value, u_expanded, low, high : float or None
        Value, expanded uncertainty and target [one unit].
    assumed : bool
        An uncertainty behind it was assumed; said of what is judged.
    """
    return verdict_text(
        verdict,
        has_target=low is not None or high is not None,
        u_known=value is None or u_expanded is not None,
        assumed=assumed and (low is not None or high is not None),
    )


def evidence_text(
    verdict: str,
    value: float,
    unit: str,
    *,
    u_expanded: float | None,
    low: float | None,
    high: float | None,
    side: Literal["below", "above"] = "below",
    why: str = "",
) -> str:
    """Write the evidence of a verdict on a measured value.

    Parameters
    ----------
    verdict : str
        Key: ``met``, ``not met`` or ``undecided``.
    value : float
        In `unit`.
    unit : str
        Of the code.
    u_expanded : float or None
        Expanded uncertainty [same unit].
    low, high : float or None
        The target [same unit].
    side : str
        On which side the value misses, or nearly misses, the target.
    why : str
        Why nothing was decided, where that is known.

    Returns
    -------
    str
        ``"180.20 ± 0.04 g (target 178.2 to 181.8 g)"``,
        ``"103 ± 31 %: too close to 100 % to call"``.
    """
    number = value_text(value, unit, u_expanded)
    if low is None and high is None:
        return f"{number}; the sheet sets no limit"
    target = band_text(low, high, unit)
    if verdict == "met":
        return f"{number} (target {target})"
    if verdict == "not met":
        return f"{number}, {side} the target of {target}"
    if why:
        return f"{number} (target {target}): no verdict, {why}"
    edge = low if side == "below" else high
    at = band_text(edge, edge, unit)
    return f"{number}: too close to {at} to call"


def missing_text(why: str, low: float | None, high: float | None, unit: str) -> str:
    """Write that there is nothing to judge: ``"no pour was seen (target 60 to 90 g/min)"``.

    Parameters
    ----------
    why : str
        Why there is no value.
    low, high : float or None
        The target [unit].
    unit : str
        Of the code.
    """
    has_target = low is not None or high is not None
    return f"{why} (target {band_text(low, high, unit)})" if has_target else why
