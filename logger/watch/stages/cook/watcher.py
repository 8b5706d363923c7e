"""Pan or oven: the core, its time at the limit, and what a heating table credits.

Pure; a stage watcher. Credit is computed from the temperature less its expanded uncertainty, from
a named published table, never across a gap. It records temperatures; it does not certify food.
"""

import dataclasses
import math

from logger.model.errors import InputError
from logger.model.finding import Finding
from logger.model.kinds.cook import CookStage
from logger.model.reading import Reading
from logger.model.state import StageView, Tone
from logger.model.written import Band
from logger.science.heat.cooling_rules import lethality_table
from logger.science.heat.lethality import LethalityTable, credit_log
from logger.science.metrology.conformance import decide
from logger.watch.engine.contract import Context, Watcher
from logger.watch.stages.core.core import CAUTIONS, MAY_MISS_S, CoreWatch, low_side
from logger.watch.verdict import checks
from logger.watch.verdict.stretch import Held
from logger.words.durations import duration_text
from logger.words.values import exact_text, value_text

HOT_FAT = (
    "Hot fat: pan at most half full, lower pieces slowly, nothing wet or frozen, never water on "
    "burning fat.",
    "The skin holds water that turns to steam and may burst: prick or warm gently first.",
)


def make(context: Context) -> Watcher:
    """Return the watcher of a cooking stage."""
    return Cook(context)


