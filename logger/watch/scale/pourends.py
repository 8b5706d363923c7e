"""Beginning and end of a pour with what is known of them afterwards.

Pure; used by logger.watch.scale.pour. Takes the readings about the place where the rising curve
says that a pour began or ended, and asks logger.science.statistics.pourstart; the end is a
beginning seen backwards.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from logger.science.statistics.isotone import rising_fit
from logger.science.statistics.pourstart import ABOVE_G, PourStart, pour_start
from logger.science.statistics.scalenoise import means_of

Array = npt.NDArray[np.float64]

BEFORE_S, AFTER_S = 22.0, 20.0
"""What is looked at about a beginning [s]."""
LEVEL_FROM_S, LEVEL_TO_S = 13.0, 1.0
DELAY_S, ROUNDED_S = 0.3, 0.1
"""How late the filter of a scale may show a mass [s], and half of what lies between readings."""
UNTOLD_S = 3.0
"""How far off a beginning or end may lie that only the rising curve tells [s]."""
_FEWEST = 4


def pour_began(
    t_s: Sequence[float], mass_g: Sequence[float], near_s: float, step_g: float
) -> PourStart | None:
    """Tell when a pour began, from rising readings.

    Parameters
    ----------
    t_s, mass_g : sequence of float
        Readings [s], [g], times ascending.
    near_s : float
        About when [s].
    step_g : float
        Step of the display [g].

    Returns
    -------
    PourStart or None
        Its interval takes in what the scale itself may be late; None where it can't be told.
    """
    return _told(np.asarray(t_s), np.asarray(mass_g), near_s, step_g, DELAY_S, ROUNDED_S)


def pour_ended(
    t_s: Sequence[float], mass_g: Sequence[float], near_s: float, step_g: float
) -> PourStart | None:
    """Tell when a pour ended: the same, with the level after it."""
    times, masses = -np.asarray(t_s)[::-1], -np.asarray(mass_g)[::-1]
    back = _told(times, masses, -near_s, step_g, ROUNDED_S, DELAY_S)
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


def untold(at_s: float, level_g: float, u_level_g: float) -> PourStart:
    """Return what the rising curve alone says, where there are too few readings [s], [g]."""
    return PourStart(
        at_s=at_s,
        early_s=at_s - UNTOLD_S,
        late_s=at_s + UNTOLD_S,
        level_g=level_g,
        u_level_g=u_level_g,
    )


def _told(
    t_s: Array, mass_g: Array, near_s: float, step_g: float, early_s: float, late_s: float
) -> PourStart | None:
    """Look about a place; widen the interval by so much to either side."""
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
    """Time from which on the rising curve lies above what is looked at [s]."""
    times, means = means_of(t_s, mass_g, 0.5)
    above = np.flatnonzero(np.asarray(rising_fit(means.tolist())) > top_g)
    return float(times[above[0]]) + 0.3 if above.size else np.inf
