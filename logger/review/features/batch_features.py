"""Numbers of a run that are not of warming and pouring: weighing, soaking, pieces, skin, drying.

Pure; facts of a run in, features out. Used by logger.review.features.features.
"""

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from logger.model.rows import ImmersionRow, Row
from logger.model.sheet import Ingredient
from logger.review.features.facts import RunFacts
from logger.review.features.feature import Feature, Span, have, lack
from logger.review.features.heat_features import median_feature, weighed_of
from logger.science.gel.coating import spread

_U_TIME_S = 1.0
_END_S = (15.0, 3.0)
_BEFORE_PIECES_S = 6.0
_SURE = 0.8

_WEIGHED: tuple[tuple[str, Callable[[Ingredient], bool]], ...] = (
    ("fat_off_percent", lambda i: i.phase == "fat"),
    ("water_off_percent", lambda i: i.phase == "water"),
    ("binder_off_percent", lambda i: i.substance == "binder"),
    ("alginate_off_percent", lambda i: i.substance == "alginate"),
    ("salt_off_percent", lambda i: i.salt is not None),
)
_LENGTHS = (("hydrate", "hydrate_s"), ("chill", "chill_s"), ("rinse", "rinse_s"),
            ("dry", "dry_s"), ("cook", "cook_s"), ("hold", "hold_s"))  # fmt: skip


def batch_features(facts: RunFacts) -> Iterator[Feature]:
    """Yield the features of the stages other than heat and emulsify that the sheet has."""
    yield from _weighing(facts)
    for kind, name in _LENGTHS:
        stage, row = facts.stage(kind)
        if stage is None:
            continue
        if row is None or row.start_s is None or row.end_s is None:
            yield lack(name, stage.id, "the stage was not run to its end")
        else:
            yield have(name, stage.id, row.end_s - row.start_s, _U_TIME_S,
                       Span(None, row.start_s, row.end_s))  # fmt: skip
    yield from _core(facts)
    yield from _pieces(facts)
    yield from _bath(facts)
    yield from _drying(facts)
    yield _gaps(facts)


def _weighing(facts: RunFacts) -> Iterator[Feature]:
    stage, _ = facts.stage("weigh")
    if stage is None:
        return
    weighed = weighed_of(facts)
    spreads = {r.ingredient: r.expanded_uncertainty_g for r in facts.results.weighings}
    for name, belongs in _WEIGHED:
        wanted = [i for i in facts.sheet.ingredient if belongs(i)]
        if not wanted:
            continue
        silent = [i.name for i in wanted if i.name not in weighed]
        if silent:
            yield lack(name, stage.id, f"{', '.join(silent)} was not weighed in")
            continue
        planned_g = sum(i.mass_g for i in wanted)
        off = 100.0 * (sum(weighed[i.name] for i in wanted) / planned_g - 1.0)
        u_g = math.hypot(*((spreads.get(i.name) or 0.1) / 2.0 for i in wanted))
        yield have(name, stage.id, off, 100.0 * u_g / planned_g)


def _core(facts: RunFacts) -> Iterator[Feature]:
    stage, row = facts.stage("chill")
    if stage is not None:
        end = None if row is None else row.end_s
        early, late = _END_S
        window = None if end is None else facts.window("core", end - early, end - late)
        yield median_feature("core_after_chill_c", stage.id, window, "no core readings at the end")
    stage, row = facts.stage("cook")
    if stage is not None:
        end = None if row is None else row.end_s
        start = None if row is None else row.start_s
        window = None if start is None or end is None else facts.window("core", start, end)
        if window is None:
            yield lack("core_highest_c", stage.id, "no core readings while cooking")
        else:
            highest = float(np.quantile(window.value, 0.995))
            yield have("core_highest_c", stage.id, highest, window.u, window.span)


def _known(rows: Sequence[Row], key: str) -> list[float]:
    return [float(r[key]) for r in rows if r.get(key) is not None]


def _pieces(facts: RunFacts) -> Iterator[Feature]:
    rows = facts.results.pieces
    form, _ = facts.stage("form")
    if form is not None:
        bare = _known(rows, "bare_mass_g")
        if bare:
            u_g = facts.judged_u(form.id, "piece mass")
            yield have("piece_g", form.id, float(np.mean(bare)), u_g)
        else:
            yield lack("piece_g", form.id, "no piece was weighed")
    coat, _ = facts.stage("coat")
    if coat is None:
        return
    thick, masses = _known(rows, "coat_mm"), _known(rows, "coat_mass_g")
    for name, values, check in (
        ("coat_mm", thick, "coat thickness"), ("coat_g", masses, "coat mass"),
    ):  # fmt: skip
        if values:
            yield have(name, coat.id, float(np.mean(values)), facts.judged_u(coat.id, check))
        else:
            yield lack(name, coat.id, "no coat was weighed")
    relative = spread(thick).relative if len(thick) > 2 else None
    if relative is None:
        yield lack("coat_spread_percent", coat.id, "fewer than three coats were weighed")
    else:
        yield have("coat_spread_percent", coat.id, 100.0 * relative, 1.0)


