"""Kept warm or cold: the core against the sheet and a named rule set, and how long.

Pure; a stage watcher. The clock of a rule that goes by time goes on through gaps; extremes are
not known for times without readings. It records temperatures; it does not certify food.
"""

from logger.model.errors import InputError
from logger.model.kinds.hold import HoldStage
from logger.model.reading import Reading
from logger.model.state import StageView, Tone
from logger.model.written import Band
from logger.science.heat.cooling_rules import HoldingRule, holding_rule
from logger.watch.engine.contract import Condition, Context, Watcher
from logger.watch.stages.core.core import CAUTIONS, CoreWatch
from logger.watch.verdict import checks
from logger.watch.verdict.limits import band_conditions
from logger.watch.verdict.measured import Measured
from logger.words.bands import target_text
from logger.words.digits import exact
from logger.words.durations import duration_text
from logger.words.values import exact_text

SOON_S = 900.0


def make(context: Context) -> Watcher:
    """Return the watcher of a holding stage."""
    return Hold(context)


class Hold(CoreWatch):
    """Watches one holding stage."""

    def __init__(self, context: Context) -> None:
        stage = context.stage
        if not isinstance(stage, HoldStage):
            raise TypeError("a hold watcher needs a hold stage")
        rule: HoldingRule | None = None
        no_set = ""
        if stage.rule_set is not None:
            try:
                rule = holding_rule(stage.rule_set)
            except InputError as cause:
                no_set = str(cause)
        set_band = _band_of(rule)
        bands = [b for b in (stage.core_c, set_band) if b is not None]
        super().__init__(context, keeps=bands)
        self.stage = stage
        self.set = rule
        self.no_set = no_set
        self.set_band = set_band
        """Temperatures that the rule set asks for."""

    def end(self, t_ns: int) -> None:
        """Judge the extremes of the core and the time."""
        self.now_ns = t_ns
        out, stage = self.context.out, self.stage
        if stage.core_c is not None:
            self.find_kept("hold.core_c", stage.core_c, t_ns)
        if self.set_band is not None:
            self.find_kept("hold.core_by_rule_c", self.set_band, t_ns)
        if stage.time_s is not None:
            out.find(self.judged_time("hold.time_s", stage.time_s, t_ns))
        if self.set is not None and self.set.within_s is not None:
            source = f"{self.set.title}, {self.set.edition}"
            band = Band(high=self.set.within_s, unit="s", source=source)
            out.find(self.judged_time("hold.time_by_rule_s", band, t_ns))
        if self.no_set:
            nothing = Measured(to_ns=t_ns)
            out.find(
                checks.finding(self.context, "hold.rule_set", nothing, why_missing=self.no_set)
            )

    def view(self, t_ns: int) -> StageView:
        """Return the core, its band and the time left."""
        last = self.last if self.age_s(self.now_ns) <= 10.0 else None
        band = self.stage.core_c or self.set_band
        view = StageView(cautions=list(CAUTIONS), left_s=self._left_s(t_ns))
        view.numbers.append(self.core_number(band))
        view.say, view.tone = self._say(t_ns, last, band)
        if self.set is not None:
            view.more.append(f"Rule set: {self.set.title} ({self.set.edition})")
            if self.set.note:
                view.more.append(self.set.note)
        if self.no_set:
            view.more.append(self.no_set)
        zone_s = self.context.batch.values.get("danger_zone_s")
        if zone_s is not None:
            low_c = self.context.batch.values["danger_zone_low_c"]
            high_c = self.context.batch.values["danger_zone_high_c"]
            zone = f"{exact(low_c)} and {exact_text(high_c, 'degC')}"
            text = f"So far possibly {duration_text(zone_s)} between {zone}"
            view.more.append(text)
        return view

    def conditions(self) -> list[Condition]:
        """Return the core outside its band, and the time used up."""
        band = self.stage.core_c or self.set_band
        last = self.last if self.age_s(self.now_ns) <= 10.0 else None
        value = last.value if last is not None else None
        stage_id = self.context.stage_id
        found = band_conditions(
            f"{stage_id}.core", "Core", value, band, channel=self.channel, latches=True
        )
        left_s = self._left_s(self.now_ns)
        if left_s is not None:
            over = left_s <= 0.0
            found.append(
                Condition(
                    id=f"{stage_id}.time",
                    text="The holding time is used up: follow local regulation; "
                    "discard when in doubt",
                    active=over,
                    cleared=not over,
                    on_delay_s=0.0,
                    latches=True,
                )
            )
        return found

    def finished(self) -> str | None:
        """Return that the least time is over."""
        band = self.stage.time_s
        if band is None or band.low is None or self.elapsed_s() < band.low:
            return None
        return "The holding time is over"

    def _left_s(self, t_ns: int) -> float | None:
        limits = [
            limit
            for limit in (
                self.stage.time_s.high if self.stage.time_s is not None else None,
                self.set.within_s if self.set is not None else None,
            )
            if limit is not None
        ]
        return min(limits) - self.elapsed_s(t_ns) if limits else None

    def _say(self, t_ns: int, last: Reading | None, band: Band | None) -> tuple[str, Tone]:
        left_s = self._left_s(t_ns)
        if left_s is not None and left_s <= 0.0:
            return "The holding time is used up", "stop"
        if last is None:
            return f"Hold: {self.why_missing()}", "warn"
        if band is not None and checks.judge(last.value, last.u, band, self.rule)[0] == "not met":
            side = (
                "Warm it up" if band.low is not None and (last.value or 0) < band.low else "Cool it"
            )
            return f"{side}: the core is outside {target_text(band)}", "warn"
        if left_s is not None:
            tone: Tone = "warn" if left_s < SOON_S else "wait"
            return f"Held: {duration_text(left_s)} left", tone
        return f"Held for {duration_text(self.elapsed_s(t_ns))}", "calm"


def _band_of(rule: HoldingRule | None) -> Band | None:
    """Return the temperatures that a rule set asks for [degC]; None where it asks for none."""
    if rule is None or (rule.low_c is None and rule.high_c is None):
        return None
    source = f"{rule.title}, {rule.edition}"
    return Band(low=rule.low_c, high=rule.high_c, unit="degC", source=source)
