"""The rising curve of a pour, read off the half-second medians of a scale, and both ends of it.

Pure; used by logger.watch.scale.pour. Tells things put down at once, hands and noise from what came
bit by bit, and takes the readings about the place where the curve says that a pour began or ended
to logger.science.statistics.pourstart; the end is a beginning seen backwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

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
"""How late the filter of a scale may show a mass [s], and half the time between readings."""
UNTOLD_S = 3.0
"""How far off a beginning or end may be that comes from the rising curve alone [s]."""
_FEWEST = 4
BIN_S = 0.5
SHARP_BINS, LEVEL_BINS = 2, 6
"""A rise within so many bins, with level before and after, is a thing put down or a hand."""
LATELY_BINS = 24


@dataclass(slots=True)
class Track:
    """Readings and medians of half seconds since the last calm."""

    t: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    bin_t: list[float] = field(default_factory=list)
    bin_y: list[float] = field(default_factory=list)
    open_bin: int | None = None
    open_t: list[float] = field(default_factory=list)
    open_y: list[float] = field(default_factory=list)

    def add(self, time_s: float, value: float) -> None:
        """Take one reading: time [s] and mass [g]."""
        index = math.floor(time_s / BIN_S)
        if self.open_bin is not None and index != self.open_bin:
            self.close()
        self.open_bin = index
        self.open_t.append(time_s)
        self.open_y.append(value)
        self.t.append(time_s)
        self.y.append(value)

    def close(self) -> None:
        """End the half second under way."""
        if self.open_y:
            self.bin_t.append(sum(self.open_t) / len(self.open_t))
            self.bin_y.append(median(self.open_y))
        self.open_bin, self.open_t, self.open_y = None, [], []

    def forget(self, before_s: float, readings_before_s: float | None = None) -> None:
        """Drop the medians before a time [s], and the readings before it or another."""
        first_s = before_s if readings_before_s is None else readings_before_s
        self.t, self.y = _kept(self.t, self.y, first_s)
        self.bin_t, self.bin_y = _kept(self.bin_t, self.bin_y, before_s)

    def shift(self, before_s: float, by_g: float) -> None:
        """Move all that was weighed before a time [s] by so much [g]: a step there disappears."""
        self.y = [y + by_g if t < before_s else y for t, y in zip(self.t, self.y, strict=True)]
        self.bin_y = [
            y + by_g if t < before_s else y for t, y in zip(self.bin_t, self.bin_y, strict=True)
        ]


def _kept(t: list[float], y: list[float], before_s: float) -> tuple[list[float], list[float]]:
    first = next((i for i, time_s in enumerate(t) if time_s >= before_s), len(t))
    return t[first:], y[first:]


def noise_g(values: list[float]) -> float:
    """Return the robust standard deviation of medians [g], of late or of all, free of slope."""

    def of(part: list[float]) -> float:
        bends = sorted(
            abs(c - 2.0 * b + a) for a, b, c in zip(part, part[1:], part[2:], strict=False)
        )
        return 1.4826 * bends[len(bends) // 2] / math.sqrt(6.0) if bends else 0.0

    return max(of(values), of(values[-LATELY_BINS:]))


def bit_by_bit(curve: list[float], least_g: float) -> list[float]:
    """Return the rises from bin to bin without what came at once [g].

    What comes within a second, with level on both sides, is a thing put down or a hand let go.
    """
    rises = [b - a for a, b in pairwise(curve)]
    place, last = 0, len(rises)
    while place < last:
        stop = min(place + SHARP_BINS, last)
        rise = curve[stop] - curve[place]
        around = curve[place] - curve[max(place - LEVEL_BINS, 0)]
        around += curve[min(stop + LEVEL_BINS, last)] - curve[stop]
        if rise >= least_g and around < 0.25 * rise:
            first, after = max(place - 1, 0), min(stop + 1, last)
            rises[first:after] = [0.0] * (after - first)
            place = stop + 1
        else:
            place += 1
    return rises


def spread_bins(rises: list[float]) -> float:
    """Return over how many bins a rise [g] is spread."""
    squares = sum(r * r for r in rises)
    return sum(rises) ** 2 / squares if squares > 0.0 else 0.0


def last_rise_s(times: list[float], curve: list[float], least_g: float) -> float:
    """Return the time of the last bin from which on the curve rose by less than a limit.

    Parameters
    ----------
    times : list of float
        Of the bins [s].
    curve : list of float
        The rising curve [g].
    least_g : float
        The limit [g].
    """
    place = len(curve) - 1
    while place > 0 and curve[-1] - curve[place] < least_g:
        place -= 1
    return times[place]


def pour_began(
    t_s: Sequence[float], mass_g: Sequence[float], near_s: float, step_g: float
) -> PourStart | None:
    """Return when a pour began, from rising readings.

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
        Its interval takes in what the scale itself may be late; None with too few readings.
    """
    return _end_near(np.asarray(t_s), np.asarray(mass_g), near_s, step_g, DELAY_S, ROUNDED_S)


def pour_ended(
    t_s: Sequence[float], mass_g: Sequence[float], near_s: float, step_g: float
) -> PourStart | None:
    """Return when a pour ended: the same, with the level after it.

    Parameters
    ----------
    t_s, mass_g : sequence of float
        Readings [s], [g], times ascending.
    near_s : float
        About when [s].
    step_g : float
        Step of the display [g].
    """
    times, masses = -np.asarray(t_s)[::-1], -np.asarray(mass_g)[::-1]
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


def by_curve_alone(at_s: float, level_g: float, u_level_g: float) -> PourStart:
    """Return what the rising curve alone says, where there are too few readings.

    Parameters
    ----------
    at_s : float
        Beginning or end by the curve [s].
    level_g, u_level_g : float
        Level there and its standard uncertainty [g].
    """
    return PourStart(
        at_s=at_s,
        early_s=at_s - UNTOLD_S,
        late_s=at_s + UNTOLD_S,
        level_g=level_g,
        u_level_g=u_level_g,
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
