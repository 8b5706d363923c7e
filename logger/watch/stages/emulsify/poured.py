"""What the pours of a stage come to: mass, rate and fat fraction against the sheet.

Pure; used by logger.watch.stages.emulsify.watcher. Readings of the bowl scale go in, events and
rows of pours come out. Nothing is judged before the pour has ended: until then a fraction is on
its way to its band.
"""

from __future__ import annotations

import math

from logger.batch import phases
from logger.model.event import Event
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.reading import Reading
from logger.model.rows import PourRow
from logger.model.state import Number, Proposal
from logger.model.written import Band
from logger.watch.engine.contract import Context, seconds
from logger.watch.scale.pour import FLOWS_SHARE, Pour
from logger.watch.scale.pour_seen import Part
from logger.watch.stages.emulsify.bowl import BowlDetector
from logger.watch.verdict.checks import finding, number
from logger.watch.verdict.measured import Measured
from logger.words.durations import clock, clock_span
from logger.words.values import rounded_text

SILENT_S = 5.0
"""A scale that has sent nothing for longer than this says nothing of the pour [s]."""
RATE_FROM_S = 6.0
"""A rate is told and alarmed from so long after the beginning on [s]."""
ASKED = "pour_part"
"""Proposals of this module."""
JUDGED = ("emulsify.poured_g", "emulsify.pour_rate_g_min", "emulsify.fat_fraction_percent")
"""Keys of the findings about a pour."""
STILL_POURING = "still pouring"
NOT_OVER = "the pour was still going on when the stage ended"
NO_RATE = "it did not flow steadily enough to give a rate"


