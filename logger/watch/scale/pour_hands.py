"""Hands and the bowl on a scale: changes that are one act, joined to one.

A jump with its settling, a hand that leans on the bowl and goes away, the bowl lifted off and put
back, a thin pour in much noise. Pure; used by logger.watch.scale.pour_parts, which says what each
joined change was.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.watch.scale.change import Change

SMALLEST_G, SURE = 3.0, 6.0
"""A portion is at least so much [g], and so many standard uncertainties of its levels."""
SHARP_S, FASTEST_G_S = 1.6, 60.0
"""What comes within so long [s], or faster than this [g/s], comes at once."""
PRESSED_G = 8.0
"""What comes within a second of something that flows, and may be a hand [g]."""
TOUCH_S = 8.0
"""A hand that leans on the bowl is gone after so long."""
FLOW_S, LETS_GO = 6.0, (0.75, 1.3)
"""What takes so long flows [s]; a bowl let go jumps up by what it was held by, within this."""
JOINS_S = 9.0
"""Changes too little to count by themselves join others within so long."""
HEAVY_G = 200.0
"""Less than this is no bowl."""
BOWL_SHARE = 0.5
"""A bowl that was lifted is back with so much of it."""
UNLIKE_G = 0.5
"""What came back by this much more or less [g], and is like a ladle's scoops, is one of them."""
LIKE = 0.05
"""Masses are taken for the same within this share."""
SCOOP_S, FEWEST_SCOOPS, PEERS = 3.5, 3, 1.5
"""A scoop is emptied within so long [s]; so many, alike within this factor, make a ladle."""
STANDS_S = 2.0
"""Without a change for so long, nothing flows [s]."""
SETTLES_S, PRESSES_S, PRESSED_S = 4.0, 1.6, 1.2
"""A jump settles for so long [s]; a hand presses for so long, up to so long before it [s]."""
BRIEFLY_S = 0.5
"""What begins so soon after a change belongs to it [s]."""
UNSTEADY_G, UNSTEADY, PUSHED_G = 1.0, 6.0, 0.3
"""A level is unsteady with so much uncertainty [g], and so many times that of calm ones."""
PUSH_S, PUSH_LIKE, PUSH_SAME = 60.0, (0.35, 1.8), (0.7, 1.4)
"""A whisk pushes for so long [s]; it goes with about the jump it came with, or nearly that."""
SETTLES_SHARE = (0.6, 0.25)
"""What settling and pressing may come to, of the jump."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What there was to pour.

    Attributes
    ----------
    there_g : float or None
        Mass of the phase that is poured, as weighed in or as on the sheet [g].
    into_g : float or None
        Mass of the phase it is poured into [g].
    others_g : tuple of float
        Mass of each ingredient that is not of the phase that is poured [g].
    """

    there_g: float | None = None
    into_g: float | None = None
    others_g: tuple[float, ...] = ()


def acts_of(changes: Sequence[Change], plan: Plan) -> list[Change]:
    """Return changes with each jump settled, and each lifting of the bowl one change.

    Parameters
    ----------
    changes : sequence of Change
        Of the scale, in time order.
    plan : Plan
        What there was to pour: tells a bowl by its mass.
    """
    return _lifted(_pushed(_settled(changes), plan), plan)


def without_hands(changes: Sequence[Change], plan: Plan) -> list[Change]:
    """Return changes without the hands that came and went, and what is little joined with more.

    Parameters
    ----------
    changes : sequence of Change
        As of `acts_of`.
    plan : Plan
        What there was to pour: tells a bowl by its mass.
    """
    return _joined(_without_touches(changes, plan))


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


def _settled(changes: Sequence[Change]) -> list[Change]:
    """Join a jump with the moment of pressing before it and of settling after it."""
    found: list[Change] = []
    for change in changes:
        before = found[-1] if found else None
        if before is not None and not (before.gap or change.gap):
            apart_s = change.start_s - before.end_s
            less, more = sorted((before, change), key=lambda c: abs(c.by_g))
            settles = less is change and apart_s < 0.5 and less.by_g * more.by_g > 0.0
            rebounds = less is change and apart_s < 0.5
            brief = less.end_s - less.start_s <= (SETTLES_S if settles else PRESSES_S)
            share = SETTLES_SHARE[0 if rebounds else 1]
            little = abs(less.by_g) <= max(share * abs(more.by_g), least_g(less))
            poured = less is before and _tares_again(change, found)
            if apart_s <= PRESSED_S and brief and little and is_jump(more) and not poured:
                joined = _over([before, change])
                found[-1] = replace(joined, took_s=more.took_s, jump_g=more.jump_g)
                continue
        found.append(change)
    return found


