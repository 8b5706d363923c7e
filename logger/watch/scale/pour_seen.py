"""What a change on a bowl's scale seems by itself: a flow, at once, out, over a gap.

Pure; one change at a time, without its neighbours or what there was to pour. Used by
logger.watch.scale.pour_parts, which tells from both what it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from logger.science.statistics.isotone import rising_fit
from logger.watch.scale.change import Change
from logger.watch.scale.pour_hands import FASTEST_G_S, SMALLEST_G, least_g

Role = Literal["poured", "small", "thing", "away", "out", "other phase", "came unseen"]
"""``came unseen``: while the bowl was lifted or the scale silent."""

SHARP_BINS, LEVEL_BINS = 2, 6
"""A rise within so many, with level before and after, is a thing put down or a hand."""
FEWEST_BINS = 5.0
"""What flows comes over so many half seconds."""
U_UNSEEN = 0.05
"""Standard uncertainty of what came unseen where it fits with what came before or after."""
FLOWING_G_S, FASTER = 0.2, 1.6
"""At the edge of a gap so much is a flow [g/s]; unseen, it may have been faster by this factor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A change and what it was.

    Attributes
    ----------
    by_g : float
        Mass that counts as poured if it was poured [g].
    u_g : float
        What is uncertain of it beyond its levels [g].
    sure : bool
        False where it cannot be told from the scale.
    counted : bool
        Whether it counts as poured.
    flows : bool
        Whether it came bit by bit.
    """

    change: Change
    role: Role
    by_g: float
    u_g: float = 0.0
    sure: bool = True
    counted: bool = False
    flows: bool = False

    @property
    def lost(self) -> bool:
        """Whether the scale was set back while silent: what was poured meanwhile is unknown."""
        return self.change.gap and self.by_g < 0.0 and not self.sure

    @property
    def key(self) -> str:
        """What names it in a question; stays the same as more is seen."""
        return f"{self.change.start_s:.0f}"


def meanwhile_g(change: Change) -> float:
    """Return what flowed in during a change that itself does not count [g]."""
    slopes = change.slope_before_g_s, change.slope_after_g_s
    if min(slopes) <= 0.0:  # it did not flow on
        return 0.0
    return 0.5 * sum(slopes) * (change.end_s - change.start_s)


def bare(change: Change, *, gives: bool) -> Part:
    """Return a change as it seems by itself; `gives` where the vessel on the scale does."""
    small = abs(change.by_g) < least_g(change)
    if change.away:
        # what a vessel lost that gives was poured, wherever it stood meanwhile
        poured = gives and not small and change.by_g > 0.0
        role: Role = "poured" if poured else "away"
        return Part(change=change, role=role, by_g=change.by_g, sure=poured, counted=poured)
    if change.gap and not small:
        return _over_gap(change)
    if small:
        return Part(change=change, role="small", by_g=change.by_g)
    if change.by_g < 0.0:
        return Part(change=change, role="out", by_g=change.by_g)
    return Part(change=change, role="poured", by_g=change.by_g, counted=True, flows=flows(change))


def flows(change: Change) -> bool:
    """Return whether a rise came bit by bit, hands apart that came and went."""
    curve = rising_fit(change.shape_g)
    came = bit_by_bit(curve, least_g(change))
    squares = sum(g * g for g in came)
    if change.by_g > FASTEST_G_S * (change.end_s - change.start_s) or not squares:
        return False
    return sum(came) >= 0.5 * change.by_g and sum(came) ** 2 / squares >= FEWEST_BINS


def bit_by_bit(curve: list[float], smallest_g: float) -> list[float]:
    """Return the rises from half second to half second without what came at once [g].

    Parameters
    ----------
    curve : list of float
        A rising curve [g].
    smallest_g : float
        Least that counts as come at once [g].
    """
    rises = [b - a for a, b in pairwise(curve)]
    place, last = 0, len(rises)
    while place < last:
        stop = min(place + SHARP_BINS, last)
        rise = curve[stop] - curve[place]
        around = curve[place] - curve[max(place - LEVEL_BINS, 0)]
        around += curve[min(stop + LEVEL_BINS, last)] - curve[stop]
        if rise >= smallest_g and around < 0.25 * rise:
            first, after = max(place - 1, 0), min(stop + 1, last)
            rises[first:after] = [0.0] * (after - first)
            place = stop + 1
        else:
            place += 1
    return rises


def _over_gap(change: Change) -> Part:
    """Return what came while the scale was silent: plausible where it flowed before and after."""
    lasted_s = change.end_s - change.start_s
    flow_g_s = max(change.slope_before_g_s, change.slope_after_g_s)
    most_g = FASTER * lasted_s * flow_g_s + SMALLEST_G if flow_g_s > FLOWING_G_S else 0.0
    fits = 0.0 < change.by_g <= most_g
    return Part(
        change=change,
        role="poured" if fits else "came unseen",
        by_g=change.by_g,
        u_g=U_UNSEEN * abs(change.by_g) if fits else 0.0,
        sure=fits,
        counted=fits,
        flows=fits,
    )
