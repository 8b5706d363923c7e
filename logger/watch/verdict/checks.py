"""One way of comparing a value with a target, so that every watcher judges alike.

Pure; takes numbers from the watchers, lets logger.science.metrology.conformance decide and
logger.words write the evidence. No data is "not measured", an unknown uncertainty is
"undecided": neither ever passes.
"""

import math
from typing import Literal

from logger.model.checks import check_of
from logger.model.finding import Finding, Verdict
from logger.model.state import Number
from logger.model.written import Band
from logger.science.metrology.conformance import decide, guard_band
from logger.watch.engine.contract import Context, judged_rule, seconds
from logger.watch.verdict.carried import any_assumed, carried, unknown_among
from logger.watch.verdict.carried import why_unknown as of_sensors
from logger.watch.verdict.measured import Measured
from logger.words.labels import check_label
from logger.words.verdicts import evidence_text, missing_text

COVERAGE = 2.0
"""Coverage factor of every expanded uncertainty shown (JCGM 100:2008, 6.3.3)."""

U_TAP_S = 1.5
"""Standard uncertainty of a moment told by a tap, key or foot [s]: common practice, no source."""
U_BETWEEN_TAPS_S = 2.0**0.5 * U_TAP_S
"""The same of a time between two of them [s]."""


def judge(
    value: float | None,
    u: float,
    band: Band | None,
    rule: str,
    *,
    unit: str = "",
    why_missing: str = "",
    why_unknown: str = "",
) -> tuple[Verdict, str]:
    """Compare a value with a band and say how it stands in a sentence.

    Parameters
    ----------
    value : float or None
        What was measured [unit of the band]; None or NaN where there is no data.
    u : float
        Its standard uncertainty [same unit]; NaN when unknown.
    band : Band or None
        The target; without one the value is recorded and nothing is decided.
    rule : str
        Decision rule of the sheet.
    unit : str
        Unit of `value`, used where there is no band.
    why_missing : str
        Why there is no value, in words.
    why_unknown : str
        Why its uncertainty is unknown, in words.

    Returns
    -------
    tuple
        Verdict and evidence.

    References
    ----------
    ILAC-G8:09/2019; JCGM 106:2012, clause 8.
    """
    unit = band.unit if band is not None else unit
    low, high = (band.low, band.high) if band is not None else (None, None)
    if value is None or math.isnan(value):
        return "not measured", missing_text(why_missing or "no data", low, high, unit)
    verdict: Verdict = "undecided"
    side: Literal["below", "above"] = "below"
    why = ""
    if band is not None and (low is not None or high is not None):
        if math.isnan(u):
            why = why_unknown or "the uncertainty is unknown"
        else:
            verdict = decide(value, u, low=low, high=high, rule=rule, coverage=COVERAGE)
            side = _side(value, band, guard_band(u, rule, COVERAGE))
    return verdict, evidence_text(
        verdict, value, unit, u_expanded=COVERAGE * u, low=low, high=high, side=side, why=why
    )


