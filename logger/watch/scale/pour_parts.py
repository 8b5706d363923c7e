"""What each change on a bowl's scale was: poured, put in, taken out, the bowl lifted, a tare.

Pure; works on all changes of a stage at once, with what the sheet and the weighing say there was to
pour, as often as something new has come. Used by logger.watch.scale.pour. What cannot be told from
the scale is marked as open: it is counted as likely as it is, and asked, never judged.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

from logger.watch.scale.change import Change
from logger.watch.scale.pour_fit import UNSEEN_G, UNSEEN_SHARE, fitting, sum_g
from logger.watch.scale.pour_hands import (
    FEWEST_SCOOPS,
    LIKE,
    PEERS,
    PUSH_S,
    SCOOP_S,
    SMALLEST_G,
    Plan,
    acts_of,
    is_jump,
    without_hands,
)
from logger.watch.scale.pour_seen import FASTER, FLOWING_G_S, U_UNSEEN, Part, bare

SCOOP_G = 60.0
"""A scoop holds no more than this [g]."""
SPURT_G, SPURT_S, JUMPED_S = 25.0, 10.0, 2.0
"""What comes at once just before or after something flows in is a spurt of it."""
HIDES = 1.3
"""A jump so much larger than what came in all was a hand."""
SHAKEN = 3.0
"""Before it goes, a push makes the level so many times as uncertain as it is afterwards."""
PUSH_G = 60.0
"""What goes soon after some came, and is no more than this, may have been a push [g]."""
OWN = (0.95, 1.02)
"""What was poured is all there was within such shares of it."""
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
    parts = _answered(_other_phase(parts, plan), answers)
    return _answered(fitting(parts, plan, answers), answers)


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
            whole_g = sum_g(parts[place:])
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
        if part.role != "out" or not scoops:
            continue
        if change.slope_before_g_s > FLOWING_G_S and _comes_still(parts, place):
            found[place] = replace(part, u_g=max(scoops) / math.sqrt(3.0))
        if change.slope_before_g_s > 0.0:
            continue
        flows_on = change.slope_after_g_s > FLOWING_G_S or change.after_g > SMALLEST_G
        flows_on = flows_on or after.change.start_s - change.end_s < 1.0
        if flows_on and abs(change.after_g) <= max(scoops):
            found[place] = replace(part, u_g=max(scoops) / math.sqrt(3.0))
    return found


def _comes_still(parts: list[Part], place: int) -> bool:
    """Return whether a scoop was on its way in as the scale was tared: part of it is lost."""
    scoop, change = parts[place - 1] if place else None, parts[place].change
    tared = abs(change.after_g) < SMALLEST_G and change.slope_after_g_s <= 0.0
    return (
        scoop is not None
        and tared
        and scoop.counted
        and scoop.change.took_s <= SCOOP_S
        and change.start_s - scoop.change.end_s < 1.0
    )


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


class _Split(NamedTuple):
    """The first of the parts that is poured, where those before it are the other phase; whether all
    adds up; by how much either phase is off [g].
    """

    end: int
    fits: bool
    off_g: float


def _other_phase(parts: list[Part], plan: Plan) -> list[Part]:
    """Tell the phase that is poured into, where it came first and more came than there was.

    What came at once may be of it, too: where both phases add up with that, and not without, it is.
    """
    sure = [p if p.sure else replace(p, counted=False) for p in parts]
    whole = [p if p.sure or p.role != "poured" else replace(p, counted=True) for p in parts]
    # Where what surely came is all there was to pour, what else came at once is neither phase.
    there_g = plan.there_g or 0.0
    ways = (sure,) if OWN[0] * there_g <= sum_g(sure) <= OWN[1] * there_g else (sure, whole)
    found = [(split, told) for told in ways if (split := _split(told, plan)) is not None]
    if not found:
        return parts
    split, told = found[0]
    if found[-1][0].fits and found[-1][0].off_g < 0.5 * split.off_g:
        split, told = found[-1]
    return [
        replace(p, role="other phase", counted=False, sure=split.fits)
        if i < split.end and told[i].counted
        else p
        for i, p in enumerate(parts)
    ]


def _split(told: list[Part], plan: Plan) -> _Split | None:
    """Return where the other phase ends and what is poured begins, if it is seen in the masses."""
    there_g, into_g = plan.there_g, plan.into_g or 0.0
    total_g = sum_g(told)
    if not there_g or total_g <= 1.15 * there_g:
        return None
    counted = [i for i, p in enumerate(told) if p.counted]
    sums_g = {b: sum_g(told[:b]) for b in counted[1:]}
    ends = [b for b, first_g in sums_g.items() if total_g - first_g >= 0.5 * there_g]
    like = [b for b in ends if abs(sums_g[b] - into_g) <= 0.07 * into_g]
    much = [b for b in ends if sums_g[b] > 1.3 * there_g]
    if not like and not much:
        return None
    end = min(like, key=lambda b: abs(sums_g[b] - into_g)) if like else much[0]
    rest_off_g = abs(total_g - sums_g[end] - there_g)
    return _Split(
        end,
        fits=bool(like) and rest_off_g < abs(total_g - there_g),
        off_g=abs(sums_g[end] - into_g) + rest_off_g,
    )


def _answered(parts: list[Part], answers: Mapping[str, bool]) -> list[Part]:
    """Return parts as a person says; how much came while the scale was set back stays unknown."""
    return [
        replace(p, counted=answers[p.key] and not p.lost, sure=not (p.lost and answers[p.key]))
        if p.key in answers
        else p
        for p in parts
    ]