class Cook(CoreWatch):
    """Watches one cooking stage."""

    favours = 1

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, CookStage):
            raise TypeError("a cook watcher needs a cook stage")
        self.stage = stage
        self.table: LethalityTable | None = None
        self.no_table = ""
        if stage.lethality is not None:
            try:
                self.table = lethality_table(stage.lethality)
            except InputError as cause:
                self.no_table = str(cause)
        self._held = Held(self.stretch_ns)
        self.sure_s = self.longest_sure_s = 0.0
        self.maybe_s = self.longest_maybe_s = 0.0
        self.credited_log = 0.0
        self.hoped_log = 0.0
        """Credit if the uncertainty were nothing: tells undecided from not met."""

    @property
    def target_log(self) -> float:
        """Decimal reduction asked for."""
        own = self.table.log_reduction if self.table is not None else math.nan
        return self.stage.log_reduction if self.stage.log_reduction is not None else own

    def core(self, reading: Reading, before: Reading | None) -> None:
        """Take a value of the core."""
        self._count(reading, before)
        if self.table is None or before is None:
            return
        seconds = (reading.t_ns - before.t_ns) / 1e9
        if self.doubt_ns is None:
            low_c, then_low_c = low_side(reading), low_side(before)
            self.credited_log += credit_log(self.table, then_low_c, low_c, seconds)
        self.hoped_log += credit_log(
            self.table, before.value or math.nan, reading.value or math.nan, seconds
        )

    def _count(self, reading: Reading, before: Reading | None) -> None:
        """Count the time at or above the low limit, for sure and perhaps."""
        band = self.stage.core_c
        if band is None or band.low is None:
            return
        step_s = (reading.t_ns - before.t_ns) / 1e9 if before is not None else 0.0
        now = decide(reading.value, reading.u, low=band.low, rule=self.rule)
        then = (
            decide(before.value, before.u, low=band.low, rule=self.rule)
            if before is not None
            else "not measured"
        )
        sure = now == "met" and self.doubt_ns is None
        self.sure_s = self.sure_s + step_s if sure and then == "met" else 0.0
        if before is None:
            self._held.broken()
        if self._held.take(reading.t_ns, sure):
            self.longest_sure_s = max(self.longest_sure_s, self.sure_s)
        perhaps = "not met" not in (now, then) and before is not None
        self.maybe_s = self.maybe_s + step_s if perhaps else 0.0
        self.longest_maybe_s = max(self.longest_maybe_s, self.maybe_s)

    def end(self, t_ns: int) -> None:
        """Judge the core, its time at the limit and the credit of the table."""
        self.now_ns = t_ns
        out, stage = self.context.out, self.stage
        if stage.core_c is not None:
            out.find(self._core_finding(t_ns, stage.core_c))
        if stage.hold_s is not None and stage.core_c is not None and stage.core_c.low is not None:
            out.find(self._hold_finding(t_ns, stage.hold_s, stage.core_c.low))
        if stage.lethality is not None:
            out.find(self._credit_finding(t_ns))
            out.results.values["lethality_log"] = self.credited_log

    def view(self, t_ns: int) -> StageView:
        """Return the core, the time at its limit and the credit."""
        say, tone = self._say()
        view = StageView(say=say, tone=tone, cautions=[*HOT_FAT, *CAUTIONS])
        view.numbers.append(self.core_number(self.stage.core_c))
        if self.stage.hold_s is not None:
            band = Band(low=self.stage.hold_s, unit="s")
            view.numbers.append(
                checks.progress(self.context, "At the limit", self.longest_sure_s, "s", 0.0, band)
            )
            view.left_s = max(0.0, self.stage.hold_s - self.sure_s) if self.sure_s > 0 else None
        if self.table is not None:
            band = Band(low=self.target_log, unit="log")
            view.numbers.append(
                checks.progress(self.context, "Credit", self.credited_log, "log", 0.0, band)
            )
            view.more += [self.table.name, self.table.limits]
        if self.no_table:
            view.more.append(self.no_table)
        return view

    def finished(self) -> str | None:
        """Return that every target was reached."""
        stage = self.stage
        band = stage.core_c
        if (band is None or band.low is None) and self.table is None:
            return None
        highest = self.stretches.highest
        if band is not None and band.low is not None:
            if (
                highest is None
                or decide(highest.value, highest.u, low=band.low, rule=self.rule) != "met"
            ):
                return None
            if stage.hold_s is not None and self.longest_sure_s < stage.hold_s:
                return None
        if self.table is not None and self.credited_log < self.target_log:
            return None
        return "The core has reached its targets"

    def _core_finding(self, t_ns: int, band: Band) -> Finding:
        highest = self.stretches.highest
        finding = self.judged("cook.core_highest_c", highest, band, t_ns)
        if finding.verdict == "not met":
            finding = self.doubted(finding)
        missed_s = self.unmeasured_s(t_ns)
        misses = missed_s > MAY_MISS_S and highest is not None
        # What was missed can only have been hotter: it matters for an upper limit, or for a miss.
        if misses and (finding.verdict == "not met" or band.high is not None):
            return _doubted(finding, missed_s)
        return finding

    def _hold_finding(self, t_ns: int, hold_s: float, low_c: float) -> Finding:
        band = Band(low=hold_s, unit="s")
        held = self.nothing(t_ns)
        if self.last is not None:
            held = dataclasses.replace(held, value=self.longest_sure_s, u=0.0)
        finding = checks.finding(
            self.context,
            "cook.at_core_s",
            held,
            band,
            subject=f"{low_c:g}",
            why_missing=self.why_missing(),
        )
        if finding.verdict == "not met" and self.longest_maybe_s >= hold_s:
            perhaps = duration_text(self.longest_maybe_s)
            text = f"{finding.evidence}; up to {perhaps} within the uncertainty"
            return dataclasses.replace(finding, verdict="undecided", evidence=text)
        if finding.verdict == "not met" and self.unmeasured_s(t_ns) > MAY_MISS_S:
            return _doubted(finding, self.unmeasured_s(t_ns))
        return finding

    def _credit_finding(self, t_ns: int) -> Finding:
        table = self.table
        band = None
        if table is not None:
            band = Band(low=self.target_log, unit="log", source=f"{table.title}, {table.edition}")
        measured = table is not None and self.last is not None
        credited = self.nothing(t_ns)
        if measured:
            credited = dataclasses.replace(credited, value=self.credited_log, u=0.0)
        finding = checks.finding(
            self.context,
            "cook.lethality_log",
            credited,
            band,
            why_missing=self.no_table or self.why_missing(),
        )
        if not measured or table is None:
            return finding
        verdict, evidence = finding.verdict, finding.evidence
        if verdict == "not met" and self.hoped_log >= self.target_log:
            verdict = "undecided"
        if verdict == "not met" and self.unmeasured_s(t_ns) > MAY_MISS_S:
            verdict = "undecided"
            evidence += f"; {duration_text(self.unmeasured_s(t_ns))} had no readings"
        evidence += (
            f"; {table.organism} in {table.food}, computed from the temperature less its "
            f"uncertainty, nothing below {value_text(table.temps_c[0], 'degC')} or in gaps. "
            f"{table.limits}"
        )
        return dataclasses.replace(finding, verdict=verdict, evidence=evidence)

    def _say(self) -> tuple[str, Tone]:
        if self.channel is None or self.last is None:
            return f"Cook: {self.why_missing()}", "warn"
        done = self.finished()
        if done is not None:
            return done, "do"
        band = self.stage.core_c
        if band is not None and band.low is not None and self.last.value is not None:
            target = exact_text(band.low, "degC")
            if self.sure_s > 0.0 and self.stage.hold_s is not None:
                left_s = self.stage.hold_s - self.sure_s
                return f"At {target}: hold for {duration_text(max(left_s, 0.0))}", "wait"
            short_k = band.low - low_side(self.last)
            if short_k > 0.0:
                short = value_text(short_k, "K")
                return f"{short} to go until the core is surely at {target}", "wait"
        return "Cooking", "wait"


def _doubted(finding: Finding, missed_s: float) -> Finding:
    text = f"{finding.evidence}; {duration_text(missed_s)} had no readings"
    return dataclasses.replace(finding, verdict="undecided", evidence=text)
