"""The table of a bath: piece, in, out, dwell, how probable it is, and what else it may be.

Runs the trellis by turns with the estimation of its parameters, and turns the posterior into rows.
The posterior is worked out twice: by masses alone, and with the planned or usual dwell. A prior
must never hide an early pull-out, so where the two disagree the row is ambiguous and lists the
candidates. Pure; used by `detector`.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from itertools import pairwise
from operator import attrgetter

from logger.watch.stages.set.immersion.assignment import (
    Row,
    assigned_rows,
    in_probability,
    out_probabilities,
)
from logger.watch.stages.set.immersion.ends import (
    End,
    as_heavy,
    dwell_between_s,
    ends_of,
    may_last_s,
    odd_masses,
    widened,
)
from logger.watch.stages.set.immersion.estimation import (
    initial_parameters,
    updated_parameters,
    with_usual_dwell,
)
from logger.watch.stages.set.immersion.likelihood import ModelParameters
from logger.watch.stages.set.immersion.states import BathEvent, SideInformation, edge_change_g
from logger.watch.stages.set.immersion.trellis import Posterior, forward_backward
from logger.watch.stages.set.rows import BathTable, Candidate, HiddenRise, Immersion, OtherChange
from logger.watch.stages.set.segment import Segment

SURE_ENOUGH = 0.75
"""Probability below which a row is ambiguous."""
MASSES_AT_LEAST = 0.3
"""Probability by masses alone below which a row is ambiguous."""
ODD_FROM = 0.3
"""An unusual dwell that has this probability by masses alone makes the row ambiguous."""
LISTED_FROM, LISTED_BY_MASSES_FROM = 0.02, 0.1
"""Probabilities from which on a dwell is listed as a candidate: with the usual dwell, without."""
OPEN_FROM = 0.1
"""Probability of no listed dwell from which on the row may be no piece, or be still in."""
DOUBTED, APART_S = 0.89, 2.0
"""Confidence of a row at most, where another reading of it is plausible whose dwell is so far from
its own [s]."""

TABLES_KEPT = 128
"""So many tables are kept; the same levels are asked about again after an undo [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Posteriors:
    """By masses alone and with the usual dwell, and the dwells that count as usual [s]."""

    by_masses: Posterior
    with_dwell: Posterior
    usual_s: tuple[float, float] | None
    parameters: ModelParameters
    """Estimated by masses alone."""


def build_table(
    segments: Sequence[Segment], given: SideInformation, planned_s: tuple[float, float] | None
) -> BathTable:
    """Return the immersions that explain the segments.

    Parameters
    ----------
    segments : sequence of Segment
        All so far, the one under way included.
    given : SideInformation
        Registered masses, count, what the operator confirmed.
    planned_s : tuple of float or None
        Shortest and longest planned dwell [s].
    """
    if len(segments) < 2:
        return BathTable()
    return _worked_out(_Question(segments, given, planned_s))


class _Question:
    """What a table is worked out from, equal to another of the same content."""

    def __init__(
        self,
        segments: Sequence[Segment],
        given: SideInformation,
        planned_s: tuple[float, float] | None,
    ) -> None:
        self.segments = tuple(replace(segment) for segment in segments)
        self.given = replace(
            given,
            masses_g=dict(given.masses_g),
            out_labels=dict(given.out_labels),
            in_labels=dict(given.in_labels),
        )
        self.planned_s = planned_s
        labels = (given.masses_g, given.out_labels, given.in_labels)
        # In their own order, not sorted: of equal explanations the first is taken.
        said = (
            *(given.pieces, given.usual_g, given.ended, given.answers),
            *(tuple(each.items()) for each in labels),
        )
        self._key = (tuple(_fields_of(segment) for segment in segments), said, planned_s)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Question) and self._key == other._key

    def __hash__(self) -> int:
        return hash(self._key)


_fields_of = attrgetter(*(field.name for field in fields(Segment)))


@lru_cache(maxsize=TABLES_KEPT)
def _worked_out(question: _Question) -> BathTable:
    """Return the table; a replay after an undo asks the same again, and so does a second reader."""
    segments, given = question.segments, question.given
    found = _posteriors(segments, given, question.planned_s)
    rows = assigned_rows(found.with_dwell, given)
    path = found.with_dwell.path
    others = [event.edge for event in path if event.kind == "other"]
    ends = ends_of(rows, segments, others)
    return BathTable(
        immersions=tuple(
            _immersion(number, row, rows, segments, found, ends, given, others)
            for number, row in enumerate(rows, start=1)
        ),
        hidden=_hidden_rises(segments, found.with_dwell),
        silences_s=tuple((a.end_s, b.start_s) for a, b in pairwise(segments) if b.hides),
        others=tuple(
            OtherChange(
                t_s=segments[event.edge].edge_s, change_g=edge_change_g(segments, event.edge)
            )
            for event in path
            if event.kind == "other"
        ),
        drag_g=found.parameters.drag_g,
    )


