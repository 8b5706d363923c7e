"""What a bath stage gives out: rows of immersions, the table of pieces, events and proposals.

Pure; used by the bath watcher. The rows are replaced at every tick, since a row may turn out to be
another piece's. An event follows once a row has been the same for a few seconds; a row of which it
is uncertain which piece it was becomes a proposal that one tap confirms.
"""

from collections.abc import Sequence
from operator import attrgetter
from typing import Any, NamedTuple

from logger.model.event import Event
from logger.model.finding import Verdict
from logger.model.rows import ImmersionRow
from logger.model.state import Proposal
from logger.watch.engine.contract import Context, seconds
from logger.watch.scale import pieces as formed
from logger.watch.stages.set.immersion.table import APART_S
from logger.watch.stages.set.pieces import Piece, one_a_piece
from logger.watch.stages.set.rows import Immersion
from logger.words.durations import clock, duration_text

SETTLED_NS = 4_000_000_000
"""How long a row must stay the same before it is an event [ns]: a lift and redip, a splash or a
hand is none."""
SAME_S = 1.0
"""Intervals whose ends differ by no more are the same [s]."""
_moments = attrgetter(
    "piece",
    "in_s",
    "out_s",
    "dwell_s",
    "ambiguous",
    "at_start",
    "in_between_s",
    "out_between_s",
    "dwell_between_s",
    "lifted_s",
    "by_hand",
)
"""What of a row is worth an event when it changes: neither its confidence nor its masses."""


def write(
    context: Context, channel: str | None, pieces: Sequence[Piece], verdicts: Sequence[Verdict]
) -> None:
    """Write the rows of one bath stage, and dwell and skin of each piece.

    Parameters
    ----------
    context : Context
        Of the bath stage.
    channel : str or None
        The bath scale.
    pieces : sequence of Piece
        All rows.
    verdicts : sequence of str
        Of their dwells.
    """
    results, stage_id = context.out.results, context.stage_id
    mine = [row_of(p, stage_id, channel, v) for p, v in zip(pieces, verdicts, strict=True)]
    others = [r for r in results.immersions if r.stage != stage_id]
    results.immersions[:] = [*others, *mine]
    for facts in context.batch.pieces.values():
        facts.dwell_s = facts.set_fraction = None
    for piece in one_a_piece(list(pieces)):
        if piece.number is not None:
            facts = formed.facts_of(context.batch, piece.number)
            facts.dwell_s, facts.set_fraction = piece.row.dwell_s, piece.set_fraction
    formed.write(context)


def row_of(piece: Piece, stage: str, channel: str | None, verdict: Verdict) -> ImmersionRow:
    """Return the row of an immersion for the results.

    Parameters
    ----------
    piece : Piece
        The row.
    stage : str
        Id of the bath stage.
    channel : str or None
        The bath scale.
    verdict : Verdict
        Of the dwell.

    Notes
    -----
    Where a gap hides a moment, the time is None and ``in_between_s`` or ``out_between_s`` holds the
    interval [s]; ``dwell_between_s`` then holds that of the dwell. So it does, with all that it may
    have been, where a verdict holds whichever piece it was.
    """
    row = piece.row
    dwell_s, between_s = row.dwell_s, row.dwell_between_s
    if dwell_s is not None and row.ambiguous and verdict in ("met", "not met"):
        low_s, high_s = row.may_last_s or (dwell_s, dwell_s)
        if high_s - low_s > APART_S:
            dwell_s, between_s = None, (low_s, high_s)
    return ImmersionRow(
        stage=stage,
        immersion=row.number,
        piece=piece.number,
        channel=channel,
        in_s=row.in_s,
        out_s=row.out_s,
        dwell_s=dwell_s,
        in_between_s=row.in_between_s,
        out_between_s=row.out_between_s,
        dwell_between_s=between_s,
        mass_in_g=row.mass_in_g,
        mass_out_g=row.mass_out_g,
        set_fraction=piece.set_fraction,
        confidence=row.confidence,
        ambiguous=row.ambiguous,
        by_hand=row.by_hand,
        candidates=[c.dwell_s for c in row.candidates],
        verdict=verdict,
    )


class Answer(NamedTuple):
    """Whether a row is a piece, by their numbers as the question had them, and when it came out.

    Attributes
    ----------
    immersion, piece : Any
        Number of the row and of the piece.
    yes : bool
        Whether it is.
    out_s : tuple of float
        Interval within which what was asked about came out [s].
    """

    immersion: Any
    piece: Any
    yes: bool
    out_s: tuple[float, float]


