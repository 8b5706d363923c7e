"""What may have happened between two plateaus: who went in, who came out, whose hand it was.

Tells every way with its logarithmic weight and the pieces it leaves in the bath; `lattice` strings
the ways together.
"""

import math
from collections.abc import Iterator

from logger.watch.stages.set.immersion import likelihood as chances
from logger.watch.stages.set.immersion.likelihood import normal
from logger.watch.stages.set.immersion.overlaps import Pairs
from logger.watch.stages.set.immersion.steps import Step
from logger.watch.stages.set.immersion.transitions import (
    Deed,
    Held,
    State,
    Way,
    with_piece,
    without_piece,
)

AGAINST_WORD = 25.0
UNLIKE_G, UNLIKE_SHARE = 1.5, 0.3
"""A rise further than this from every registered mass fits none [g]; and how far off, as a share of
the usual mass, a piece weighed wrongly may be."""
WAYS_WITHIN = 11.0  # ways less likely than the best one from the same state by more are not told
PAIRS_A_WAY = 20
"""So many pairs of pieces are looked at in the time of a way."""


class Teller(Pairs):
    """Tells what may have happened between two plateaus in a given state."""

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
            yield weight + chances.IN, (deed,), with_piece(state, piece)
        for weight, deed in self._outs(step, held, seen):
            yield weight + chances.OUT, (deed,), without_piece(state, deed)
        yield from self.two_at_once(step, state)
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
        for piece, chance in self._unlike_any(step.net_g, seen):
            held = Held(piece, edge, step.net_g, step.u_g)
            yield chance + rise, Deed("in", piece, edge, -1), held

    def _unlike_any(self, net_g: float, seen: frozenset[int]) -> Iterator[tuple[int, float]]:
        """A rise that fits no registered piece may still be one: weighed wrongly, or one more."""
        left = self._unseen(seen)
        buoyant, reach_g = self.known.buoyant, UNLIKE_SHARE * self.known.piece_g
        off = [abs(net_g - (mass or 0.0) * buoyant) for _, mass in left]
        if not self.registered or any(g <= UNLIKE_G for g in off):
            return
        for (piece, _), off_g in zip(left, off, strict=True):
            if off_g <= reach_g:
                even = -math.log(2.0 * reach_g)
                yield piece, chances.WEIGHED_WRONGLY + even + self._turn(piece, seen)
        if all(off_g > reach_g for off_g in off):
            further = max((*self.given.masses_g, *seen)) + 1
            yield further, chances.BEYOND_COUNT + chances.of_piece_mass(net_g, self.known)

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
