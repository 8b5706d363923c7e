"""Parts of which log-weights are made: who comes next, its mass, its dwell, its rise.

What the sheet, the operator and the segments say, put to `likelihood`; used by `hypotheses` and
`hidden`. Changes nothing but its own memory of what it has worked out.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from logger.watch.stages.set.immersion import likelihood
from logger.watch.stages.set.immersion.likelihood import ModelParameters, change_log_likelihood
from logger.watch.stages.set.immersion.stairs import HELD_S, LEAST_MOVE_G
from logger.watch.stages.set.immersion.states import (
    HeldPiece,
    LevelChange,
    SideInformation,
    next_in_turn,
)
from logger.watch.stages.set.segment import Segment

U_REGISTERED_G = 0.4
"""Standard uncertainty of a registered mass as a step of the scale [g]; rough, no source."""
UNLIKE_G, UNLIKE_SHARE = 1.5, 0.3
"""A rise further than this from every registered mass fits none [g]; and how far off, as a share of
the usual mass, a piece weighed wrongly may be."""

Unseen = tuple[int, float | None]
"""Number of a piece not seen yet, and its registered mass [g] or None."""

SEEN_SHARE = 0.5
"""An act of two at edges of their own changes the level there by so much of its mass at least."""
ALIKE_LOG_SD = 0.25
"""Two that nobody weighed go in at once only where the usual mass is known as well as this: scatter
of its logarithm at most [1]."""
MOST_AT_ONCE = 3
"""Pieces that two hands put in at once, at most [1]."""
GATE_TWO_IN_G, GATE_TWO_IN_SD = 3.0, 3.0
"""Two pieces at once are looked at only where their masses fit the change to this [g], or to so
many standard deviations where nobody weighed them."""
GATE_TWO_OUT_G = 8.0
"""Two pieces that go out together may weigh so much else than the change [g]."""


class Weights:
    """Works out the parts of log-weights, and remembers them.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    given : SideInformation
        What the operator and the sheet say.
    parameters : ModelParameters
        Of the likelihoods.
    """

    def __init__(
        self, segments: Sequence[Segment], given: SideInformation, parameters: ModelParameters
    ) -> None:
        self.segments = segments
        self.given = given
        self.parameters = parameters
        self.registered = bool(given.masses_g)
        self._known_unseen: dict[frozenset[int], list[Unseen]] = {}
        self._known_turns: dict[tuple[int, frozenset[int]], float] = {}

    def unseen(self, seen: frozenset[int]) -> list[Unseen]:
        """Return the pieces that may come: all registered ones left, else the next number."""
        if not self.registered:
            most = self.given.pieces
            return [] if most is not None and len(seen) >= most else [(len(seen) + 1, None)]
        found = self._known_unseen.get(seen)
        if found is None:
            masses_g = self.given.masses_g.items()
            found = self._known_unseen[seen] = [(n, g) for n, g in masses_g if n not in seen]
        return found

    def groups(self, seen: frozenset[int], net_g: float) -> list[tuple[Unseen, ...]]:
        """Return the pieces that may go in at once with a rise, by what they weigh: two, or more.

        Parameters
        ----------
        seen : frozenset of int
            Pieces seen so far; of those that nobody weighed the next ones may come.
        net_g : float
            The rise [g].
        """
        every: list[tuple[Unseen, ...]] = []
        if self.registered:
            every = list(combinations(self.unseen(seen), 2))
        elif self.parameters.piece_log_sd <= ALIKE_LOG_SD:
            most = MOST_AT_ONCE if self.given.pieces is None else self.given.pieces - len(seen)
            numbers = range(len(seen) + 1, len(seen) + 1 + min(MOST_AT_ONCE, most))
            every = [tuple((n, None) for n in numbers[:count]) for count in (2, 3)]
        return [group for group in every if self._weigh(group, net_g)]

    def _weigh(self, group: tuple[Unseen, ...], net_g: float) -> bool:
        masses = [self.expected(mass_g) for _, mass_g in group]
        reach_g = max(GATE_TWO_IN_G, GATE_TWO_IN_SD * math.hypot(*(u_g for _, u_g in masses)))
        return abs(net_g - sum(mass_g for mass_g, _ in masses)) <= reach_g and len(group) > 1

    def expected(self, registered_g: float | None) -> tuple[float, float]:
        """Return the step of a piece, and by how much it scatters where nobody weighed it [g]."""
        parameters = self.parameters
        if registered_g is None:
            return parameters.piece_g, parameters.piece_g * parameters.piece_log_sd
        return registered_g * parameters.buoyancy, 0.0

    def turn_log_prior(self, piece: int, seen: frozenset[int]) -> float:
        """Return the log-prior that this piece comes next: people mostly go along the tray."""
        if self.registered:
            key = (piece, seen)
            if key not in self._known_turns:
                turn = next_in_turn(self.given.masses_g, seen)
                in_order = self.parameters.in_order
                any_other = (1 - in_order) / len(self.unseen(seen))
                share = any_other + (in_order / len(turn) if piece in turn else 0)
                self._known_turns[key] = math.log(share)
            return self._known_turns[key]
        return 0.0

    def turns_log_prior(self, pieces: tuple[int, ...], seen: frozenset[int]) -> float:
        """Return the log-prior that these pieces come next, in any order."""
        total, known = 0.0, set(seen)
        for piece in sorted(pieces):
            total += self.turn_log_prior(piece, frozenset(known))
            known.add(piece)
        return total

    def dwell(self, piece: HeldPiece, edge: int) -> float:
        """Return the log-likelihood ratio of the dwell of a piece that leaves at an edge."""
        if piece.edge < 0:
            return 0.0
        dwell_s = self.segments[edge].edge_s - self.segments[piece.edge].edge_s
        if dwell_s < likelihood.SHORTEST_DWELL_S:
            return -1e3
        return likelihood.dwell_log_likelihood_ratio(dwell_s, self.parameters)

    def dip_log_likelihood(self, net_g: float, u_g: float, registered_g: float) -> float:
        """Return the log-likelihood of a rise by a registered piece: as usual, or let go.

        Parameters
        ----------
        net_g, u_g : float
            Rise and its standard uncertainty [g].
        registered_g : float
            Mass of the piece [g].
        """
        sd_g = math.hypot(u_g, self.parameters.dip_sd_g)
        off_g = net_g - registered_g * self.parameters.buoyancy
        as_usual = math.log(0.97) + change_log_likelihood(off_g, sd_g)
        let_go = math.log(0.03) + change_log_likelihood(net_g - registered_g, sd_g)
        return max(as_usual, let_go)

    def unlike_any(self, net_g: float, seen: frozenset[int]) -> Iterator[tuple[int, float]]:
        """Yield pieces, with log-weights, of a rise [g] that fits no registered mass.

        It may still be a piece that was weighed wrongly.
        """
        left = self.unseen(seen)
        buoyancy, reach_g = self.parameters.buoyancy, UNLIKE_SHARE * self.parameters.piece_g
        off = [abs(net_g - (mass_g or 0.0) * buoyancy) for _, mass_g in left]
        if not self.registered or any(off_g <= UNLIKE_G for off_g in off):
            return
        for (piece, _), off_g in zip(left, off, strict=True):
            if off_g <= reach_g:
                uniform = -math.log(2.0 * reach_g)
                weight = likelihood.LOG_PRIOR_WEIGHED_WRONGLY + uniform
                yield piece, weight + self.turn_log_prior(piece, seen)

    def held(self, piece: int, edge: int, net_g: float, u_g: float) -> HeldPiece:
        """Return a piece as it is in the bath, its mass fused from scale and registration.

        Parameters
        ----------
        piece : int
            Its number.
        edge : int
            Where it went in.
        net_g, u_g : float
            Step of the scale and its standard uncertainty [g].
        """
        registered_g = self.given.masses_g.get(piece)
        if registered_g is None:
            return HeldPiece(piece, edge, max(1.0, net_g), u_g)
        expected_g = registered_g * self.parameters.buoyancy
        if abs(net_g - expected_g) > 3.0:
            return HeldPiece(piece, edge, expected_g, U_REGISTERED_G)
        by_scale, by_mass = u_g**-2, 0.3**-2
        fused_g = (net_g * by_scale + expected_g * by_mass) / (by_scale + by_mass)
        return HeldPiece(piece, edge, fused_g, 0.3)

    def rise(self, edge: int, *, poured: bool) -> float:
        """Return the log-likelihood of an edge's rise time, by a piece or poured."""
        segment = self.segments[edge]
        if segment.in_gap:
            return 0.0
        fell = segment.start_g < self.segments[edge - 1].end_g
        return likelihood.rise_log_likelihood(
            segment.rise_s,
            segment.span_s,
            poured=poured,
            slower_s=0.0 if fell else self.parameters.slower_s,
        )


