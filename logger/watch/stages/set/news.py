"""What the bath has to say as it happens: a piece in, a piece out, and which piece was that.

Pure; used by the bath watcher. A row is told once it has stood for a few seconds; a row that cannot
be told is proposed, and one tap confirms it.
"""

from typing import Any

from logger.model.event import Event
from logger.model.state import Proposal
from logger.watch.engine.contract import Context, seconds
from logger.watch.stages.set.board import Piece, same_news
from logger.watch.stages.set.immersion.assignment import Immersion
from logger.watch.verdict.checks import shown

STANDS_NS = 4_000_000_000
"""How long a row must read the same before it is told [ns]: a lift and redip, a splash or a hand is
none."""


class News:
    """Remembers what was told and asked of each row.

    Parameters
    ----------
    context : Context
        Of the bath stage.
    channel : str or None
        The bath scale.
    """

    def __init__(self, context: Context, channel: str | None) -> None:
        self.context, self.channel = context, channel
        self._told: dict[int, Immersion] = {}
        self._news: dict[int, tuple[Immersion, int]] = {}
        self._declined: set[str] = set()

    def tell(self, t_ns: int, pieces: list[Piece], *, ended: bool) -> None:
        """Say what is new: a piece in, a piece out, a row that reads otherwise than before."""
        for piece in pieces:
            row = piece.row
            old = self._told.get(row.number)
            if old is not None and same_news(old, row):
                self._news.pop(row.number, None)
                continue
            news, since_ns = self._news.get(row.number, (row, t_ns))
            if not same_news(news, row):
                since_ns = t_ns
            self._news[row.number] = row, since_ns
            if t_ns - since_ns >= STANDS_NS or ended:
                self._told[row.number] = row
                self._say(t_ns, piece, old)

    def ask(self, t_ns: int, pieces: list[Piece]) -> None:
        """Propose which piece an ambiguous row is, where a verdict hangs on it, unless that was
        declined."""
        proposals = self.context.out.proposals
        for piece in pieces:
            row = piece.row
            key = f"{self.context.stage_id}.piece.{row.number}"
            asked = piece.unsure and piece.matters and not piece.inside
            if not asked or piece.number is None:
                proposals.pop(key, None)
            elif key not in proposals and key not in self._declined:
                others = [shown(c.dwell_s, "s") for c in row.candidates]
                dwell = "" if row.dwell_s is None else f" after {shown(row.dwell_s, 's')}"
                proposals[key] = Proposal(
                    id=key,
                    text=f"Was that piece {piece.number} that came out{dwell}?"
                    + (f" It may have been in for {' or '.join(others)}." if others else ""),
                    what="piece",
                    t_s=seconds(t_ns),
                    data={"immersion": row.number, "piece": piece.number},
                )

    def answered(self, event: Event) -> tuple[Any, Any] | None:
        """Take an ``accept`` or ``decline``; returns row and piece of a proposal that was taken."""
        proposal = self.context.out.proposals.get(str(event.data.get("proposal")))
        if proposal is None or proposal.what != "piece":
            return None
        if event.kind == "decline":
            self._declined.add(proposal.id)
            return None
        return proposal.data.get("immersion"), proposal.data.get("piece")

    def _say(self, t_ns: int, piece: Piece, old: Immersion | None) -> None:
        row, out, stage = piece.row, self.context.out, self.context.stage_id
        name = "a piece" if piece.number is None else f"piece {piece.number}"
        about: dict[str, Any] = {
            "immersion": row.number, "piece": piece.number, "in_s": row.in_s, "out_s": row.out_s,
            "dwell_s": row.dwell_s,
        }  # fmt: skip
        if old is None:
            out.emit(t_ns, "immersion_in", f"{name} into the bath", channel=self.channel,
                     stage=stage, **about)  # fmt: skip
        was_inside = old is None or (old.out_s is None and old.out_between_s is None)
        if not piece.inside and was_inside:
            took = "" if row.dwell_s is None else f" after {shown(row.dwell_s, 's')}"
            out.emit(t_ns, "immersion_out", f"{name} out of the bath{took}", channel=self.channel,
                     stage=stage, **about)  # fmt: skip
        elif old is not None:
            out.emit(t_ns, "immersion_changed", f"row {row.number} is {name}",
                     channel=self.channel, stage=stage, **about)  # fmt: skip
