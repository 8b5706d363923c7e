"""What each change on a bowl's scale was: poured, put in, taken out, the bowl lifted, a tare.

Pure; works on all changes of a stage at once, with what the sheet and the weighing say there was to
pour, as often as something new has come. Used by logger.watch.scale.pour. What cannot be told from
the scale is marked as open: it is counted as likely as it is, and asked, never judged.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

from logger.watch.scale.change import Change
from logger.watch.scale.pour_hands import (
    LIKE,
    PUSH_S,
    SMALLEST_G,
    SURE,
    Plan,
    acts_of,
    is_jump,
    without_hands,
)
from logger.watch.scale.pour_seen import FASTER, FLOWING_G_S, U_UNSEEN, Part, bare

SCOOP_S, SCOOP_G = 3.5, 60.0
"""A scoop is emptied within so long and holds no more."""
SPURT_G, SPURT_S, JUMPED_S = 25.0, 10.0, 2.0
"""What comes at once just before or after something flows in is a spurt of it."""
HIDES = 1.3
"""A jump so much larger than what came in all was a hand."""
FEWEST_SCOOPS = 3
PEERS = 1.5
"""Scoops of one ladle are like others of it within this factor."""
MOST_OPEN = 8
UNSEEN_G, UNSEEN_SHARE = 1.0, 0.01
"""What came unseen and is less than this [g], or less than this share of all, is an uncertainty."""
SHAKEN = 3.0
"""Before it goes, a push makes the level so many times as uncertain as it is afterwards."""
PUSH_G = 60.0
"""What goes soon after some came, and is no more than this, may have been a push [g]."""
ALONE_S, ALONE_LIKE = 4.0, 0.3
"""What came so long apart from the rest may have been put in, if it is nearly what is too much."""
UNSEEN_NEAR_S = 20.0
"""What a pour may have lost unseen lies no farther from it."""
JOINED_S, LATE_S = 20.0, 60.0
"""A pour that pauses no longer when its stage begins, began before it; or so long, if it fits."""


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
    seen = acts_of(changes, plan)
    if gives:
        seen = [c.turned() for c in seen]
    parts = [bare(c, gives=gives) for c in without_hands(seen, plan)]
    parts = _since(parts, from_s, plan)
    parts = _thing_in_and_out(parts, plan)
    parts = _tared_in_a_scoop(parts, plan)
    parts = [_maybe_pushed(p, parts[:i]) for i, p in enumerate(parts)]
    parts = _by_manner(parts, plan)
    parts = _other_phase(parts, plan)
    return _answered(_fitting(parts, plan), answers)


def _since(parts: list[Part], from_s: float, plan: Plan) -> list[Part]:
    """Leave out what was over before the stage, but for the beginning of a pour that goes on."""
    first = next((i for i, p in enumerate(parts) if p.change.end_s > from_s), len(parts))
    follows = next((p for p in parts[first:] if p.counted), None)
    begin = first
    for place in range(first - 1, -1, -1):
        before = parts[place]
        if follows is None or before.role not in ("poured", "small", "away"):
            break
        if before.counted:
            pause_s = follows.change.start_s - before.change.end_s
            whole_g = _sum_g(parts[place:])
            fits = plan.there_g is not None and whole_g <= 1.05 * plan.there_g
            heavy = plan.there_g is not None and before.by_g > 1.15 * plan.there_g
            if pause_s > (LATE_S if fits else JOINED_S) or heavy:
                break
            begin, follows = place, before
    return parts[begin:]


def _thing_in_and_out(parts: list[Part], plan: Plan) -> list[Part]:
    """Tell a thing that came at once and was taken out again, such as a whisk."""
    found = list(parts)
    scoops = _scoops(parts, plan)
    for place, part in enumerate(found):
        if part.role != "out":
            continue
        for back in range(place - 1, -1, -1):
            put = found[back]
            thing = put.role == "poured" and not put.flows and _same(put, part)
            if thing and not _is_one_of(put, scoops):
                found[back] = replace(put, role="thing", counted=False)
                break
    return found


def _same(put: Part, out: Part) -> bool:
    """Return whether what went may be what came."""
    unlike_g = abs(put.change.by_g + out.change.by_g)
    return unlike_g <= max(0.7, LIKE * abs(out.change.by_g))


def _tared_in_a_scoop(parts: list[Part], plan: Plan) -> list[Part]:
    """Widen the uncertainty where the scale was tared while a scoop went in: part of it is lost."""
    scoops = _scoops(parts, plan)
    found = list(parts)
    for place, (part, after) in enumerate(pairwise(parts)):
        change = part.change
        if part.role != "out" or not scoops or change.slope_before_g_s > 0.0:
            continue
        flows_on = change.slope_after_g_s > FLOWING_G_S or change.after_g > SMALLEST_G
        flows_on = flows_on or after.change.start_s - change.end_s < 1.0
        if flows_on and abs(change.after_g) <= max(scoops):
            found[place] = replace(part, u_g=max(scoops) / math.sqrt(3.0))
    return found


def _maybe_pushed(part: Part, before: Sequence[Part]) -> Part:
    """Widen the uncertainty by what went soon after some came, and is like nothing put in.

    It may have been the push of a whisk, which came unseen in the flow and was counted as poured.
    """
    change = part.change
    if part.role != "out" or abs(change.after_g) < SMALLEST_G:  # tared
        return part
    came = next((p.change for p in reversed(before) if p.counted), None)
    soon = came is not None and change.start_s - came.end_s <= PUSH_S
    paired = any(p.role == "thing" and _same(p, part) for p in before)
    unsteady = change.u_before_g >= SHAKEN * change.u_after_g
    if unsteady or (soon and not paired and abs(part.by_g) <= PUSH_G):
        return replace(part, u_g=max(part.u_g, abs(part.by_g)))
    return part


# Poured, or put in.


def _by_manner(parts: list[Part], plan: Plan) -> list[Part]:
    """Tell scoops of one ladle and spurts from what was put in."""
    scoops = _scoops(parts, plan)
    found: list[Part] = []
    for place, part in enumerate(parts):
        if part.role == "came unseen" and part.change.gap and _ladled_on(parts, part, scoops):
            u_g = U_UNSEEN * part.by_g
            found.append(replace(part, role="poured", sure=True, counted=True, u_g=u_g))
        elif part.role == "came unseen" and part.change.gap and _flowed_on(parts, part):
            u_g = U_UNSEEN * part.by_g
            found.append(replace(part, role="poured", sure=True, counted=True, flows=True, u_g=u_g))
        elif part.role != "poured" or not part.counted or part.flows or part.change.away:
            found.append(part)
        elif plan.there_g is not None and part.by_g > max(1.15 * plan.there_g, 10.0):
            found.append(replace(part, role="thing", counted=False))
        elif _is_spurt(parts, place):
            found.append(replace(part, flows=True))
        elif (
            part.by_g <= max(UNSEEN_G, UNSEEN_SHARE * (plan.there_g or 0.0))
            or _is_one_of(part, scoops)
            or _is_last_of(parts, place, scoops)
        ):
            found.append(part)
        else:
            found.append(replace(part, sure=False))
    return found


def _scoops(parts: list[Part], plan: Plan) -> list[float]:
    """Return the masses of what may be scoops of a ladle [g]."""
    most_g = math.inf if plan.there_g is None else 0.7 * plan.there_g
    return [
        p.by_g
        for p in parts
        if p.role == "poured"
        and p.counted
        and p.by_g <= most_g
        and (not p.flows or (p.change.took_s <= SCOOP_S and p.by_g <= SCOOP_G))
    ]


def _ladled_on(parts: list[Part], part: Part, scoops: list[float]) -> bool:
    """Return whether what came unseen is what a ladle brings in such a time."""
    if len(scoops) < FEWEST_SCOOPS or part.by_g <= 0.0:
        return False
    times = [p.change.end_s for p in parts if p.role == "poured" and p.counted]
    paces = sorted(b - a for a, b in pairwise(times))
    usual_g, pace_s = sorted(scoops)[len(scoops) // 2], paces[len(paces) // 2]
    lasted_s = part.change.end_s - part.change.start_s
    return part.by_g <= 1.3 * usual_g * (lasted_s / pace_s + 1.0)


def _flowed_on(parts: list[Part], part: Part) -> bool:
    """Return whether what came unseen flowed before or after, no faster than the pour elsewhere."""
    change = part.change
    if part.by_g <= 0.0 or max(change.slope_before_g_s, change.slope_after_g_s) <= FLOWING_G_S:
        return False
    paces = [p.by_g / p.change.took_s for p in parts if p.counted and p.flows and not p.change.gap]
    return part.by_g <= FASTER * max(paces, default=0.0) * (change.end_s - change.start_s)


def _is_one_of(part: Part, scoops: list[float]) -> bool:
    """Return whether there are enough scoops like one, itself among them."""
    like = [g for g in scoops if max(g, part.by_g) <= PEERS * min(g, part.by_g)]
    return len(like) >= FEWEST_SCOOPS


def _is_last_of(parts: list[Part], place: int, scoops: list[float]) -> bool:
    """Return whether a scoop is the rest that a ladle had left: less than those before it."""
    if len(scoops) < FEWEST_SCOOPS or parts[place].by_g > sorted(scoops)[len(scoops) // 2]:
        return False
    return not any(p.counted for p in parts[place + 1 :])


def _is_spurt(parts: list[Part], place: int) -> bool:
    """Return whether a part came as a spurt of what flows before or after it."""
    here, by_g = parts[place].change, parts[place].by_g
    touched = not 0.0 < here.jump_g <= HIDES * by_g  # a hand hides how it came
    sharp = is_jump(here) or (here.took_s <= 1.0 and here.jump_g >= 0.75 * by_g)
    near_s = JUMPED_S if sharp and not touched else SPURT_S
    if by_g > (SCOOP_G if touched else SPURT_G):
        return False
    return any(
        p is not parts[place]
        and p.counted
        and (p.flows or not is_jump(p.change))
        and p.change.start_s - here.end_s <= near_s
        and here.start_s - p.change.end_s <= near_s
        for p in parts
    )


def _sum_g(parts: Sequence[Part]) -> float:
    """Return what counts as poured [g], with what is too little to count but lies between."""
    counted = [i for i, p in enumerate(parts) if p.counted]
    if not counted:
        return 0.0
    inner = parts[counted[0] : counted[-1] + 1]
    return sum(p.by_g for p in inner if p.counted or p.role == "small")


def _other_phase(parts: list[Part], plan: Plan) -> list[Part]:
    """Tell the phase that is poured into, where it came first and more came than there was."""
    there_g, into_g = plan.there_g, plan.into_g or 0.0
    told = [p if p.sure else replace(p, counted=False) for p in parts]
    total_g = _sum_g(told)
    if not there_g or total_g <= 1.15 * there_g:
        return parts
    counted = [i for i, p in enumerate(told) if p.counted]
    sums_g = {b: _sum_g(told[:b]) for b in counted[1:]}
    ends = [b for b, first_g in sums_g.items() if total_g - first_g >= 0.5 * there_g]
    like = [b for b in ends if abs(sums_g[b] - into_g) <= 0.07 * into_g]
    much = [b for b in ends if sums_g[b] > 1.3 * there_g]
    if not like and not much:
        return parts
    end = min(like, key=lambda b: abs(sums_g[b] - into_g)) if like else much[0]
    fits = bool(like) and abs(total_g - sums_g[end] - there_g) < abs(total_g - there_g)
    return [
        replace(p, role="other phase", counted=False, sure=fits)
        if i < end and told[i].counted
        else p
        for i, p in enumerate(parts)
    ]


def _fitting(parts: list[Part], plan: Plan) -> list[Part]:
    """Count the open parts that fit best with what there was; leave open what may be otherwise."""
    found = [_unseen_is_small(p, plan, near=_near_a_pour(parts, p)) for p in parts]
    odd = _one_too_many(found, plan)
    if odd is not None:
        found[odd] = replace(found[odd], sure=False)
    open_ = [
        i for i, p in enumerate(found) if not p.sure and p.role != "other phase" and not p.lost
    ]
    open_.sort(key=lambda i: -abs(found[i].by_g))
    sure_g = _sum_g([p if p.sure else replace(p, counted=False) for p in found])
    chosen = _best(sure_g, [found[i].by_g for i in open_[:MOST_OPEN]], plan.there_g)
    for rank, i in enumerate(open_):
        part = found[i]
        counted = rank in chosen and part.by_g > 0.0
        sure = i != odd and not part.change.gap and _impossible(sure_g, part, plan)
        found[i] = replace(part, counted=counted, sure=sure)
        if part.role == "poured" and not counted:
            found[i] = replace(found[i], role="thing")
    return found


def _one_too_many(parts: list[Part], plan: Plan) -> int | None:
    """Return the scoop that is just what there is too much of: it may have been something else."""
    if not plan.there_g:
        return None
    over_g = _sum_g([p if p.sure else replace(p, counted=False) for p in parts]) - plan.there_g
    scoops = [
        i for i, p in enumerate(parts) if p.counted and p.sure and not (p.flows or p.change.gap)
    ]
    left_g = 0.5 * UNSEEN_SHARE * plan.there_g  # stays in the pan
    if over_g <= max(UNSEEN_G, left_g):
        return None
    for i, p in enumerate(parts):
        if _comes_alone(parts, i) and abs(p.by_g - over_g - left_g) <= ALONE_LIKE * p.by_g:
            return i
    if len(scoops) < 2:
        return None
    odd = min(scoops, key=lambda i: abs(parts[i].by_g - over_g - left_g))
    return odd if over_g <= 1.1 * parts[odd].by_g else None


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


def _impossible(sure_g: float, part: Part, plan: Plan) -> bool:
    """Return whether an open part cannot have been poured: there was not so much."""
    if plan.there_g is None:
        return False
    return sure_g >= 0.85 * plan.there_g and sure_g + part.by_g > 1.12 * plan.there_g


def _answered(parts: list[Part], answers: Mapping[str, bool]) -> list[Part]:
    """Return parts as a person says; how much came while the scale was set back stays unknown."""
    return [
        replace(p, counted=answers[p.key] and not p.lost, sure=not (p.lost and answers[p.key]))
        if p.key in answers
        else p
        for p in parts
    ]
