"""What one gap of the scale may hide: sets of pieces in and out, by what they weigh together.

Used by `hypotheses`; pure but for its memory of what it has worked out. The levels before and after
a gap limit what can have happened in it, and its length how much.
"""

import math
from bisect import bisect_left
from collections.abc import Generator, Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from logger.watch.stages.set.immersion import likelihood
from logger.watch.stages.set.immersion.likelihood import LOG_PRIOR_IN, change_log_likelihood
from logger.watch.stages.set.immersion.states import (
    AT_START,
    BathEvent,
    HeldPiece,
    LevelChange,
    State,
    Transition,
    with_piece,
    without_piece,
)
from logger.watch.stages.set.immersion.weights import U_REGISTERED_G, Weights
from logger.watch.stages.set.segment import Segment

LEAST_S, USUAL_S = 4.0, 15.0
"""Shortest and usual time from one act at the bath to the next [s]."""
MOST_ACTS = 5
"""More than so many pieces in and out are not looked at in one gap."""
GATE_U, GATE_G = 4.0, 2.0
"""Sets are looked at whose mass fits to so many standard uncertainties, and so many grams more."""
LEFT_AT_MOST = 2
"""More than so many pieces are not looked at that left while something else happened, too."""
FITS_MORE = 8.0
"""Nothing else happened in a gap beside pieces that left where a set of pieces explains the change
so much better [1]."""
PUT_IN_AT_MOST = 3
"""More than so many pieces are not looked at that went in while something else happened, too."""
SETS_A_HYPOTHESIS = 10
"""So many sets of pieces within a gap are looked at in the time of one hypothesis."""

Explained = tuple[float, tuple[BathEvent, ...]]
"""Log-weight [1] and events of what leaves the state as it is."""


class Entry(NamedTuple):
    """Pieces that may have gone in within one gap.

    Attributes
    ----------
    mass_g : float
        What the scale should show of them together [g].
    u_g : float
        Its standard uncertainty [g].
    pieces : tuple of int
        Their numbers.
    """

    mass_g: float
    u_g: float
    pieces: tuple[int, ...]


def weighed_entries(masses: Sequence[tuple[int, float]], most: int, u_each_g: float) -> list[Entry]:
    """Return every set of registered pieces, none included, in order of mass.

    Parameters
    ----------
    masses : sequence of tuple
        Number and mass of each piece not seen yet [g].
    most : int
        Pieces of a set at most [1].
    u_each_g : float
        Standard uncertainty of one mass [g].
    """
    return sorted(
        Entry(sum(m for _, m in chosen), math.sqrt(count) * u_each_g, tuple(n for n, _ in chosen))
        for count in range(min(most, len(masses)) + 1)
        for chosen in combinations(masses, count)
    )


def alike_entries(first: int, piece_g: float, u_each_g: float, most: int) -> list[Entry]:
    """Return sets of pieces that nobody weighed: none, one, two and so on.

    Parameters
    ----------
    first : int
        Number of the next piece [1].
    piece_g, u_each_g : float
        Usual mass of a piece and its standard deviation [g].
    most : int
        Pieces of a set at most [1].
    """
    return [
        Entry(count * piece_g, math.sqrt(count) * u_each_g, tuple(range(first, first + count)))
        for count in range(most + 1)
    ]


def fitting(
    entries: Sequence[Entry], in_g: float, u_g: float, fewest: int, most: int
) -> Iterator[Entry]:
    """Yield the sets that may weigh what went in.

    Parameters
    ----------
    entries : sequence of Entry
        In order of mass.
    in_g, u_g : float
        What went in and its standard uncertainty [g].
    fewest, most : int
        Pieces of a set [1].
    """
    widest_g = max(entry.u_g for entry in entries)
    reach_g = GATE_G + GATE_U * math.hypot(u_g, widest_g)
    start = bisect_left(entries, (in_g - reach_g,))
    for entry in entries[start:]:
        if entry.mass_g > in_g + reach_g:
            return
        if fewest <= len(entry.pieces) <= most:
            yield entry


