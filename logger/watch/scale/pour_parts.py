"""What each change on a bowl's scale was: poured, put in, taken out, the bowl lifted, a tare.

Pure; works on all changes of a stage at once, with what the sheet and the weighing say there was to
pour, as often as something new has come. Used by logger.watch.scale.pour. What cannot be told from
the scale is marked as open: it is counted as likely as it is, and asked, never judged.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import Literal

from logger.science.statistics.isotone import rising_fit
from logger.watch.scale.pour_levels import Change

Role = Literal["poured", "small", "thing", "away", "out", "other phase", "came unseen"]
"""``came unseen``: while the bowl was lifted or the scale silent."""

SMALLEST_G, SURE = 3.0, 6.0
"""A portion is at least so much [g], and so many standard uncertainties of its levels."""
SHARP_BINS, LEVEL_BINS = 2, 6
"""A rise within so many, with level before and after, is a thing put down or a hand."""
FEWEST_BINS = 5.0
"""What flows comes over so many half seconds."""
SHARP_S, FASTEST_G_S = 1.6, 60.0
"""What comes within so long [s], or faster than this [g/s], comes at once."""
SCOOP_S, SCOOP_G = 6.0, 60.0
"""A scoop is emptied within so long and holds no more."""
SPURT_G, SPURT_S = 25.0, 10.0
"""What comes at once just before or after something flows in is a spurt of it."""
TOUCH_S = 7.0
"""A hand that leans on the bowl is gone after so long."""
JOINS_S = 9.0
"""Changes too little to count by themselves join others within so long."""
HEAVY_G = 200.0
"""Less than this is no bowl."""
LIKE = 0.05
"""Masses are taken for the same within this share."""
FEWEST_SCOOPS = 3
MOST_OPEN = 8
UNSEEN_G, UNSEEN_SHARE = 1.0, 0.01
"""What came unseen and is less than this [g], or less than this share of all, is an uncertainty."""
JOINED_S = 20.0
"""A pour that pauses no longer when its stage begins, began before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What there was to pour.

    Attributes
    ----------
    there_g : float or None
        Mass of the phase that is poured, as weighed in or as on the sheet [g].
    into_g : float or None
        Mass of the phase it is poured into [g].
    """

    there_g: float | None = None
    into_g: float | None = None


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
    def key(self) -> str:
        """What names it in a question; stays the same as more is seen."""
        return f"{self.change.start_s:.0f}"


def parts_of(
    changes: Sequence[Change],
    plan: Plan,
    *,
    from_s: float,
    gives: bool = False,
    answers: Mapping[str, bool],
) -> list[Part]:
    """Return what each change was, in time order.

    Parameters
    ----------
    changes : sequence of Change
        Of the scale.
    plan : Plan
        What there was to pour.
    from_s : float
        When the stage began [s]; what ended before counts only where it belongs to the same pour.
    gives : bool
        Whether the vessel on the scale gives instead of receiving.
    answers : mapping
        What a person said of open parts, by key: True for poured.
    """
    seen = _lifted(changes, plan)
    if gives:
        seen = [c.turned() for c in seen]
    parts = [_bare(c, gives=gives) for c in _joined(_without_touches(seen, plan))]
    parts = _since(parts, from_s)
    parts = _thing_in_and_out(parts)
    parts = _by_manner(parts, plan)
    parts = _other_phase(parts, plan)
    return _answered(_fitting(parts, plan), answers)


def least_g(change: Change) -> float:
    """Return how much it takes for a change to count by itself [g]."""
    return max(SMALLEST_G, SURE * math.hypot(change.u_before_g, change.u_after_g))


def at_once(change: Change) -> bool:
    """Return whether a change came within a moment."""
    return (
        change.took_s <= SHARP_S
        or abs(change.jump_g) >= 0.75 * abs(change.by_g)
        or abs(change.by_g) > FASTEST_G_S * change.took_s
    )


def meanwhile_g(change: Change) -> float:
    """Return what flowed in during a change that itself does not count [g]."""
    slope = 0.5 * (change.slope_before_g_s + change.slope_after_g_s)
    return max(slope * (change.end_s - change.start_s), 0.0)


def _bare(change: Change, *, gives: bool) -> Part:
    """Return a change as it seems by itself."""
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
    flowed = [s for s in (change.slope_before_g_s, change.slope_after_g_s) if s > 0.2]
    most_g = 1.6 * lasted_s * max(flowed) + SMALLEST_G if flowed else 0.0
    fits = len(flowed) == 2 and 0.0 < change.by_g <= most_g
    return Part(
        change=change,
        role="poured" if fits else "came unseen",
        by_g=change.by_g,
        u_g=0.1 * abs(change.by_g) if fits else 0.0,
        sure=fits,
        counted=fits,
        flows=fits,
    )


# Hands and the bowl.


def _without_touches(changes: Sequence[Change], plan: Plan) -> list[Change]:
    """Join what a hand pressed down, or held up, with its going away again."""
    heavy_g = HEAVY_G if plan.there_g is None else max(HEAVY_G, 1.3 * plan.there_g)
    found: list[Change] = []
    place = 0
    while place < len(changes):
        stop = _touch_ends(changes, place, heavy_g)
        found.append(changes[place] if stop is None else _over(changes[place : stop + 1]))
        place = (place if stop is None else stop) + 1
    return found


def _over(changes: Sequence[Change]) -> Change:
    """Return several changes as one."""
    first, last = changes[0], changes[-1]
    return replace(
        first,
        end_s=last.end_s,
        after_g=last.after_g,
        u_after_g=last.u_after_g,
        took_s=last.end_s - first.start_s,
        jump_g=0.0,
        shape_g=tuple(g for c in changes for g in c.shape_g),
        slope_after_g_s=last.slope_after_g_s,
        gap=first.gap or last.gap,
        going=last.going,
    )


def _touch_ends(changes: Sequence[Change], place: int, heavy_g: float) -> int | None:
    """Return which change ends a touch that begins with one, None where none does."""
    first = changes[place]
    if first.gap or first.away or abs(first.jump_g) < 2.0 or abs(first.by_g) >= heavy_g:
        return None
    reached_g = farthest_g = 0.0
    for stop in range(place, min(place + 8, len(changes))):
        last = changes[stop]
        if last.gap or last.away or last.start_s - first.end_s > TOUCH_S:
            return None
        reached_g += last.by_g
        if stop > place and last.by_g * first.by_g < 0.0 and at_once(last):
            if first.by_g < 0.0 and reached_g >= 0.35 * farthest_g:
                return stop
            if first.by_g > 0.0 and first.jump_g >= 0.6 * abs(last.by_g) >= 0.2 * first.jump_g:
                return stop
        farthest_g = min(farthest_g, reached_g)
    return None


def _joined(changes: Sequence[Change]) -> list[Change]:
    """Join what is too little to count by itself with more of it: a thin pour in much noise."""
    found: list[Change] = []
    for change in changes:
        before = found[-1] if found else None
        if (
            before is not None
            and not (before.gap or change.gap or before.away or change.away)
            and change.start_s - before.end_s <= JOINS_S
            and all(abs(c.by_g) < least_g(c) for c in (before, change))
        ):
            found[-1] = _over([before, change])
        else:
            found.append(change)
    return found


def _lifted(changes: Sequence[Change], plan: Plan) -> list[Change]:
    """Join the bowl being lifted off with its being put back, whatever was shown meanwhile."""
    found: list[Change] = []
    place = 0
    while place < len(changes):
        back = _put_back(changes, place, plan)
        if back is None:
            found.append(changes[place])
        else:
            found.append(replace(_over(changes[place : back + 1]), gap=False, away=True))
        place = (place if back is None else back) + 1
    return found


def _put_back(changes: Sequence[Change], place: int, plan: Plan) -> int | None:
    """Return which change is the bowl put back, where one is it lifted off."""
    fall = changes[place]
    if fall.by_g > -max(least_g(fall), 5.0) or not (at_once(fall) or fall.gap):
        return None
    bowl = abs(fall.by_g) >= (HEAVY_G if plan.into_g is None else max(0.8 * plan.into_g, 60.0))
    low_g, before_g = fall.after_g, fall.before_g
    for back in range(place + 1, len(changes)):
        rise = changes[back]
        if rise.after_g < low_g - max(5.0, 0.02 * (before_g - low_g)):
            if rise.start_s - fall.end_s > 3.0:  # the bowl was there still: it had been tared
                return None
            low_g = rise.after_g
        if rise.by_g <= 0.0 or not (at_once(rise) or rise.took_s <= 4.0 or rise.gap):
            continue
        if bowl and rise.by_g >= 0.5 * (before_g - low_g):
            return _put_down_by(changes, back, before_g)
        unlike_g = abs(rise.after_g - before_g)
        if not bowl and back == place + 1 and unlike_g <= max(1.5, 0.04 * (before_g - low_g)):
            return back
    return None


def _put_down_by(changes: Sequence[Change], back: int, before_g: float) -> int:
    """Return the last of the changes in which a bowl is put down: it may come down in two."""
    while back + 1 < len(changes):
        last, more = changes[back], changes[back + 1]
        if more.start_s - last.end_s > 2.0 or not at_once(more) or more.gap:
            break
        if abs(more.after_g - before_g) >= abs(last.after_g - before_g):
            break
        back += 1
    return back


def _since(parts: list[Part], from_s: float) -> list[Part]:
    """Leave out what was over before the stage, but for the beginning of a pour that goes on."""
    first = next((i for i, p in enumerate(parts) if p.change.end_s > from_s), len(parts))
    if first == len(parts):
        return []
    follows = next((p for p in parts[first:] if p.counted), None)
    while first > 0 and follows is not None and follows.counted:
        before = parts[first - 1]
        pause_s = follows.change.start_s - before.change.end_s
        if before.role not in ("poured", "small", "away") or pause_s > JOINED_S:
            break
        if before.flows != follows.flows and before.role == "poured":
            break
        first -= 1
        if before.counted:
            follows = before
    while first < len(parts) and parts[first].change.end_s <= from_s and not parts[first].counted:
        first += 1
    return parts[first:]


def _thing_in_and_out(parts: list[Part]) -> list[Part]:
    """Tell a thing that came at once and was taken out again, such as a whisk."""
    found = list(parts)
    for place, part in enumerate(found):
        if part.role != "out":
            continue
        for back in range(place - 1, -1, -1):
            put = found[back]
            unlike_g = abs(put.change.by_g + part.change.by_g)
            same = unlike_g <= max(1.5, LIKE * abs(part.change.by_g))
            if put.role == "poured" and not put.flows and same:
                found[back] = replace(put, role="thing", counted=False)
                break
    return found


# Poured, or put in.


def _by_manner(parts: list[Part], plan: Plan) -> list[Part]:
    """Tell scoops of one ladle and spurts from what was put in."""
    scoops = [p.by_g for p in parts if _is_scoop(p, plan)]
    usual_g = sorted(scoops)[len(scoops) // 2] if len(scoops) >= FEWEST_SCOOPS else math.inf
    ladled = len(scoops) >= FEWEST_SCOOPS
    found: list[Part] = []
    for place, part in enumerate(parts):
        if part.role != "poured" or not part.counted or part.flows:
            found.append(part)
        elif plan.there_g is not None and part.by_g > max(1.15 * plan.there_g, 10.0):
            found.append(replace(part, role="thing", counted=False))
        elif part.by_g <= SPURT_G and _beside_flow(parts, place):
            found.append(replace(part, flows=True))
        elif ladled and part.by_g <= 1.6 * usual_g:
            found.append(part)
        else:
            found.append(replace(part, sure=False))
    return found


def _is_scoop(part: Part, plan: Plan) -> bool:
    if part.role != "poured" or not part.counted:
        return False
    if plan.there_g is not None and part.by_g > 0.7 * plan.there_g:
        return False
    short = part.change.took_s <= SCOOP_S and part.by_g <= SCOOP_G
    return not part.flows or short


def _beside_flow(parts: list[Part], place: int) -> bool:
    here = parts[place].change
    return any(
        p.flows
        and p.counted
        and p.change.start_s - here.end_s <= SPURT_S
        and here.start_s - p.change.end_s <= SPURT_S
        for p in parts
    )


def _other_phase(parts: list[Part], plan: Plan) -> list[Part]:
    """Tell the phase that is poured into, where it came first and more came than there was."""
    there_g, into_g = plan.there_g, plan.into_g
    if not there_g:
        return parts
    total_g = sum(p.by_g for p in parts if p.counted)
    if total_g <= 1.15 * there_g:
        return parts
    found = list(parts)
    for stop in range(1, len(found)):
        first_g = sum(p.by_g for p in found[:stop] if p.counted)
        rest_g = total_g - first_g
        if rest_g < 0.5 * there_g or not found[stop - 1].counted:
            continue
        told = bool(into_g) and abs(first_g - (into_g or 0.0)) <= 0.07 * (into_g or 0.0)
        if told or (first_g > 1.3 * there_g and stop == 1):
            told = told and abs(rest_g - there_g) < abs(total_g - there_g)
            for i in range(stop):
                if found[i].counted:
                    found[i] = replace(found[i], role="other phase", counted=False, sure=told)
            return found
    return found


def _fitting(parts: list[Part], plan: Plan) -> list[Part]:
    """Count the open parts that fit best with what there was; leave open what may be otherwise."""
    found = [_unseen_is_small(p, plan) for p in parts]
    open_ = [i for i, p in enumerate(found) if not p.sure and p.role != "other phase"]
    open_.sort(key=lambda i: -abs(found[i].by_g))
    sure_g = sum(p.by_g for p in found if p.counted and p.sure)
    chosen = _best(sure_g, [found[i].by_g for i in open_[:MOST_OPEN]], plan.there_g)
    for rank, i in enumerate(open_):
        part = found[i]
        counted = rank in chosen and part.by_g > 0.0
        found[i] = replace(part, counted=counted, sure=_impossible(sure_g, part, plan))
        if part.role == "poured" and not counted:
            found[i] = replace(found[i], role="thing")
    return found


def _unseen_is_small(part: Part, plan: Plan) -> Part:
    """What is lost or gained unseen and is little is an uncertainty of the mass, no question."""
    if part.role not in ("away", "came unseen"):
        return part
    change = part.change
    least = max(UNSEEN_G, UNSEEN_SHARE * (plan.there_g or 0.0), SURE * change.u_after_g)
    if abs(part.by_g) <= least:
        return replace(part, sure=True, u_g=abs(part.by_g) / math.sqrt(3.0))
    if part.by_g < 0.0:  # taken out; what was poured is in
        return replace(part, sure=True)
    return replace(part, role="came unseen")


def _best(sure_g: float, masses_g: list[float], there_g: float | None) -> set[int]:
    """Return which of the open masses bring the sum nearest to what there was."""
    places = range(len(masses_g))
    if there_g is None:
        return set() if sure_g > 0.0 else set(places)
    sums = (
        (abs(sure_g + sum(masses_g[i] for i in some) - there_g), len(some), some)
        for size in range(len(masses_g) + 1)
        for some in combinations(places, size)
    )
    return set(min(sums)[2])


def _impossible(sure_g: float, part: Part, plan: Plan) -> bool:
    """Return whether an open part cannot have been poured: there was not so much."""
    if plan.there_g is None:
        return False
    return sure_g >= 0.85 * plan.there_g and sure_g + part.by_g > 1.12 * plan.there_g


def _answered(parts: list[Part], answers: Mapping[str, bool]) -> list[Part]:
    return [replace(p, counted=answers[p.key], sure=True) if p.key in answers else p for p in parts]
