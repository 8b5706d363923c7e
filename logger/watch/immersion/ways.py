"""What may have happened between two plateaus: who went in, who came out, whose hand it was.

Tells every way with its logarithmic weight and the pieces it leaves in the bath; `lattice` strings
the ways together.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import NamedTuple

from logger.watch.immersion import chances
from logger.watch.immersion.chances import Knowledge, normal
from logger.watch.immersion.plateaus import Plateau
from logger.watch.immersion.steps import Step

AGAINST_WORD = 25.0
WAYS_WITHIN = 11.0  # ways less likely than the best one from the same state by more are not told
PAIRS_A_WAY = 20
"""So many pairs of pieces are looked at in the time of a way."""


class Held(NamedTuple):
    """A piece in the bath.

    Its label, the place of the plateau whose edge it came in with, and by how much the level should
    fall when it leaves, drag apart [g].
    """

    piece: int
    edge: int
    mass_g: float
    u_g: float


class Deed(NamedTuple):
    """Something that happened: ``in``, ``out``, ``lift``, ``other``, ``touch`` or ``tare``."""

    what: str
    piece: int
    edge: int
    in_edge: int


State = tuple[tuple[Held, ...], frozenset[int]]
Way = tuple[float, tuple[Deed, ...], State]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What the operator and the sheet say.

    Attributes
    ----------
    masses_g : dict
        Registered mass by piece number; empty when none is known.
    pieces : int or None
        How many pieces there are, if known.
    outs : dict
        Piece that left with the edge of a plateau, by the plateau's place: said by the operator.
    ins : dict
        The same for pieces that went in.
    ended : bool
        No reading will follow.
    """

    masses_g: dict[int, float]
    pieces: int | None = None
    outs: dict[int, int] = field(default_factory=dict)
    ins: dict[int, int] = field(default_factory=dict)
    ended: bool = False


