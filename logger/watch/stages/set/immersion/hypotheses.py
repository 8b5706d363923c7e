"""What may have happened between two segments: the transitions of the hidden Markov model.

For a state and an observed change of level, gives every hypothesis that explains the change (a
piece in, a piece out, two within one edge, a touch, a lift and redip, a pour, a tare) with its
log-weight and the state after it. `trellis` sums over them.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from logger.watch.stages.set.immersion import likelihood
from logger.watch.stages.set.immersion.hidden import Explained, HiddenActs
from logger.watch.stages.set.immersion.likelihood import ModelParameters, change_log_likelihood
from logger.watch.stages.set.immersion.states import (
    AT_START,
    SHORT_S,
    BathEvent,
    HeldPiece,
    LevelChange,
    SideInformation,
    State,
    Transition,
    with_piece,
    without_piece,
)
from logger.watch.stages.set.immersion.weights import (
    GATE_TWO_OUT_G,
    U_REGISTERED_G,
    Unseen,
    Weights,
    rested,
    seen_both,
    two_may_weigh,
)
from logger.watch.stages.set.segment import Segment

AGAINST_LABEL = 25.0
"""Log-weight that a hypothesis loses when it contradicts the operator and nothing else fits [1]."""
GATE = 11.0
"""Hypotheses less likely than the best from the same state by more than this are dropped [1]."""
PAIRS_A_HYPOTHESIS = 20
"""So many pairs of pieces are looked at in the time of one hypothesis."""

_WayIn = tuple[float, HeldPiece, tuple[BathEvent, ...]]
"""Log-weight [1] of a piece that goes in, the piece in the bath, and the event."""


class _Known(NamedTuple):
    """What is the same of a change from every state.

    Attributes
    ----------
    labelled : list of int
        Its edges of which the operator said something.
    penalty : float
        Log-weight of the segments that it skips [1].
    brief : bool
        A touch can explain every segment that it skips.
    hides : bool
        A gap at it may hide a whole act.
    touches, others : list of tuple
        That nothing lasting happened, and what changes no piece.
    likeliest : float
        Highest log-weight of those [1].
    lasting_edge : int
        Edge that holds its net change.
    rested : float
        Log-weight of a hand that holds one piece half way for so long [1].
    """

    labelled: list[int]
    penalty: float
    brief: bool
    hides: bool
    touches: list[Explained]
    others: list[Explained]
    likeliest: float
    lasting_edge: int
    rested: float


class TransitionModel:
    """Enumerates the hypotheses of a change of level, with their log-weights.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    given : SideInformation
        What the operator and the sheet say.
    parameters : ModelParameters
        Of the likelihoods.

    Attributes
    ----------
    work : int
        How many hypotheses were looked at so far.
    """

    def __init__(
        self, segments: Sequence[Segment], given: SideInformation, parameters: ModelParameters
    ) -> None:
        self.segments = segments
        self.given = given
        self.parameters = parameters
        self.weights = Weights(segments, given, parameters)
        self.hidden = HiddenActs(self.weights)
        self.work = 0
        self._known_changes: dict[tuple[int, int], _Known] = {}
        self._known_ways_in: dict[tuple[int, int, frozenset[int]], list[_WayIn]] = {}

    def transitions(
        self, change: LevelChange, state: State, least: float = -math.inf
    ) -> Iterator[Transition]:
        """Yield every hypothesis that explains a change from a state, by the gate.

        Parameters
        ----------
        change : LevelChange
            What is to be explained.
        state : State
            Before it.
        least : float
            Hypotheses of a log-weight below this may be left out [1].
        """
        after = self.segments[change.after]
        if after.tared:
            yield Transition(0.0, (BathEvent("tare", 0, change.after, AT_START),), state)
            return
        known = self._known(change)
        labelled, penalty = known.labelled, known.penalty
        floor = -math.inf if labelled else max(least - penalty, known.likeliest - GATE)
        found = list(self._explanations(change, state, floor))
        if penalty:
            found = [Transition(w + penalty, e, s) for w, e, s in found]
        self.work += 1 + len(found) + len(state.held) ** 2 // PAIRS_A_HYPOTHESIS
        agreeing = [t for t in found if self._agrees(labelled, t)] if labelled else found
        if agreeing:
            gate = max(t.log_weight for t in agreeing) - GATE
            yield from (t for t in agreeing if t.log_weight >= gate)
        elif change.single:
            # What the operator said fits nothing on the scale: go on at a price.
            yield from (Transition(w - AGAINST_LABEL, e, s) for w, e, s in found)

    def _agrees(self, labelled: list[int], found: Transition) -> bool:
        """Return whether a hypothesis agrees with the operator at each labelled edge."""
        pieces = {(event.kind, event.edge, event.piece) for event in found.events}
        outs, ins = self.given.out_labels, self.given.in_labels
        for said in self.given.answers:
            here = not said.edges.isdisjoint(labelled)
            if here and not said.agrees(labelled, found.events, found.state):
                return False
        return all(
            (edge not in outs or ("out", edge, outs[edge]) in pieces)
            and (edge not in ins or ("in", edge, ins[edge]) in pieces)
            for edge in labelled
        )

    def _explanations(
        self, change: LevelChange, state: State, floor: float
    ) -> Iterator[Transition]:
        """Yield what explains a change, without some of what is less likely than the floor [1]."""
        known = self._known(change)
        for weight, events in known.touches:
            yield Transition(weight, events, state)
        if not change.single:
            yield from self._redip(change, state)
            if not known.brief:
                return
        yield from self._piece_in(change, state, floor)
        yield from self._piece_out(change, state)
        if known.hides:
            looked_at = yield from self.hidden.several(change, state, floor, known.others)
            self.work += looked_at
        else:
            yield from self._two_at_once(change, state, floor)
        for weight, events in known.others:
            yield Transition(weight, events, state)

    def _known(self, change: LevelChange) -> _Known:
        """Return what is the same of a change from every state."""
        key = (change.before, change.after)
        if key not in self._known_changes:
            self._known_changes[key] = self._looked_at(change)
        return self._known_changes[key]

    def _looked_at(self, change: LevelChange) -> _Known:
        between = self.segments[change.before + 1 : change.after]
        brief = all(s.end_s - s.start_s <= SHORT_S for s in between)
        hides = change.single and self.segments[change.after].hides
        given = self.given
        labels = {*given.out_labels, *given.in_labels}.union(*(s.edges for s in given.answers))
        touches = []
        if not change.single and brief:
            touches.append(self._touch(change))
        elif hides:
            touches.append(self.hidden.nothing(change))
        others = list(self._other(change)) if change.single or brief else []
        return _Known(
            labelled=[e for e in range(change.before + 1, change.after + 1) if e in labels],
            penalty=(change.after - change.before - 1) * likelihood.LOG_PENALTY_SKIPPED,
            brief=brief,
            hides=hides,
            touches=touches,
            others=others,
            likeliest=max((weight for weight, _ in (*touches, *others)), default=-math.inf),
            lasting_edge=change.edge_of(change.net_g),
            rested=rested(change),
        )

    # Touches, lifts, pours and tares.

    def _touch(self, change: LevelChange) -> Explained:
        weight = change_log_likelihood(change.net_g, math.hypot(change.u_g, 0.4))
        weight += likelihood.LOG_PRIOR_TOUCH + likelihood.LOG_PENALTY_TOUCH_S * change.lasts_s
        return weight, (BathEvent("touch", 0, change.before + 1, AT_START),)

    def _redip(self, change: LevelChange, state: State) -> Iterator[Transition]:
        """Yield each piece lifted and dipped again."""
        if change.after != change.before + 2:
            return
        lifted_g, dipped_g = change.edges_g
        if lifted_g >= 0 or dipped_g <= 0:
            return
        parameters = self.parameters
        longer_s = max(0.0, change.between_s[0] - likelihood.LONG_LIFT_S)
        prior = likelihood.LOG_PRIOR_REDIP + likelihood.LOG_PENALTY_LIFT_S * longer_s
        for piece in state.held:
            sd_g = math.hypot(piece.u_g, parameters.drag_sd_g, 1.0)
            weight = change_log_likelihood(-lifted_g - piece.mass_g - parameters.drag_g, sd_g)
            weight += change_log_likelihood(
                change.net_g + 0.5 * parameters.drag_g, math.hypot(change.u_g, 0.8)
            )
            lift = BathEvent("lift", piece.piece, change.after, piece.edge)
            yield Transition(weight + prior, (lift,), state)

    def _other(self, change: LevelChange) -> Iterator[Explained]:
        """Yield a lasting change that no piece explains, and a tare that nobody announced."""
        after = self.segments[change.after]
        edge = change.edge_of(change.net_g)
        weight = likelihood.LOG_PRIOR_OTHER - math.log(likelihood.OTHER_RANGE_G)
        if abs(change.net_g) > likelihood.OTHER_RANGE_G:
            weight -= 2.0
        weight += self.weights.rise(edge, poured=True)
        if not change.single:
            weight += likelihood.LOG_PRIOR_TOUCH
        yield weight, (BathEvent("other", 0, change.after, AT_START),)
        if change.single and abs(after.initial_g) <= 0.6 and abs(change.net_g) > 3:
            quick = 0.0 if self.segments[edge].rise_s < 0.35 else -6.0
            tare = BathEvent("tare", 0, change.after, AT_START)
            yield likelihood.LOG_PRIOR_TARE + quick, (tare,)

    # One piece.

    def _piece_in(self, change: LevelChange, state: State, floor: float) -> Iterator[Transition]:
        if change.net_g <= 0:
            return
        key = (change.before, change.after, state.seen)
        if key not in self._known_ways_in:
            self._known_ways_in[key] = list(self._ways_in(change, state.seen))
        for weight, held, events in self._known_ways_in[key]:
            if weight >= floor:
                yield Transition(weight, events, with_piece(state, held))

    def _ways_in(self, change: LevelChange, seen: frozenset[int]) -> Iterator[_WayIn]:
        """Yield each piece that may have gone in, once these were seen."""
        edge = self._known(change).lasting_edge
        rise = self.weights.rise(edge, poured=False) + self._known(change).rested
        for piece, registered_g in self.weights.unseen(seen):
            if registered_g is None:
                mass = likelihood.piece_mass_log_likelihood(change.net_g, self.parameters)
            else:
                mass = self.weights.dip_log_likelihood(change.net_g, change.u_g, registered_g)
            held = self.weights.held(piece, edge, change.net_g, change.u_g)
            weight = mass + rise + self.weights.turn_log_prior(piece, seen)
            event = BathEvent("in", piece, edge, AT_START)
            yield weight + likelihood.LOG_PRIOR_IN, held, (event,)
        for piece, weight in self.weights.unlike_any(change.net_g, seen):
            held = HeldPiece(piece, edge, change.net_g, change.u_g)
            event = BathEvent("in", piece, edge, AT_START)
            yield weight + rise + likelihood.LOG_PRIOR_IN, held, (event,)

    def _piece_out(self, change: LevelChange, state: State) -> Iterator[Transition]:
        if change.net_g >= 0:
            return
        parameters, edge = self.parameters, self._known(change).lasting_edge
        rise = self.weights.rise(edge, poured=False)
        for piece in state.held:
            dwell_s = self.segments[edge].edge_s - self.segments[piece.edge].edge_s
            if piece.edge >= 0 and dwell_s < likelihood.SHORTEST_DWELL_S:
                continue
            off_g = -change.net_g - piece.mass_g - parameters.drag_g
            sd_g = math.hypot(change.u_g, piece.u_g, parameters.drag_sd_g)
            weight = rise + change_log_likelihood(off_g, sd_g)
            if piece.edge >= 0:
                weight += likelihood.dwell_log_likelihood_ratio(dwell_s, parameters)
            yield self._out(weight, BathEvent("out", piece.piece, edge, piece.edge), state)
        for number, registered_g in self.weights.unseen(state.seen):
            left_g = -change.net_g - parameters.drag_g
            if registered_g is None:
                weight = likelihood.piece_mass_log_likelihood(left_g, parameters)
            else:
                off_g = -change.net_g - registered_g * parameters.buoyancy - parameters.drag_g
                sd_g = math.hypot(change.u_g, parameters.drag_sd_g, 0.2)
                weight = change_log_likelihood(off_g, sd_g)
            turn = self.weights.turn_log_prior(number, state.seen)
            weight += rise + likelihood.LOG_PRIOR_IN_AT_START + turn
            yield self._out(weight, BathEvent("out", number, edge, AT_START), state)

    def _out(self, weight: float, event: BathEvent, state: State) -> Transition:
        left = without_piece(state, event)
        return Transition(weight + likelihood.LOG_PRIOR_OUT, (event,), left)

    # Two pieces within one edge.

    def _two_at_once(self, change: LevelChange, state: State, floor: float) -> Iterator[Transition]:
        prior = likelihood.LOG_PRIOR_TWO_AT_ONCE
        unseen = self.weights.unseen(state.seen)
        for one_in in unseen if state.held else ():
            yield from self._swaps(change, state, one_in, floor)
        net_g, drag_g = change.net_g, self.parameters.drag_g
        both_g = -net_g - 2 * drag_g
        for one, two in combinations(state.held, 2) if two_may_weigh(state.held, both_g) else ():
            if abs(net_g + one.mass_g + two.mass_g + 2 * drag_g) <= GATE_TWO_OUT_G:
                together = one.edge == two.edge >= 0
                weight, events, new = self._two_out(change, state, one, two, together=together)
                again = likelihood.LOG_PRIOR_TOGETHER_AGAIN if together else prior
                yield Transition(weight + again, events, new)
        for group in self.weights.groups(state.seen, net_g) if net_g > 0 else ():
            weight, events, new = self._some_in(change, state, group)
            more = likelihood.LOG_PRIOR_ONE_MORE * (len(group) - 2)
            yield Transition(weight + prior + more, events, new)

    def _swaps(
        self, change: LevelChange, state: State, one_in: Unseen, floor: float
    ) -> Iterator[Transition]:
        """Yield one piece in and another out, for each in the bath whose mass fits roughly."""
        parameters, (number, registered_g) = self.parameters, one_in
        if registered_g is None:
            in_g, in_sd_g = parameters.piece_g, parameters.piece_g * parameters.piece_log_sd
            reach_g = 5 * in_sd_g
        else:
            in_g, in_sd_g = registered_g * parameters.buoyancy, U_REGISTERED_G
            reach_g = 5 * 1.6
        in_edge = change.nearest_edge(in_g)
        prior = likelihood.LOG_PRIOR_TWO_AT_ONCE + self.weights.turn_log_prior(number, state.seen)
        for piece in state.held:
            off_g = change.net_g - in_g + piece.mass_g + parameters.drag_g
            if abs(off_g) > reach_g:
                continue
            out_edge = change.nearest_edge(-piece.mass_g)
            if not seen_both(change, (in_edge, in_g), (out_edge, -piece.mass_g)):
                continue
            sd_g = math.hypot(change.u_g, in_sd_g, piece.u_g, parameters.drag_sd_g)
            weight = (
                change_log_likelihood(off_g, sd_g) + self.weights.dwell(piece, out_edge) + prior
            )
            if weight < floor:
                self.work += 1
                continue
            out = BathEvent("out", piece.piece, out_edge, piece.edge)
            dip = BathEvent("in", number, in_edge, AT_START)
            net_in_g = change.net_g + piece.mass_g + parameters.drag_g
            u_in_g = math.hypot(change.u_g, piece.u_g, parameters.drag_sd_g)
            held = self.weights.held(number, in_edge, net_in_g, u_in_g)
            new = with_piece(without_piece(state, out), held)
            yield Transition(weight, (out, dip), new)

    def _two_out(
        self, change: LevelChange, state: State, one: HeldPiece, two: HeldPiece, *, together: bool
    ) -> Transition:
        parameters = self.parameters
        off_g = change.net_g + one.mass_g + two.mass_g + 2 * parameters.drag_g
        # Of two that went in together it is known what both weigh, and not each.
        known_g = (0.4,) if together else (one.u_g, two.u_g)
        sd_g = math.hypot(change.u_g, *known_g, 1.4 * parameters.drag_sd_g)
        weight = change_log_likelihood(off_g, sd_g)
        edges = [change.nearest_edge(-each.mass_g - parameters.drag_g) for each in (one, two)]
        weight += self.weights.dwell(one, edges[0]) + self.weights.dwell(two, edges[1])
        outs = tuple(
            BathEvent("out", piece.piece, edge, piece.edge)
            for piece, edge in zip((one, two), edges, strict=True)
        )
        return Transition(weight, outs, without_piece(without_piece(state, outs[0]), outs[1]))

    def _some_in(self, change: LevelChange, state: State, group: tuple[Unseen, ...]) -> Transition:
        masses = [self.weights.expected(mass_g) for _, mass_g in group]
        off_g = change.net_g - sum(mass_g for mass_g, _ in masses)
        sd_g = math.hypot(change.u_g, 0.5, *(each_sd_g for _, each_sd_g in masses))
        known, dips = self._known(change), []
        weight = change_log_likelihood(off_g, sd_g) + known.rested
        weight += 2.0 * self.weights.rise(known.lasting_edge, poured=False)
        for (number, _), (mass_g, each_sd_g) in zip(group, masses, strict=True):
            edge = change.nearest_edge(mass_g)
            dips.append(BathEvent("in", number, edge, AT_START))
            held_g, u_g = (change.net_g / len(group), each_sd_g) if each_sd_g else (mass_g, 0.5)
            state = with_piece(state, self.weights.held(number, edge, held_g, u_g))
        return Transition(weight, tuple(dips), state)