def log_prior(acts: int, lasts_s: float) -> float:
    """Return the log-prior of so many acts in one gap, beside that of one [1].

    Parameters
    ----------
    acts : int
        Pieces in and out [1], one at least.
    lasts_s : float
        Length of the gap [s].

    Notes
    -----
    As in a Poisson process of one act in `USUAL_S`.
    """
    rate = lasts_s / USUAL_S
    more = (acts - 1) * math.log(rate) - math.log(math.factorial(acts))
    return acts * LOG_PRIOR_IN + min(0.0, more)


class HiddenActs:
    """Enumerates the hypotheses of what a gap hides, with their log-weights.

    Parameters
    ----------
    weights : Weights
        The parts of the log-weights.
    """

    def __init__(self, weights: Weights) -> None:
        self.weights = weights
        self.segments = weights.segments
        self.given = weights.given
        self.parameters = weights.parameters
        self._known_entries: dict[tuple[frozenset[int], int], list[Entry]] = {}
        self._known_dwells: dict[tuple[int, int], float] = {}

    def nothing(self, change: LevelChange) -> Explained:
        """Return that nothing happened in a gap, or a piece was lifted and dipped again."""
        weight = change_log_likelihood(change.net_g, math.hypot(change.u_g, 0.8))
        nothing = BathEvent("touch", 0, change.after, AT_START)
        return weight + likelihood.LOG_PRIOR_TOUCH, (nothing,)

    def several(
        self, change: LevelChange, state: State, floor: float, others: Sequence[Explained]
    ) -> Generator[Transition, None, int]:
        """Yield each set of pieces in and out whose masses fit; return the work, in hypotheses.

        Where none fits, something else happened in the gap, and pieces may have left, too.

        Parameters
        ----------
        change : LevelChange
            Across the gap.
        state : State
            Before it.
        floor : float
            Sets of a log-weight below this are left out [1].
        others : sequence of tuple
            What changes no piece, with its log-weight [1].
        """
        gap = self.segments[change.after]
        lasts_s = max(gap.span_s, gap.silent_s)
        most = min(MOST_ACTS, 1 + int(lasts_s / LEAST_S))
        priors = [log_prior(acts, lasts_s) for acts in range(1, most + 1)]
        entries = self._entries(state.seen, most)
        drag_g, drag_sd_g = self.parameters.drag_g, self.parameters.drag_sd_g
        may_leave = [(p, d) for p in state.held if (d := self._dwell_in_gap(p, change)) > -1e6]
        tried, fits = 0, self.nothing(change)[0]
        for count in range(min(most, len(may_leave)) + 1):
            u_out_g = math.sqrt(count) * drag_sd_g
            choices = math.log(math.comb(len(state.held), count))
            for chosen in combinations(may_leave, count):
                outs = tuple([p for p, _ in chosen])
                dwells = sum([d for _, d in chosen]) - choices
                in_g = change.net_g + sum([p.mass_g for p in outs]) + count * drag_g
                u_g = math.hypot(change.u_g, u_out_g, *[p.u_g for p in outs])
                tried += 1
                for ins in fitting(entries, in_g, u_g, 2 - count, most - count):
                    tried += 1
                    weight = priors[count + len(ins.pieces) - 1] + dwells
                    weight += change_log_likelihood(in_g - ins.mass_g, math.hypot(u_g, ins.u_g))
                    fits = max(fits, weight)
                    if weight >= floor:  # The order of the pieces only takes away from it.
                        weight += self.weights.turns_log_prior(ins.pieces, state.seen)
                        yield self._hidden(weight, change, state, outs, ins, in_g)
        for other, events in others:
            for count in range(1, 1 + min(LEFT_AT_MOST, most - 1, len(may_leave))):
                if other <= fits - FITS_MORE:
                    break
                choices = math.log(math.comb(len(state.held), count))
                for chosen in combinations(may_leave, count):
                    tried += 1
                    weight = other + priors[count] - LOG_PRIOR_IN - choices
                    weight += sum([d for _, d in chosen])
                    if weight >= floor:
                        yield self._left_with(weight, events, change, state, chosen)
            if other > fits - FITS_MORE:
                for found in self._put_in_with(other, change, state, priors):
                    tried += 1
                    if found.log_weight >= floor:
                        yield found._replace(events=(*events, *found.events))
        return tried // SETS_A_HYPOTHESIS

    def _left_with(
        self,
        weight: float,
        others: tuple[BathEvent, ...],
        change: LevelChange,
        state: State,
        chosen: Sequence[tuple[HeldPiece, float]],
    ) -> Transition:
        """Return that pieces left in a gap in which something else happened."""
        outs = tuple(BathEvent("out", p.piece, change.after, p.edge) for p, _ in chosen)
        for event in outs:
            state = without_piece(state, event)
        return Transition(weight, (*others, *outs), state)

    def _put_in_with(
        self, other: float, change: LevelChange, state: State, priors: Sequence[float]
    ) -> Iterator[Transition]:
        """Yield each set of pieces that may have gone in while something else happened."""
        for ins in self._entries(state.seen, len(priors) - 1):
            if 1 <= len(ins.pieces) <= PUT_IN_AT_MOST:
                weight = other + priors[len(ins.pieces)] - LOG_PRIOR_IN
                weight += self.weights.turns_log_prior(ins.pieces, state.seen)
                yield self._hidden(weight, change, state, (), ins, ins.mass_g)

    def _entries(self, seen: frozenset[int], most: int) -> list[Entry]:
        """Return every set of pieces that may have gone in within one gap, by mass."""
        key = (seen, most)
        if key not in self._known_entries:
            parameters, left = self.parameters, self.weights.unseen(seen)
            if self.weights.registered:
                masses = [(n, (mass_g or 0.0) * parameters.buoyancy) for n, mass_g in left]
                found = weighed_entries(masses, most, U_REGISTERED_G)
            else:
                spread_g = parameters.piece_g * parameters.piece_log_sd
                first = len(seen) + 1
                left_over = most if self.given.pieces is None else self.given.pieces - len(seen)
                found = alike_entries(
                    first, parameters.piece_g, spread_g, min(most, max(0, left_over))
                )
            self._known_entries[key] = found
        return self._known_entries[key]

    def _hidden(
        self,
        weight: float,
        change: LevelChange,
        state: State,
        outs: tuple[HeldPiece, ...],
        ins: Entry,
        in_g: float,
    ) -> Transition:
        """Return pieces out and in within a gap; those in share the mass that went in [g]."""
        edge, new = change.after, state
        events = [BathEvent("out", piece.piece, edge, piece.edge) for piece in outs]
        for event in events:
            new = without_piece(new, event)
        for number in ins.pieces:
            events.append(BathEvent("in", number, edge, AT_START))
            registered_g = self.given.masses_g.get(number)
            share_g = in_g / len(ins.pieces)
            if registered_g is not None:
                mass_g, u_g = registered_g * self.parameters.buoyancy, U_REGISTERED_G
            elif len(ins.pieces) == 1:
                mass_g, u_g = share_g, math.hypot(change.u_g, self.parameters.drag_sd_g)
            else:
                mass_g, u_g = share_g, self.parameters.piece_log_sd * share_g
            new = with_piece(new, HeldPiece(number, edge, max(1.0, mass_g), u_g))
        return Transition(weight, tuple(events), new)

    def _dwell_in_gap(self, piece: HeldPiece, change: LevelChange) -> float:
        """Return the log-likelihood ratio of a dwell that ends at any time of a gap."""
        key = (piece.edge, change.after)
        if key not in self._known_dwells:
            self._known_dwells[key] = self._ends_in_gap(piece, self.segments[change.after])
        return self._known_dwells[key]

    def _ends_in_gap(self, piece: HeldPiece, gap: Segment) -> float:
        if piece.edge < 0:
            return 0.0
        in_s = self.segments[piece.edge].edge_s
        if gap.edge_to_s - in_s < likelihood.SHORTEST_DWELL_S:
            return likelihood.IMPOSSIBLE
        ratios = [
            likelihood.dwell_log_likelihood_ratio(
                gap.edge_from_s + share * (gap.edge_to_s - gap.edge_from_s) - in_s,
                self.parameters,
            )
            for share in (0.1, 0.3, 0.5, 0.7, 0.9)
        ]
        return math.log(sum(math.exp(ratio) for ratio in ratios) / len(ratios))
