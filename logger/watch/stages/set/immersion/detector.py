"""The door to the immersion detector: readings and statements in, table of immersions out.

Pure: takes time from what it is fed, keeps plain attributes, gives the same answer however the
stream was cut. Used by the bath watcher; the bath scale's channel feeds it.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace

from logger.watch.stages.set.immersion.gaps import placed_in_gaps
from logger.watch.stages.set.immersion.segmentation import Segmenter
from logger.watch.stages.set.immersion.stairs import joined
from logger.watch.stages.set.immersion.states import SaidOut, SideInformation
from logger.watch.stages.set.immersion.table import build_table
from logger.watch.stages.set.rows import BathTable, Immersion
from logger.watch.stages.set.segment import Segment

LABEL_REACH_S = 12.0
"""A statement of the operator belongs to an edge at most this far away [s]."""
NEARBY_S = 0.5
"""An edge belongs to the interval of an answer that it misses by no more [s]."""
LIGHTEST_STEP_G, LEAST_STEP_G, STEP_SHARE = 6.0, 2.5, 0.35
"""Smallest change that is an edge [g]: without registered masses, at least, and as a share of the
lightest piece."""
LOOK_AGAIN_S = (4.0, 12.0)
"""The table is worked out again so long after a new level [s]: drips are over, it is known best."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RawEvent:
    """A lasting change of level, or a statement, as it was seen at the time; never changed later.

    Attributes
    ----------
    t_s : float
        When [s]; the middle of the interval where it fell into a gap.
    kind : str
        ``up``, ``down``, ``gap``, ``tare`` or ``statement``.
    change_g : float
        By how much the level changed [g].
    """

    t_s: float
    kind: str
    change_g: float = 0.0


@dataclass(frozen=True, slots=True)
class _Statement:
    """That a piece goes ``in`` or comes ``out``, as the operator says."""

    t_s: float
    direction: str
    piece: int


@dataclass(frozen=True, slots=True)
class _Answer:
    """Whether a piece came out within an interval [s]: its number, and when it went in [s] where
    that tells it better.
    """

    out_s: tuple[float, float]
    piece: int
    came_s: tuple[float, float] | None
    yes: bool