def _bath(facts: RunFacts) -> Iterator[Feature]:
    stage, row = facts.stage("set")
    if stage is None:
        return
    rows = [r for r in facts.results.immersions if r.dwell_s is not None]
    names = (
        "dwell_shortest_s", "dwell_mean_s", "dwell_longest_s", "piece_in_g",
        "set_fraction_percent",
    )  # fmt: skip
    if not rows:
        for name in names:
            yield lack(name, stage.id, "no piece was seen to leave the bath")
    else:
        yield from _dwells(stage.id, rows, facts.judged_u(stage.id, "skin set through"))
    start, end = (None, None) if row is None else (row.start_s, row.end_s)
    window = None if start is None or end is None else facts.window("bath", start, end)
    yield median_feature("bath_c", stage.id, window, "no bath readings")
    first = min((r.in_s for r in facts.results.immersions if r.in_s is not None),
                default=None)  # fmt: skip
    before = None if first is None else facts.window(
        "bath_scale", first - _BEFORE_PIECES_S, first - 1.0
    )  # fmt: skip
    yield median_feature("bath_start_g", stage.id, before, "no bath on the scale before the pieces")
    left = facts.results.values.get("bath_strength")
    if left is None:
        yield lack("bath_left_percent", stage.id, "the calcium left was not worked out")
    else:
        u = facts.judged_u(stage.id, "calcium left")
        yield have("bath_left_percent", stage.id, 100.0 * float(left), u)


def _dwells(stage: str, rows: Sequence[ImmersionRow], u_share: float) -> Iterator[Feature]:
    # The mean does not hang on which piece came out when; shortest and longest do.
    mean_s = float(np.mean(_known(rows, "dwell_s")))
    ends = Span(rows[0].channel, rows[0].in_s, rows[-1].out_s)
    yield have("dwell_mean_s", stage, mean_s, _U_TIME_S, ends)
    sure = [r for r in rows if (r.confidence or 0.0) >= _SURE]
    if not sure:
        for name in ("dwell_shortest_s", "dwell_longest_s"):
            yield lack(name, stage, "which piece came out when could not be told")
    else:
        by_dwell = sorted(sure, key=lambda r: r.dwell_s or 0.0)
        for name, row in (("dwell_shortest_s", by_dwell[0]), ("dwell_longest_s", by_dwell[-1])):
            span = Span(row.channel, row.in_s, row.out_s)
            yield have(name, stage, row.dwell_s or 0.0, _U_TIME_S, span)
    masses = _known(rows, "mass_in_g")
    if masses:
        yield have("piece_in_g", stage, float(np.mean(masses)), 0.2)
    else:
        yield lack("piece_in_g", stage, "no piece was weighed on its way in")
    shares = _known(sure, "set_fraction")
    if shares:
        yield have("set_fraction_percent", stage, 100.0 * min(shares), u_share)
    else:
        yield lack("set_fraction_percent", stage, "no share of a skin was worked out")


def _drying(facts: RunFacts) -> Iterator[Feature]:
    stage, _ = facts.stage("dry")
    if stage is None:
        return
    found = next(iter(facts.judged(stage.id, "mass lost")), None)
    if found is None or found.value is None:
        yield lack("dry_loss_percent", stage.id, "the loss was not measured")
        return
    u = facts.judged_u(stage.id, "mass lost")
    span = Span(found.channel, found.from_s, found.to_s)
    yield have("dry_loss_percent", stage.id, found.value, u, span)


def _gaps(facts: RunFacts) -> Feature:
    ends = [float(r.end_s) for r in facts.results.stages if r.end_s is not None]
    if not ends:
        return lack("gap_percent", "", "no stage has ended")
    last_s = max(ends)
    lost_s = 0.0
    for gap in facts.results.gaps:
        until_s = last_s if gap.to_s is None else float(gap.to_s)
        lost_s += max(0.0, until_s - float(gap.from_s))
    return have(
        "gap_percent", "", 100.0 * lost_s / (max(1, len(facts.bench.channel)) * last_s), 0.0
    )
