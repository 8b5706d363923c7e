"""Dwells, skins and the bath itself.

Pure; used by logger.review.features.features.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from logger.model.rows import ImmersionRow
from logger.review.features.feature import Feature, Span, have, lack
from logger.review.features.stage_features import (
    SURE_PIECE,
    U_TIME_S,
    StageFacts,
    apart_feature,
    known,
    median_feature,
)

_BEFORE_PIECES_S = 6.0


def take(here: StageFacts) -> Iterator[Feature]:
    """Yield dwells, skins, bath temperature, its mass before the pieces and its strength."""
    facts, stage, row = here.facts, here.stage, here.row
    rows = [r for r in facts.results.immersions if r.dwell_s is not None]
    names = (
        "dwell_shortest_s",
        "dwell_mean_s",
        "dwell_longest_s",
        "piece_in_g",
        "set_fraction_percent",
    )
    if not rows:
        for name in names:
            yield lack(name, stage.id, "no piece was seen to leave the bath")
    else:
        seen = len(facts.results.immersions)
        yield from _dwells(stage.id, rows, seen, facts.judged_u(stage.id, "set_fraction_percent"))
    start, end = (None, None) if row is None else (row.start_s, row.end_s)
    window = None if start is None or end is None else facts.window("bath", start, end)
    yield median_feature("bath_c", stage.id, window, "no bath readings")
    windows = [] if start is None or end is None else facts.windows("bath", start, end)
    medians = [(float(np.median(w.value)), w) for w in windows]
    yield apart_feature(here, "bath_spread_k", "bath", medians)
    first = min((r.in_s for r in facts.results.immersions if r.in_s is not None), default=None)
    empty = (
        None if first is None else facts.window("bath_scale", first - _BEFORE_PIECES_S, first - 1.0)
    )
    yield median_feature("bath_start_g", stage.id, empty, "no bath on the scale before the pieces")
    left = facts.results.values.get("bath_strength")
    if left is None:
        yield lack("bath_left_percent", stage.id, "the calcium left was not worked out")
    else:
        u = facts.judged_u(stage.id, "bath_left_percent")
        yield have("bath_left_percent", stage.id, 100.0 * float(left), u)


def _dwells(
    stage: str, rows: Sequence[ImmersionRow], seen: int, u_share: float
) -> Iterator[Feature]:
    # The mean does not hang on which piece came out when; shortest and longest do.
    mean_s = float(np.mean(known(r.dwell_s for r in rows)))
    ends = Span(rows[0].channel, rows[0].in_s, rows[-1].out_s)
    yield have("dwell_mean_s", stage, mean_s, U_TIME_S, ends)
    sure = [r for r in rows if (r.confidence or 0.0) >= SURE_PIECE]
    if not sure:
        for name in ("dwell_shortest_s", "dwell_longest_s"):
            yield lack(name, stage, "can't tell which piece came out when")
    else:
        among = (
            "" if len(sure) == seen else f"from the {len(sure)} of {seen} pieces that are certain"
        )
        by_dwell = sorted(sure, key=lambda r: r.dwell_s or 0.0)
        for name, row in (("dwell_shortest_s", by_dwell[0]), ("dwell_longest_s", by_dwell[-1])):
            span = Span(row.channel, row.in_s, row.out_s)
            taken = have(name, stage, row.dwell_s or 0.0, U_TIME_S, span)
            yield replace(taken, among=among)
    masses = known(r.mass_in_g for r in rows)
    if masses:
        yield have("piece_in_g", stage, float(np.mean(masses)), 0.2)
    else:
        yield lack("piece_in_g", stage, "no piece was weighed on its way in")
    shares = known(r.set_fraction for r in sure)
    if shares:
        yield have("set_fraction_percent", stage, 100.0 * min(shares), u_share)
    else:
        yield lack("set_fraction_percent", stage, "no share of a skin was worked out")
