"""Weighs every story that explains all plateaus of a bath scale at once.

A story goes from plateau to plateau; on the way pieces go in or come out, hands touch the bath,
water is poured. Which pieces lie in the bath links early choices to late ones, so the level of the
whole run has to add up. Stories that leave the same pieces in the bath are merged, which makes the
sums over all of them exact (forward and backward, as in a hidden Markov model).
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from logger.watch.stages.set.immersion import likelihood as chances
from logger.watch.stages.set.immersion.hypotheses import Teller
from logger.watch.stages.set.immersion.likelihood import Knowledge
from logger.watch.stages.set.immersion.segmentation import Plateau
from logger.watch.stages.set.immersion.steps import step_between
from logger.watch.stages.set.immersion.transitions import Deed, Given, Held, State

MOST_SKIPPED = 3
KEEP_WITHIN = 10.0  # states less likely than the best by more than this are dropped
KEEP_STATES = 60
FEWEST_STATES = 1
MOST_WORK = 24_000
"""Ways looked at in one weighing; where there would be more, fewer states are kept."""


@dataclass(slots=True)
class Node:
    """One state at one plateau, with what leads there."""

    state: State
    forward: float = -math.inf
    best: float = -math.inf
    came: "tuple[Node, tuple[Deed, ...]] | None" = None
    incoming: "list[tuple[Node, float, tuple[Deed, ...]]]" = field(default_factory=list)
    backward: float = -math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Stories:
    """The best story and the weight of each pair over all of them.

    Attributes
    ----------
    deeds : list of Deed
        Of the best story, in order.
    dwells : dict
        Chance that a piece went in with one edge and out with another: (piece, in, out).
    ins : dict
        Chance that a piece went in with an edge: (piece, in).
    dipped : dict
        Chance that any piece went in with an edge; two may go in with one.
    held : tuple of Held
        In the bath at the end of the best story.
    log_weight : float
        Of all stories together.
    """

    deeds: list[Deed]
    dwells: dict[tuple[int, int, int], float]
    ins: dict[tuple[int, int], float]
    dipped: dict[int, float]
    held: tuple[Held, ...]
    log_weight: float


def weigh(plateaus: Sequence[Plateau], given: Given, known: Knowledge) -> Stories:
    """Weigh all stories.

    Parameters
    ----------
    plateaus : sequence of Plateau
        In order; the first is where the story starts.
    given : Given
        What was said.
    known : Knowledge
        What was learned.
    """
    lanes: list[dict[State, Node]] = [{} for _ in plateaus]
    start = Node(((), frozenset()), forward=0.0, best=0.0)
    lanes[0][start.state] = start
    teller = Teller(plateaus, given, known)
    for place in range(len(plateaus)):
        lane = _pruned(lanes[place], _most_states(teller.work, place, len(plateaus)))
        lanes[place] = lane
        for after in range(place + 1, min(len(plateaus), place + 2 + MOST_SKIPPED)):
            step = step_between(plateaus, place, after)
            if step is None:
                continue
            for node in lane.values():
                for weight, deeds, state in teller.ways(step, node.state):
                    _reach(lanes[after], node, weight, deeds, state)
    return _gather(lanes, given)


def _reach(
    lane: dict[State, Node], node: Node, weight: float, deeds: tuple[Deed, ...], state: State
) -> None:
    target = lane.get(state)
    if target is None:
        target = lane[state] = Node(state)
    target.incoming.append((node, weight, deeds))
    target.forward = _log_add(target.forward, node.forward + weight)
    if node.best + weight > target.best:
        target.best = node.best + weight
        target.came = (node, deeds)


def _most_states(work: int, place: int, places: int) -> int:
    """How many states may be kept at a place, so that a wild trace is still told in time."""
    allowed = MOST_WORK * (place + 1) // places
    return max(FEWEST_STATES, KEEP_STATES * allowed // max(work, allowed))


def _pruned(lane: dict[State, Node], most: int) -> dict[State, Node]:
    if not lane:
        return lane
    least = max(node.forward for node in lane.values()) - KEEP_WITHIN
    kept = [node for node in lane.values() if node.forward >= least]
    if len(kept) > most:
        kept = sorted(kept, key=lambda node: -node.forward)[:most]
    return {node.state: node for node in kept}


def _gather(lanes: list[dict[State, Node]], given: Given) -> Stories:
    last = lanes[-1]
    for node in last.values():
        still_in = chances.STILL_IN_AT_END * len(node.state[0])
        node.backward = still_in if given.ended else 0.0
    total = -math.inf
    for node in last.values():
        total = _log_add(total, node.forward + node.backward)
    dwells: dict[tuple[int, int, int], float] = defaultdict(float)
    ins: dict[tuple[int, int], float] = defaultdict(float)
    dipped: dict[int, float] = defaultdict(float)
    for lane in reversed(lanes):
        for node in lane.values():
            if node.backward == -math.inf:
                continue
            for source, weight, deeds in node.incoming:
                source.backward = _log_add(source.backward, weight + node.backward)
                share = math.exp(min(0.0, source.forward + weight + node.backward - total))
                for deed in deeds:
                    if deed.what == "out":
                        dwells[deed.piece, deed.in_edge, deed.edge] += share
                    elif deed.what == "in":
                        ins[deed.piece, deed.edge] += share
                for edge in {deed.edge for deed in deeds if deed.what == "in"}:
                    dipped[edge] += share
    at: Node | None = max(last.values(), key=lambda node: node.best + node.backward)
    held = at.state[0] if at is not None else ()
    deeds_back: list[Deed] = []
    while at is not None and at.came is not None:
        at, deeds = at.came
        deeds_back.extend(reversed(deeds))
    return Stories(
        deeds=deeds_back[::-1],
        dwells=dict(dwells),
        ins=dict(ins),
        dipped=dict(dipped),
        held=held,
        log_weight=total,
    )


def _log_add(one: float, two: float) -> float:
    if one < two:
        one, two = two, one
    if two == -math.inf:
        return one
    return one + math.log1p(math.exp(two - one))
