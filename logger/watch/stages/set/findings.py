"""What is judged of a bath: the dwell and skin of each piece, the bath's temperature and calcium.

Pure; used by the bath watcher. A verdict on a dwell holds for every plausible reading of its row,
so that a planned dwell never hides an early pull-out.
"""

import math
from dataclasses import replace

from logger.model.finding import Finding
from logger.model.written import Band
from logger.science.calcium.inventory import REFRESH_BELOW
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Context
from logger.watch.sensors.probe import Probe
from logger.watch.stages.set.immersion.table import DOUBTED
from logger.watch.stages.set.pieces import Piece
from logger.watch.stages.set.rows import Immersion
from logger.watch.verdict.checks import U_TAP_S, finding, judge
from logger.watch.verdict.extremes import Extremes
from logger.watch.verdict.measured import Measured
from logger.words.durations import exact_duration
from logger.words.verdicts import evidence_text

U_EDGE_S = 0.3
"""Standard uncertainty of a moment read off the scale [s]: two thirds of the p95 that
``python -m tests.bench bath`` prints."""
U_STRENGTH_PERCENT = 5.0
"""Standard uncertainty of the bath's strength as worked out [% of its start]: drag and uptake are
from memory."""
U_DEMAND = 0.15
"""Standard uncertainty of the calcium wanted, as a share: binding 0.35 to 0.5 per uronate."""
NO_TEMPERATURE = "no bath temperature for which the diffusivity is known"
REFRESH = Band(low=100.0 * REFRESH_BELOW, unit="%", source="bainlog's own limit, none is published")
WANTED = Band(high=100.0, unit="%", source="binding capacity of the alginate")
FRONT = "gel front, Neumann solution"
THROUGH_PERCENT = 100.0
THROUGH = Band(low=THROUGH_PERCENT, unit="%", source=FRONT)


def dwell_finding(
    context: Context,
    piece: Piece,
    band: Band | None,
    channel: str | None,
    t_ns: int,
    *,
    silent: bool = False,
) -> Finding:
    """Judge one dwell; an interval counts by its middle, its width and both ends.

    Parameters
    ----------
    context : Context
        Of the stage.
    piece : Piece
        The row.
    band : Band or None
        The sheet's dwell [s].
    channel : str or None
        The bath scale.
    t_ns : int
        Now, for a piece that is still in [ns].
    silent : bool
        The scale has been silent for a while: which pieces are still in is unknown.
    """
    row = piece.row
    u_s = math.sqrt(2.0) * (U_TAP_S if row.by_hand else U_EDGE_S)
    dwell_s, why = row.dwell_s, ""
    if row.dwell_between_s is not None:
        low_s, high_s = row.dwell_between_s
        dwell_s, u_s = (low_s + high_s) / 2.0, (high_s - low_s) / 2.0 / math.sqrt(3.0)
    elif row.ambiguous and row.candidates and dwell_s is not None:
        dwells = _dwells(row)
        u_s = max(u_s, (max(dwells) - min(dwells)) / 2.0)
    elif dwell_s is None:
        why = "it was still in the bath when the stage ended"
        if silent:
            why = "the scale fell silent while it was in the bath"
        if row.at_start:
            why = "it was in before the recording, or went in while the scale was silent"
    dwell = Measured(
        value=dwell_s,
        u=u_s,
        from_ns=_ns(row.in_s),
        to_ns=t_ns if row.out_s is None else _ns(row.out_s),
        channel=channel,
    )
    found = finding(context, "set.dwell_s", dwell, band, piece=piece.number, why_missing=why)
    u_end_s = math.sqrt(2.0) * (U_TAP_S if row.by_hand else U_EDGE_S)
    return _for_every_reading(found, row, u_end_s, band)


def _for_every_reading(found: Finding, row: Immersion, u_s: float, band: Band | None) -> Finding:
    """Return a verdict as it is where it holds for each plausible dwell, else undecided.

    What is hardly more than a guess has none.
    """
    if found.verdict not in ("met", "not met") or row.may_last_s is None or found.value is None:
        return found
    low_s, high_s = row.may_last_s
    if row.dwell_s is not None:
        low_s, high_s = min(low_s, row.dwell_s), max(high_s, row.dwell_s)
    judged = [judge(end_s, u_s, band, found.rule)[0] for end_s in (low_s, high_s)]
    one_side = band is None or low_s > (band.high or math.inf) or high_s < (band.low or 0.0)
    if (
        (not row.ambiguous or row.confidence >= DOUBTED)
        and judged == [found.verdict] * 2
        and (found.verdict == "met" or one_side)
    ):
        return found
    why = "it may not have come out" if math.isinf(high_s) else ""
    if not why:
        why = f"it may have been in for {exact_duration(low_s)} to {exact_duration(high_s)}"
    evidence = evidence_text(
        "undecided",
        found.value,
        found.unit,
        u_expanded=found.expanded_uncertainty,
        low=found.low,
        high=found.high,
        why=why,
    )
    return replace(found, verdict="undecided", evidence=evidence)


def _dwells(row: Immersion) -> list[float]:
    """Return the dwells that a row may have [s]."""
    own = [] if row.dwell_s is None else [row.dwell_s]
    return own + [c.dwell_s for c in row.candidates]