def _posteriors(
    segments: Sequence[Segment], given: SideInformation, planned_s: tuple[float, float] | None
) -> _Posteriors:
    """Estimate the parameters twice by masses alone, then add the planned or usual dwell."""
    initial = initial_parameters(segments, given, planned_s)
    parameters = initial.without_dwell()
    by_masses = forward_backward(segments, given, parameters)
    parameters = updated_parameters(segments, given, parameters, by_masses)
    if parameters != initial.without_dwell():
        by_masses = forward_backward(segments, given, parameters)
        parameters = updated_parameters(segments, given, parameters, by_masses)
    usual = replace(parameters, dwell_s=initial.dwell_s, dwell_sd_s=initial.dwell_sd_s)
    with_dwell = by_masses
    if usual.dwell_s is not None:
        with_dwell = forward_backward(segments, given, usual)
    planned, usual = usual, with_usual_dwell(segments, usual, with_dwell)
    if usual != planned:
        with_dwell = forward_backward(segments, given, usual)
    usual_s = planned_s
    if usual_s is None and usual.dwell_s is not None:
        usual_s = (usual.dwell_s - 3 * usual.dwell_sd_s, usual.dwell_s + 3 * usual.dwell_sd_s)
    return _Posteriors(
        by_masses=by_masses, with_dwell=with_dwell, usual_s=usual_s, parameters=parameters
    )


def _immersion(
    number: int,
    row: Row,
    rows: Sequence[Row],
    segments: Sequence[Segment],
    found: _Posteriors,
    ends: dict[int, End],
    given: SideInformation,
    others: Collection[int],
) -> Immersion:
    registered = bool(given.masses_g)
    came, left = ends.get(row.in_edge), ends.get(row.out_edge)
    outs = out_probabilities(row, found.with_dwell, registered=registered)
    outs_by_masses = out_probabilities(row, found.by_masses, registered=registered)
    if left is not None:
        confidence = outs.get((row.in_edge, row.out_edge), 0.0)
        agreed = _agreed(row, segments, outs_by_masses, found.usual_s)
    else:
        went_in = in_probability(row, rows, found.with_dwell, registered=registered)
        by_masses = in_probability(row, rows, found.by_masses, registered=registered)
        confidence = max(0.0, went_in - sum(outs.values()))
        agreed = by_masses - sum(outs_by_masses.values()) >= MASSES_AT_LEAST
    leaves = BathEvent("out", row.piece, row.out_edge, row.in_edge)
    answers = [one.edges for one in given.answers if one.yes and one.names(leaves)]
    said = row.out_edge in given.out_labels or any(len(edges) == 1 for edges in answers)
    for edges in answers:
        outs, outs_by_masses = _at(outs, edges), _at(outs_by_masses, edges)
    if not registered:  # of pieces alike that share an edge it does not matter which is which
        taken = _taken(row, rows)
        outs, outs_by_masses = _without(outs, taken), _without(outs_by_masses, taken)
    readings = _plausible(row, {} if said else outs, {} if said else outs_by_masses)
    unlisted = 0.0 if said else 1.0 - sum(outs.get(pair, 0.0) for pair in readings)
    lasts_s = None
    between_s = dwell_between_s(came, left)
    if left is not None:
        readings += [] if said else as_heavy(row, segments, ends, others)
        ins = [came_at for came_at, left_at in readings if left_at == row.out_edge]
        outs_near = [left_at for came_at, left_at in readings if came_at == row.in_edge]
        came = None if came is None else widened(came, ins, segments)
        left = widened(left, outs_near, segments)
        known = unlisted < OPEN_FROM and (said or not odd_masses(came, left))
        lasts_s = may_last_s(segments, ends, readings, ends_known=known)
        between_s = dwell_between_s(came, left)
        if between_s is not None and known and (_shared(came) or _shared(left)):
            # No mass says which of them it was: the interval holds what else it may be, too.
            between_s = min(between_s[0], lasts_s[0]), max(between_s[1], lasts_s[1])
        if lasts_s[1] - lasts_s[0] > APART_S + _width_s(came, left):
            confidence, agreed = min(DOUBTED, confidence), False
        if _shared(came) or _shared(left):
            confidence = min(DOUBTED, confidence)
    in_s = came.at_s if came is not None else None
    out_s = left.at_s if left is not None else None
    return Immersion(
        number=number,
        piece=row.piece,
        in_s=in_s,
        out_s=out_s,
        dwell_s=None if in_s is None or out_s is None else out_s - in_s,
        mass_in_g=came.change_g if came is not None else None,
        mass_out_g=-left.change_g if left is not None and left.change_g is not None else None,
        confidence=min(1.0, confidence),
        ambiguous=not agreed or confidence < SURE_ENOUGH,
        candidates=_candidates(row, segments, outs, readings),
        at_start=row.in_edge < 0,
        in_between_s=came.between_s if came is not None else None,
        out_between_s=left.between_s if left is not None else None,
        dwell_between_s=between_s,
        may_last_s=lasts_s,
        lifted_s=tuple(segments[edge].edge_s for edge in row.lift_edges),
    )


