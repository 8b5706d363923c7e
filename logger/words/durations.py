"""Times as a person reads them: on a clock, in a sentence, rounded, as an age.

Pure text out of seconds. Never decimal minutes; a time that is not known is a dash on a clock and
"an unknown time" in a sentence.
"""

import math
from collections.abc import Callable, Sequence

from logger.words.digits import DASH, MINUS, exact, fixed, has_uncertainty, places_for

UNKNOWN = "an unknown time"
_MINUTE_S, _HOUR_S = 60, 3600
_STEPS_S = ((20.0, 1), (180.0, 5), (3600.0, 60), (36000.0, 300))
"""Up to this long, a rounded time goes in steps of so many seconds."""
_LONGEST_STEP_S = 3600
_NOW_S, _SECONDS_UP_TO_S = 1.0, 119.5
_TENTHS_BELOW_S, _EXACT_PLACES = 9.95, 3


def clock(time_s: float | None) -> str:
    """Write a time [s] for a screen: ``"8:02"``, from an hour on ``"1:08:06"``; a dash for none."""
    if time_s is None or not math.isfinite(time_s):
        return DASH
    whole = round(abs(time_s))
    sign = MINUS if time_s < 0 and whole else ""
    hours, rest = divmod(whole, _HOUR_S)
    minutes, left_s = divmod(rest, _MINUTE_S)
    return f"{sign}{hours}:{minutes:02d}:{left_s:02d}" if hours else f"{sign}{minutes}:{left_s:02d}"


def clock_span(from_s: float | None, to_s: float | None) -> str:
    """Write a stretch of the run [s]: ``"26:40 to 26:48"``; one time where both look the same."""
    first, last = clock(from_s), clock(to_s)
    if from_s is None:
        return ""
    return first if to_s is None or first == last else f"{first} to {last}"


def clock_or_between(at_s: float | None, between_s: Sequence[float] | None) -> str:
    """Write a moment of the run, or the stretch in which it was: ``"2:42 to 2:58"``.

    Parameters
    ----------
    at_s : float or None
        The moment [s]; None where it is not known to the second.
    between_s : sequence of float or None
        First and last time at which it can have been [s]; None where nothing is known.
    """
    if at_s is not None or between_s is None:
        return clock(at_s)
    return clock_span(*between_s)


def duration_text(time_s: float | None, u_expanded_s: float | None = None) -> str:
    """Write a duration for a sentence.

    Parameters
    ----------
    time_s : float or None
        The duration [s]; below zero is written with a minus sign.
    u_expanded_s : float, optional
        Its expanded uncertainty [s]; None, 0 or NaN leaves the ± out.

    Returns
    -------
    str
        ``"2.4 s"`` (tenths below ten seconds), ``"42 s"``, ``"8 min 2 s"``, ``"1 h 8 min"`` (whole
        minutes from an hour on), and ``"12.3 ± 0.4 s"``, ``"8 min 3 s ± 1 s"``, ``"29 ± 2 min"``.
    """
    if time_s is None or not math.isfinite(time_s):
        return UNKNOWN
    if u_expanded_s is not None and has_uncertainty(u_expanded_s):
        return _uncertain(time_s, u_expanded_s)
    if abs(time_s) < _TENTHS_BELOW_S:
        return f"{exact(time_s, 1)} s"
    whole_minutes = round(abs(time_s)) >= _HOUR_S
    return _parts(round(time_s / _MINUTE_S) * _MINUTE_S if whole_minutes else time_s, 0)


def exact_duration(time_s: float | None) -> str:
    """Write a duration [s] that somebody set, in full: ``"1 h 8 min 30 s"``, ``"2.5 s"``."""
    if time_s is None or not math.isfinite(time_s):
        return UNKNOWN
    size = round(abs(time_s), _EXACT_PLACES)
    rest = size % _MINUTE_S
    if size < _MINUTE_S or rest != round(rest):
        whole = _parts(size - rest, 0)
        seconds = f"{exact(rest, _EXACT_PLACES)} s"
        sign = MINUS if time_s < 0 and size else ""
        return sign + (seconds if size < _MINUTE_S else f"{whole} {seconds}")
    return _parts(time_s, 0)


