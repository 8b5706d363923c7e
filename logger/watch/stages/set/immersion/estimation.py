"""Estimates the model's parameters from the run itself: buoyancy, drag, piece mass, usual dwell.

Pure functions of segments and of the posterior so far, as in expectation-maximisation; used by
`table`. Each estimate is shrunk towards a prior, so that two pieces do not fool it.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from logger.watch.stages.set.immersion import likelihood
from logger.watch.stages.set.immersion.likelihood import ModelParameters
from logger.watch.stages.set.immersion.states import (
    SHORT_S,
    SideInformation,
    edge_change_g,
    next_in_turn,
)
from logger.watch.stages.set.immersion.trellis import Posterior
from logger.watch.stages.set.segment import Segment

SURE = 0.8
"""Probability from which on an immersion counts for an estimate."""
LIKELY = 0.7
"""Probability from which on a dwell counts for the usual one."""
MAD_TO_SD = 1.48
"""Standard deviation of a normal distribution over its median absolute deviation."""
DRAG_PRIOR_G, DRAG_PRIOR_COUNT = 1.5, 2.0
"""Prior mean of the drag [g] and how many pieces it counts for; below the same of other priors."""
DRAG_SD_PRIOR_G, DRAG_SD_PRIOR_COUNT = 0.65, 6.0
DIP_SD_PRIOR_G, DIP_PRIOR_COUNT = 0.15, 2.0
ORDER_PRIOR, ORDER_PRIOR_COUNT = 0.65, 3.0
LOWEST_BUOYANCY = 0.94
"""Density of the bath over that of the densest piece, 1070 kg/m3: how a piece that hangs reads."""
LEAST_DWELL_SD = 0.03
"""Standard deviation of a usual dwell is at least this share of it."""
BAND_SD = 0.35
"""Standard deviation of a planned dwell as a share of its band."""
FEWEST = 3
"""Pieces from which on a scatter is estimated."""
NO_DIP = 9.0
"""Squared deviation from which on a rise counts as no whole piece [1]: one of several moves."""
CUT_SHORT_S = 4.0
"""A level that a silence of the scale cuts short is no touch if it lasts longer than this [s]."""
ALIKE, HEAVIEST_G = 1.4, 200.0
"""Slow rises are pieces where the largest is no more than this factor above the smallest, and no
more than this [g]: water is poured in by more."""
USUAL_LOG_SD = 0.2
"""Standard deviation of the logarithm of a piece's mass about what its size on the sheet gives [1]:
rough, no source."""
QUICK_RISE_S = 1.8
"""A rise by a piece is quicker than this [s]."""


def initial_parameters(
    segments: Sequence[Segment], given: SideInformation, planned_s: tuple[float, float] | None
) -> ModelParameters:
    """Return the parameters to start from: defaults, the sheet's band, the buoyancy of the dips.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    given : SideInformation
        Registered masses, or what a piece usually weighs.
    planned_s : tuple of float or None
        Shortest and longest planned dwell [s].
    """
    parameters = ModelParameters()
    if planned_s is not None:
        low_s, high_s = planned_s
        sd_s = max(3.0, BAND_SD * (high_s - low_s))
        parameters = replace(parameters, dwell_s=(low_s + high_s) / 2, dwell_sd_s=sd_s)
    if given.masses_g:
        masses_g = list(given.masses_g.values())
        parameters = replace(parameters, buoyancy=_buoyancy(segments, masses_g))
        return replace(parameters, piece_g=float(np.median(masses_g)), piece_log_sd=0.2)
    if given.usual_g is not None:
        parameters = replace(parameters, piece_g=given.usual_g, piece_log_sd=USUAL_LOG_SD)
    return _with_quick_rises(segments, parameters) or _with_alike_rises(segments, parameters)


def updated_parameters(
    segments: Sequence[Segment],
    given: SideInformation,
    parameters: ModelParameters,
    posterior: Posterior,
) -> ModelParameters:
    """Return the parameters after a pass: drag and, without registered masses, that of a piece.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    given : SideInformation
        Registered masses.
    parameters : ModelParameters
        With which the pass was made.
    posterior : Posterior
        Of that pass.
    """
    ins = {event.edge: event.piece for event in posterior.path if event.kind == "in"}
    if not given.masses_g and len(ins) >= FEWEST:
        logs = np.log([max(1.0, edge_change_g(segments, edge)) for edge in ins])
        spread = _mad(logs) * MAD_TO_SD
        parameters = replace(
            parameters,
            piece_g=float(np.exp(np.median(logs))),
            piece_log_sd=max(0.15, 1.3 * spread),
        )
    if given.masses_g and len(ins) >= 2:
        parameters = _with_dips(segments, given, parameters, ins)
    return _with_drag(segments, parameters, posterior)


def with_usual_dwell(
    segments: Sequence[Segment], parameters: ModelParameters, posterior: Posterior
) -> ModelParameters:
    """Return the parameters with the usual dwell of this run, once three dwells are sure.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    parameters : ModelParameters
        Their dwell stays where it is narrower.
    posterior : Posterior
        Of the last pass.
    """
    dwells_s = [
        segments[out].edge_s - segments[came].edge_s
        for (_, came, out), probability in posterior.immersions.items()
        if came >= 1 and probability > LIKELY
    ]
    if len(dwells_s) < FEWEST:
        return parameters
    median_s = float(np.median(dwells_s))
    sd_s = MAD_TO_SD * _mad(dwells_s)
    # A scatter of few dwells is uncertain itself: widen it.
    sd_s = max(4.0, LEAST_DWELL_SD * median_s, sd_s * (1 + 1.5 / len(dwells_s)))
    if parameters.dwell_s is not None and parameters.dwell_sd_s < sd_s:
        return parameters
    return replace(parameters, dwell_s=median_s, dwell_sd_s=sd_s)


def _lasting_rises(segments: Sequence[Segment]) -> list[int]:
    """Return the edges at which the level rose, and stayed, while the scale spoke."""
    found = []
    for index in range(1, len(segments)):
        after = segments[index]
        rise_g = edge_change_g(segments, index)
        lasts = index == len(segments) - 1 or after.end_s - after.start_s > SHORT_S
        back = index >= 2 and abs(rise_g + edge_change_g(segments, index - 1)) < 0.1 * rise_g
        if rise_g > 0 and lasts and not back and not after.in_gap and not after.tared:
            found.append(index)
    return found


def _with_alike_rises(segments: Sequence[Segment], parameters: ModelParameters) -> ModelParameters:
    """Return the parameters of pieces that are lowered slowly: three or more, alike in mass."""
    rises = _lasting_rises(segments)
    rises_g = [edge_change_g(segments, edge) for edge in rises]
    if len(rises) < FEWEST or max(rises_g) > min(HEAVIEST_G, ALIKE * min(rises_g)):
        return parameters
    slower_s = float(np.median([segments[edge].rise_s for edge in rises])) - likelihood.QUICK_RISE_S
    middle_g = float(np.median(rises_g))
    return replace(parameters, piece_g=middle_g, piece_log_sd=0.25, slower_s=max(0.0, slower_s))


def _with_quick_rises(
    segments: Sequence[Segment], parameters: ModelParameters
) -> ModelParameters | None:
    """Return the parameters with the mass of a piece from three or more quick, lasting rises."""
    rises = [n for n in _lasting_rises(segments) if segments[n].rise_s < QUICK_RISE_S]
    if len(rises) < FEWEST:
        return None
    logs = np.log([edge_change_g(segments, edge) for edge in rises])
    log_sd = max(0.25, min(0.6, 2 * (MAD_TO_SD * _mad(logs))))
    return replace(parameters, piece_g=float(np.exp(np.median(logs))), piece_log_sd=log_sd)


def _with_drag(
    segments: Sequence[Segment], parameters: ModelParameters, posterior: Posterior
) -> ModelParameters:
    """Return the parameters with drag and its scatter from the sure immersions."""
    found_g, probabilities = [], []
    for (_, in_edge, out_edge), probability in posterior.immersions.items():
        if in_edge >= 1 and probability > SURE:
            drag_g = -edge_change_g(segments, out_edge) - edge_change_g(segments, in_edge)
            if -1.0 <= drag_g <= 5.0:
                found_g.append(drag_g)
                probabilities.append(probability)
    if not found_g:
        return parameters
    drags_g, weights = np.array(found_g), np.array(probabilities)
    total = weights.sum()
    mean_g = (drags_g @ weights + DRAG_PRIOR_G * DRAG_PRIOR_COUNT) / (total + DRAG_PRIOR_COUNT)
    variance = ((drags_g - mean_g) ** 2 @ weights + DRAG_SD_PRIOR_G**2 * DRAG_SD_PRIOR_COUNT) / (
        total + DRAG_SD_PRIOR_COUNT
    )
    sd_g = float(max(0.3, np.sqrt(variance)))
    return replace(parameters, drag_g=float(mean_g), drag_sd_g=sd_g)


def _with_dips(
    segments: Sequence[Segment],
    given: SideInformation,
    parameters: ModelParameters,
    ins: dict[int, int],
) -> ModelParameters:
    """Return the parameters with buoyancy, scatter of the dips, and share of dips in order."""
    ins = {edge: piece for edge, piece in ins.items() if piece in given.masses_g}
    if not ins:
        return parameters
    dips_g = np.array([edge_change_g(segments, edge) for edge in ins])
    masses_g = np.array([given.masses_g[piece] for piece in ins.values()])
    near = np.abs(dips_g - masses_g * parameters.buoyancy) < 1.5
    if near.sum() >= 2:
        ratio = float(np.median(dips_g[near] / masses_g[near]))
        sd_g = MAD_TO_SD * float(np.median(np.abs(dips_g[near] - masses_g[near] * ratio)))
        count = float(near.sum())
        variance = (sd_g**2 * count + DIP_SD_PRIOR_G**2 * DIP_PRIOR_COUNT) / (
            count + DIP_PRIOR_COUNT
        )
        close = abs(ratio - parameters.buoyancy) < 0.01
        parameters = replace(
            parameters,
            buoyancy=ratio if close else parameters.buoyancy,
            dip_sd_g=float(max(0.05, np.sqrt(variance))),
        )
    seen: list[int] = []
    in_turn = 0
    for piece in ins.values():
        in_turn += piece in next_in_turn(given.masses_g, seen)
        seen.append(piece)
    share = (in_turn + ORDER_PRIOR * ORDER_PRIOR_COUNT) / (len(ins) + ORDER_PRIOR_COUNT)
    return replace(parameters, in_order=min(0.95, max(0.05, 1.3 * share - 0.3)))


def _mad(values: Sequence[float] | NDArray[np.float64]) -> float:
    """Return the median absolute deviation from the median."""
    return float(np.median(np.abs(np.asarray(values) - np.median(values))))


def _buoyancy(segments: Sequence[Segment], masses_g: list[float]) -> float:
    """Return the ratio of dip to registered mass that fits the dips best.

    It is 1 unless pieces that hang fit clearly better.
    """
    # Here, because it takes a tenth of a second that every command would pay at its start.
    from scipy.optimize import linear_sum_assignment

    cut_s = {before.end_s for before, after in pairwise(segments) if after.hides}
    heaviest_g, lightest_g = max(masses_g) * 1.03, min(masses_g) * LOWEST_BUOYANCY * 0.97
    dips_g = [
        after.start_g - before.end_g
        for before, after in pairwise(segments)
        if lightest_g <= after.start_g - before.end_g <= heaviest_g
        and after.end_s - after.start_s > (SHORT_S if after.end_s not in cut_s else CUT_SHORT_S)
        and not after.in_gap
    ]
    if len(dips_g) < 2:
        return 1.0
    best, least_cost = 1.0, float("inf")
    for ratio in np.arange(1.0, LOWEST_BUOYANCY - 1e-9, -0.0025):
        off_g = np.abs(np.array(dips_g)[:, None] - ratio * np.array(masses_g)[None, :])
        cost_matrix = np.minimum((off_g / 0.5) ** 2, NO_DIP)
        rows, columns = linear_sum_assignment(cost_matrix)
        cost = float(cost_matrix[rows, columns].sum()) + (3.0 if ratio < 1.0 else 0.0)
        if cost < least_cost - 1e-9:
            best, least_cost = float(ratio), cost
    return best
