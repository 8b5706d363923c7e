"""Alarm conditions of a value against its band, with deadband.

Pure; used by the watchers of single channels.
"""

from logger.model.written import Band
from logger.watch.engine.contract import Condition
from logger.words.bands import target_text

DEADBAND_K = 0.5
"""A temperature alarm clears only this far inside its limit [K]; common practice, no source."""


def band_conditions(
    condition_id: str,
    name: str,
    value: float | None,
    band: Band | None,
    *,
    channel: str | None,
    deadband: float = DEADBAND_K,
    latches: bool = False,
) -> list[Condition]:
    """Return the conditions "below" and "above" of a value; None where there is no data.

    Parameters
    ----------
    condition_id : str
        Stem of the ids: ``"hydrate.temp"``.
    name : str
        What is measured, as a person reads it.
    value : float or None
        As measured [unit of the band].
    band : Band or None
        The target.
    channel : str or None
        Channel id.
    deadband : float
        How far back inside the limit it must be to clear [unit of the band].
    latches : bool
        Keep that it was crossed.
    """
    if band is None:
        return []
    found = []
    for word, limit, sign in (("low", band.low, 1.0), ("high", band.high, -1.0)):
        if limit is None:
            continue
        beyond = None if value is None else sign * (limit - value)
        side = "below" if word == "low" else "above"
        found.append(
            Condition(
                id=f"{condition_id}.{word}",
                text=f"{name} is {side} its target of {target_text(band)}",
                active=None if beyond is None else beyond > 0.0,
                cleared=beyond is not None and beyond <= -deadband,
                latches=latches,
                channel=channel,
            )
        )
    return found
