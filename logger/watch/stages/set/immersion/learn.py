"""Learns from the run itself what is not known before: buoyancy, drag, piece mass, usual dwell.

Pure functions of plateaus and of the stories told so far; used by `table`. Each estimate is held
by a prior, so that two pieces do not fool it.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from scipy.optimize import linear_sum_assignment

from logger.watch.stages.set.immersion.likelihood import Knowledge
from logger.watch.stages.set.immersion.segmentation import Plateau
from logger.watch.stages.set.immersion.steps import SHORT_S
from logger.watch.stages.set.immersion.transitions import Given, next_in_turn
from logger.watch.stages.set.immersion.trellis import Stories

SURE = 0.8
DRAG_PRIOR_G, DRAG_PRIOR_COUNT = 1.5, 2.0
DRAG_SD_PRIOR_G, DRAG_SD_PRIOR_COUNT = 0.65, 6.0
DIP_SD_PRIOR_G, DIP_PRIOR_COUNT = 0.15, 2.0
ORDER_PRIOR, ORDER_PRIOR_COUNT = 0.65, 3.0
HUNG_LOWEST = 0.94  # bath over piece density: a piece of 1070 kg/m3
LEAST_DWELL_SD = 0.03  # of the dwell
BAND_SD = 0.35  # of a planned band's width


def first_knowledge(
    plateaus: Sequence[Plateau], given: Given, planned_s: tuple[float, float] | None
) -> Knowledge:
    """What to start from: defaults, the sheet's band, and the buoyancy the dips show."""
    known = Knowledge()
    if planned_s is not None:
        low, high = planned_s
        known = replace(
            known, dwell_s=(low + high) / 2, dwell_sd_s=max(3.0, BAND_SD * (high - low))
        )
    if given.masses_g:
        masses = list(given.masses_g.values())
        known = replace(known, buoyant=_buoyancy(plateaus, masses))
        return replace(known, piece_g=float(np.median(masses)), piece_sd=0.2)
    return _with_quick_rises(plateaus, known)


def _with_quick_rises(plateaus: Sequence[Plateau], known: Knowledge) -> Knowledge:
    """Knowledge of how much a piece weighs, from three or more quick, lasting rises."""
    rises = []
    for place in range(1, len(plateaus)):
        after = plateaus[place]
        rise = _rise_g(plateaus, place)
        lasts = place == len(plateaus) - 1 or after.t1_s - after.t0_s > SHORT_S
        back = place >= 2 and abs(rise + _rise_g(plateaus, place - 1)) < 0.1 * rise
        if rise > 0 and lasts and not back and after.rise_s < 1.8 and not after.tared:
            rises.append(rise)
    if len(rises) < 3:
        return known
    logs = np.log(rises)
    scatter = 1.48 * float(np.median(np.abs(logs - np.median(logs))))
    return replace(
        known, piece_g=float(np.exp(np.median(logs))), piece_sd=max(0.25, min(0.6, 2 * scatter))
    )


def learned(
    plateaus: Sequence[Plateau], given: Given, known: Knowledge, stories: Stories
) -> Knowledge:
    """Knowledge after one telling: drag and, where nothing is registered, the mass of a piece."""
    ins = {deed.edge: deed.piece for deed in stories.deeds if deed.what == "in"}
    if not given.masses_g and len(ins) >= 3:
        dips = np.log([max(1.0, _rise_g(plateaus, edge)) for edge in ins])
        spread = float(np.median(np.abs(dips - np.median(dips)))) * 1.48
        known = replace(
            known,
            piece_g=float(np.exp(np.median(dips))),
            piece_sd=max(0.15, 1.3 * spread),
        )
    if given.masses_g and len(ins) >= 2:
        known = _with_dips(plateaus, given, known, ins)
    drags, weights = [], []
    for (_, in_edge, out_edge), share in stories.dwells.items():
        if in_edge >= 1 and share > SURE:
            drag = -_rise_g(plateaus, out_edge) - _rise_g(plateaus, in_edge)
            if -1.0 <= drag <= 5.0:
                drags.append(drag)
                weights.append(share)
    if not drags:
        return known
    off, weight = np.array(drags), np.array(weights)
    total = weight.sum()
    mean = (off @ weight + DRAG_PRIOR_G * DRAG_PRIOR_COUNT) / (total + DRAG_PRIOR_COUNT)
    squares = ((off - mean) ** 2 @ weight + DRAG_SD_PRIOR_G**2 * DRAG_SD_PRIOR_COUNT) / (
        total + DRAG_SD_PRIOR_COUNT
    )
    return replace(known, drag_g=float(mean), drag_sd_g=float(max(0.3, np.sqrt(squares))))


