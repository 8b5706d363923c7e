"""Which masses the evidence alone can't carry, however likely the search finds them.

Pure; asked by `assignment` of its likeliest hypothesis. A vessel can weigh as much as an ingredient
that was forgotten, and while a scale is silent anything may happen: a mass of such an origin is
judged only where it also comes out as the sheet wants it. Says nothing of which load was what.
"""

from collections.abc import Sequence
from itertools import pairwise

from logger.watch.stages.weigh.levels import Level
from logger.watch.stages.weigh.states import Act, Hypothesis, Wanted

_AS_WANTED_SDS = 3.0
"""A mass this close to its target, in standard deviations of a careful weighing, is as wanted."""


def may_be_vessel(last: Act | None, ingredient: int, levels: Sequence[Level], near_g: float) -> int:
    """Return the level at which the first load on the scale ends, where that may be a vessel.

    Parameters
    ----------
    last : Act or None
        The last act of a hypothesis.
    ingredient : int
        Which its first load was, by the hypothesis.
    levels : sequence of Level
        Of the weighing.
    near_g : float
        How near nought the display still shows nought [g].

    Returns
    -------
    int
        Index of the level [1]; 0 where the first load was another one, where it was taken off
        again before anything followed, or where something lay on the scale before it.
    """
    acts = _of_loads(last)
    for act, following in pairwise([*acts, None]):
        if act is None or levels[act.first].final_g > near_g:
            return 0
        if act.what != "tare":
            is_it = act.what == "add" and act.ingredient == ingredient
            rises = levels[act.last].level_g > levels[act.first].final_g
            alone = following is not None and following.what == "off"
            return act.last if is_it and rises and not alone else 0
    return 0


def shares_of_vessels(ranked: Sequence[tuple[Hypothesis, float]]) -> dict[int, float]:
    """Return the probability that a vessel came, by the level at which it rests [1].

    Parameters
    ----------
    ranked : sequence of tuple
        Hypotheses, each with its probability [1].
    """
    shares: dict[int, float] = {}
    for hypothesis, p in ranked:
        for act in _in_order(hypothesis.acts):
            if act.what == "vessel":
                shares[act.last] = shares.get(act.last, 0.0) + p
    return shares


def on_a_cleared_scale(last: Act | None, level: int) -> bool:
    """Return whether a load came onto a cleared scale and stayed as something followed.

    Parameters
    ----------
    last : Act or None
        The last act of a hypothesis.
    level : int
        At which the load ended [1].
    """
    acts = _of_loads(last)
    before = [act.what for act in acts if act.last < level and act.what != "tare"]
    later = [act.what for act in acts if act.first >= level]
    return before[-1:] == ["off"] and later[:1] not in ([], ["off"])


def vessel_after(last: Act | None, level: int) -> bool:
    """Return whether a vessel followed a load before the scale was cleared.

    Parameters
    ----------
    last : Act or None
        The last act of a hypothesis.
    level : int
        At which the load ended [1].
    """
    later = [act.what for act in _of_loads(last) if act.first >= level]
    return "vessel" in (later[: later.index("off")] if "off" in later else later)


def beside_a_gap(portions: Sequence[tuple[int, int]], levels: Sequence[Level]) -> bool:
    """Return whether a mass came while the scale was silent, or right before or after that.

    Parameters
    ----------
    portions : sequence of tuple of int
        Indices of the levels before and after each portion.
    levels : sequence of Level
        Of the weighing.
    """
    return any(level.in_gap for first, last in portions for level in levels[first + 1 : last + 2])


def as_wanted(mass_g: float, wanted: Wanted) -> bool:
    """Return whether a mass [g] is what a careful weighing of an ingredient comes to."""
    return abs(mass_g - wanted.target_g) <= _AS_WANTED_SDS * wanted.aimed_sd_g


def _of_loads(last: Act | None) -> list[Act]:
    return [act for act in _in_order(last) if act.what not in ("nothing", "foreign")]


def _in_order(act: Act | None) -> list[Act]:
    found = []
    while act is not None:
        found.append(act)
        act = act.before
    return found[::-1]