class ImmersionDetector:
    """Times the pieces in a bath.

    Parameters
    ----------
    masses_g : dict, optional
        Registered mass by piece number [g].
    planned_s : tuple, optional
        Shortest and longest planned dwell [s].
    pieces : int, optional
        How many pieces there are.
    usual_g : float, optional
        What a piece weighs by its size, where nobody weighed it [g].
    segmenter : Segmenter, optional
        Fed by somebody else, from whose levels the table is made; else one of its own, for `feed`.
    first : int
        Level of the segmenter from which on changes count.

    Attributes
    ----------
    log : list of RawEvent
        Every edge, tare and statement as it came; it only grows.
    ended : bool
        No reading will follow.
    """

    def __init__(
        self,
        *,
        masses_g: dict[int, float] | None = None,
        planned_s: tuple[float, float] | None = None,
        pieces: int | None = None,
        usual_g: float | None = None,
        segmenter: Segmenter | None = None,
        first: int = 0,
    ) -> None:
        self.masses_g = dict(masses_g or {})
        self.planned_s = planned_s
        self.pieces = pieces
        self.usual_g = usual_g
        self.log: list[RawEvent] = []
        self.ended = False
        self._segmenter = segmenter if segmenter is not None else Segmenter()
        self._segmenter.min_step_g = self._least_step_g()
        self._first = first
        self._known = -1
        """Levels behind those looked at last."""
        self._logged = 0
        """Levels whose edges are in the log."""
        self._statements: list[_Statement] = []
        self._answers: list[_Answer] = []
        self._segments: list[Segment] = []
        """As they were when the level last settled."""
        self._looks_s: list[float] = []
        self._table: BathTable | None = None

    def feed(self, t_s: float, mass_g: float | None) -> None:
        """Take one reading of the bath scale [s, g]; None for a reading without a value."""
        self._segmenter.feed(t_s, mass_g)
        self.take(t_s)

    def take(self, t_s: float) -> None:
        """Take that the segmenter was fed a reading of a time [s]."""
        segmenter = self._segmenter
        if segmenter.moving:
            return
        if len(segmenter.finished) != self._known:
            self.look()
            self._looks_s = [t_s + later_s for later_s in LOOK_AGAIN_S]
        elif self._looks_s and t_s >= self._looks_s[0]:
            self._looks_s.pop(0)
            self.look()

    def register(self, piece: int, mass_g: float) -> None:
        """Take the mass of a piece before the bath [g]."""
        self.masses_g[piece] = mass_g
        self._segmenter.min_step_g = self._least_step_g()
        self._table = None

    def tare(self, t_s: float) -> None:
        """Take a tare of the scale, announced at a time [s]."""
        self._segmenter.tare(t_s)
        self.note_tare(t_s)

    def note_tare(self, t_s: float) -> None:
        """Log a tare that the segmenter was told of, announced at a time [s]."""
        self.log.append(RawEvent(t_s=t_s, kind="tare"))

    def say(self, t_s: float, direction: str, piece: int) -> None:
        """Take the operator's statement that a piece goes in or comes out about now.

        Parameters
        ----------
        t_s : float
            When it was made [s].
        direction : str
            ``in`` or ``out``.
        piece : int
            Number of the piece.
        """
        self._statements.append(_Statement(t_s, direction, piece))
        self.log.append(RawEvent(t_s=t_s, kind="statement"))
        self._table = None

    def answer(
        self, number: int, piece: int, *, yes: bool, out_s: tuple[float, float] | None = None
    ) -> None:
        """Take the operator's answer whether a row of the table is a piece, at its last edge.

        Parameters
        ----------
        number : int
            Of the row.
        piece : int
            Number of the piece.
        yes : bool
            Whether it is.
        out_s : tuple of float, optional
            Interval within which the row was said to come out as this was asked [s]; as the row is
            now without it.
        """
        rows = self.table().immersions
        row = next((row for row in rows if row.number == number), None)
        if out_s is None and row is not None:
            out_s = _span_s(row.out_s, row.out_between_s)
        if out_s is None:
            if yes and row is not None and row.in_s is not None:
                self.say(row.in_s, "in", piece)
            return
        came_s = None
        if not self.masses_g:  # numbers go by who went in first: they may change
            same = next((other for other in rows if other.piece == piece), None)
            came_s = None if same is None else _span_s(same.in_s, same.in_between_s)
        self._answers.append(_Answer(out_s, piece, came_s, yes))
        self.log.append(RawEvent(t_s=sum(out_s) / 2.0, kind="statement"))
        self._table = None

    def end(self) -> None:
        """End the readings: none will follow."""
        self.ended = True
        self.look()

    def go_on(self) -> None:
        """Take back that the readings have ended."""
        self.ended = False
        self._table = None

    def look(self) -> None:
        """Look at the levels as they are now; those that are new go into the log."""
        self._known = len(self._segmenter.finished)
        levels = self._segmenter.levels[self._first :]
        for edge in range(max(1, self._logged), len(levels)):
            self._log_edge(levels[edge - 1], levels[edge])
        self._logged = len(levels)
        self._segments = joined(levels, self.masses_g.values())
        self._table = None

    def level_before(self, t_s: float) -> int:
        """Return the level of the segmenter from which the edge around a time [s] leads away."""
        segments = self._segments
        edges = range(1, len(segments))
        edge = next((n for n in edges if segments[n].edge_to_s >= t_s), len(segments))
        before_s = segments[edge - 1].start_s
        levels = self._segmenter.levels
        return next(n for n, level in enumerate(levels) if level.start_s >= before_s)

    def table(self) -> BathTable:
        """Return the table as it was when the level last settled; asking changes nothing."""
        if self._table is None:
            self._table = self._explained()
        return self._table

    def _explained(self) -> BathTable:
        segments = self._segments
        in_labels, out_labels, unplaced = self._placed_statements(segments)
        given = SideInformation(
            masses_g=self.masses_g,
            pieces=self.pieces,
            usual_g=self.usual_g,
            out_labels=out_labels,
            in_labels=in_labels,
            answers=self._placed_answers(segments),
            ended=self.ended,
        )
        found = build_table(segments, given, self.planned_s)
        placed = placed_in_gaps(found.immersions, found.hidden, found.silences_s)
        found = replace(found, immersions=placed)
        return _with_statements(found, unplaced)

    def _placed_statements(
        self, segments: list[Segment]
    ) -> tuple[dict[int, int], dict[int, int], list[_Statement]]:
        """Return the labels of edges in and out, and the statements near no edge.

        Each statement labels the nearest edge of its direction that has no label yet.
        """
        in_labels: dict[int, int] = {}
        out_labels: dict[int, int] = {}
        unplaced: list[_Statement] = []
        for statement in self._statements:
            labels = out_labels if statement.direction == "out" else in_labels
            sign = -1 if statement.direction == "out" else 1
            edge = _nearest_edge(segments, statement.t_s, sign, labels)
            if edge is not None:
                labels[edge] = statement.piece
            else:
                unplaced.append(statement)
        return in_labels, out_labels, unplaced

    def _placed_answers(self, segments: list[Segment]) -> frozenset[SaidOut]:
        """Return the answers by the edges that they are about; the last about a piece counts."""
        found: dict[tuple[frozenset[int], int | None, frozenset[int]], bool] = {}
        for said in self._answers:
            edges = _edges_within(segments, said.out_s, -1)
            came = frozenset[int]()
            if said.came_s is not None:
                came = _edges_within(segments, said.came_s, 1)
            if not edges:
                continue
            if said.yes and len(edges) == 1 and not segments[min(edges)].hides:
                # of one that left, the last is meant
                found = {key: yes for key, yes in found.items() if key[0] != edges or not yes}
            found[edges, None if came else said.piece, came] = said.yes
        return frozenset(SaidOut(*key, yes) for key, yes in found.items())

    def _log_edge(self, before: Segment, after: Segment) -> None:
        change_g = after.initial_g - before.end_g
        if after.tared:
            kind = "tare"
        elif after.in_gap:
            kind = "gap"
        else:
            kind = "up" if change_g > 0 else "down"
        self.log.append(RawEvent(t_s=after.edge_s, kind=kind, change_g=change_g))

    def _least_step_g(self) -> float:
        if not self.masses_g:
            return LIGHTEST_STEP_G
        lightest_g = min(self.masses_g.values())
        return max(LEAST_STEP_G, min(LIGHTEST_STEP_G, STEP_SHARE * lightest_g))