def skin_finding(
    context: Context, piece: Piece, needed: NeededDwell | None, channel: str | None, why: str
) -> Finding:
    """Judge whether the gel front could pass through the coat.

    Parameters
    ----------
    context : Context
        Of the stage.
    piece : Piece
        The row.
    needed : NeededDwell or None
        Its range gives the uncertainty.
    channel : str or None
        The bath scale.
    why : str
        Why it is unknown, if so.
    """
    row = piece.row
    known = row.dwell_s is not None or row.dwell_between_s is not None
    percent = None if piece.share is None or not known else 100.0 * piece.share
    u_percent = math.nan
    if percent is not None and needed is not None:
        u_percent = _u_set_percent(percent, needed)
        dwells = _dwells(row)
        if row.ambiguous and row.dwell_s and len(dwells) > 1:
            ends = [percent * math.sqrt(d / row.dwell_s) for d in (min(dwells), max(dwells))]
            u_percent = max(u_percent, (ends[1] - ends[0]) / 2.0)
        elif row.dwell_between_s is not None:
            # The share is that of the shortest dwell; somewhere up to the longest is the true one.
            shortest_s, longest_s = row.dwell_between_s
            most = percent * math.sqrt(longest_s / max(shortest_s, 1.0))
            u_percent = math.hypot(u_percent, (most - percent) / 2.0 / math.sqrt(3.0))
            percent = (percent + most) / 2.0
    band = THROUGH
    if needed is not None and needed.by:
        band = Band(low=THROUGH_PERCENT, unit="%", source=f"{FRONT}; diffusivity from {needed.by}")
    share = Measured(
        value=percent,
        u=u_percent,
        from_ns=_ns(row.in_s),
        to_ns=_ns(row.out_s),
        channel=channel,
    )
    return finding(
        context,
        "set.skin_percent",
        share,
        band,
        piece=piece.number,
        why_missing=why or (NO_TEMPERATURE if known else "its dwell is not known"),
    )


def _u_set_percent(percent: float, needed: NeededDwell) -> float:
    """Return the standard uncertainty of how far a skin has set, on the side of the limit [%].

    The range of the needed dwell is not symmetric, and the front goes with the root of time: what
    counts is the end that could turn the verdict, two standard uncertainties away.
    """
    end_s = needed.high_s if percent >= THROUGH_PERCENT else needed.low_s
    return abs(percent - percent * math.sqrt(needed.likely_s / end_s)) / 2.0


def unseen_finding(
    context: Context,
    seen: int,
    expected: int | None,
    band: Band | None,
    channel: str | None,
    t_ns: int,
) -> Finding:
    """Return that no piece was seen, or fewer than there are: their dwells are not measured.

    Parameters
    ----------
    context : Context
        Of the stage.
    seen : int
        How many pieces were seen.
    expected : int or None
        How many there are, if known.
    band : Band or None
        The sheet's dwell [s].
    channel : str or None
        The bath scale.
    t_ns : int
        End of the stage [ns].
    """
    if seen:
        why = f"{(expected or 0) - seen} of {expected} pieces were not seen in the bath"
    else:
        why = "no piece was seen"
        if channel is None:
            why = "the bench has no bath scale and no piece was entered by hand"
    nothing = Measured(from_ns=context.start_ns, to_ns=t_ns, channel=channel)
    key = "set.unseen_dwell_s" if seen else "set.dwell_s"
    return finding(context, key, nothing, band, why_missing=why)


def temperature_finding(
    context: Context, extremes: Extremes, band: Band | None, probe: Probe, t_ns: int
) -> Finding:
    """Judge the bath's temperature where it was farthest out.

    Parameters
    ----------
    context : Context
        Of the stage.
    extremes : Extremes
        Of the bath with pieces in, or of an empty one [degC].
    band : Band or None
        The target.
    probe : Probe
        The bath probe.
    t_ns : int
        End of the stage [ns].
    """
    worst = extremes.worst(band)
    nothing = Measured(from_ns=context.start_ns, to_ns=t_ns, channel=probe.channel)
    return finding(
        context, "set.bath_c", worst or nothing, band, why_missing=probe.why_missing("bath")
    )


def calcium_findings(
    context: Context, strength: float | None, demand: float | None, t_ns: int, why: str
) -> list[Finding]:
    """Judge the calcium that all coats want, and what is left of the bath.

    Parameters
    ----------
    context : Context
        Of the stage.
    strength : float or None
        Strength of the bath as a share of its start [1].
    demand : float or None
        Calcium that all coats bind, as a share of what the fresh bath held [1].
    t_ns : int
        End of the stage [ns].
    why : str
        Why they are unknown, if so.
    """
    wanted = left = Measured(from_ns=context.start_ns, to_ns=t_ns)
    if demand is not None:
        wanted = replace(wanted, value=100.0 * demand, u=U_DEMAND * 100.0 * demand)
    if strength is not None:
        left = replace(left, value=100.0 * strength, u=U_STRENGTH_PERCENT)
    return [
        finding(context, "set.calcium_wanted_percent", wanted, WANTED, why_missing=why),
        finding(context, "set.calcium_left_percent", left, REFRESH, why_missing=why),
    ]


def _ns(t_s: float | None) -> int | None:
    return None if t_s is None else round(t_s * 1e9)
