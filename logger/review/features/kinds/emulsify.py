"""The pour and the emulsion that came of it.

Pure; used by logger.review.features.features.
"""

import math
from collections.abc import Iterator

import numpy as np

from logger.batch.amounts import phase_g
from logger.model.kinds.registry import kind_of
from logger.model.rows import PourRow
from logger.review.features.facts import RunFacts, weighed_of
from logger.review.features.feature import Feature, Span, have, lack
from logger.review.features.stage_features import StageFacts, median_feature

_AFTER_S = 20.0
_FIRST_STIR_S = 15.0
_SLOPE_S = 5.0
_ALMOST_ALL = 0.9
"""Share of the readings below the largest difference of two probes: one spike makes none."""
_NOT_TOLD = "can't tell whether everything that came was poured"
_U_POUR_G = 0.3  # of a pour that was not judged: scale and drips, from memory


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield the emulsion's temperatures and the pour."""
    facts, stage = here.facts, here.stage
    pour = facts.pour()
    if pour is None:
        for figure in kind_of(stage).figures:
            yield lack(figure.name, stage.id, "no pour was seen")
        return
    yield from _emulsion(facts, stage.id, here.before.get("mix_predicted_c"), pour)
    yield from _pour(facts, stage.id, pour)


def _emulsion(
    facts: RunFacts, stage: str, predicted: Feature | None, pour: PourRow
) -> Iterator[Feature]:
    start_s, end_s = pour.start_s, _end_s(pour)
    half = facts.window("fat", start_s, (start_s + end_s) / 2.0)
    if half is None:
        yield lack("fat_lowest_c", stage, "no fat readings")
    else:
        lowest = float(np.quantile(half.value, 0.02))
        yield have("fat_lowest_c", stage, lowest, half.u, half.span)
    after = facts.window("emulsion", end_s, end_s + _AFTER_S)
    measured = median_feature("mix_measured_c", stage, after, "no emulsion readings after the pour")
    yield measured
    if measured.value is None or predicted is None or predicted.value is None:
        yield lack("mix_miss_k", stage, "not both predicted and measured")
    else:
        miss_k, u = measured.value - predicted.value, math.hypot(measured.u, predicted.u)
        yield have("mix_miss_k", stage, miss_k, u, measured.span)
    yield _apart(facts, stage, start_s + _FIRST_STIR_S, end_s + _AFTER_S)
    yield _fat_apart(facts, stage, end_s, end_s + _AFTER_S)


def _apart(facts: RunFacts, stage: str, from_s: float, to_s: float) -> Feature:
    """Compare the two probes that both stand in the bowl while the emulsion is stirred."""
    one, other = facts.window("emulsion", from_s, to_s), facts.window("water", from_s, to_s)
    if one is None or other is None:
        return lack("probes_apart_k", stage, "not both probes in the bowl")
    apart = float(np.median(one.value - np.interp(one.t_s, other.t_s, other.value)))
    return have("probes_apart_k", stage, apart, math.hypot(one.u, other.u), one.span)


def _fat_apart(facts: RunFacts, stage: str, from_s: float, to_s: float) -> Feature:
    """Compare the fat probe with the emulsion: in another vessel they part, in one they can't."""
    name = "fat_probe_apart_k"
    one, other = facts.window("emulsion", from_s, to_s), facts.window("fat", from_s, to_s)
    if one is None or other is None:
        return lack(name, stage, "no readings of both the fat and the emulsion probe")
    apart = np.abs(one.value - np.interp(one.t_s, other.t_s, other.value))
    largest = float(np.quantile(apart, _ALMOST_ALL))
    return have(name, stage, largest, math.hypot(one.u, other.u), one.span)


def _pour(facts: RunFacts, stage: str, pour: PourRow) -> Iterator[Feature]:
    span = Span(pour.channel, pour.start_s, _end_s(pour))
    mass_g = abs(pour.mass_g or 0.0)
    u_g = facts.judged_u(stage, "poured_g")
    if math.isnan(u_g) and not facts.judged(stage, "poured_g"):
        u_g = _U_POUR_G
    yield _rate(facts, stage, pour, u_g / max(mass_g, 1e-9))
    if pour.open_g > 0.0:
        yield lack("poured_g", stage, _NOT_TOLD)
    else:
        yield have("poured_g", stage, mass_g, u_g, span)
    yield _uneven(facts, stage, pour)
    water_g = phase_g(facts.sheet, "water", weighed_of(facts))
    if water_g <= 0.0 or pour.open_g > 0.0:
        why = "the sheet has no water phase" if water_g <= 0.0 else _NOT_TOLD
        yield lack("fat_fraction_percent", stage, why)
        return
    whole_g = mass_g + water_g
    u_percent = 100.0 * u_g * water_g / whole_g**2
    yield have("fat_fraction_percent", stage, 100.0 * mass_g / whole_g, u_percent, span)


def _rate(facts: RunFacts, stage: str, pour: PourRow, u_share: float) -> Feature:
    if pour.rate_g_per_min is None:
        return lack("pour_rate_g_min", stage, "it did not flow steadily enough to give a rate")
    rate = abs(pour.rate_g_per_min)
    u_rate = facts.judged_u(stage, "pour_rate_g_min")
    if math.isnan(u_rate) and not math.isnan(u_share):
        u_rate = rate * max(0.01, u_share)
    span = Span(pour.channel, pour.start_s, _end_s(pour))
    return have("pour_rate_g_min", stage, rate, u_rate, span)


def _uneven(facts: RunFacts, stage: str, pour: PourRow) -> Feature:
    from_s, to_s = pour.start_s, _end_s(pour)
    if pour.portions > 1:
        return lack("pour_uneven_percent", stage, f"it came in {pour.portions} portions")
    name, window = "pour_uneven_percent", facts.window("bowl_scale", from_s, to_s)
    steps = int((to_s - from_s) * 0.8 / _SLOPE_S)
    if window is None or steps < 4 or window.t_s.size < 4 * steps:
        return lack(name, stage, "the pour was too short, or not on the scale")
    at_s = from_s + 0.1 * (to_s - from_s) + _SLOPE_S * np.arange(steps + 1)
    rates = np.abs(np.diff(np.interp(at_s, window.t_s, window.value)))
    middle = float(np.median(rates))
    if middle <= 0.0:
        return lack(name, stage, "the scale did not change during the pour")
    spread = 1.4826 * float(np.median(np.abs(rates - middle)))  # of a normal law
    return have(name, stage, 100.0 * spread / middle, 2.0, window.span)


def _end_s(pour: PourRow) -> float:
    """Return when a pour ended [s]; it is one that has."""
    return pour.start_s if pour.end_s is None else pour.end_s
