"""Two pieces within one edge: one in as another comes out, or two of a kind.

The part of `ways` that looks at pairs, on the ground that all ways stand on: whose turn it is, how
a piece lies in the bath, how long an edge may take.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from logger.watch.stages.set.immersion import likelihood as chances
from logger.watch.stages.set.immersion.likelihood import Knowledge, normal
from logger.watch.stages.set.immersion.segmentation import Plateau
from logger.watch.stages.set.immersion.steps import Step
from logger.watch.stages.set.immersion.transitions import (
    Deed,
    Given,
    Held,
    State,
    Way,
    next_in_turn,
    with_piece,
    without_piece,
)


class Ground:
    """What every way stands on.

    Parameters
    ----------
    plateaus : sequence of Plateau
        All so far.
    given, known : Given, Knowledge
        What was said, what was learned.
    """

    def __init__(self, plateaus: Sequence[Plateau], given: Given, known: Knowledge) -> None:
        self.plateaus = plateaus
        self.given = given
        self.known = known
        self.registered = bool(given.masses_g)
        self.work = 0
        """How many ways were looked at so far."""

    def _unseen(self, seen: frozenset[int]) -> list[tuple[int, float | None]]:
        if not self.registered:
            return [(len(seen) + 1, None)]
        return [(k, mass) for k, mass in self.given.masses_g.items() if k not in seen]

    def _turn(self, piece: int, seen: frozenset[int]) -> float:
        """Chance that it is this piece's turn: people mostly go along the tray."""
        if self.registered:
            unseen = sum(k not in seen for k in self.given.masses_g)
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


class Pairs(Ground):
    """Tells what two pieces may have done within one edge."""

    def two_at_once(self, step: Step, state: State) -> Iterator[Way]:
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
        return weight, (lift, dip), with_piece(without_piece(state, lift), new)

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
        return weight, lifts, without_piece(without_piece(state, lifts[0]), lifts[1])

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
            state = with_piece(state, self._held(label, edge, mass_g, 0.5))
        return weight, tuple(dips), state


def _two_may_weigh(held: tuple[Held, ...], both_g: float) -> bool:
    """Whether any two pieces can weigh so much together, to 8 g: mostly a glance rules it out."""
    if both_g <= 0 or len(held) < 2:
        return False
    masses = sorted(piece.mass_g for piece in held)
    return masses[0] + masses[1] - 8 <= both_g <= masses[-1] + masses[-2] + 8
