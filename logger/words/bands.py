"""A target: a band, a limit from below or a limit from above.

Pure text. Limits keep the digits that the sheet gave them.
"""

from collections.abc import Callable

from logger.model.written import Band
from logger.words.digits import exact, fixed
from logger.words.durations import clock, duration_span
from logger.words.values import (
    exact_text,
    limit_number,
    places_of,
    unit_text,
    value_text,
    with_unit,
)

NO_LIMIT = "no limit"


def band_text(low: float | None, high: float | None, unit: str) -> str:
    """Write a target for a sentence.

    Parameters
    ----------
    low, high : float or None
        Limits [unit]; None where there is none.
    unit : str
        Of the code, such as ``"degC"``.

    Returns
    -------
    str
        ``"47 to 58 °C"``, ``"at least 80 %"``, ``"at most 12 g"``, ``"8 to 10 min"``.
    """
    if low is None or high is None or low == high:
        return _one_sided(low, high, lambda value: _limit_text(value, unit))
    if unit == "s":
        return duration_span(low, high)
    return f"{limit_number(low, unit)} to {_limit_text(high, unit)}"


def span_text(low: float, high: float, unit: str) -> str:
    """Write from where to where measured values lie: ``"0.48 to 0.61 mm"``.

    Parameters
    ----------
    low, high : float
        Smallest and largest [unit].
    unit : str
        Of the code.
    """
    if unit == "s":
        places = 1 if high < 10.0 else 0  # what is measured ends with the second, or its tenth
        return duration_span(round(low, places), round(high, places))
    return f"{fixed(low, places_of(high, unit))} to {value_text(high, unit)}"


def target_text(band: Band) -> str:
    """Write a target of the sheet, as `band_text`."""
    return band_text(band.low, band.high, band.unit)


def band_on_screen(
    low: float | None, high: float | None, unit: str, places: int | None = None
) -> str:
    """Write a target beside a value on a screen, where times are clocks.

    Parameters
    ----------
    low, high : float or None
        Limits [unit], converted by the caller to what is read.
    unit : str
        As shown or of the code.
    places : int, optional
        Most decimals, where a conversion made more of them than the sheet has.

    Returns
    -------
    str
        As `band_text`, with ``"at least 6:00"`` for seconds; empty for none.
    """
    if low is None and high is None:
        return ""
    clocks = unit == "s"

    def bare(value: float) -> str:
        if clocks:
            return clock(value)
        return limit_number(value, unit) if places is None else exact(value, places)

    def whole(value: float) -> str:
        return bare(value) if clocks else with_unit(bare(value), unit_text(unit))

    if low is None or high is None or low == high:
        return _one_sided(low, high, whole)
    return f"{bare(low)} to {whole(high)}"


def _limit_text(value: float, unit: str) -> str:
    if unit == "s":
        return exact_text(value, unit)
    return with_unit(limit_number(value, unit), unit)


def _one_sided(low: float | None, high: float | None, write: Callable[[float], str]) -> str:
    if low is not None and high is not None:
        return write(low)
    if low is not None:
        return f"at least {write(low)}"
    return f"at most {write(high)}" if high is not None else NO_LIMIT
