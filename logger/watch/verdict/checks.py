"""One way of comparing a value with a target, so that every watcher words its findings alike.

Pure; takes numbers from the watchers, lets logger.science.metrology.conformance decide and puts
the numbers into a plain sentence. No data is "not measured", an unknown uncertainty is
"undecided": neither ever passes.
"""

import math

from logger.model.finding import Finding, Verdict
from logger.model.state import Number
from logger.model.written import Band
from logger.science.metrology.conformance import decide, guard_band
from logger.watch.engine.contract import Context, judged_rule, seconds

COVERAGE = 2.0
"""Coverage factor of every expanded uncertainty shown (JCGM 100:2008, 6.3.3)."""

U_TAP_S = 1.5
"""Standard uncertainty of a moment told by a tap, key or foot [s]: common practice, no source."""
U_BETWEEN_TAPS_S = 2.0**0.5 * U_TAP_S
"""The same of a time between two of them [s]."""

_UNIT_TEXT = {"degC": "°C"}
_PLAIN_DECIMALS = {"degC": 1, "K": 1, "g": 2, "s": 0, "%": 2, "g/min": 0, "mm": 2, "log": 2}
_MAX_DECIMALS = 4
_MINUTE_S, _HOUR_S = 60.0, 3600.0


def shown(value: float, unit: str, u_expanded: float | None = None) -> str:
    """Write a value the way a person reads it.

    Parameters
    ----------
    value : float
        In `unit`.
    unit : str
        As in `Number.unit`; seconds from two minutes on are written as minutes or hours.
    u_expanded : float, optional
        Expanded uncertainty [same unit]; None, 0 or NaN leaves the ± out.

    Returns
    -------
    str
        ``"46.1 ± 0.6 °C"``, ``"8 min 3 s ± 1 s"``.
    """
    has_u = u_expanded is not None and math.isfinite(u_expanded) and u_expanded > 0.0
    if unit == "s" and abs(value) >= 2 * _MINUTE_S:
        tail = f" ± {_plain(u_expanded or 0.0, _decimals(u_expanded, unit))} s" if has_u else ""
        return _duration(value) + tail
    places = _decimals(u_expanded if has_u else None, unit)
    number = _plain(value, places)
    if has_u:
        number += f" ± {_plain(u_expanded or 0.0, places)}"
    return f"{number} {_UNIT_TEXT.get(unit, unit)}".rstrip()


def band_text(band: Band) -> str:
    """Write a band: ``"44 to 58 °C"``, ``"at least 63 °C"``, ``"at most 5 °C"``."""
    low, high = band.low, band.high
    if low is not None and high is not None:
        if band.unit == "s" and high >= 2 * _MINUTE_S:
            return f"{_limit(low, 's')} to {_limit(high, 's')}"
        return f"{low:g} to {_limit(high, band.unit)}"
    if low is not None:
        return f"at least {_limit(low, band.unit)}"
    return f"at most {_limit(high, band.unit)}" if high is not None else "no limit"