def _taken(row: Row, rows: Sequence[Row]) -> set[tuple[int, int]]:
    """Return the edges in and out of other rows that went in at the same edge."""
    others = [other for other in rows if other is not row and other.in_edge == row.in_edge >= 1]
    return {(o.in_edge, o.out_edge) for o in others} - {(row.in_edge, row.out_edge)}


def _at(outs: dict[tuple[int, int], float], edges: Collection[int]) -> dict[tuple[int, int], float]:
    return {pair: probability for pair, probability in outs.items() if pair[1] in edges}


def _without(
    outs: dict[tuple[int, int], float], taken: Collection[tuple[int, int]]
) -> dict[tuple[int, int], float]:
    return {pair: probability for pair, probability in outs.items() if pair not in taken}


def _shared(end: End | None) -> bool:
    """Return whether a gap hides an end with those of other pieces: no mass says which it was."""
    return end is not None and end.at_s is None and end.change_g is None


def _width_s(came: End | None, left: End) -> float:
    """Return how much longer than its shortest a dwell may be by its ends alone [s]."""
    ends = [left] if came is None else [came, left]
    return sum(end.span_s[1] - end.span_s[0] for end in ends)


def _hidden_rises(segments: Sequence[Segment], posterior: Posterior) -> tuple[HiddenRise, ...]:
    return tuple(
        HiddenRise(
            from_s=segments[event.edge - 1].end_s,
            to_s=segments[event.edge].start_s,
            rise_g=edge_change_g(segments, event.edge),
        )
        for event in posterior.path
        if event.kind == "other" and segments[event.edge].hides
    )


def _agreed(
    row: Row,
    segments: Sequence[Segment],
    outs_by_masses: dict[tuple[int, int], float],
    usual_s: tuple[float, float] | None,
) -> bool:
    """Return whether masses alone say the same, and allow no unusual dwell that the plan hides."""
    chosen = (row.in_edge, row.out_edge)
    likeliest = max(outs_by_masses, key=lambda pair: outs_by_masses[pair], default=(-1, -1))
    if likeliest != chosen or outs_by_masses[chosen] < MASSES_AT_LEAST:
        return False
    if usual_s is None:
        return True
    return not any(
        pair != chosen
        and probability >= ODD_FROM
        and pair[0] >= 1
        and not usual_s[0] <= segments[pair[1]].edge_s - segments[pair[0]].edge_s <= usual_s[1]
        for pair, probability in outs_by_masses.items()
    )


def _plausible(
    row: Row,
    outs: dict[tuple[int, int], float],
    outs_by_masses: dict[tuple[int, int], float],
) -> list[tuple[int, int]]:
    """Return the edges in and out of every plausible reading of a row, its own first."""
    chosen = (row.in_edge, row.out_edge)
    found = {chosen: None} if row.out_edge >= 1 else {}
    found |= {pair: None for pair, p in outs.items() if p >= LISTED_FROM}
    found |= {pair: None for pair, p in outs_by_masses.items() if p >= LISTED_BY_MASSES_FROM}
    return list(found)


def _candidates(
    row: Row,
    segments: Sequence[Segment],
    outs: dict[tuple[int, int], float],
    readings: Sequence[tuple[int, int]],
) -> tuple[Candidate, ...]:
    """Return what else a row may be, most probable first."""
    chosen = (row.in_edge, row.out_edge)
    others = {pair: outs.get(pair, 0.0) for pair in readings if pair != chosen}
    listed = [
        Candidate(
            piece=row.piece,
            out_s=segments[out_edge].edge_s,
            dwell_s=segments[out_edge].edge_s - segments[in_edge].edge_s,
            probability=probability,
        )
        for (in_edge, out_edge), probability in others.items()
        if in_edge >= 1
    ]
    return tuple(sorted(listed, key=lambda candidate: -candidate.probability))
