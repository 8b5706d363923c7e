"""A bath heavier or lighter after its scale was silent, by what no piece explains: that is asked.

Pure; used by the bath watcher. After a power cut or an unplugged scale a piece may be in the bath
that nobody saw go in, or be gone. Whether it is one, or water, the mass alone can't tell.
"""

from collections.abc import Sequence

from logger.model.event import Event
from logger.model.state import Proposal
from logger.watch.engine.contract import Context, seconds
from logger.watch.stages.set.rows import BathTable, HiddenRise
from logger.words.durations import clock
from logger.words.values import value_text

WHAT = "bath_rise"
LEAST_G, LEAST_SHARE = 5.0, 0.5
"""Smallest change that is asked about: in grams, and as a share of the lightest piece."""


class HiddenRises:
    """Asks of each rise or fall whether it was no piece, and keeps the answers."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._else: set[str] = set()
        """Those that were something else."""
        self._answered: set[str] = set()
        self.open: tuple[HiddenRise, ...] = ()
        """Those that may be a piece."""

    def look(self, t_ns: int, table: BathTable, masses_g: Sequence[float]) -> None:
        """Look which changes no piece explains, and ask of those that nobody answered.

        Parameters
        ----------
        t_ns : int
            Now [ns].
        table : BathTable
            Of the bath.
        masses_g : sequence of float
            Of the pieces, as far as they are known [g].
        """
        least_g = max(LEAST_G, LEAST_SHARE * min(masses_g, default=0.0))
        found = {
            self._key(r): r for r in table.hidden if abs(r.rise_g) >= least_g and _there(r, table)
        }
        self.open = tuple(rise for key, rise in found.items() if key not in self._else)
        proposals = self._context.out.proposals
        for key in [k for k, p in proposals.items() if p.what == WHAT and k not in found]:
            del proposals[key]
        for key, rise in found.items():
            if key not in proposals and key not in self._answered:
                text = f"{rise_text(rise)} Was that something else than a piece?"
                proposals[key] = Proposal(id=key, text=text, what=WHAT, t_s=seconds(t_ns))

    def asks(self, *, inside: bool) -> str:
        """Return what to ask now: of a rise once no piece is in, of a fall while one is.

        Parameters
        ----------
        inside : bool
            Whether a piece is in the bath by all that is known.
        """
        open_now = [rise for rise in self.open if (rise.rise_g < 0.0) == inside]
        if not open_now:
            return ""
        which = "Did a piece come out?" if inside else "Is a piece in the bath?"
        return f"{which} {rise_text(open_now[-1])}"

    def answer(self, event: Event) -> None:
        """Take an ``accept`` or ``decline``, where it answers one of these questions."""
        key = str(event.data.get("proposal"))
        proposal = self._context.out.proposals.get(key)
        if proposal is None or proposal.what != WHAT:
            return
        del self._context.out.proposals[key]
        self._answered.add(key)
        if event.kind == "accept":
            self._else.add(key)

    def _key(self, rise: HiddenRise) -> str:
        return f"{self._context.stage_id}.rise.{rise.to_s:.0f}"


def _there(rise: HiddenRise, table: BathTable) -> bool:
    """Return whether a change is left over, once every piece has its place."""
    return any(rise.from_s <= other.t_s <= rise.to_s for other in table.others)


def rise_text(rise: HiddenRise) -> str:
    """Say by how much the bath got heavier or lighter, and when."""
    than = "heavier" if rise.rise_g > 0.0 else "lighter"
    return (
        f"The bath got {value_text(abs(rise.rise_g), 'g')} {than} while its scale was silent, "
        f"{clock(rise.from_s)} to {clock(rise.to_s)}."
    )