def two_may_weigh(held: tuple[HeldPiece, ...], both_g: float) -> bool:
    """Return whether two pieces can weigh so much together [g]: mostly a glance rules it out."""
    if both_g <= 0 or len(held) < 2:
        return False
    masses = sorted(piece.mass_g for piece in held)
    least_g, most_g = masses[0] + masses[1], masses[-1] + masses[-2]
    return least_g - GATE_TWO_OUT_G <= both_g <= most_g + GATE_TWO_OUT_G


def seen_both(change: LevelChange, *acts: tuple[int, float]) -> bool:
    """Return whether two acts at edges of their own were seen there: not where both are a touch.

    Parameters
    ----------
    change : LevelChange
        With the edges.
    acts : tuple
        Edge of each and by how much it changes the level [g].
    """
    if acts[0][0] == acts[1][0]:
        return True
    seen_g = [change.edges_g[edge - change.before - 1] for edge, _ in acts]
    return all(by_g / g >= SEEN_SHARE for by_g, (_, g) in zip(seen_g, acts, strict=True))


def rested(change: LevelChange) -> float:
    """Return the log-weight of a hand that holds one piece half way as long as the levels last [1].

    Nothing for a rest as short as hands make. Where every move goes up and one of them stays for
    longer, that level is a touch of just this weight, one of all that a hand may push with; else
    two pieces that follow each other fast would be one that weighs as much as both.
    """
    longest_s = max(change.between_s, default=0.0)
    if longest_s <= HELD_S or min(change.edges_g) < LEAST_MOVE_G:
        return 0.0
    level = -math.log(likelihood.TOUCH_RANGE_G)
    return level + likelihood.LOG_PENALTY_TOUCH_S * (longest_s - HELD_S)
