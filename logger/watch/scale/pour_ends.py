"""When a pour began and when it ended, each told once from the readings about it.

Pure; used by logger.watch.scale.pour. The readings about the place where the levels say that
something began or ceased to flow go to logger.science.statistics.pourstart; the end is a beginning
seen backwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from logger.science.statistics.isotone import rising_fit
from logger.science.statistics.pourstart import ABOVE_G, PourStart, pour_start
from logger.science.statistics.scalenoise import means_of
from logger.watch.scale.pour_levels import Levels
from logger.watch.scale.pour_seen import Part

Array = npt.NDArray[np.float64]

BEFORE_S, AFTER_S = 22.0, 20.0
"""What is looked at about a beginning [s]."""
LEVEL_FROM_S, LEVEL_TO_S = 13.0, 1.0
DELAY_S, ROUNDED_S = 0.3, 0.1
"""How late the filter of a scale may show a mass [s], and half the time between readings."""
UNTOLD_S = 3.0
"""How far off a beginning or end may be that comes from the levels alone [s]."""
REFINED_S = 15.0
"""A beginning is worked out once more so long after it was seen, with what came since [s]."""
SAME_S = 4.0
FOOT_S = 1.0
"""So long after the last of the level something is seen to flow."""
_FEWEST = 4


@dataclass(slots=True, kw_only=True)
class _Told:
    """What was told of one end: near which time, whether with all that can be known."""

    near_s: float
    end: PourStart
    whole: bool


class PourEnds:
    """Keeps what was told of beginnings and ends, so that each is worked out once or twice.

    Parameters
    ----------
    levels : Levels
        Of the scale; has the readings.
    step_g : float
        Step of its display [g].
    gives : bool
        Whether the vessel on the scale gives.
    """

    def __init__(self, levels: Levels, *, step_g: float, gives: bool) -> None:
        self._levels, self._step_g = levels, step_g
        self._sign = -1.0 if gives else 1.0
        self._began: list[_Told] = []
        self._ended: list[_Told] = []

    def began(self, part: Part, now_s: float) -> PourStart:
        """Return when a pour began whose first part is given.

        Parameters
        ----------
        part : Part
            The first that counts.
        now_s : float
            Time on the run's axis [s].
        """
        near_s = part.change.start_s + FOOT_S
        told = _known(self._began, near_s)
        whole = now_s >= near_s + REFINED_S
        if told is not None and (told.whole or not whole):
            return told.end
        found = self._told(part, near_s, at_end=False)
        if told is None:
            self._began.append(_Told(near_s=near_s, end=found, whole=whole))
        else:
            told.end, told.whole = found, True
        return found

    def ended(self, part: Part, now_s: float) -> PourStart:
        """Return when a pour ended whose last part is given.

        Parameters
        ----------
        part : Part
            The last that counts.
        now_s : float
            Time on the run's axis [s].
        """
        near_s = part.change.end_s
        told = _known(self._ended, near_s)
        whole = now_s >= near_s + AFTER_S
        if told is not None and (told.whole or not whole):
            return told.end
        found = self._told(part, near_s, at_end=True)
        if told is None:
            self._ended.append(_Told(near_s=near_s, end=found, whole=whole))
        else:
            told.end, told.whole = found, True
        return found

    def _told(self, part: Part, near_s: float, *, at_end: bool) -> PourStart:
        change = part.change
        if part.flows and not change.gap:
            times, masses = self._levels.readings(near_s - BEFORE_S - 3.0, near_s + BEFORE_S + 3.0)
            tell = pour_ended if at_end else pour_began
            found = tell(times, self._sign * masses, near_s, self._step_g) if times.size else None
            if found is not None:
                return found
        early_s, late_s = change.start_s, change.end_s
        if part.flows and not change.gap:
            early_s, late_s = near_s - UNTOLD_S, near_s + UNTOLD_S
        at_s = near_s if part.flows else 0.5 * (early_s + late_s)
        level_g = change.after_g if at_end else change.before_g
        u_g = change.u_after_g if at_end else change.u_before_g
        return PourStart(at_s=at_s, early_s=early_s, late_s=late_s, level_g=level_g, u_level_g=u_g)


def _known(told: list[_Told], near_s: float) -> _Told | None:
    return next((t for t in told if abs(t.near_s - near_s) <= SAME_S), None)


def pour_began(t_s: Array, mass_g: Array, near_s: float, step_g: float) -> PourStart | None:
    """Return when a pour began, from rising readings.

    Parameters
    ----------
    t_s, mass_g : ndarray
        Readings [s], [g], shape (n,), times ascending.
    near_s : float
        About when [s].
    step_g : float
        Step of the display [g].

    Returns
    -------
    PourStart or None
        Its interval takes in what the scale itself may be late; None with too few readings.
    """
    return _end_near(t_s, mass_g, near_s, step_g, DELAY_S, ROUNDED_S)


def pour_ended(t_s: Array, mass_g: Array, near_s: float, step_g: float) -> PourStart | None:
    """Return when a pour ended: the same, with the level after it.

    Parameters
    ----------
    t_s, mass_g : ndarray
        Readings [s], [g], shape (n,), times ascending.
    near_s : float
        About when [s].
    step_g : float
        Step of the display [g].
    """
    times, masses = -t_s[::-1], -mass_g[::-1]
    back = _end_near(times, masses, -near_s, step_g, ROUNDED_S, DELAY_S)
    if back is None:
        return None
    return PourStart(
        at_s=-back.at_s,
        early_s=-back.late_s,
        late_s=-back.early_s,
        level_g=-back.level_g,
        u_level_g=back.u_level_g,
        chance=back.chance,
    )


def _end_near(
    t_s: Array, mass_g: Array, near_s: float, step_g: float, early_s: float, late_s: float
) -> PourStart | None:
    """Return a beginning near a time, its interval widened by so much to either side [s]."""
    seen = (t_s > near_s - BEFORE_S) & (t_s < near_s + AFTER_S)
    t_s, mass_g = t_s[seen], mass_g[seen]
    level = mass_g[(t_s > near_s - LEVEL_FROM_S) & (t_s < near_s - LEVEL_TO_S)]
    if level.size < _FEWEST:
        return None
    level_g = float(np.median(level))
    kept = t_s < _leaves_s(t_s, mass_g, level_g + ABOVE_G - 4.0)
    found = pour_start(t_s[kept], mass_g[kept], near_s=near_s, level_g=level_g, step_g=step_g)
    if found is None:
        return None
    return PourStart(
        at_s=found.at_s,
        early_s=found.early_s - early_s,
        late_s=found.late_s + late_s,
        level_g=found.level_g,
        u_level_g=found.u_level_g,
        chance=found.chance,
    )


def _leaves_s(t_s: Array, mass_g: Array, top_g: float) -> float:
    """Return the time from which on the rising curve is above what is looked at [s]."""
    times, means = means_of(t_s, mass_g, 0.5)
    above = np.flatnonzero(np.asarray(rising_fit(means.tolist())) > top_g)
    return float(times[above[0]]) + 0.3 if above.size else np.inf