def judge(
    value: float | None,
    u: float,
    band: Band | None,
    rule: str,
    *,
    unit: str = "",
    why_missing: str = "",
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
        Why there is no value or no uncertainty, in words.

    Returns
    -------
    tuple
        Verdict and evidence.

    References
    ----------
    ILAC-G8:09/2019; JCGM 106:2012, clause 8.
    """
    unit = band.unit if band is not None else unit
    if value is None or math.isnan(value):
        target = f", so {band_text(band)} was not checked" if band is not None else ""
        return "not measured", f"{why_missing or 'no data'}{target}"
    number = shown(value, unit, COVERAGE * u)
    if band is None or (band.low is None and band.high is None):
        return "undecided", f"{number} recorded; the sheet sets no limit"
    if math.isnan(u):
        reason = why_missing or "the uncertainty is unknown"
        return "undecided", f"{number} against {band_text(band)}: {reason}, so there is no verdict"
    verdict = decide(value, u, low=band.low, high=band.high, rule=rule, coverage=COVERAGE)
    return verdict, _sentence(verdict, value, number, band, guard_band(u, rule, COVERAGE))


def finding(
    context: Context,
    check: str,
    value: float | None,
    unit: str,
    u: float,
    band: Band | None,
    from_ns: int | None,
    to_ns: int | None,
    channel: str | None = None,
    piece: int | None = None,
    why_missing: str = "",
) -> Finding:
    """Make a finding by the sheet's decision rule; the caller hands it to ``context.out.find``.

    Parameters
    ----------
    context : Context
        Of the watcher; gives stage and rule.
    check : str
        What is compared, in the sheet's words: ``"fat temperature"``.
    value, u : float
        As for `judge`, in `unit`.
    unit : str
        Unit of value and band.
    band : Band or None
        The target.
    from_ns, to_ns : int or None
        Window of the evidence on the run's axis [ns].
    channel, piece, why_missing
        Where on the trace, which piece, and why there is nothing to judge.

    Returns
    -------
    Finding
        With the evidence as a sentence, such as ``"46.1 ± 0.6 °C lies in 44 to 58 °C"``.
    """
    rule = judged_rule(context.sheet)
    verdict, evidence = judge(value, u, band, rule, unit=unit, why_missing=why_missing)
    known = value is not None and not math.isnan(value)
    return Finding(
        check=check,
        stage=context.stage_id,
        verdict=verdict,
        value=value if known else None,
        unit=unit,
        expanded_uncertainty=COVERAGE * u if known and not math.isnan(u) else None,
        low=band.low if band is not None else None,
        high=band.high if band is not None else None,
        from_s=seconds(from_ns) if from_ns is not None else None,
        to_s=seconds(to_ns) if to_ns is not None else None,
        evidence=evidence,
        piece=piece,
        channel=channel,
        rule=rule,
        source=band.source if band is not None else "sheet",
    )


def number(
    context: Context,
    label: str,
    value: float | None,
    unit: str,
    u: float,
    band: Band | None = None,
    text: str = "",
) -> Number:
    """Make one of the numbers that matter in a stage, with its verdict, for a `StageView`."""
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
    )


def progress(
    context: Context,
    label: str,
    value: float | None,
    unit: str,
    u: float,
    band: Band | None = None,
) -> Number:
    """Make a number that is on its way up to its band: not there yet is undecided, not missed."""
    found = number(context, label, value, unit, u, band)
    if band is not None and band.low is not None and value is not None and value < band.low:
        found.verdict = "undecided"
    return found


def _sentence(verdict: Verdict, value: float, number: str, band: Band, width: float) -> str:
    target = band_text(band)
    if verdict == "met":
        joined = "lies in" if band.low is not None and band.high is not None else "is"
        return f"{number} {joined} {target}"
    below = band.low is not None and value < band.low + width
    limit = band.low if below else band.high
    side = "below" if below else "above"
    edge = _limit(limit if limit is not None else math.nan, band.unit)
    if verdict == "not met":
        return f"{number} lies {side} {edge}"
    return f"{number} is too near the limit of {edge} to tell whether it lies {side} it"


def _limit(value: float | None, unit: str) -> str:
    if value is None:
        return "no limit"
    if unit == "s" and abs(value) >= 2 * _MINUTE_S:
        return _duration(value)
    return f"{value:g} {_UNIT_TEXT.get(unit, unit)}".rstrip()


def _duration(value_s: float) -> str:
    sign = "-" if value_s < 0 else ""
    whole = round(abs(value_s))
    hours, rest = divmod(whole, int(_HOUR_S))
    minutes, left_s = divmod(rest, int(_MINUTE_S))
    parts = [f"{hours} h"] if hours else []
    if minutes:
        parts.append(f"{minutes} min")
    if left_s:
        parts.append(f"{left_s} s")
    return sign + " ".join(parts)


def _decimals(u_expanded: float | None, unit: str) -> int:
    """Return decimals that show one digit of the uncertainty, or two where the first is a 1."""
    if u_expanded is None or not math.isfinite(u_expanded) or u_expanded <= 0.0:
        return _PLAIN_DECIMALS.get(unit, 3)
    exponent = math.floor(math.log10(u_expanded))
    first = u_expanded / 10.0**exponent
    return min(max(-exponent + (1 if first < 1.95 else 0), 0), _MAX_DECIMALS)


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    return text[1:] if text.startswith("-") and float(text) == 0.0 else text