class ImmersionEvents:
    """Emits events and proposals, and remembers those of each row.

    Parameters
    ----------
    context : Context
        Of the bath stage.
    channel : str or None
        The bath scale.
    """

    def __init__(self, context: Context, channel: str | None) -> None:
        self.context, self.channel = context, channel
        self._emitted: dict[int, Immersion] = {}
        self._pending: dict[int, tuple[Immersion, int]] = {}
        self._answered: list[tuple[Any, tuple[float, float]]] = []
        """Pieces, and within which intervals they did or did not come out [s]."""

    def emit(self, t_ns: int, pieces: list[Piece], *, ended: bool) -> None:
        """Emit what is new: a piece in, a piece out, a row that has changed.

        Parameters
        ----------
        t_ns : int
            Now [ns].
        pieces : list of Piece
            All rows.
        ended : bool
            No reading will follow: do not wait for a row to stay the same.
        """
        for piece in pieces:
            row = piece.row
            old = self._emitted.get(row.number)
            if old is not None and _same(old, row):
                self._pending.pop(row.number, None)
                continue
            pending, since_ns = self._pending.get(row.number, (row, t_ns))
            if not _same(pending, row):
                since_ns = t_ns
            self._pending[row.number] = row, since_ns
            if t_ns - since_ns >= SETTLED_NS or ended:
                self._emitted[row.number] = row
                self._emit(t_ns, piece, old)

    def propose(self, t_ns: int, pieces: list[Piece]) -> None:
        """Propose which piece an ambiguous row is, where a verdict depends on it.

        What was answered is not asked again; a question follows its row where that changes.
        """
        proposals = self.context.out.proposals
        wanted = {
            f"{self.context.stage_id}.piece.{p.row.number}.{p.number}": p
            for p in pieces
            if p.unsure and p.matters and not p.inside and not self._was_answered(p)
        }
        for key in [k for k, p in proposals.items() if p.what == "piece" and k not in wanted]:
            del proposals[key]
        for key, piece in wanted.items():
            out_s = _out_span_s(piece.row)
            known = proposals.get(key)
            if known is None or not _same_span(known.data["out_s"], out_s):
                data = {"immersion": piece.row.number, "piece": piece.number, "out_s": out_s}
                text = _question(piece)
                proposals[key] = Proposal(
                    id=key, text=text, what="piece", t_s=seconds(t_ns), data=data
                )

    def _was_answered(self, piece: Piece) -> bool:
        out_s = _out_span_s(piece.row)
        return piece.number is None or any(
            number == piece.number and _same_span(said_s, out_s)
            for number, said_s in self._answered
        )

    def answer(self, event: Event) -> Answer | None:
        """Take an ``accept`` or ``decline``; return what it says where it answers a question.

        Files of earlier editions name the row alone, without the piece at the end.
        """
        proposals, named = self.context.out.proposals, str(event.data.get("proposal"))
        keys = (key for key in proposals if key == named or key.rpartition(".")[0] == named)
        proposal = next((proposals[key] for key in keys if proposals[key].what == "piece"), None)
        if proposal is None:
            return None
        del proposals[proposal.id]
        asked = proposal.data
        self._answered.append((asked["piece"], asked["out_s"]))
        yes = event.kind == "accept"
        return Answer(asked["immersion"], asked["piece"], yes, asked["out_s"])

    def _emit(self, t_ns: int, piece: Piece, old: Immersion | None) -> None:
        row, out, stage = piece.row, self.context.out, self.context.stage_id
        name = "a piece" if piece.number is None else f"piece {piece.number}"
        about: dict[str, Any] = {
            "immersion": row.number,
            "piece": piece.number,
            "in_s": row.in_s,
            "out_s": row.out_s,
            "dwell_s": row.dwell_s,
        }
        if old is None:
            out.emit(
                t_ns,
                "immersion_in",
                f"{name} into the bath",
                channel=self.channel,
                stage=stage,
                **about,
            )
        was_inside = old is None or (old.out_s is None and old.out_between_s is None)
        if not piece.inside and was_inside:
            took = "" if row.dwell_s is None else f" after {duration_text(row.dwell_s)}"
            out.emit(
                t_ns,
                "immersion_out",
                f"{name} out of the bath{took}",
                channel=self.channel,
                stage=stage,
                **about,
            )
        elif old is not None:
            out.emit(
                t_ns,
                "immersion_changed",
                f"row {row.number} is {name}",
                channel=self.channel,
                stage=stage,
                **about,
            )


def _question(piece: Piece) -> str:
    """Return the question whether a row is its piece, with what else it may have been."""
    row = piece.row
    when = "" if row.out_s is None else f" at {clock(row.out_s)}"
    dwell = "" if row.dwell_s is None else f", after {duration_text(row.dwell_s)}"
    others = [duration_text(c.dwell_s) for c in row.candidates]
    return f"Was that piece {piece.number} that came out{when}{dwell}?" + (
        f" It may have been in for {' or '.join(others)}." if others else ""
    )


def _out_span_s(row: Immersion) -> tuple[float, float]:
    """Return within which interval a row came out [s]."""
    at_s = row.out_s or 0.0
    return (at_s, at_s) if row.out_between_s is None else row.out_between_s


def _same_span(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return max(abs(a[0] - b[0]), abs(a[1] - b[1])) <= SAME_S


def _same(a: Immersion, b: Immersion) -> bool:
    return a is b or _moments(a) == _moments(b)