def _nearest_edge(
    segments: list[Segment], t_s: float, sign: int, but: Collection[int] = ()
) -> int | None:
    """Return the edge up (1) or down (-1) that is nearest to a time [s] and near it.

    One that a gap hides is as near as the gap, up or down: more may have happened in it.
    """
    best, nearest_s = None, LABEL_REACH_S
    for edge in range(1, len(segments)):
        before, after = segments[edge - 1], segments[edge]
        off_s = abs(after.edge_s - t_s)
        if after.hides:
            off_s = max(0.0, before.end_s - t_s, t_s - after.start_s)
        fits = after.hides or (after.start_g - before.end_g) * sign > 0
        if fits and off_s <= nearest_s and edge not in but:
            best, nearest_s = edge, off_s
    return best


def _edges_within(
    segments: list[Segment], between_s: tuple[float, float], sign: int
) -> frozenset[int]:
    """Return the edges up (1) or down (-1) within an interval [s]; else the nearest to its middle.

    A gap that reaches into the interval is one of them.
    """
    from_s, to_s = between_s
    found = set()
    for edge in range(1, len(segments)) if to_s > from_s else ():
        before, after = segments[edge - 1], segments[edge]
        if after.hides:
            within = before.end_s < to_s and after.start_s > from_s
        else:
            up_or_down = (after.start_g - before.end_g) * sign > 0.0
            within = up_or_down and from_s - NEARBY_S <= after.edge_s <= to_s + NEARBY_S
        if within:
            found.add(edge)
    if not found:
        nearest = _nearest_edge(segments, (from_s + to_s) / 2.0, sign)
        found = set() if nearest is None else {nearest}
    return frozenset(found)


def _span_s(
    at_s: float | None, between_s: tuple[float, float] | None
) -> tuple[float, float] | None:
    """Return an interval [s], or a moment as an interval without length."""
    return (at_s, at_s) if between_s is None and at_s is not None else between_s


def _with_statements(found: BathTable, statements: list[_Statement]) -> BathTable:
    """Return the table with the pieces that the operator saw and the scale did not."""
    if not statements:
        return found
    rows = list(found.immersions)
    for statement in statements:
        piece, t_s = statement.piece, statement.t_s
        own = [i for i, row in enumerate(rows) if row.piece == piece]
        inside = next((i for i in own if _inside(rows[i])), None)
        if statement.direction == "in":
            if inside is None:  # else said twice, or the scale saw it
                rows.append(_row_by_hand(len(rows) + 1, piece, in_s=t_s))
        elif inside is not None:
            row = rows[inside]
            dwell_s = None if row.in_s is None else t_s - row.in_s
            rows[inside] = replace(row, out_s=t_s, dwell_s=dwell_s, by_hand=True)
        elif not own:
            rows.append(_row_by_hand(len(rows) + 1, piece, out_s=t_s))
    return replace(found, immersions=tuple(rows))


def _inside(row: Immersion) -> bool:
    return row.out_s is None and row.out_between_s is None


def _row_by_hand(
    number: int, piece: int, *, in_s: float | None = None, out_s: float | None = None
) -> Immersion:
    return Immersion(
        number=number,
        piece=piece,
        in_s=in_s,
        out_s=out_s,
        dwell_s=None,
        at_start=in_s is None,
        by_hand=True,
    )
