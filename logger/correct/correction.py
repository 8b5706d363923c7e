"""Dated corrections: what a check added to the readings, how good it is, whether it is overdue.

Pure; reads a Correction of the bench file, used by logger.correct.budget and .channel. The usual
uncertainties of the methods are typical and unverified; the bench file may state better.
"""

import datetime
import re
from dataclasses import dataclass

from logger.model.bench import Correction
from logger.model.errors import InputError
from logger.science.metrology.reference_points import U_ICE_BATH_K

TYPICAL = "typical, unverified"

U_BOIL_K = 0.3
"""A rolling boil with the pressure of the day known to about 1 kPa: typical, unverified."""
U_OTHER_K = 0.3
"""Against another thermometer, or a method not named: typical, unverified."""
U_WEIGHT_STEPS = 1.0
"""Against a check weight, in steps of the display: typical, unverified."""

_ICE = re.compile(r"\b(ice|melting)\b", re.IGNORECASE)
_BOIL = re.compile(r"\bboil(ing)?\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Corrected value = offset + slope times shown value."""

    slope: float = 1.0
    offset: float = 0.0


def line_of(correction: Correction | None, unit: str, channel_id: str) -> Line:
    """Straight line that a correction stands for.

    Parameters
    ----------
    correction : Correction or None
        As written in the bench file.
    unit : str
        Unit of the channel, ``"degC"`` or ``"g"``.
    channel_id : str
        Channel id, for the message.

    Returns
    -------
    Line
        Offset [unit] and slope; no change without a correction.

    Raises
    ------
    InputError
        If the correction is a mass on a temperature channel or the other way round, or its two
        points have the same true value.
    """
    if correction is None:
        return Line()
    where = f"bench file: channel {channel_id!r}, correction"
    if correction.points is not None:
        (shown_1, true_1), (shown_2, true_2) = correction.points
        if true_1 == true_2:
            raise InputError(where, f"points with the same true value {true_1:g}", "give two")
        slope = (true_2 - true_1) / (shown_2 - shown_1)
        return Line(slope=slope, offset=true_1 - slope * shown_1)
    offset = correction.offset_g if unit == "g" else correction.offset_k
    if offset is None:
        key, other = ("offset_mass", "offset") if unit == "g" else ("offset", "offset_mass")
        raise InputError(where, f"{other} on a channel in {unit}", f"write {key} instead")
    return Line(offset=offset)


def checked_at_c(correction: Correction) -> tuple[float, ...]:
    """Temperatures at which a correction was checked.

    Parameters
    ----------
    correction : Correction
        As written in the bench file.

    Returns
    -------
    tuple of float
        True temperatures of both points, 0 for an ice point, 100 for a boiling point (near enough
        for how far a check reaches); empty when the method does not say [degC].
    """
    if correction.points is not None:
        return correction.points[0][1], correction.points[1][1]
    if _ICE.search(correction.by):
        return (0.0,)
    if _BOIL.search(correction.by):
        return (100.0,)
    return ()


def check_u(correction: Correction, unit: str, step: float) -> tuple[float, str]:
    """Standard uncertainty of a check, and where the number comes from.

    Parameters
    ----------
    correction : Correction
        As written in the bench file.
    unit : str
        Unit of the channel, ``"degC"`` or ``"g"``.
    step : float
        Smallest step of the display [unit].

    Returns
    -------
    tuple
        Standard uncertainty [unit] and its source.
    """
    by = correction.by or "method not named"
    if correction.u is not None:
        return correction.u, f"bench file ({by}, {correction.checked})"
    if unit == "g":
        u = U_WEIGHT_STEPS * step
    elif _ICE.search(correction.by) and not _BOIL.search(correction.by):
        u = U_ICE_BATH_K
    elif _BOIL.search(correction.by):
        u = U_BOIL_K
    else:
        u = U_OTHER_K
    return u, f"{TYPICAL} ({by}, {correction.checked})"


def overdue_days(correction: Correction | None, today: datetime.date) -> int:
    """Days since a check should have been repeated.

    Parameters
    ----------
    correction : Correction or None
        As written in the bench file.
    today : date
        Day of the run.

    Returns
    -------
    int
        Days overdue; 0 when not yet due or without a check.
    """
    if correction is None:
        return 0
    return max(0, (today - correction.checked).days - correction.due_days)
