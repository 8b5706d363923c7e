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
from logger.words.durations import duration_text
from logger.words.values import exact_text, value_text

HOT_FAT = (
    "Hot fat: pan at most half full, lower pieces slowly, nothing wet or frozen, never water on "
    "burning fat.",
    "The skin holds water that turns to steam and may burst: prick it, or warm it gently first.",
)


def make(context: Context) -> Watcher:
    """Return the watcher of a cooking stage."""
    return Cook(context)


class Cook(CoreWatch):
    """Watches one cooking stage."""

    def __init__(self, context: Context) -> None:
        stage = context.stage
        if not isinstance(stage, CookStage):
            raise TypeError("a cook watcher needs a cook stage")
        super().__init__(context, reaches=stage.core_c)
        self.favours = 1  # by the credit of a table, too
        self.stage = stage
        self.table: LethalityTable | None = None
        self.no_table = ""
        if stage.lethality is not None:
            try:
                self.table = lethality_table(stage.lethality)
            except InputError as cause:
                self.no_table = str(cause)
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
        if self.table is None or before is None:
            return
        seconds = (reading.t_ns - before.t_ns) / 1e9
        if self.doubt_ns is None:
            low_c, then_low_c = low_side(reading), low_side(before)
            self.credited_log += credit_log(self.table, then_low_c, low_c, seconds)
        self.hoped_log += credit_log(
            self.table, before.value or math.nan, reading.value or math.nan, seconds
        )

    def end(self, t_ns: int) -> None:
        """Judge the core, its time at the limit and the credit of the table."""
        self.now_ns = t_ns
        out, stage = self.context.out, self.stage
        self.find_reached("cook.core_highest_c", t_ns)
        if stage.hold_s is not None:
            self.find_at_limit("cook.at_core_s", stage.hold_s, t_ns)
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
            at = self.at_limit
            view.numbers.append(
                checks.progress(self.context, "At the limit", at.longest_sure_s, "s", 0.0, band)
            )
            view.left_s = max(0.0, self.stage.hold_s - at.sure_s) if at.sure_s > 0 else None
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
            if stage.hold_s is not None and self.at_limit.longest_sure_s < stage.hold_s:
                return None
        if self.table is not None and self.credited_log < self.target_log:
            return None
        return "The core has reached its targets"

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
            if self.at_limit.sure_s > 0.0 and self.stage.hold_s is not None:
                left_s = self.stage.hold_s - self.at_limit.sure_s
                return f"At {target}: hold for {duration_text(max(left_s, 0.0))}", "wait"
            short_k = band.low - low_side(self.last)
            if short_k > 0.0:
                short = value_text(short_k, "K")
                return f"{short} to go until the core is surely at {target}", "wait"
        return "Cooking", "wait"
