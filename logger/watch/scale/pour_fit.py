"""Which changes on a bowl's scale that may have been poured fit with what there was to pour.

Pure; the last step of logger.watch.scale.pour_parts, which tells what each change was by its
manner. What may be otherwise stays open, and is asked.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from logger.watch.scale.pour_hands import SCOOP_S, SURE, Plan
from logger.watch.scale.pour_seen import Part

MOST_OPEN = 8
UNSEEN_G, UNSEEN_SHARE = 1.0, 0.01
"""What came unseen and is less than this [g], or less than this share of all, is an uncertainty."""
ALONE_S, ALONE_LIKE = 4.0, 0.3
"""What came so long apart from the rest may have been put in, if it is nearly what is too much."""
MOST_LEFT = 0.015
"""So much of what there was may stay in the pan."""
INSTEAD = 0.15
"""A scoop is what there is too much of, within this share."""
LISTED = 0.03
"""What came at once is an ingredient of the sheet, if it weighs as much within this share."""
UNSEEN_NEAR_S = 20.0
"""What a pour may have lost unseen lies no farther from it."""


def sum_g(parts: Sequence[Part]) -> float:
    """Return what counts as poured [g], with what is too little to count but lies between."""
    counted = [i for i, p in enumerate(parts) if p.counted]
    if not counted:
        return 0.0
    inner = parts[counted[0] : counted[-1] + 1]
    return sum(p.by_g for p in inner if p.counted or p.role == "small")


def fitting(parts: list[Part], plan: Plan, answers: Mapping[str, bool]) -> list[Part]:
    """Count the open parts that fit best with what there was; leave open what may be otherwise.

    Parameters
    ----------
    parts : list of Part
        In time order; those that a person has told are sure.
    plan : Plan
        What there was to pour.
    answers : mapping
        What a person has said, by the keys of parts: not asked again.
    """
    found = [_unseen_is_small(p, plan, near=_near_a_pour(parts, p)) for p in parts]
    found = _push_goes(found, plan)
    odd = _one_too_many(found, plan, answers)
    if odd is not None:
        found[odd] = replace(found[odd], sure=False)
    open_ = [
        i for i, p in enumerate(found) if not p.sure and p.role != "other phase" and not p.lost
    ]
    open_.sort(key=lambda i: -abs(found[i].by_g))
    sure_g = sum_g([p if p.sure else replace(p, counted=False) for p in found])
    may_be = [i for i in open_ if not _is_listed(found[i], plan)][:MOST_OPEN]
    chosen = _best(sure_g, [found[i].by_g for i in may_be], plan.there_g)
    for i in open_:
        part = found[i]
        counted = i in may_be and may_be.index(i) in chosen and part.by_g > 0.0
        sure = i != odd and not part.change.gap and _impossible(sure_g, part, found, plan)
        found[i] = replace(part, counted=counted, sure=sure)
        if part.role == "poured" and not counted:
            found[i] = replace(found[i], role="thing")
    return found


def _is_listed(part: Part, plan: Plan) -> bool:
    """Return whether what came at once weighs what another ingredient of the sheet does."""
    at_once = not (part.flows or part.change.gap or part.change.away)
    return at_once and any(abs(part.by_g - g) <= LISTED * g for g in plan.others_g)


def _push_goes(parts: list[Part], plan: Plan) -> list[Part]:
    """Tell what went as the push that had come with a pour, where it would be too much otherwise.

    Its uncertainty stays: it may have been taken out all the same.
    """
    found = list(parts)
    for i, part in enumerate(parts):
        if part.role != "out" or part.u_g < -part.by_g or not plan.there_g:
            continue
        whole_g = sum_g(found)
        if whole_g + part.by_g <= plan.there_g < whole_g - UNSEEN_G:
            found[i] = replace(part, role="small")
    return found


def _one_too_many(parts: list[Part], plan: Plan, told: Mapping[str, bool]) -> int | None:
    """Return the scoop that is just what there is too much of: it may have been something else."""
    if not plan.there_g:
        return None
    over_g = sum_g([p if p.sure else replace(p, counted=False) for p in parts]) - plan.there_g
    scoops = [
        i
        for i, p in enumerate(parts)
        if p.counted and p.sure and not (p.flows or p.change.gap) and p.key not in told
    ]
    left_g = 0.5 * UNSEEN_SHARE * plan.there_g  # stays in the pan
    if over_g <= max(UNSEEN_G, left_g):
        return None
    for i, p in enumerate(parts):
        if (
            p.key not in told
            and _comes_alone(parts, i)
            and abs(p.by_g - over_g - left_g) <= ALONE_LIKE * p.by_g
        ):
            return i
    if len(scoops) < (1 if told else 2):
        return None
    off_g = {i: abs(parts[i].by_g - over_g - left_g) for i in scoops}
    # Once asked, what is far from it is not asked too.
    like = [
        i
        for i in scoops
        if over_g <= 1.1 * parts[i].by_g and not (told and off_g[i] > ALONE_LIKE * parts[i].by_g)
    ]
    most_g = max(MOST_LEFT * plan.there_g, min((off_g[i] for i in like), default=0.0))
    near = [i for i in like if off_g[i] <= most_g]
    return min(near, key=lambda i: _pace_s(parts, i), default=None)


def _pace_s(parts: list[Part], place: int) -> float:
    """Return the time between the scoops before and after one [s]: short where it is one more."""
    before = [p.change.end_s for p in parts[:place] if p.counted]
    after = [p.change.start_s for p in parts[place + 1 :] if p.counted]
    return after[0] - before[-1] if before and after else math.inf


def _comes_alone(parts: list[Part], place: int) -> bool:
    """Return whether a brief rise is taken for a spurt though the scale rested before and after."""
    part, change = parts[place], parts[place].change
    brief = part.counted and part.sure and part.flows and change.took_s <= SCOOP_S
    if not brief or not 0 < place < len(parts) - 1:
        return False
    paused_s = change.start_s - parts[place - 1].change.end_s
    rested_s = parts[place + 1].change.start_s - change.end_s
    return min(paused_s, rested_s) >= ALONE_S


def _near_a_pour(parts: list[Part], part: Part) -> bool:
    """Return whether a pour was under way, or paused, right before or after a change."""
    change = part.change
    return any(
        p.counted
        and p.change.start_s - change.end_s <= UNSEEN_NEAR_S
        and change.start_s - p.change.end_s <= UNSEEN_NEAR_S
        for p in parts
    )


def _unseen_is_small(part: Part, plan: Plan, *, near: bool) -> Part:
    """What is lost or gained unseen and is little is an uncertainty of the mass, no question.

    A scale that shows less after a silence was tared or lost its power: what was poured meanwhile
    near a pour can't be told.
    """
    if part.role not in ("away", "came unseen"):
        return part
    change = part.change
    least = max(UNSEEN_G, UNSEEN_SHARE * (plan.there_g or 0.0), SURE * change.u_after_g)
    if abs(part.by_g) <= least:
        return replace(part, sure=True, u_g=abs(part.by_g) / math.sqrt(3.0))
    if part.by_g < 0.0 and change.gap and near:
        return replace(part, sure=False)
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


def _impossible(sure_g: float, part: Part, parts: Sequence[Part], plan: Plan) -> bool:
    """Return whether an open part cannot have been poured: there was not so much.

    Not where a scoop that counts is just what there would be too much of: it may have been that.
    """
    if plan.there_g is None:
        return False
    over_g = sure_g + part.by_g - plan.there_g
    instead = any(
        p.counted and p.sure and not p.flows and abs(p.by_g - over_g) <= INSTEAD * p.by_g
        for p in parts
    )
    return sure_g >= 0.85 * plan.there_g and over_g > 0.12 * plan.there_g and not instead
