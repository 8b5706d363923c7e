"""Fridge or freezer: the core against its limit, the cooling clock, the freezing plateau.

Pure; a stage watcher. The clock of the rule set goes on through gaps. What it says is a record of
temperatures and times, not a judgement of the food.
"""

import dataclasses

from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.finding import Finding
from logger.model.kinds.chill import ChillStage
from logger.model.reading import Reading
from logger.model.state import StageView, Tone
from logger.model.written import Band
from logger.science.heat.cooling_rules import cooling_rule
from logger.watch.engine.contract import Condition, Context, Watcher, seconds
from logger.watch.stages.chill.freezing import Freezing
from logger.watch.stages.core.cooling_clock import CoolingClock, StepResult
from logger.watch.stages.core.core import CAUTIONS, MAY_MISS_S, WORST_FIRST, CoreWatch
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.words.bands import target_text
from logger.words.durations import duration_text, exact_duration
from logger.words.values import exact_text
from logger.words.verdicts import verdict_text

SOON_S = 900.0


def make(context: Context) -> Watcher:
    """Return the watcher of a chilling stage."""
    return Chill(context)


class Chill(CoreWatch):
    """Watches one chilling stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.favours = -1
        stage = context.stage
        if not isinstance(stage, ChillStage):
            raise TypeError("a chill watcher needs a chill stage")
        self.stage = stage
        self.clock: CoolingClock | None = None
        self.no_clock = ""
        if stage.rule_set is not None:
            self._start_clock(stage.rule_set)
        self.freezing = Freezing()

    def _start_clock(self, rule_set: str) -> None:
        try:
            rule = cooling_rule(rule_set)
        except InputError as cause:
            self.no_clock = str(cause)
            return
        hot_s = self.context.batch.values.get(f"core_last_hot_s.{rule_set}")
        self.clock = CoolingClock(
            rule,
            self.rule,
            self.context.start_ns,
            round(hot_s * 1e9) if hot_s is not None and rule.starts_below_c is not None else None,
            stretch_ns=self.stretch_ns,
        )

    def core(self, reading: Reading, before: Reading | None) -> None:
        """Take a value of the core."""
        if self.clock is not None and reading.value is not None:
            doubted = self.doubt_ns is not None
            self.clock.take(
                reading.t_ns,
                reading.value,
                reading.u,
                in_doubt=doubted,
                may_be_hot=self.may_be_hot,
            )

    def event(self, event: Event) -> None:
        """Take a gap, or that the probe was moved or is back."""
        in_doubt = self.doubt_ns is not None
        super().event(event)
        if event.kind in ("gap", "probe_moved") and event.channel == self.channel:
            self.freezing.gap()
        if in_doubt and self.doubt_ns is None and self.clock is not None:
            self.clock.believed()

    def broken(self) -> None:
        """Let no stretch of readings go on."""
        super().broken()
        if self.clock is not None:
            self.clock.broken()

    def tick(self, t_ns: int) -> None:
        """Look for a plateau."""
        super().tick(t_ns)
        if self.last is None or self.last.value is None or self.age_s(t_ns) > 10.0:
            return
        if self.freezing.take(t_ns, self.last.value):
            self._tell_freezing(t_ns)

    def end(self, t_ns: int) -> None:
        """Judge the core at the end, the time and the steps of the rule set."""
        self.now_ns = t_ns
        out, stage = self.context.out, self.stage
        if stage.core_c is not None:
            out.find(self._core_finding(t_ns, stage.core_c))
        if stage.time_s is not None:
            out.find(self.judged_time("chill.time_s", stage.time_s, t_ns))
        for finding in self._step_findings(t_ns):
            out.find(finding)

    def view(self, t_ns: int) -> StageView:
        """Return the core, what is due next and how long it has."""
        view = StageView(cautions=list(CAUTIONS), numbers=[self.core_number(self.stage.core_c)])
        open_step = None
        if self.clock is not None:
            steps = self.clock.results(t_ns)
            open_step = next((s for s in steps if s.verdict is None), None)
            view.more = [self._line(s, t_ns) for s in steps]
            view.more.append(f"Rule set: {self.clock.rule.title} ({self.clock.rule.edition})")
        elif self.no_clock:
            view.more.append(self.no_clock)
        view.say, view.tone = self._say(t_ns, open_step)
        if open_step is not None:
            view.left_s = (open_step.deadline_ns - t_ns) / 1e9
        elif self.stage.time_s is not None and self.stage.time_s.low is not None:
            view.left_s = max(0.0, self.stage.time_s.low - self.elapsed_s(t_ns))
        if self.freezing.says():
            view.more.append(self.freezing.says())
        return view

    def conditions(self) -> list[Condition]:
        """Return one condition per step of the clock: its time is up."""
        if self.clock is None:
            return []
        found = []
        for step in self.clock.results(self.now_ns):
            late = step.verdict in ("not met", "undecided", "not measured")
            late = late and self.now_ns > step.deadline_ns
            within_s = (step.deadline_ns - step.start_ns) / 1e9
            found.append(
                Condition(
                    id=f"{self.context.stage_id}.cooling.{step.limit_c:g}",
                    text="The core was not shown to be at "
                    f"{exact_text(step.limit_c, 'degC')} within {exact_duration(within_s)}: "
                    "follow local regulation; discard when in doubt",
                    active=late,
                    cleared=not late,
                    on_delay_s=0.0,
                    latches=True,
                    channel=self.channel,
                )
            )
        return found

    def finished(self) -> str | None:
        """Return that the core is cold enough and the time is up, when both are."""
        stage = self.stage
        if stage.core_c is None and (stage.time_s is None or stage.time_s.low is None):
            return None
        if stage.core_c is not None and not self._core_met(stage.core_c):
            return None
        if stage.time_s is not None and self.elapsed_s() < (stage.time_s.low or 0.0):
            return None
        return "The core is cold enough" if stage.core_c is not None else "The time is up"

    def _core_met(self, band: Band) -> bool:
        now = self.stretches.now()
        if now is None or self.doubt_ns is not None or self.age_s(self.now_ns) > 10.0:
            return False
        return all(checks.judge(m.value, m.u, band, self.rule)[0] == "met" for m in now)

    def _core_finding(self, t_ns: int, band: Band) -> Finding:
        now = self.stretches.now()
        late = self.last is not None and self.age_s(t_ns) > MAY_MISS_S
        if now is None or late:
            why = "no reading in the last minute" if late else self.why_missing()
            nothing = self.nothing(t_ns)
            return checks.finding(self.context, "chill.core_end_c", nothing, band, why_missing=why)
        found = [checks.finding(self.context, "chill.core_end_c", m, band) for m in reversed(now)]
        worst = min(found, key=lambda f: WORST_FIRST.index(f.verdict))
        return worst if self.doubt_ns is None else self.doubted(worst)

    def _step_findings(self, t_ns: int) -> list[Finding]:
        if self.clock is None:
            if not self.no_clock:
                return []
            return [self._not_judged("chill.rule_set", self.no_clock, t_ns)]
        rule = self.clock.rule
        found = []
        for step in self.clock.results(t_ns):
            within_s = (step.deadline_ns - step.start_ns) / 1e9
            band = Band(high=within_s, unit="s", source=f"{rule.title}, {rule.edition}")
            limit = f"{step.limit_c:g}"
            if self.last is None:
                why = self.why_missing()
                found.append(self._not_judged("chill.cooling_s", why, t_ns, band, limit))
                continue
            to_ns = step.reached_ns if step.reached_ns is not None else t_ns
            took_s = (to_ns - step.start_ns) / 1e9 if step.reached_ns is not None else None
            verdict = step.verdict if step.verdict is not None else "not measured"
            says = step.says if step.verdict is not None else "the stage ended before"
            if took_s is not None:
                reached = f"reached after {duration_text(took_s)}"
            else:
                seen = duration_text((t_ns - step.start_ns) / 1e9)
                reached = f"not reached within the {seen} recorded"
            took = Measured(
                value=took_s, u=0.0, from_ns=step.start_ns, to_ns=to_ns, channel=self.channel
            )
            finding = checks.finding(self.context, "chill.cooling_s", took, band, subject=limit)
            says = checks.why_unknown(self.context, "chill.cooling_s", took) or says
            evidence = f"{reached} (target {target_text(band)}): {says}"
            found.append(dataclasses.replace(finding, verdict=verdict, evidence=evidence))
        return found

    def _not_judged(
        self, key: str, why: str, t_ns: int, band: Band | None = None, subject: str = ""
    ) -> Finding:
        nothing = Measured(from_ns=self.context.start_ns, to_ns=t_ns, channel=self.channel)
        return checks.finding(self.context, key, nothing, band, subject=subject, why_missing=why)

    def _say(self, t_ns: int, open_step: StepResult | None) -> tuple[str, Tone]:
        if self.channel is None or self.last is None:
            return f"Chill: {self.why_missing()}", "warn"
        if self.clock is not None and any(
            r.verdict in ("not met", "not measured") for r in self.clock.results(t_ns)
        ):
            return "The cooling time was not kept: see the rule set", "stop"
        if open_step is not None:
            left_s = (open_step.deadline_ns - t_ns) / 1e9
            text = f"Down to {exact_text(open_step.limit_c, 'degC')} within {duration_text(left_s)}"
            return text, "warn" if left_s < SOON_S else "wait"
        if self.finished() is not None:
            return self.finished() or "", "do"
        return "Chilling", "wait"

    def _line(self, step: StepResult, t_ns: int) -> str:
        if step.verdict is None:
            left = duration_text((step.deadline_ns - t_ns) / 1e9)
            return f"{exact_text(step.limit_c, 'degC')}: {left} left"
        return f"{exact_text(step.limit_c, 'degC')}: {verdict_text(step.verdict)}, {step.says}"

    def _tell_freezing(self, t_ns: int) -> None:
        freezing, values = self.freezing, self.context.out.results.values
        values["freezing_plateau_c"] = freezing.level_c
        values["freezing_plateau_from_s"] = seconds(freezing.from_ns)
        values["freezing_plateau_to_s"] = seconds(freezing.to_ns)
        self.context.out.emit(
            t_ns,
            "freezing_plateau",
            freezing.says(),
            channel=self.channel,
            temp_c=freezing.level_c,
            from_s=seconds(freezing.from_ns),
            to_s=seconds(freezing.to_ns),
        )
