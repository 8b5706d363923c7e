"""A tare in the middle of a run: offered as an offset, and counted in once it is accepted.

Pure; a watcher that lives as long as the run. What the scale shows stays as it is stored and as
logger.watch.sensors.health sees it; once the operator accepts, every later reading means the load
from before the tare on, live and on replay. Where the tare key is part of the work nothing is
offered: stages of such a kind begin anew at each zero.
"""

from collections.abc import Iterable

from logger.model.event import Event
from logger.model.kinds.registry import kind_named
from logger.model.rows import ImmersionRow, TareRow
from logger.model.state import Proposal
from logger.watch.engine.contract import Context, seconds
from logger.watch.engine.plain import Plain
from logger.watch.sensors.pulse import Tare
from logger.words.values import value_text

WHAT = "tare_offset"
_BACK_SHARE, _COMES_S, _HOLDS_S = 0.9, 5.0, 3.0
"""A bowl was lifted and not tared where so much of what went is back, from less than half of it
within so long [s], and stays for so long [s]: what is poured in after a tare comes slower."""
_ROLES = ("bowl_scale", "bath_scale")
_OFF_G, _OFF_SHARE, _LATELY_S = 3.0, 0.1, 10.0
"""What a load that leaves may differ from what came, in grams or as a share of it (drag, drips);
and how long ago it may have been found to leave [s]."""


def is_removal(tare: Tare, pieces: Iterable[ImmersionRow]) -> bool:
    """Return whether a jump to zero is what was put on being taken off again.

    A bath that was tared with its water in it shows zero without pieces, too: the last one that is
    lifted out brings it back there.

    Parameters
    ----------
    tare : Tare
        What looks like a press of the tare key.
    pieces : iterable of ImmersionRow
        Pieces that were put on the same scale.
    """
    if tare.by_flag:
        return False
    at_s, fell_g = seconds(tare.t_ns), tare.before_g - tare.after_g
    masses_g = [
        p.mass_in_g or 0.0
        for p in pieces
        if p.inside or (p.out_s is not None and abs(p.out_s - at_s) <= _LATELY_S)
    ]
    return bool(masses_g) and abs(fell_g - sum(masses_g)) <= max(_OFF_G, _OFF_SHARE * fell_g)


class Tares(Plain):
    """Offers the offset of each suspected tare, and keeps those that were accepted."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._names = {c.id: c.name for c in context.bench.channel if c.role in _ROLES}
        self._kind = ""
        """Kind of the stage under way."""
        self._away_s: dict[str, float] = {}
        """When less than half was on the scale, last, by the question [s]."""
        self._back_s: dict[str, float] = {}
        """Since when what went is back [s]."""

    def event(self, event: Event) -> None:
        """Take tares, answers, and which stage is under way."""
        if event.kind == "stage_start":
            self._kind = str(event.data.get("stage_kind", ""))
        elif event.kind == "tare_suspected" and event.channel in self._names:
            kind = kind_named(self._kind)
            if kind is None or not kind.tares:
                self._offer(event, event.channel)
        elif event.kind == "accept":
            self._accepted(event)

    def tick(self, t_ns: int) -> None:
        """Take a question back once what went is on the scale again."""
        super().tick(t_ns)
        proposals = self.context.out.proposals
        for key in [k for k, p in proposals.items() if p.what == WHAT]:
            if self._is_back(key, proposals[key], seconds(t_ns)):
                del proposals[key]

    def _is_back(self, key: str, asked: Proposal, now_s: float) -> bool:
        last = self.context.batch.last.get(str(asked.data["channel"]))
        shown_g = None if last is None else last.value
        went_g = float(asked.data["offset_g"])
        if shown_g is None or went_g <= 0.0 or asked.data["by_flag"]:
            return False
        share = (shown_g - float(asked.data["after_g"])) / went_g
        if share < 0.5:
            self._away_s[key] = now_s
        if share < _BACK_SHARE:
            self._back_s.pop(key, None)
            return False
        back_s = self._back_s.setdefault(key, now_s)
        at_once = back_s - self._away_s.get(key, back_s) <= _COMES_S
        return at_once and now_s - back_s >= _HOLDS_S

    def _offer(self, event: Event, channel: str) -> None:
        before_g, after_g = float(event.data["before_g"]), float(event.data["after_g"])
        proposals = self.context.out.proposals
        for key in [k for k, p in proposals.items() if p.data.get("channel") == channel]:
            del proposals[key]  # of an earlier tare, never answered
        key = f"tare.{channel}.{event.data['at_s']:.3f}"
        proposals[key] = Proposal(
            id=key,
            text=f"{self._names[channel]}: tared? It went from {value_text(before_g, 'g')} to "
            f"{value_text(after_g, 'g')}. Go on counting from {value_text(before_g, 'g')}?",
            what=WHAT,
            t_s=seconds(event.t_ns),
            data={
                "channel": channel,
                "offset_g": before_g - after_g,
                "after_g": after_g,
                "at_s": event.data["at_s"],
                "by_flag": event.data["by_flag"],
            },
        )

    def _accepted(self, event: Event) -> None:
        proposal = self.context.out.proposals.get(str(event.data.get("proposal")))
        if proposal is None or proposal.what != WHAT:
            return
        channel, offset_g = str(proposal.data["channel"]), float(proposal.data["offset_g"])
        offsets_g = self.context.batch.offsets_g
        offsets_g[channel] = offsets_g.get(channel, 0.0) + offset_g
        at_s = seconds(event.t_ns)
        self.context.out.results.tares.append(
            TareRow(channel=channel, from_s=at_s, offset_g=offsets_g[channel])
        )
        self.context.out.emit(
            event.t_ns,
            "tare_counted",
            f"{self._names[channel]}: {value_text(offset_g, 'g')} of the tare "
            "are added back from now on",
            channel=channel,
            at_s=at_s,
            offset_g=-offset_g,
            total_g=offsets_g[channel],
        )