def finding(
    context: Context,
    key: str,
    measured: Measured,
    band: Band | None = None,
    *,
    subject: str = "",
    piece: int | None = None,
    why_missing: str = "",
    why_unknown: str = "",
) -> Finding:
    """Make a finding by the sheet's decision rule; the caller hands it to ``context.out.find``.

    Parameters
    ----------
    context : Context
        Of the watcher; gives stage and rule.
    key : str
        Of the check, as its kind declares it: ``"heat.fat_c"``. Gives the unit.
    measured : Measured
        What is judged, in the unit of the check.
    band : Band or None
        The target; without one the value is recorded and nothing is decided.
    subject : str
        What of it, where there are several.
    piece : int or None
        Number of the piece.
    why_missing : str
        Why there is nothing to judge, in words.
    why_unknown : str
        Why the uncertainty is unknown, in words, where that is no sensor's.

    Returns
    -------
    Finding
        With the evidence as a sentence, such as ``"46.1 ± 0.6 °C (target 44 to 58 °C)"``.

    Raises
    ------
    UndeclaredKeyError
        If no kind declares the key.
    """
    rule, unit = judged_rule(context.sheet), check_of(key).unit
    sensors = carried(context, key, measured)
    value, u = measured.value, measured.u
    if unknown_among(context, sensors):  # whatever was worked out from it
        u = math.nan
    verdict, evidence = judge(
        value,
        u,
        band,
        rule,
        unit=unit,
        why_missing=why_missing,
        why_unknown=why_unknown or of_sensors(context, sensors),
    )
    known = measured.known
    return Finding(
        key=key,
        subject=subject,
        check=check_label(key, subject),
        stage=context.stage_id,
        verdict=verdict,
        value=value if known else None,
        unit=unit,
        expanded_uncertainty=COVERAGE * u if known and not math.isnan(u) else None,
        low=band.low if band is not None else None,
        high=band.high if band is not None else None,
        from_s=None if measured.from_ns is None else seconds(measured.from_ns),
        to_s=None if measured.to_ns is None else seconds(measured.to_ns),
        evidence=evidence,
        piece=piece,
        channel=measured.channel,
        rule=rule,
        source=band.source if band is not None else "sheet",
        assumed=known and any_assumed(context, sensors),
    )


def why_unknown(context: Context, key: str, measured: Measured) -> str:
    """Say whose uncertainty is not set among the sensors of a check; empty where all is known.

    Parameters
    ----------
    context : Context
        Of the watcher.
    key : str
        Of the check.
    measured : Measured
        The value; names its own channel.
    """
    return of_sensors(context, carried(context, key, measured))


def number(
    context: Context,
    label: str,
    value: float | None,
    unit: str,
    u: float,
    band: Band | None = None,
    text: str = "",
    left_s: float | None = None,
) -> Number:
    """Make one of the numbers that matter in a stage, with its verdict, for a `StageView`.

    Parameters
    ----------
    context : Context
        Of the stage.
    label : str
        What a person calls it.
    value : float or None
        Number in the unit `unit`; None without one.
    unit : str
        Unit of the number.
    u : float
        Standard uncertainty in the unit `unit`; NaN if unknown.
    band : Band, optional
        Its target.
    text : str
        What is shown instead of the number; empty for the number.
    left_s : float or None
        Until it reaches its target [s], where that is known; of a time it is what lacks.
    """
    if unit == "s" and band is not None and band.low is not None and value is not None:
        left_s = band.low - value if value < band.low else None
    verdict, _ = judge(value, u, band, judged_rule(context.sheet), unit=unit)
    return Number(
        label=label,
        value=value,
        unit=unit,
        u_expanded=None if math.isnan(u) else COVERAGE * u,
        low=band.low if band is not None else None,
        high=band.high if band is not None else None,
        verdict=verdict,
        text=text or ("no data" if value is None else ""),
        left_s=left_s,
    )


def progress(
    context: Context,
    label: str,
    value: float | None,
    unit: str,
    u: float,
    band: Band | None = None,
) -> Number:
    """Make a number that is on its way up to its band: not there yet is undecided, not missed.

    Parameters
    ----------
    context : Context
        Of the stage.
    label : str
        What a person calls it.
    value : float or None
        Number in the unit `unit`; None without one.
    unit : str
        Unit of the number.
    u : float
        Standard uncertainty in the unit `unit`; NaN if unknown.
    band : Band, optional
        Its target.
    """
    found = number(context, label, value, unit, u, band)
    if band is not None and band.low is not None and value is not None and value < band.low:
        found.verdict = "undecided"
    return found


def _side(value: float, band: Band, width: float) -> Literal["below", "above"]:
    """Return on which side a value misses, or nearly misses, its band."""
    return "below" if band.low is not None and value < band.low + width else "above"
