"""Turns the stories of a bath into rows: piece, in, out, dwell, how sure, and what else it may be.

The stories are told twice: by masses alone, and with the planned or usual dwell. A prior must never
hide an early pull-out, so where the two disagree the row says *ambiguous* and lists the candidates.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.watch.stages.set.immersion.learn import first_knowledge, learned, with_usual_dwell
from logger.watch.stages.set.immersion.rows import Row, in_chance, joined_rows, outs_of
from logger.watch.stages.set.immersion.segmentation import Plateau
from logger.watch.stages.set.immersion.transitions import Given
from logger.watch.stages.set.immersion.trellis import Stories, weigh

SURE_ENOUGH = 0.75
MASS_ALONE_AT_LEAST = 0.3
ODD_FROM = 0.3
LISTED_FROM = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """Another way a row may read: dwell [s], out [s], and its chance."""

    piece: int
    out_s: float
    dwell_s: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Immersion:
    """One piece in the bath.

    Attributes
    ----------
    number : int
        Row, in order of going in.
    piece : int
        Piece number; without registered masses pieces are numbered as they go in.
    in_s, out_s, dwell_s : float or None
        Times [s]. ``in_s`` is None when the piece lay in the bath before the first reading or went
        in during a gap, ``out_s`` while it lies in it or when it left during a gap.
    in_between_s, out_between_s : tuple or None
        Where a gap hides the moment: the interval.
    dwell_between_s : tuple or None
        The dwell as an interval when either end is one.
    mass_in_g, mass_out_g : float or None
        Steps of the scale, both positive [g].
    confidence : float
        Chance of this row over all stories, 0 to 1.
    ambiguous : bool
        It cannot be told: look at the candidates, or tap to say which.
    candidates : tuple of Candidate
        Other readings of the row.
    at_start : bool
        It lay in the bath when recording began.
    lifted_s : tuple of float
        When it was lifted and dipped again [s].
    by_hand : bool
        Told by the operator, not by the scale.
    """

    number: int
    piece: int
    in_s: float | None
    out_s: float | None
    dwell_s: float | None
    mass_in_g: float | None = None
    mass_out_g: float | None = None
    confidence: float = 1.0
    ambiguous: bool = False
    candidates: tuple[Candidate, ...] = ()
    at_start: bool = False
    in_between_s: tuple[float, float] | None = None
    out_between_s: tuple[float, float] | None = None
    dwell_between_s: tuple[float, float] | None = None
    lifted_s: tuple[float, ...] = ()
    by_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """A lasting change of level that no piece explains: poured in, ladled out, an object [g]."""

    t_s: float
    change_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BathTable:
    """All immersions so far and the other lasting changes."""

    immersions: tuple[Immersion, ...] = ()
    others: tuple[Other, ...] = ()
    drag_g: float | None = None
    """Liquid that leaves with a piece, as learned from this run [g]."""


def build_table(
    plateaus: Sequence[Plateau], given: Given, planned_s: tuple[float, float] | None
) -> BathTable:
    """Explain the plateaus.

    Parameters
    ----------
    plateaus : sequence of Plateau
        All so far, the one under way included.
    given : Given
        Registered masses, count, what was confirmed.
    planned_s : tuple of float or None
        Lowest and highest planned dwell [s].
    """
    if len(plateaus) < 2:
        return BathTable()
    known = first_knowledge(plateaus, given, planned_s)
    blind = known.without_dwell()
    alone = weigh(plateaus, given, blind)
    blind = learned(plateaus, given, blind, alone)
    alone = weigh(plateaus, given, blind)
    blind = learned(plateaus, given, blind, alone)
    usual = replace(blind, dwell_s=known.dwell_s, dwell_sd_s=known.dwell_sd_s)
    both = alone if usual.dwell_s is None else weigh(plateaus, given, usual)
    usual = with_usual_dwell(plateaus, usual, both)
    if usual.dwell_s is not None:
        both = weigh(plateaus, given, usual)
    usual_s = planned_s
    if usual_s is None and usual.dwell_s is not None:
        usual_s = (usual.dwell_s - 3 * usual.dwell_sd_s, usual.dwell_s + 3 * usual.dwell_sd_s)
    rows = joined_rows(both, given)
    return BathTable(
        immersions=tuple(
            _immersion(number, row, plateaus, bool(given.masses_g), alone, both, usual_s)
            for number, row in enumerate(rows, start=1)
        ),
        others=tuple(
            Other(
                t_s=plateaus[deed.edge].edge_s,
                change_g=plateaus[deed.edge].in_g - plateaus[deed.edge - 1].out_g,
            )
            for deed in both.deeds
            if deed.what == "other"
        ),
        drag_g=blind.drag_g,
    )


def _immersion(
    number: int,
    row: Row,
    plateaus: Sequence[Plateau],
    registered: bool,
    alone: Stories,
    both: Stories,
    usual_s: tuple[float, float] | None,
) -> Immersion:
    came = plateaus[row.in_edge] if row.in_edge >= 1 else None
    left = plateaus[row.out_edge] if row.out_edge >= 1 else None
    outs, outs_alone = outs_of(row, registered, both), outs_of(row, registered, alone)
    went_in = in_chance(row, registered, both)
    if left is not None:
        confidence = outs.get((row.in_edge, row.out_edge), 0.0)
        agreed = _agreed(row, plateaus, outs_alone, usual_s)
    else:
        confidence = max(0.0, went_in - sum(outs.values()))
        by_mass = in_chance(row, registered, alone) - sum(outs_alone.values())
        agreed = by_mass >= MASS_ALONE_AT_LEAST
    confidence = min(1.0, confidence)
    others = {
        pair: chance
        for pair, chance in outs.items()
        if pair != (row.in_edge, row.out_edge) and chance >= LISTED_FROM
    }
    for pair, chance in outs_alone.items():
        if pair != (row.in_edge, row.out_edge) and chance >= 0.1:
            others.setdefault(pair, outs.get(pair, 0.0))
    in_s = came.edge_s if came is not None and not came.hidden else None
    out_s = left.edge_s if left is not None and not left.hidden else None
    return Immersion(
        number=number,
        piece=row.piece,
        in_s=in_s,
        out_s=out_s,
        dwell_s=None if in_s is None or out_s is None else out_s - in_s,
        mass_in_g=None if came is None else came.in_g - plateaus[row.in_edge - 1].out_g,
        mass_out_g=None if left is None else plateaus[row.out_edge - 1].out_g - left.in_g,
        confidence=confidence,
        ambiguous=not agreed or confidence < SURE_ENOUGH,
        candidates=_candidates(row, plateaus, others),
        at_start=row.in_edge < 0,
        in_between_s=_between(came),
        out_between_s=_between(left),
        dwell_between_s=_dwell_between(came, left),
        lifted_s=tuple(plateaus[place].edge_s for place in row.lifts),
    )


def _agreed(
    row: Row,
    plateaus: Sequence[Plateau],
    outs_alone: dict[tuple[int, int], float],
    usual_s: tuple[float, float] | None,
) -> bool:
    """Whether masses alone say the same, and no odd dwell that they allow is hidden by the plan."""
    chosen = (row.in_edge, row.out_edge)
    favourite = max(outs_alone, key=lambda pair: outs_alone[pair], default=(-1, -1))
    if favourite != chosen or outs_alone[chosen] < MASS_ALONE_AT_LEAST:
        return False
    if usual_s is None:
        return True
    return not any(
        pair != chosen
        and chance >= ODD_FROM
        and pair[0] >= 1
        and not usual_s[0] <= plateaus[pair[1]].edge_s - plateaus[pair[0]].edge_s <= usual_s[1]
        for pair, chance in outs_alone.items()
    )


def _candidates(
    row: Row, plateaus: Sequence[Plateau], others: dict[tuple[int, int], float]
) -> tuple[Candidate, ...]:
    listed = [
        Candidate(
            piece=row.piece,
            out_s=plateaus[left].edge_s,
            dwell_s=plateaus[left].edge_s - plateaus[came].edge_s,
            chance=chance,
        )
        for (came, left), chance in others.items()
        if came >= 1
    ]
    return tuple(sorted(listed, key=lambda candidate: -candidate.chance))


def _between(plateau: Plateau | None) -> tuple[float, float] | None:
    if plateau is None or not plateau.hidden:
        return None
    return plateau.edge_from_s, plateau.edge_to_s


def _dwell_between(came: Plateau | None, left: Plateau | None) -> tuple[float, float] | None:
    if came is None or left is None or not (came.hidden or left.hidden):
        return None
    in_from, in_to = _between(came) or (came.edge_s, came.edge_s)
    out_from, out_to = _between(left) or (left.edge_s, left.edge_s)
    return max(0.0, out_from - in_to), out_to - in_from