def _tares_again(change: Change, before: Sequence[Change]) -> bool:
    """Return whether a scale that was tared before goes to nought: the bowl lifted is far below."""
    tares = [c for c in (*before, change) if c.by_g < 0.0 and abs(c.after_g) < SMALLEST_G]
    return len(tares) > 1 and tares[-1] is change


def _pushed(changes: Sequence[Change], plan: Plan) -> list[Change]:
    """Join the push of a whisk, whose level is unsteady, with its going away again."""
    found: list[Change] = []
    calm_g = min((c.u_before_g for c in changes), default=0.0)
    unsteady_g = max(UNSTEADY_G, UNSTEADY * calm_g)
    for change in changes:
        found.append(change)
        if change.by_g >= 0.0 or change.gap or change.away:
            continue
        begun = _push_began(found, unsteady_g, changes, plan)
        if begun is not None:
            found[begun:] = [_over(found[begun:])]
    return found


def _push_began(
    changes: Sequence[Change], unsteady_g: float, seen: Sequence[Change], plan: Plan
) -> int | None:
    """Return which change began the push that the last one ends, where one did.

    What stayed of all that was seen tells the scoops of a ladle. A bowl that is put back is none.
    """
    fall = changes[-1]
    for place in range(len(changes) - 2, -1, -1):
        rise = changes[place]
        if rise.gap or rise.away or fall.start_s - rise.end_s > PUSH_S:
            return None
        if place and _is_put_back(changes[place - 1], rise, plan):
            return None
        share = -fall.by_g / max(rise.jump_g, 0.1)
        net_g = fall.after_g - rise.before_g
        unsteady = max(c.u_after_g for c in changes[place:-1]) >= unsteady_g
        unsteady = unsteady and fall.u_before_g >= PUSHED_G
        like = PUSH_LIKE[0] <= share <= PUSH_LIKE[1] and unsteady
        tared = abs(fall.after_g) < SMALLEST_G
        same = PUSH_SAME[0] <= share <= PUSH_SAME[1] and is_jump(fall) and not tared
        same = same and not _is_a_scoop(rise, seen) and not _apart_and_unlike(changes, place)
        if is_jump(rise) and rise.by_g > 0.0 and (like or same) and net_g >= -SMALLEST_G:
            return place
    return None


def _is_put_back(fall: Change, rise: Change, plan: Plan) -> bool:
    """Return whether a rise brings back, at once, most of a bowl that a fall right before took."""
    lifted = _is_a_bowl(fall, plan) and fall.by_g < 0.0 and at_once(fall)
    return lifted and at_once(rise) and rise.by_g >= BOWL_SHARE * -fall.by_g


def _is_a_bowl(change: Change, plan: Plan) -> bool:
    """Return whether a change is as heavy as what there is to pour into, or as a bowl."""
    least = HEAVY_G if plan.into_g is None else max(0.8 * plan.into_g, 60.0)
    return abs(change.by_g) >= least


def _apart_and_unlike(changes: Sequence[Change], place: int) -> bool:
    """Return whether a rise and the fall that ends it each stand alone, and differ.

    A push that comes and goes while nothing flows goes by what it came.
    """
    rise, fall = changes[place], changes[-1]
    if place and rise.start_s - changes[place - 1].end_s < STANDS_S:
        return False
    if min(changes[place + 1].start_s - rise.end_s, fall.start_s - changes[-2].end_s) < STANDS_S:
        return False
    u_g = math.hypot(rise.u_before_g, fall.u_after_g)
    return abs(rise.by_g + fall.by_g) > max(0.7, LIKE * rise.by_g, SURE * u_g)


def _is_a_scoop(rise: Change, seen: Sequence[Change]) -> bool:
    """Return whether a rise is one of several alike, as of a ladle."""
    like = [
        c
        for c in seen
        if c.by_g > 0.0
        and c.took_s <= SCOOP_S
        and max(c.by_g, rise.by_g) <= PEERS * min(c.by_g, rise.by_g)
    ]
    return rise.took_s <= SCOOP_S and len(like) >= FEWEST_SCOOPS