def _with_dips(
    plateaus: Sequence[Plateau], given: Given, known: Knowledge, ins: dict[int, int]
) -> Knowledge:
    """Knowledge of buoyancy, scatter of the dips and whether pieces go in by number."""
    ins = {edge: piece for edge, piece in ins.items() if piece in given.masses_g}
    if not ins:
        return known
    dips = np.array([_rise_g(plateaus, edge) for edge in ins])
    masses = np.array([given.masses_g[piece] for piece in ins.values()])
    near = np.abs(dips - masses * known.buoyant) < 1.5
    if near.sum() >= 2:
        ratio = float(np.median(dips[near] / masses[near]))
        off = np.abs(dips[near] - masses[near] * ratio)
        scatter = 1.48 * float(np.median(off))
        count = float(near.sum())
        mixed = (scatter**2 * count + DIP_SD_PRIOR_G**2 * DIP_PRIOR_COUNT) / (
            count + DIP_PRIOR_COUNT
        )
        buoyant = ratio if abs(ratio - known.buoyant) < 0.01 else known.buoyant
        known = replace(known, buoyant=buoyant, dip_sd_g=float(max(0.05, np.sqrt(mixed))))
    seen: list[int] = []
    in_turn = 0
    for piece in ins.values():
        in_turn += piece in next_in_turn(given.masses_g, seen)
        seen.append(piece)
    share = (in_turn + ORDER_PRIOR * ORDER_PRIOR_COUNT) / (len(ins) + ORDER_PRIOR_COUNT)
    return replace(known, in_order=min(0.95, max(0.05, 1.3 * share - 0.3)))


def with_usual_dwell(plateaus: Sequence[Plateau], known: Knowledge, stories: Stories) -> Knowledge:
    """Knowledge with the dwell most pieces of this run had, once three of them are sure."""
    dwells = [
        plateaus[out].edge_s - plateaus[came].edge_s
        for (_, came, out), share in stories.dwells.items()
        if came >= 1 and share > SURE
    ]
    if len(dwells) < 3:
        return known
    middle = float(np.median(dwells))
    scatter = 1.48 * float(np.median(np.abs(np.array(dwells) - middle)))
    # A scatter from few dwells is itself uncertain: widen it.
    scatter = max(4.0, LEAST_DWELL_SD * middle, scatter * (1 + 1.5 / len(dwells)))
    if known.dwell_s is not None and known.dwell_sd_s < scatter:
        return known
    return replace(known, dwell_s=middle, dwell_sd_s=scatter)


def _rise_g(plateaus: Sequence[Plateau], edge: int) -> float:
    return plateaus[edge].in_g - plateaus[edge - 1].out_g


def _buoyancy(plateaus: Sequence[Plateau], masses_g: list[float]) -> float:
    """Ratio of dip to registered mass that fits the dips best: 1 unless hanging fits clearly."""
    heaviest, lightest = max(masses_g) * 1.03, min(masses_g) * HUNG_LOWEST * 0.97
    dips = [
        after.in_g - before.out_g
        for before, after in pairwise(plateaus)
        if lightest <= after.in_g - before.out_g <= heaviest
        and after.t1_s - after.t0_s > 8.0
        and not after.hidden
    ]
    if len(dips) < 2:
        return 1.0
    best, best_cost = 1.0, float("inf")
    for ratio in np.arange(1.0, HUNG_LOWEST - 1e-9, -0.0025):
        off = np.abs(np.array(dips)[:, None] - ratio * np.array(masses_g)[None, :])
        cost_matrix = np.minimum((off / 0.5) ** 2, 16.0)
        rows, columns = linear_sum_assignment(cost_matrix)
        cost = float(cost_matrix[rows, columns].sum()) + (3.0 if ratio < 1.0 else 0.0)
        if cost < best_cost - 1e-9:
            best, best_cost = float(ratio), cost
    return best