class Poured:
    """Follows the pours of one stage of combining."""

    def __init__(self, context: Context, stage: EmulsifyStage) -> None:
        self.context = context
        self.stage = stage
        self.scale = context.channel_id("bowl_scale")
        self.detector = context.detector(BowlDetector).begin(stage, seconds(context.start_ns))
        self.weighed = False
        """Whether the bowl scale has said anything."""
        self.now_ns = context.start_ns
        self._u_scale_g = math.nan
        self._heard_s: float | None = None
        """Time of the last value of the scale [s]."""
        self._silences_s: list[tuple[float, float]] = []
        """From when to when it sent nothing [s]."""

    @property
    def running(self) -> bool:
        """Whether a pour is under way."""
        return self.detector.running

    @property
    def pours(self) -> list[Pour]:
        """All pours so far."""
        return self.detector.pours

    @property
    def total_g(self) -> float:
        """Mass of all pours so far [g]."""
        return self.detector.poured_g

    def reading(self, reading: Reading) -> None:
        """Take one reading of the bowl scale."""
        if reading.value is not None:
            self.weighed = True
            now_s = seconds(reading.t_ns)
            if self._heard_s is not None and now_s - self._heard_s > SILENT_S:
                self._silences_s.append((self._heard_s, now_s))
            self._heard_s = now_s
            self._u_scale_g = reading.u

    def silent_since_s(self, t_ns: int) -> float | None:
        """Return since when the scale has sent nothing [s], at a time [ns]; None if it speaks."""
        heard_s = self._heard_s
        return None if heard_s is None or seconds(t_ns) - heard_s <= SILENT_S else heard_s

    def event(self, event: Event) -> None:
        """Take the answer to a question about what came."""
        if event.kind not in ("accept", "decline"):
            return
        proposal = self.context.out.proposals.get(str(event.data.get("proposal")))
        if proposal is not None and proposal.what == ASKED:
            self.detector.answers[str(proposal.data["part"])] = event.kind == "accept"

    def look(self, t_ns: int) -> Pour | None:
        """Look for a pour that began or ended, tell it, and give it."""
        self.now_ns = t_ns
        changed = self.detector.look(seconds(t_ns))
        if changed is not None:
            self._tell(changed, t_ns)
        self._keep_rows()
        self._ask(t_ns)
        return changed

    def finish(self, t_ns: int) -> Pour | None:
        """The stage ends: a pour that seems over is told as ended."""
        self.now_ns = t_ns
        ended = self.detector.finish(seconds(t_ns))
        if ended is not None:
            self._tell(ended, t_ns)
        self._keep_rows()
        return ended

    def follow(self, t_ns: int) -> bool:
        """Look on after the stage has ended; return whether the pour is over now."""
        self.now_ns = t_ns
        self.detector.go_on()
        changed = self.detector.look(seconds(t_ns))
        if changed is not None and changed.end_s is not None:
            self._tell(changed, t_ns)
        self._keep_rows()
        return not self.running

    # What it comes to.

    def mass(self) -> tuple[float | None, float]:
        """Return the mass poured so far [g] and its standard uncertainty; None unweighed."""
        if not self.weighed:
            return None, math.nan
        if self.open_parts():  # as likely as not; never judged
            return self.total_g, math.nan
        levels_g = math.hypot(*(p.u_mass_g for p in self.pours))
        return self.total_g, math.hypot(levels_g, self._u_scale_g)

    def open_parts(self) -> list[Part]:
        """Return what came of which the scale can't tell whether it was poured."""
        return self.detector.asked(seconds(self.now_ns))

    def rate(self) -> tuple[float | None, float]:
        """Return the mean rate of what flowed [g/min] and its standard uncertainty.

        None where most came at once, as by ladle, or unseen: no rate means anything then.
        """
        pours = self.pours
        lasted_s, flowed_g = sum(p.flowed_s for p in pours), sum(p.flowed_g for p in pours)
        poured_g, u_g = self.mass()
        if not poured_g or lasted_s <= 0.0 or flowed_g < FLOWS_SHARE * poured_g:
            return None, math.nan
        rate = 60.0 * flowed_g / lasted_s
        u_time = math.hypot(*(p.u_lasted_s for p in pours)) / lasted_s
        return rate, rate * math.hypot(u_g / poured_g, u_time)

    def rate_now(self, t_ns: int) -> float | None:
        """Return the rate [g/min] while a pour has lasted long enough to have one."""
        lasts = self.running and bool(self.pours) and self.silent_since_s(t_ns) is None
        if not lasts or seconds(t_ns) - self.pours[-1].start_s < RATE_FROM_S:
            return None
        return self.rate()[0]

    def fat_percent(self, poured_g: float | None, u_g: float) -> tuple[float | None, float]:
        """Return the fat in the whole by mass [%] for a poured mass, with its uncertainty."""
        into = "water" if self.stage.pour == "fat" else "fat"
        there_g = phases.phase_g(self.context, into)
        if poured_g is None or there_g <= 0.0 or poured_g + there_g <= 0.0:
            return None, math.nan
        share = poured_g / (poured_g + there_g)
        u_share = there_g * u_g / (poured_g + there_g) ** 2
        fat = share if self.stage.pour == "fat" else 1.0 - share
        return 100.0 * fat, 100.0 * u_share

    def span(self, t_ns: int) -> tuple[int, int]:
        """Return from when to when it was poured [ns]."""
        if not self.pours:
            return self.context.start_ns, t_ns
        end_s = self.pours[-1].end_s
        return round(self.pours[0].start_s * 1e9), t_ns if end_s is None else round(end_s * 1e9)

    def why_none(self) -> str:
        """Say why there is no pour, or nothing."""
        if self.scale is None:
            return "the bench has no bowl scale"
        if not self.weighed:
            return "no reading of the bowl scale"
        return "" if self.pours else "no pour was seen"

    def why_no_rate(self) -> str:
        """Say why a pour has no rate."""
        for pour in self.pours:
            end_s = seconds(self.now_ns) if pour.end_s is None else pour.end_s
            for from_s, to_s in self._silences_s:
                if from_s < end_s and to_s > pour.start_s:
                    return f"the scale was silent from {clock_span(from_s, to_s)}"
        return NO_RATE

    def why_open(self) -> str:
        """Say what can't be told of what came, or nothing."""
        parts = self.open_parts()
        return "; ".join(
            f"{silent_text(p)} and showed less afterwards, so what was poured then is unknown"
            if p.lost
            else f"{came_text(p)}, and it may not have been {self.stage.pour}"
            for p in parts
        )

    def says(self) -> list[str]:
        """Say what was not counted as poured, and what can't be told."""
        found = [f"{came_text(part)}." for part in self.open_parts()]
        other_g = self.detector.other_phase_g
        if other_g > 0.0:
            into = "water" if self.stage.pour == "fat" else "fat"
            found.append(f"{rounded_text(other_g, 'g')} that came first is the {into} phase.")
        return found

    def why_no_fraction(self) -> str:
        """Say why there is no fat fraction though there is a mass."""
        into = "water" if self.stage.pour == "fat" else "fat"
        return f"the sheet has no mass of the {into} phase"

    # Against the sheet.

    def find(self, t_ns: int) -> None:
        """Judge mass, rate and fraction; a pour that is not over is undecided."""
        poured_g, u_g = self.mass()
        rate, u_rate = self.rate()
        percent, u_percent = self.fat_percent(poured_g, u_g)
        stage, why = self.stage, self.why_none() or self.why_open()
        why_share = why or self.why_no_fraction()
        if not self.pours:  # nothing was seen to come: that is no mass
            poured_g = percent = None
        checks: list[tuple[str, float | None, float, Band | None, str]] = [
            (JUDGED[0], poured_g, u_g, stage.mass_g, why),
            (JUDGED[1], rate, u_rate, stage.rate_g_min, why or self.why_no_rate()),
            (
                JUDGED[2],
                percent,
                u_percent,
                stage.fat_fraction_percent,
                why_share,
            ),
        ]
        from_ns, to_ns = self.span(t_ns)
        for key, value, u, band, missing in checks:
            going = self.running and value is not None
            measured = Measured(
                value=value,
                u=math.nan if going else u,
                from_ns=from_ns,
                to_ns=to_ns,
                channel=self.scale,
            )
            unsure = NOT_OVER if going else self.why_open()
            self.context.out.find(
                finding(self.context, key, measured, band, why_missing=missing, why_unknown=unsure)
            )

    def tell_missed(self, t_ns: int) -> None:
        """Say which targets a pour missed that was judged after its stage [ns]."""
        for one in self.context.out.results.findings:
            if one.stage == self.stage.id and one.key in JUDGED and one.verdict == "not met":
                text = f"{one.check}: {one.evidence}"
                self.context.out.emit(t_ns, "finding", text, stage=one.stage, channel=one.channel)

    def numbers(self, t_ns: int, crowd: str) -> list[Number]:
        """Return mass, rate and fraction for the screen; `crowd` is the fraction by volume."""
        context, stage = self.context, self.stage
        poured_g, u_g = self.mass()
        rate, u_rate = self.rate()
        percent, u_percent = self.fat_percent(poured_g, u_g)
        silent_s = self.silent_since_s(t_ns)
        still = STILL_POURING if silent_s is None else f"no readings since {clock(silent_s)}"
        going = still if self.running else ""
        found = [
            number(
                context,
                "Poured",
                poured_g,
                "g",
                u_g,
                stage.mass_g,
                text=going or ("" if self.weighed else self.why_none()),
            ),
            number(
                context,
                "Pour rate",
                rate,
                "g/min",
                u_rate,
                stage.rate_g_min,
                text=going if rate is not None else self.why_none() or self.why_no_rate(),
            ),
            number(
                context,
                "Fat fraction",
                percent,
                "%",
                u_percent,
                stage.fat_fraction_percent,
                text=", ".join(s for s in (crowd, going) if s),
            ),
        ]
        if self.running or not self.pours:
            for one in found:
                one.verdict = one.verdict if one.value is None else "undecided"
        return found

    # Inside.

    def _tell(self, pour: Pour, t_ns: int) -> None:
        if pour.end_s is None:
            text = f"pour began at {clock(pour.start_s)}"
            self.context.out.emit(
                t_ns,
                "pour_start",
                text,
                channel=self.scale,
                stage=self.stage.id,
                start_s=pour.start_s,
            )
            return
        rate = pour.rate_g_per_min
        text = f"pour of {rounded_text(pour.mass_g, 'g')}"
        if pour.portions > 1:
            text += f" in {pour.portions} portions"
        if rate is not None:
            text += f" at {rounded_text(rate, 'g/min')}"
        self.context.out.emit(
            t_ns,
            "pour_end",
            text,
            channel=self.scale,
            stage=self.stage.id,
            start_s=pour.start_s,
            end_s=pour.end_s,
            mass_g=pour.mass_g,
            portions=pour.portions,
            rate_g_per_min=rate,
        )

    def _ask(self, t_ns: int) -> None:
        """Ask of each open part whether it was poured."""
        proposals = self.context.out.proposals
        wanted = {f"pour.{self.stage.id}.{part.key}": part for part in self.open_parts()}
        for key in [k for k, p in proposals.items() if p.what == ASKED and k not in wanted]:
            del proposals[key]
        for key, part in wanted.items():
            if key in proposals or part.key in self.detector.answers:
                continue
            text = f"{came_text(part)}. Was it {self.stage.pour} that was poured?"
            if part.lost:
                text = f"{came_text(part)}. Was any {self.stage.pour} poured then?"
            proposals[key] = Proposal(
                id=key, text=text, what=ASKED, t_s=seconds(t_ns), data={"part": part.key}
            )
            self.context.out.emit(
                t_ns, "proposal", text, stage=self.stage.id, proposal=key, taken=False
            )

    def _keep_rows(self) -> None:
        rows = self.context.out.results.pours
        there_g = self.detector.plan.there_g or 1.0
        open_g = sum(there_g if p.lost else abs(p.by_g) for p in self.open_parts())
        rows[:] = [r for r in rows if r.stage != self.stage.id] + [
            PourRow(
                channel=self.scale,
                start_s=p.start_s,
                end_s=p.end_s,
                start_between_s=p.start_between_s,
                end_between_s=p.end_between_s,
                mass_g=p.mass_g,
                u_mass_g=p.u_mass_g,
                portions=p.portions,
                open_g=open_g if p is self.pours[-1] else 0.0,
                rate_g_per_min=p.rate_g_per_min,
                stage=self.stage.id,
            )
            for p in self.pours
        ]


def came_text(part: Part) -> str:
    """Say how much came when and how, of a part that may not have been poured."""
    change, mass = part.change, rounded_text(part.by_g, "g")
    span = clock_span(change.start_s, change.end_s)
    if part.lost:
        return f"{silent_text(part).capitalize()} and showed less afterwards"
    if change.gap:
        return f"{mass} came while the scale was silent, {span}"
    if change.away:
        return f"{mass} came while the bowl was lifted, {span}"
    if part.role == "other phase":
        return f"{mass} came before the rest, up to {clock(change.end_s)}"
    return f"{mass} came at once at {clock(change.start_s)}"


def silent_text(part: Part) -> str:
    """Say when the scale was silent, to go on with."""
    return f"the scale was silent from {clock_span(part.change.start_s, part.change.end_s)}"
