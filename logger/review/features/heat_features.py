"""Numbers of a run from warming to the emulsion.

Pure; facts of a run in, features out. Temperatures are medians of short windows, so that a touch or
a spike does not make one; their uncertainty is the probe's own.
"""

import math
from collections.abc import Iterator

import numpy as np

from logger.batch.amounts import phase_g
from logger.model.rows import PourRow, StageRow
from logger.review.features.facts import RunFacts, Window
from logger.review.features.feature import Feature, Span, have, lack
from logger.review.plan.heat_plan import meeting_on_paper, mixed_c
from logger.science.fats.fats import Fat

BEFORE_S = 12.0
AFTER_S = 20.0
_FIRST_STIR_S = 15.0
_PLATEAU_K, _PLATEAU_S = 1.0, 30.0
_PLATEAU_RANGE_C = (15.0, 60.0)
_SLOPE_S = 5.0
_U_TIME_S = 1.0
_U_POUR_G = 0.3  # of a pour that was not judged: scale and drips, from memory


def heat_features(facts: RunFacts) -> Iterator[Feature]:
    """Yield the features of the heat and emulsify stages that the sheet has."""
    stage, row = facts.stage("heat")
    combine, _ = facts.stage("emulsify")
    pour = facts.pour()
    predicted: Feature | None = None
    if stage is not None:
        fat, water = _at_pour(facts, stage.id, row, pour)
        yield from (fat, water)
        yield _above(stage.id, fat, water)
        predicted = _predicted(facts, stage.id, fat, water)
        yield predicted
        yield from _warming(facts, stage.id, row, pour)
    if combine is not None and pour is None:
        for name in (
            "fat_lowest_c", "mix_measured_c", "mix_miss_k", "probes_apart_k", "pour_rate_g_min",
            "pour_uneven_percent", "poured_g", "fat_fraction_percent",
        ):  # fmt: skip
            yield lack(name, combine.id, "no pour was seen")
    elif combine is not None and pour is not None:
        yield from _emulsion(facts, combine.id, predicted, pour)
        yield from _pour(facts, combine.id, pour)


def median_feature(name: str, stage: str, window: Window | None, missing: str) -> Feature:
    """Return the median of a window as a feature, or why there is none."""
    if window is None:
        return lack(name, stage, missing)
    return have(name, stage, float(np.median(window.value)), window.u, window.span)


def main_fat(facts: RunFacts) -> Fat | None:
    """Return the fat that the sheet has most of, where the fats file knows it."""
    named = [i for i in facts.sheet.of_phase("fat") if i.fat is not None]
    main = max(named, key=lambda i: i.mass_g, default=None)
    return facts.fats.get(main.fat or "") if main is not None else None


def _at_pour(
    facts: RunFacts, stage: str, row: StageRow | None, pour: PourRow | None
) -> tuple[Feature, Feature]:
    at = pour.start_s if pour is not None else None if row is None else row.end_s
    fat, water = (
        median_feature(
            name,
            stage,
            None if at is None else facts.window(role, at - BEFORE_S, at - 1.0),
            "no pour and no end of the warming" if at is None else f"no {role} readings",
        )
        for role, name in (("fat", "fat_at_pour_c"), ("water", "water_at_pour_c"))
    )
    return fat, water


def _above(stage: str, fat: Feature, water: Feature) -> Feature:
    if fat.value is None or water.value is None:
        return lack("fat_above_water_k", stage, fat.missing or water.missing)
    u = math.hypot(fat.u, water.u)
    return have("fat_above_water_k", stage, fat.value - water.value, u, fat.span)


def _predicted(facts: RunFacts, stage: str, fat: Feature, water: Feature) -> Feature:
    name = "mix_predicted_c"
    if fat.value is None or water.value is None:
        return lack(name, stage, fat.missing or water.missing)
    if phase_g(facts.sheet, "fat") <= 0.0 or phase_g(facts.sheet, "water") <= 0.0:
        return lack(name, stage, "the sheet weighs no fat or no water phase")
    meeting = meeting_on_paper(facts.sheet, facts.bench, main_fat(facts))
    value, by_fat, by_water = (
        mixed_c(meeting, fat.value + fat_k, water.value + water_k)
        for fat_k, water_k in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))
    )
    if value is None or by_fat is None or by_water is None:
        return lack(name, stage, "a temperature is outside 0 to 150 °C")
    u = math.hypot((by_fat - value) * fat.u, (by_water - value) * water.u)
    return have(name, stage, value, u, fat.span)


def _warming(
    facts: RunFacts, stage: str, row: StageRow | None, pour: PourRow | None
) -> Iterator[Feature]:
    start, end = (None, None) if row is None else (row.start_s, row.end_s)
    if start is None or end is None:
        for name in ("warm_s", "fat_highest_c", "melting_plateau_c", "melt_to_pour_s"):
            yield lack(name, stage, "the warming was not seen to its end")
        return
    yield have("warm_s", stage, end - start, _U_TIME_S)
    window = facts.window("fat", start, end)
    if window is None:
        for name in ("fat_highest_c", "melting_plateau_c", "melt_to_pour_s"):
            yield lack(name, stage, "no fat readings while warming")
        return
    highest = float(np.quantile(window.value, 0.99))
    yield have("fat_highest_c", stage, highest, window.u, window.span)
    plateau = _plateau(window)
    if plateau is None:
        yield lack("melting_plateau_c", stage, "the fat showed no plateau while it warmed")
    else:
        yield have("melting_plateau_c", stage, plateau, window.u, window.span)
    yield _since_melted(facts, stage, window, pour)