def is_jump(change: Change) -> bool:
    """Return whether a change came within a second."""
    return abs(change.jump_g) >= 0.75 * abs(change.by_g) >= 4.0


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
        if stop == place + 1 and _let_go_in_flow(first, last):
            return stop
        reached_g += last.by_g
        back = first.by_g < 0.0 < last.by_g and abs(reached_g) <= max(0.7, LIKE * -first.by_g)
        if back and last.took_s <= TOUCH_S:  # what takes longer flows
            return stop
        if stop > place and last.by_g * first.by_g < 0.0 and at_once(last):
            brief = last.start_s - first.end_s <= 0.5 * TOUCH_S
            if not brief and abs(last.by_g + first.by_g) > max(0.7, LIKE * abs(first.by_g)):
                continue  # only what goes as it came was a hand for so long
            if first.by_g < 0.0 and reached_g >= 0.35 * farthest_g:
                unlike = abs(reached_g) > max(0.7, LIKE * -first.by_g)
                after_taste = unlike and stop == place + 1 and _is_a_scoop(last, changes)
                return None if after_taste else stop
            pressed = is_jump(first) or first.jump_g >= PRESSED_G
            if pressed and first.jump_g >= 0.6 * abs(last.by_g) >= 0.2 * first.jump_g > 0.0:
                return stop
        farthest_g = min(farthest_g, reached_g)
    return None


def _let_go_in_flow(held: Change, flow: Change) -> bool:
    """Return whether a hand that held the bowl up let it go as the next pour began."""
    near = flow.start_s - held.end_s <= 0.5 * TOUCH_S and flow.took_s >= FLOW_S
    like = LETS_GO[0] <= -flow.jump_g / held.by_g <= LETS_GO[1]
    return held.by_g < 0.0 and near and like and flow.jump_g > 2.0 * flow.by_g / flow.took_s


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
            away = replace(_over(changes[place : back + 1]), gap=False, away=True)
            found.append(away)
            follows = changes[back + 1 : back + 2]
            if follows and _put_down_into(away, follows[0]):
                u_g = max(away.u_before_g, UNSTEADY_G)
                found[-1] = replace(away, after_g=away.before_g, u_after_g=u_g)
                found.append(replace(follows[0], before_g=away.before_g, u_before_g=u_g))
                back += 1
        place = (place if back is None else back) + 1
    return found


def _put_down_into(away: Change, follows: Change) -> bool:
    """Return whether a bowl had not settled yet as the next change began: it is as it was before.

    What came while it was away, if anything, is then poured with what follows.
    """
    unsteady = away.u_after_g >= UNSTEADY_G and abs(away.by_g) <= 2.0 * away.u_after_g
    at_once_ = follows.start_s - away.end_s <= BRIEFLY_S and not (follows.gap or follows.away)
    return unsteady and at_once_ and follows.after_g - away.before_g > least_g(away) / SURE


def _put_back(changes: Sequence[Change], place: int, plan: Plan) -> int | None:
    """Return which change is the bowl put back, where one is it lifted off."""
    fall = changes[place]
    if fall.by_g > -max(least_g(fall), 5.0) or not (at_once(fall) or fall.gap):
        return None
    bowl = _is_a_bowl(fall, plan)
    low_g, before_g = fall.after_g, fall.before_g
    for back in range(place + 1, len(changes)):
        rise = changes[back]
        if rise.after_g < low_g - max(5.0, 0.02 * (before_g - low_g)):
            if rise.start_s - fall.end_s > 3.0:  # the bowl was there still: it had been tared
                return None
            low_g = rise.after_g
        if rise.by_g <= 0.0 or not (at_once(rise) or rise.took_s <= 4.0 or rise.gap):
            continue
        if bowl and rise.by_g >= BOWL_SHARE * (before_g - low_g):
            return _put_down_by(changes, back, before_g)
        unlike_g = abs(_settles_at_g(changes, back) - before_g)
        came_back = at_once(rise) or rise.gap  # a scoop comes slower
        if unlike_g > UNLIKE_G and _is_a_scoop(rise, changes):
            came_back = False
        if (
            not bowl
            and came_back
            and back == place + 1
            and unlike_g <= max(1.5, 0.04 * (before_g - low_g))
        ):
            return back
    return None


def _settles_at_g(changes: Sequence[Change], place: int) -> float:
    """Return the level after a change [g], or after what follows at once while it is unsteady."""
    change, after = changes[place], changes[place + 1 : place + 2]
    if change.u_after_g < UNSTEADY_G or not after or after[0].start_s - change.end_s > BRIEFLY_S:
        return change.after_g
    return after[0].after_g


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
