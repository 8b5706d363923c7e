"""Temperatures of the phases up to the pour, and how the fat melted.

Pure; used by logger.review.features.features. Temperatures are medians of short
windows, so that a touch or a spike does not make one; their uncertainty is the probe's own.
"""

import math
from collections.abc import Iterator

import numpy as np

from logger.batch.amounts import phase_g
from logger.model.rows import PourRow, StageRow
from logger.review.features.facts import RunFacts, Window
from logger.review.features.feature import Feature, Span, have, lack
from logger.review.features.stage_features import U_TIME_S, StageFacts, median_feature
from logger.review.plan.heat_plan import meeting_on_paper, mixed_c
from logger.science.fats.fats import Fat

_BEFORE_S = 12.0
_PLATEAU_K, _PLATEAU_S = 1.0, 30.0
_PLATEAU_RANGE_C = (15.0, 60.0)


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield the temperatures at the pour, the mixture predicted from them, and the warming."""
    facts, stage, row = here.facts, here.stage, here.row
    pour = facts.pour()
    fat, water = _at_pour(facts, stage.id, row, pour)
    yield from (fat, water)
    yield _above(stage.id, fat, water)
    yield _predicted(facts, stage.id, fat, water)
    yield from _warming(facts, stage.id, row, pour)


def _at_pour(
    facts: RunFacts, stage: str, row: StageRow | None, pour: PourRow | None
) -> tuple[Feature, Feature]:
    at = pour.start_s if pour is not None else None if row is None else row.end_s
    fat, water = (
        median_feature(
            name,
            stage,
            None if at is None else facts.window(role, at - _BEFORE_S, at - 1.0),
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


def main_fat(facts: RunFacts) -> Fat | None:
    """Return the fat that the sheet has most of, where the fats file knows it."""
    named = [i for i in facts.sheet.of_phase("fat") if i.fat is not None]
    main = max(named, key=lambda i: i.mass_g, default=None)
    return facts.fats.get(main.fat or "") if main is not None else None


def _warming(
    facts: RunFacts, stage: str, row: StageRow | None, pour: PourRow | None
) -> Iterator[Feature]:
    start, end = (None, None) if row is None else (row.start_s, row.end_s)
    if start is None or end is None:
        for name in ("warm_s", "fat_highest_c", "melting_plateau_c", "melt_to_pour_s"):
            yield lack(name, stage, "the end of the warming was not recorded")
        return
    yield have("warm_s", stage, end - start, U_TIME_S)
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