def _plateau(window: Window) -> float | None:
    """Return the temperature at which a warming fat stood longest, below where it ends [degC].

    Notes
    -----
    A stand counts when it lasts 30 s within 1 K and at least 4 K below the end of the warming.
    """
    low, high = _PLATEAU_RANGE_C
    top = min(high, float(np.quantile(window.value, 0.95)) - 4.0)
    edges = np.arange(low, top + _PLATEAU_K / 4, _PLATEAU_K / 4)
    if edges.size < 5:
        return None
    step_s = np.clip(np.diff(window.t_s, append=window.t_s[-1]), 0.0, 2.0)
    spent, _ = np.histogram(window.value, bins=edges, weights=step_s)
    held = np.convolve(spent, np.ones(4), mode="valid")
    best = int(np.argmax(held))
    if held[best] < _PLATEAU_S:
        return None
    inside = (window.value >= edges[best]) & (window.value <= edges[best + 4])
    return float(np.median(window.value[inside]))


def _since_melted(facts: RunFacts, stage: str, window: Window, pour: PourRow | None) -> Feature:
    name, fat = "melt_to_pour_s", main_fat(facts)
    if fat is None or pour is None:
        return lack(name, stage, "no pour was seen" if pour is None else "the fat is not known")
    above = np.flatnonzero(window.value > fat.all_melted_above_c.value)
    if above.size == 0:
        return lack(name, stage, "the fat never reached its melting limit")
    if above[0] == 0:
        return lack(name, stage, "the fat was melted when the stage began")
    melted_s, pour_s = float(window.t_s[above[0]]), pour.start_s
    return have(name, stage, pour_s - melted_s, 5.0, Span(window.channel, melted_s, pour_s))


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
    after = facts.window("emulsion", end_s, end_s + AFTER_S)
    measured = median_feature("mix_measured_c", stage, after, "no emulsion readings after the pour")
    yield measured
    if measured.value is None or predicted is None or predicted.value is None:
        yield lack("mix_miss_k", stage, "not both predicted and measured")
    else:
        miss_k, u = measured.value - predicted.value, math.hypot(measured.u, predicted.u)
        yield have("mix_miss_k", stage, miss_k, u, measured.span)
    yield _apart(facts, stage, start_s + _FIRST_STIR_S, end_s + AFTER_S)


def _apart(facts: RunFacts, stage: str, from_s: float, to_s: float) -> Feature:
    """Compare the two probes that both stand in the bowl while the emulsion is stirred."""
    one, other = facts.window("emulsion", from_s, to_s), facts.window("water", from_s, to_s)
    if one is None or other is None:
        return lack("probes_apart_k", stage, "not both probes in the bowl")
    apart = float(np.median(one.value - np.interp(one.t_s, other.t_s, other.value)))
    return have("probes_apart_k", stage, apart, math.hypot(one.u, other.u), one.span)


def _pour(facts: RunFacts, stage: str, pour: PourRow) -> Iterator[Feature]:
    span = Span(pour.channel, pour.start_s, _end_s(pour))
    mass_g, rate = abs(pour.mass_g or 0.0), abs(pour.rate_g_per_min or 0.0)
    u_g, u_rate = facts.judged_u(stage, "poured mass"), facts.judged_u(stage, "pour rate")
    if math.isnan(u_g):
        u_g = _U_POUR_G
    if math.isnan(u_rate):
        u_rate = rate * max(0.01, u_g / max(mass_g, 1e-9))
    yield have("pour_rate_g_min", stage, rate, u_rate, span)
    yield have("poured_g", stage, mass_g, u_g, span)
    yield _uneven(facts, stage, pour.start_s, _end_s(pour))
    water_g = phase_g(facts.sheet, "water", weighed_of(facts))
    if water_g <= 0.0:
        yield lack("fat_fraction_percent", stage, "the sheet has no water phase")
        return
    whole_g = mass_g + water_g
    u_percent = 100.0 * u_g * water_g / whole_g**2
    yield have("fat_fraction_percent", stage, 100.0 * mass_g / whole_g, u_percent, span)


def weighed_of(facts: RunFacts) -> dict[str, float]:
    """Return what was weighed in [g], by ingredient."""
    return {
        str(row.ingredient): float(row.mass_g)
        for row in facts.results.weighings
        if row.mass_g is not None
    }


def _uneven(facts: RunFacts, stage: str, from_s: float, to_s: float) -> Feature:
    name, window = "pour_uneven_percent", facts.window("bowl_scale", from_s, to_s)
    steps = int((to_s - from_s) * 0.8 / _SLOPE_S)
    if window is None or steps < 4 or window.t_s.size < 4 * steps:
        return lack(name, stage, "the pour was too short, or not on the scale")
    at_s = from_s + 0.1 * (to_s - from_s) + _SLOPE_S * np.arange(steps + 1)
    rates = np.abs(np.diff(np.interp(at_s, window.t_s, window.value)))
    middle = float(np.median(rates))
    if middle <= 0.0:
        return lack(name, stage, "the scale stood still during the pour")
    spread = 1.4826 * float(np.median(np.abs(rates - middle)))  # of a normal law
    return have(name, stage, 100.0 * spread / middle, 2.0, window.span)


def _end_s(pour: PourRow) -> float:
    """Return when a pour ended [s]; it is one that has."""
    return pour.start_s if pour.end_s is None else pour.end_s
