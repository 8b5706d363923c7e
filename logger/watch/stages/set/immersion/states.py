"""The hidden Markov model of a bath: its states, the events between them, what is observed.

A hidden state says which pieces are in the bath and which have been seen; an event changes it;
the observation is the change of level from one segment to another. Plain values and pure functions
of segments; used by `hypotheses` and `trellis`. Segments are named by their index, and an edge by
the index of the segment it leads to.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from logger.watch.stages.set.segment import Segment

AT_START = -1
"""Stands for the edge of a piece that was in the bath before the first reading."""
SHORT_S = 8.0
"""A segment that a touch can explain lasts no longer [s]."""
REDIP_S = 20.0
"""A piece lifted for longer than this was taken out [s]."""
REDIP_EDGES_S = 6.0
"""What the edges of a lift and redip may take besides [s]."""
DRIPPING_G, DRIP_TIME_S = 1.6, 1.3
"""Standard uncertainty from what still drips right after an edge [g], and how fast that falls [s].
"""
UNEVEN_G = 0.06
"""Standard uncertainty from creep, sloshing and drift between two levels [g]."""
BRIEF_PUSH_S = 0.1
"""How long an edge counts when its push on the bath is reckoned [s]."""


class HeldPiece(NamedTuple):
    """A piece in the bath.

    Attributes
    ----------
    piece : int
        Its number.
    edge : int
        Edge with which it went in; `AT_START` for one that was in before.
    mass_g, u_g : float
        By how much the level should fall when it leaves, without drag, and the standard
        uncertainty of that [g].
    """

    piece: int
    edge: int
    mass_g: float
    u_g: float


class BathEvent(NamedTuple):
    """Something that happened at an edge.

    Attributes
    ----------
    kind : str
        ``in``, ``out``, ``lift``, ``other``, ``touch`` or ``tare``.
    piece : int
        Number of the piece, 0 where there is none.
    edge : int
        Edge at which it happened.
    in_edge : int
        Edge with which a piece that left or was lifted had gone in.
    """

    kind: str
    piece: int
    edge: int
    in_edge: int


class State(NamedTuple):
    """The hidden state: the pieces in the bath, and the numbers of all that were seen so far."""

    held: tuple[HeldPiece, ...]
    seen: frozenset[int]


class Transition(NamedTuple):
    """One hypothesis of a change: its log-weight [1], its events, and the state after it."""

    log_weight: float
    events: tuple[BathEvent, ...]
    state: State


class SaidOut(NamedTuple):
    """Whether a piece left at one of some edges, as the operator answers.

    Attributes
    ----------
    edges : frozenset of int
        At one of which it left, or at none.
    piece : int or None
        Its number; None where it is known by when it went in.
    in_edges : frozenset of int
        Edges at one of which it went in; empty where it is known by its number.
    yes : bool
        Whether it left then.
    """

    edges: frozenset[int]
    piece: int | None
    in_edges: frozenset[int]
    yes: bool

    def names(self, event: BathEvent) -> bool:
        """Return whether an event is that this piece leaves at one of these edges."""
        known = event.piece == self.piece or (self.piece is None and event.in_edge in self.in_edges)
        return event.kind == "out" and event.edge in self.edges and known

    def agrees(self, edges: Collection[int], events: Sequence[BathEvent], after: State) -> bool:
        """Return whether what happened at some edges, and the state after it, agree with this.

        Parameters
        ----------
        edges : collection of int
            Those that the events explain.
        events : sequence of BathEvent
            All at these edges.
        after : State
            Once they have happened.

        Notes
        -----
        A piece that left at one of several edges has not left before the first of them, and is not
        in the bath after the last.
        """
        named = any(self.names(event) for event in events)
        if named or not self.yes:
            return named == self.yes
        held = any(p.piece == self.piece or p.edge in self.in_edges for p in after.held)
        unseen = self.piece is not None and self.piece not in after.seen
        if min(self.edges) in edges and not (held or unseen):
            return False
        return max(self.edges) not in edges or not (held or unseen)


@dataclass(frozen=True, slots=True, kw_only=True)
class SideInformation:
    """What the operator and the sheet say.

    Attributes
    ----------
    masses_g : dict
        Registered mass by piece number [g]; empty when none is known.
    pieces : int or None
        How many pieces there are, if known.
    usual_g : float or None
        What a piece that nobody weighed weighs by all that is known of it [g].
    out_labels : dict
        Piece that left at an edge, by edge, as the operator says.
    in_labels : dict
        The same for pieces that went in.
    answers : frozenset of SaidOut
        Which piece left at an edge, or did not, as the operator answers.
    ended : bool
        No reading will follow.
    """

    masses_g: dict[int, float]
    pieces: int | None = None
    usual_g: float | None = None
    out_labels: dict[int, int] = field(default_factory=dict)
    in_labels: dict[int, int] = field(default_factory=dict)
    answers: frozenset[SaidOut] = frozenset()
    ended: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelChange:
    """The observation: from segment `before` to a later segment `after`.

    Segments in between are skipped where they are short: a touch, a hand in the bath, a lift and
    redip.

    Attributes
    ----------
    before, after : int
        Indices of the two segments.
    net_g, u_g : float
        Change of level and its standard uncertainty [g].
    edges_g : tuple of float
        Change at each edge between the two [g]; the last edge leads to `after`.
    between_s : tuple of float
        How long each skipped segment lasts, from the middle of one edge to that of the next [s].
    lasts_s : float
        From the end of the segment before to the start of the one after, gaps apart [s].
    """

    before: int
    after: int
    net_g: float
    u_g: float
    edges_g: tuple[float, ...]
    between_s: tuple[float, ...]
    lasts_s: float

    @property
    def single(self) -> bool:
        """Whether the two segments follow each other."""
        return self.after == self.before + 1

    def nearest_edge(self, wanted_g: float) -> int:
        """Return the edge whose change is nearest to one [g]: one of two events in this change."""
        if len(self.edges_g) == 1:
            return self.after
        off = [abs(change_g - wanted_g) for change_g in self.edges_g]
        return self.before + 1 + off.index(min(off))

    def edge_of(self, wanted_g: float) -> int:
        """Return the edge that holds a lasting change of this size [g]; the rest are touches.

        Notes
        -----
        The edge is taken that leaves the least impulse, force times time, on the bath before and
        after it: a hand may come or go in the very edge in which a piece does.
        """
        if self.single:
            return self.after
        least, best_edge = float("inf"), self.after
        for edge in range(len(self.edges_g)):
            impulse, level_g = BRIEF_PUSH_S * abs(self.edges_g[edge] - wanted_g), 0.0
            for index, lasts_s in enumerate(self.between_s):
                level_g += self.edges_g[index]
                impulse += abs(level_g - (wanted_g if index >= edge else 0.0)) * lasts_s
            if impulse < least:
                least, best_edge = impulse, self.before + 1 + edge
        return best_edge


def edge_change_g(segments: Sequence[Segment], edge: int) -> float:
    """Return by how much the level changed at an edge [g]."""
    return segments[edge].start_g - segments[edge - 1].end_g


def level_change(segments: Sequence[Segment], before: int, after: int) -> LevelChange | None:
    """Return the change from one segment to a later one.

    Parameters
    ----------
    segments : sequence of Segment
        All so far.
    before, after : int
        Indices of the two.

    Returns
    -------
    LevelChange or None
        None where more lies between them than a touch, or a lift and redip.
    """
    first, last = segments[before], segments[after]
    between = segments[before + 1 : after]
    longest_s = REDIP_S if len(between) == 1 else SHORT_S
    if any(s.end_s - s.start_s > longest_s for s in between):
        return None
    hidden_s = sum(s.silent_s for s in (*between, last) if s.hides)
    lasts_s = last.start_s - first.end_s - hidden_s
    if between and (lasts_s > REDIP_S + REDIP_EDGES_S or last.tared):
        return None
    if any(s.tared for s in between):
        return None
    dripping_g = DRIPPING_G * 2.718 ** (-max(0.0, last.level_age_s) / DRIP_TIME_S)
    variance = first.u_end_g**2 + last.u_start_g**2 + UNEVEN_G**2 + dripping_g**2
    return LevelChange(
        before=before,
        after=after,
        net_g=last.start_g - first.end_g,
        u_g=variance**0.5,
        edges_g=tuple(edge_change_g(segments, edge) for edge in range(before + 1, after + 1)),
        between_s=tuple(
            segments[n + 1].edge_s - segments[n].edge_s for n in range(before + 1, after)
        ),
        lasts_s=lasts_s,
    )


def next_in_turn(pieces: Iterable[int], seen: Collection[int]) -> set[int]:
    """Return the numbers next along the tray: the lowest left, and the next after the highest."""
    left = [piece for piece in pieces if piece not in seen]
    above = [piece for piece in left if piece > max(seen, default=0)]
    return {min(left), min(above, default=min(left))}


def with_piece(state: State, piece: HeldPiece) -> State:
    """Return the state once a piece has gone in."""
    return State(tuple(sorted((*state.held, piece))), state.seen | {piece.piece})


def without_piece(state: State, event: BathEvent) -> State:
    """Return the state once the piece of an event has come out."""
    number, seen = event.piece, state.seen
    left = tuple([piece for piece in state.held if piece.piece != number])
    return State(left, seen if number in seen else seen | {number})