def duration_spread(u_expanded_s: float) -> str:
    """Write the uncertainty of a duration [s], above 0: ``"0.4 s"``, ``"2 min"``."""
    if u_expanded_s < _MINUTE_S - 0.5:
        return f"{fixed(u_expanded_s, places_for(u_expanded_s))} s"
    return _parts(_on_step(u_expanded_s, u_expanded_s), 0)


def clock_spread(u_expanded_s: float) -> str:
    """Write the uncertainty of a time [s] on a clock, which has whole seconds: ``"1 s"``."""
    if u_expanded_s < _MINUTE_S - 0.5:
        return f"{max(round(u_expanded_s), 1)} s"
    return duration_spread(u_expanded_s)


def about(time_s: float | None) -> str:
    """Round a duration [s] to what matters: ``"40 s"``, ``"4 min"``, ``"1 h 10 min"``.

    In steps of 1 s below 20 s, 5 s below 3 min, 1 min below 1 h, 5 min below 10 h, and 1 h
    beyond.
    """
    if time_s is None or not math.isfinite(time_s):
        return UNKNOWN
    return duration_text(_stepped(time_s, round))


def about_span(early_s: float, late_s: float) -> str:
    """Write a time [s] that lies between two, widened to round numbers: ``"6 to 9 min"``."""
    if not (math.isfinite(early_s) and math.isfinite(late_s)):
        return UNKNOWN
    early = _stepped(early_s, math.floor, of_s=late_s)
    return duration_span(early, _stepped(late_s, math.ceil))


def duration_span(low_s: float, high_s: float) -> str:
    """Write two durations [s], to the second, the unit once where it is one: ``"8 to 10 min"``."""
    low, high = exact_duration(low_s), exact_duration(high_s)
    if low == high:
        return low
    low_parts, high_parts = low.split(), high.split()
    zero_s = low == "0 s"
    if len(high_parts) == 2 and (zero_s or (len(low_parts) == 2 and low_parts[1] == high_parts[1])):
        return f"{low_parts[0]} to {high}"
    return f"{low} to {high}"


def age_text(age_s: float | None) -> str:
    """Write how long ago [s] something was: ``"now"``, ``"12 s ago"``, ``"4 min ago"``.

    ``dashboard/assets/ages.js`` writes the same, held to this by a test.
    """
    if age_s is None or not math.isfinite(age_s):
        return "no sample"
    if age_s < _NOW_S:
        return "now"
    if age_s < _SECONDS_UP_TO_S:
        return f"{math.floor(age_s + 0.5)} s ago"
    minutes = math.floor(age_s / _MINUTE_S + 0.5)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min ago"
    return f"{hours} h {rest} min ago" if rest else f"{hours} h ago"


def _stepped(time_s: float, how: Callable[[float], int], of_s: float | None = None) -> float:
    """Round to the step of a duration [s]; of `of_s` instead where both are a minute or more."""
    size = abs(time_s)
    if of_s is not None and min(size, of_s) >= _MINUTE_S:
        size = of_s
    step = next((step for below, step in _STEPS_S if size < below), _LONGEST_STEP_S)
    return float(how(time_s / step) * step)


def _uncertain(time_s: float, u_s: float) -> str:
    spread = duration_spread(u_s)
    if u_s < _MINUTE_S - 0.5:
        places = places_for(u_s)
        if round(abs(time_s), places) < _MINUTE_S:
            return f"{fixed(time_s, places)} ± {spread}"
        return f"{_parts(time_s, places)} ± {spread}"
    value = _parts(_on_step(time_s, u_s), 0)
    if spread.endswith(" min") and len(value.split()) == 2 and value.endswith(" min"):
        value = value.removesuffix(" min")
    return f"{value} ± {spread}"


def _on_step(time_s: float, u_s: float) -> float:
    """Round to the place of an uncertainty [s] of a minute or more."""
    step = 10 if u_s < _SECONDS_UP_TO_S - 4.5 else _MINUTE_S
    return float(round(time_s / step) * step)


def _parts(time_s: float, places: int) -> str:
    size = round(abs(time_s), places)
    hours, rest = divmod(size, _HOUR_S)
    minutes, left_s = divmod(rest, _MINUTE_S)
    texts = [f"{hours:.0f} h"] if hours else []
    if minutes:
        texts.append(f"{minutes:.0f} min")
    if places or left_s or not texts:
        texts.append(f"{fixed(left_s, places)} s")
    return (MINUS if time_s < 0 and size else "") + " ".join(texts)
