"""Forward-backward over the trellis of a bath: how probable each immersion is, and the best path.

The trellis has a column for each segment and in it a node for each hidden state that a path can
reach. A path goes from segment to segment; which pieces are in the bath links early choices to late
ones, so the level of the whole run has to add up. Paths that lead to the same state share a node,
which makes the sums over all of them exact, as in any hidden Markov model; improbable states are
pruned. Used by `table`.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from logger.watch.stages.set.immersion import likelihood
from logger.watch.stages.set.immersion.hypotheses import TransitionModel
from logger.watch.stages.set.immersion.likelihood import ModelParameters
from logger.watch.stages.set.immersion.states import (
    BathEvent,
    SideInformation,
    State,
    Transition,
    level_change,
)
from logger.watch.stages.set.segment import Segment

MOST_SKIPPED = 3
"""Segments that one transition may skip."""
BEAM = 10.0
"""States of a column less likely than its best by more than this are pruned [1]."""
NEGLIGIBLE = 14.0
"""Ways into a column less likely than its best state by more than this may be left out [1]."""
MOST_STATES, FEWEST_STATES = 60, 1
MOST_WORK = 24_000
"""Hypotheses looked at in one pass; where there would be more, fewer states are kept."""


@dataclass(slots=True)
class Node:
    """One state at one segment, with the transitions that lead there.

    Attributes
    ----------
    state : State
        Pieces in the bath and pieces seen.
    forward, backward : float
        Log-weight of all paths to it, and of all from it to the end [1].
    best : float
        Log-weight of the best path to it [1].
    came : tuple or None
        Node before on that path, and the events on the way.
    incoming : list of tuple
        Every node before, with the log-weight and the events of the transition.
    """

    state: State
    forward: float = -math.inf
    best: float = -math.inf
    came: "tuple[Node, tuple[BathEvent, ...]] | None" = None
    incoming: "list[tuple[Node, float, tuple[BathEvent, ...]]]" = field(default_factory=list)
    backward: float = -math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Posterior probabilities over all paths, and the most probable path.

    Attributes
    ----------
    path : list of BathEvent
        Events of the most probable path, in order.
    immersions : dict
        Probability that a piece went in at one edge and out at another: (piece, in, out).
    dips : dict
        Probability that a piece went in at an edge: (piece, in).
    dip_edges : dict
        Probability that any piece went in at an edge; two may go in at one.
    """

    path: list[BathEvent]
    immersions: dict[tuple[int, int, int], float]
    dips: dict[tuple[int, int], float]
    dip_edges: dict[int, float]


def forward_backward(
    segments: Sequence[Segment], given: SideInformation, parameters: ModelParameters
) -> Posterior:
    """Return the posterior over all paths that explain the segments.

    Parameters
    ----------
    segments : sequence of Segment
        In order, one at least; every path starts at the first.
    given : SideInformation
        What the operator and the sheet say.
    parameters : ModelParameters
        Of the likelihoods.
    """
    columns: list[dict[State, Node]] = [{} for _ in segments]
    start = Node(State((), frozenset()), forward=0.0, best=0.0)
    columns[0][start.state] = start
    model = TransitionModel(segments, given, parameters)
    for after in range(1, len(segments)):
        reached, best = columns[after], -math.inf
        # From the nearest first: it mostly holds the best, and then the rest is gone through fast.
        for before in range(after - 1, max(-1, after - 2 - MOST_SKIPPED), -1):
            change = level_change(segments, before, after)
            if change is None:
                continue
            for node in columns[before].values():
                least = best - NEGLIGIBLE - node.forward
                for transition in model.transitions(change, node.state, least):
                    best = max(best, _reach(reached, node, transition))
        columns[after] = _pruned(reached, _most_states(model.work, after, len(segments)))
    return _smoothed(columns, given)


def _reach(column: dict[State, Node], node: Node, transition: Transition) -> float:
    """Add a transition to the node it leads to: forward sum and best path; return that sum [1]."""
    weight, events, state = transition
    target = column.get(state)
    if target is None:
        target = column[state] = Node(state)
    target.incoming.append((node, weight, events))
    target.forward = _log_add(target.forward, node.forward + weight)
    if node.best + weight > target.best:
        target.best = node.best + weight
        target.came = (node, events)
    return target.forward


def _most_states(work: int, index: int, segments: int) -> int:
    """Return how many states a column may keep, so that a wild trace is explained in time too."""
    allowed = MOST_WORK * (index + 1) // segments
    return max(FEWEST_STATES, MOST_STATES * allowed // max(work, allowed))


def _pruned(column: dict[State, Node], most: int) -> dict[State, Node]:
    if not column:
        return column
    least = max(node.forward for node in column.values()) - BEAM
    kept = [node for node in column.values() if node.forward >= least]
    kept.sort(key=lambda node: -node.forward)
    return {node.state: node for node in kept[:most]}


def _smoothed(columns: list[dict[State, Node]], given: SideInformation) -> Posterior:
    """Run backward over the trellis and sum the probability of each immersion."""
    last = columns[-1]
    total = -math.inf
    for node in last.values():
        left_in = likelihood.LOG_PENALTY_LEFT_IN * len(node.state.held)
        unseen = max(0, (given.pieces or 0) - len(node.state.seen))
        node.backward = left_in + likelihood.LOG_PENALTY_UNSEEN * unseen if given.ended else 0.0
        total = _log_add(total, node.forward + node.backward)
    immersions: dict[tuple[int, int, int], float] = defaultdict(float)
    dips: dict[tuple[int, int], float] = defaultdict(float)
    dip_edges: dict[int, float] = defaultdict(float)
    for column in reversed(columns):
        for node in column.values():
            if node.backward == -math.inf:
                continue
            for source, weight, events in node.incoming:
                source.backward = _log_add(source.backward, weight + node.backward)
                log_probability = source.forward + weight + node.backward - total
                probability = math.exp(min(0.0, log_probability))
                for event in events:
                    if event.kind == "out":
                        immersions[event.piece, event.in_edge, event.edge] += probability
                    elif event.kind == "in":
                        dips[event.piece, event.edge] += probability
                for edge in {event.edge for event in events if event.kind == "in"}:
                    dip_edges[edge] += probability
    return Posterior(
        path=_best_path(max(last.values(), key=lambda node: node.best + node.backward)),
        immersions=dict(immersions),
        dips=dict(dips),
        dip_edges=dict(dip_edges),
    )


def _best_path(node: Node) -> list[BathEvent]:
    """Return the events of the best path to a node, in order (Viterbi)."""
    backwards: list[BathEvent] = []
    while node.came is not None:
        node, events = node.came
        backwards.extend(reversed(events))
    return backwards[::-1]


def _log_add(one: float, two: float) -> float:
    """Return the logarithm of the sum of two numbers given by their logarithms."""
    if one < two:
        one, two = two, one
    if two == -math.inf:
        return one
    return one + math.log1p(math.exp(two - one))