class Teller:
    """Tells what may have happened between two plateaus in a given state."""

    def __init__(self, plateaus: Sequence[Plateau], given: Given, known: Knowledge) -> None:
        self.plateaus = plateaus
        self.given = given
        self.known = known
        self.registered = bool(given.masses_g)
        self.work = 0
        """How many ways were looked at so far."""

    def ways(self, step: Step, state: State) -> Iterator[Way]:
        """Everything that explains a step, with its logarithmic weight and the state after it."""
        held, seen = state
        after = self.plateaus[step.after]
        if after.tared:
            yield 0.0, (Deed("tare", 0, step.after, -1),), state
            return
        skipped = (step.after - step.before - 1) * chances.PER_SKIPPED
        ways = [(w + skipped, deeds, new) for w, deeds, new in self._all_ways(step, held, seen)]
        self.work += 1 + len(ways) + len(held) ** 2 // PAIRS_A_WAY
        said = [
            place
            for place in range(step.before + 1, step.after + 1)
            if place in self.given.outs or place in self.given.ins
        ]
        agreeing = [way for way in ways if self._as_said(said, way[1])] if said else ways
        if agreeing:
            least = max(way[0] for way in agreeing) - WAYS_WITHIN
            yield from (way for way in agreeing if way[0] >= least)
        elif step.single:
            # What was said fits nothing on the scale: keep going, at a price.
            yield from ((weight - AGAINST_WORD, deeds, new) for weight, deeds, new in ways)

    def _as_said(self, said: list[int], deeds: tuple[Deed, ...]) -> bool:
        told = {(deed.what, deed.edge): deed.piece for deed in deeds}
        return all(
            (place not in self.given.outs or told.get(("out", place)) == self.given.outs[place])
            and (place not in self.given.ins or told.get(("in", place)) == self.given.ins[place])
            for place in said
        )

    def _all_ways(self, step: Step, held: tuple[Held, ...], seen: frozenset[int]) -> Iterator[Way]:
        state = (held, seen)
        if not step.single:
            yield from self._touched(step, state)
            yield from self._redipped(step, state)
            if not self._brief(step):
                return
        for weight, deed, piece in self._ins(step, seen):
            yield weight + chances.IN, (deed,), _with(state, piece)
        for weight, deed in self._outs(step, held, seen):
            yield weight + chances.OUT, (deed,), _without(state, deed)
        yield from self._two_at_once(step, state)
        yield from self._others(step, state)

    def _brief(self, step: Step) -> bool:
        between = self.plateaus[step.before + 1 : step.after]
        return all(p.t1_s - p.t0_s <= 8.0 for p in between)

    def _touched(self, step: Step, state: State) -> Iterator[Way]:
        if not self._brief(step):
            return
        lasted = step.to_s - step.from_s
        weight = normal(step.net_g, math.hypot(step.u_g, 0.4))
        weight += chances.TOUCH + chances.PER_TOUCHED_SECOND * lasted
        yield weight, (Deed("touch", 0, step.before + 1, -1),), state

    def _redipped(self, step: Step, state: State) -> Iterator[Way]:
        if step.after != step.before + 2:
            return
        lifted, dipped = step.ups_g
        if lifted >= 0 or dipped <= 0:
            return
        for piece in state[0]:
            known = self.known
            sd = math.hypot(piece.u_g, known.drag_sd_g, 1.0)
            weight = normal(-lifted - piece.mass_g - known.drag_g, sd)
            weight += normal(step.net_g + 0.5 * known.drag_g, math.hypot(step.u_g, 0.8))
            yield (
                weight + chances.REDIP,
                (Deed("lift", piece.piece, step.after, piece.edge),),
                state,
            )

    def _ins(self, step: Step, seen: frozenset[int]) -> Iterator[tuple[float, Deed, Held]]:
        if step.net_g <= 0:
            return
        edge = step.edge_like(step.net_g)
        rise = self._rise(edge, poured=False)
        for piece, expected_g in self._unseen(seen):
            if expected_g is None:
                chance = chances.of_piece_mass(step.net_g, self.known)
            else:
                chance = self._of_dip(step.net_g, step.u_g, expected_g)
            held = self._held(piece, edge, step.net_g, step.u_g)
            weight = chance + rise + self._turn(piece, seen)
            yield weight, Deed("in", piece, edge, -1), held

    def _outs(
        self, step: Step, held: tuple[Held, ...], seen: frozenset[int]
    ) -> Iterator[tuple[float, Deed]]:
        if step.net_g >= 0:
            return
        edge = step.edge_like(step.net_g)
        rise = self._rise(edge, poured=False)
        for piece in held:
            dwell_s = self.plateaus[edge].edge_s - self.plateaus[piece.edge].edge_s
            if piece.edge >= 0 and dwell_s < chances.SHORTEST_DWELL_S:
                continue
            off = -step.net_g - piece.mass_g - self.known.drag_g
            sd = math.hypot(step.u_g, piece.u_g, self.known.drag_sd_g)
            weight = rise + normal(off, sd)
            if piece.edge >= 0:
                weight += chances.of_dwell(dwell_s, self.known)
            yield weight, Deed("out", piece.piece, edge, piece.edge)
        for label, expected_g in self._unseen(seen):
            if expected_g is None:
                weight = chances.of_piece_mass(-step.net_g - self.known.drag_g, self.known)
            else:
                off = -step.net_g - expected_g * self.known.buoyant - self.known.drag_g
                weight = normal(off, math.hypot(step.u_g, self.known.drag_sd_g, 0.2))
            weight += rise + chances.WAS_IN_AT_START + self._turn(label, seen)
            yield weight, Deed("out", label, edge, -1)

    def _two_at_once(self, step: Step, state: State) -> Iterator[Way]:
        """A piece in and another out, or two of a kind, within one edge."""
        known = self.known
        held, seen = state
        labels = list(self._unseen(seen))
        price = chances.TWO_IN_A_GAP if self.plateaus[step.after].hidden else chances.TWO_AT_ONCE
        for label, expected_g in labels:
            in_g = known.piece_g if expected_g is None else expected_g * known.buoyant
            reach = 5 * (known.piece_g * known.piece_sd if expected_g is None else 1.6)
            for piece in held:
                if abs(step.net_g - in_g + piece.mass_g + known.drag_g) > reach:
                    continue
                way = self._swap(step, state, label, expected_g, piece)
                yield way[0] + price + self._turn(label, seen), way[1], way[2]
        net_g, drag_g = step.net_g, self.known.drag_g
        for one, two in combinations(held, 2) if _two_may_weigh(held, -net_g - 2 * drag_g) else ():
            if abs(net_g + one.mass_g + two.mass_g + 2 * drag_g) <= 8:
                way = self._two_out(step, state, one, two)
                yield way[0] + price, way[1], way[2]
        for one_in, two_in in combinations(labels, 2) if net_g > 0 and self.registered else ():
            if abs(net_g - self.known.buoyant * ((one_in[1] or 0) + (two_in[1] or 0))) <= 3:
                way = self._two_in(step, state, one_in, two_in)
                yield way[0] + price, way[1], way[2]

    def _swap(
        self, step: Step, state: State, label: int, expected_g: float | None, piece: Held
    ) -> Way:
        known = self.known
        if expected_g is None:
            in_g, in_sd = known.piece_g, known.piece_g * known.piece_sd
        else:
            in_g, in_sd = expected_g * known.buoyant, 0.4
        off = step.net_g - in_g + piece.mass_g + known.drag_g
        weight = normal(off, math.hypot(step.u_g, in_sd, piece.u_g, known.drag_sd_g))
        left_at, came_at = step.nearest_edge(-piece.mass_g), step.nearest_edge(in_g)
        weight += self._dwell_of(piece, left_at)
        lift = Deed("out", piece.piece, left_at, piece.edge)
        dip = Deed("in", label, came_at, -1)
        came_g = step.net_g + piece.mass_g + known.drag_g
        new = self._held(label, came_at, came_g, math.hypot(step.u_g, piece.u_g, known.drag_sd_g))
        return weight, (lift, dip), _with(_without(state, lift), new)

    def _two_out(self, step: Step, state: State, one: Held, two: Held) -> Way:
        known = self.known
        off = step.net_g + one.mass_g + two.mass_g + 2 * known.drag_g
        weight = normal(off, math.hypot(step.u_g, one.u_g, two.u_g, 1.4 * known.drag_sd_g))
        edges = [step.nearest_edge(-piece.mass_g - known.drag_g) for piece in (one, two)]
        weight += self._dwell_of(one, edges[0]) + self._dwell_of(two, edges[1])
        lifts = tuple(
            Deed("out", piece.piece, edge, piece.edge)
            for piece, edge in zip((one, two), edges, strict=True)
        )
        return weight, lifts, _without(_without(state, lifts[0]), lifts[1])

    def _two_in(
        self,
        step: Step,
        state: State,
        one: tuple[int, float | None],
        two: tuple[int, float | None],
    ) -> Way:
        masses = [(mass or 0.0) * self.known.buoyant for _, mass in (one, two)]
        off = step.net_g - sum(masses)
        weight = normal(off, math.hypot(step.u_g, 0.5))
        dips = []
        for (label, _), mass_g in zip((one, two), masses, strict=True):
            edge = step.nearest_edge(mass_g)
            dips.append(Deed("in", label, edge, -1))
            state = _with(state, self._held(label, edge, mass_g, 0.5))
        return weight, tuple(dips), state

    def _others(self, step: Step, state: State) -> Iterator[Way]:
        after = self.plateaus[step.after]
        edge = step.edge_like(step.net_g)
        weight = chances.OTHER - math.log(chances.OTHER_RANGE_G)
        if abs(step.net_g) > chances.OTHER_RANGE_G:
            weight -= 2.0
        weight += self._rise(edge, poured=True)
        yield weight, (Deed("other", 0, step.after, -1),), state
        if step.single and abs(after.early_g) <= 0.6 and abs(step.net_g) > 3:
            quick = 0.0 if self.plateaus[edge].rise_s < 0.35 else -6.0
            yield chances.TARE + quick, (Deed("tare", 0, step.after, -1),), state

    def _unseen(self, seen: frozenset[int]) -> list[tuple[int, float | None]]:
        if not self.registered:
            return [(len(seen) + 1, None)]
        return [(k, mass) for k, mass in self.given.masses_g.items() if k not in seen]

    def _turn(self, piece: int, seen: frozenset[int]) -> float:
        """Chance that it is this piece's turn: people mostly go along the tray."""
        if self.registered:
            unseen = len(self.given.masses_g) - len(seen)
            turn = next_in_turn(self.given.masses_g, seen)
            any_other = (1 - self.known.in_order) / unseen
            return math.log(any_other + (self.known.in_order / len(turn) if piece in turn else 0))
        if self.given.pieces is None or len(seen) < self.given.pieces:
            return 0.0
        return chances.BEYOND_COUNT

    def _dwell_of(self, piece: Held, edge: int) -> float:
        if piece.edge < 0:
            return 0.0
        dwell_s = self.plateaus[edge].edge_s - self.plateaus[piece.edge].edge_s
        if dwell_s < chances.SHORTEST_DWELL_S:
            return -1e3
        return chances.of_dwell(dwell_s, self.known)

    def _of_dip(self, net_g: float, u_g: float, mass_g: float) -> float:
        sd = math.hypot(u_g, self.known.dip_sd_g)
        as_learned = math.log(0.97) + normal(net_g - mass_g * self.known.buoyant, sd)
        released = math.log(0.03) + normal(net_g - mass_g, sd)
        return max(as_learned, released)

    def _held(self, piece: int, edge: int, net_g: float, u_g: float) -> Held:
        """The piece as it lies in the bath after a dip that read `net_g`."""
        registered = self.given.masses_g.get(piece)
        if registered is None:
            return Held(piece, edge, max(1.0, net_g), u_g)
        expected = registered * self.known.buoyant
        if abs(net_g - expected) > 3.0:
            return Held(piece, edge, expected, 0.4)
        seen, told = u_g**-2, 0.3**-2
        return Held(piece, edge, (net_g * seen + expected * told) / (seen + told), 0.3)

    def _rise(self, place: int, *, poured: bool) -> float:
        plateau = self.plateaus[place]
        return (
            0.0
            if plateau.hidden
            else chances.of_rise(plateau.rise_s, plateau.span_s, poured=poured)
        )


def next_in_turn(pieces: Iterable[int], seen: Collection[int]) -> set[int]:
    """Numbers whose turn it is along the tray: the lowest left, and the next after the highest."""
    left = [piece for piece in pieces if piece not in seen]
    above = [piece for piece in left if piece > max(seen, default=0)]
    return {min(left), min(above, default=min(left))}


def _two_may_weigh(held: tuple[Held, ...], both_g: float) -> bool:
    """Whether any two pieces can weigh so much together, to 8 g: mostly a glance rules it out."""
    if both_g <= 0 or len(held) < 2:
        return False
    masses = sorted(piece.mass_g for piece in held)
    return masses[0] + masses[1] - 8 <= both_g <= masses[-1] + masses[-2] + 8


def _with(state: State, piece: Held) -> State:
    held, seen = state
    return tuple(sorted((*held, piece))), seen | {piece.piece}


def _without(state: State, deed: Deed) -> State:
    held, seen = state
    return tuple(piece for piece in held if piece.piece != deed.piece), seen | {deed.piece}
