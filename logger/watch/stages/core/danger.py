"""How long the core was between cold and hot holding, over all stages of the run.

Pure; a watcher that lives as long as the run. It counts from the first stage that measures a core
on, because before that the probe lies on the table. A gap never stops it.
"""

import dataclasses

from logger.batch.rulesets import named_rules
from logger.model.event import Event
from logger.model.kinds.registry import kind_named, kind_of
from logger.model.reading import Reading
from logger.model.sheet import Sheet
from logger.science.heat.cooling_rules import (
    DEFAULT_FAMILY,
    CoolingRule,
    zone_of,
)
from logger.science.metrology.conformance import decide
from logger.watch.engine.contract import Context
from logger.watch.stages.core.core import CoreWatch
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.watch.verdict.stretch import Held
from logger.words.durations import clock, duration_text
from logger.words.labels import range_subject


class DangerZone(CoreWatch):
    """Counts the time that the core may have been in the range of its family of rule sets."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.families = families(context.sheet)
        self.zone = zone_of(self.families[0] if self.families else DEFAULT_FAMILY)
        self._hot_rules = [(rule, Held(self.stretch_ns)) for rule in _hot_rules(context.sheet)]
        self._counting = False
        self._total_s = 0.0
        self._read_s = 0.0
        """Time in the range by the readings alone, without uncertainty and gaps [s]."""
        self._moved_ns: int | None = None
        """When the probe first left what it had measured: the food is not followed then."""
        self._since_ns: int | None = None
        self._seen_ns: int | None = None
        self._side: int | None = None
        """Side of the range at the last reading: see `_side_of`."""

    def event(self, event: Event) -> None:
        """Begin to count with the first stage that measures a core; take a gap of the probe."""
        super().event(event)
        if self._counting and self._moved_ns is None and self.is_away:
            self._moved_ns = event.t_ns
        kind = kind_named(str(event.data.get("stage_kind")))
        if event.kind == "stage_start" and kind is not None and kind.tracks_core:
            self._counting = True
            if self._since_ns is None:
                self._since_ns = event.t_ns

    def broken(self) -> None:
        """Let no stretch of readings go on."""
        super().broken()
        for _, hot in self._hot_rules:
            hot.broken()

    def core(self, reading: Reading, before: Reading | None) -> None:
        """Take a value of the core; time without readings counts if either end does."""
        values = self.context.batch.values
        for rule, hot in self._hot_rules:
            hot_c = rule.starts_below_c
            met = decide(reading.value, reading.u, low=hot_c, rule=self.rule)
            if hot.take(reading.t_ns, met == "met" and self.may_be_hot):
                values[f"core_last_hot_s.{rule.key}"] = reading.t_ns / 1e9
        if not self._counting:
            return
        side = self._side_of(reading)
        joined = [before, reading] if before is not None and self._seen_ns is not None else []
        if any(self._reads_inside(r) for r in joined):
            self._read_s += (joined[1].t_ns - joined[0].t_ns) / 1e9
        if self._seen_ns is not None and (side == 0 or side != self._side or self._side == 0):
            self._total_s += (reading.t_ns - self._seen_ns) / 1e9
        self._seen_ns, self._side = reading.t_ns, side

    def tick(self, t_ns: int) -> None:
        """Hand on the time so far."""
        super().tick(t_ns)
        if self._counting and self._side is not None:
            values = self.context.batch.values
            values["danger_zone_s"] = self.total_s(t_ns)
            values["danger_zone_low_c"] = self.zone.low_c
            values["danger_zone_high_c"] = self.zone.high_c

    def end(self, t_ns: int) -> None:
        """Record the time, and whether families of rule sets were mixed."""
        self.now_ns = t_ns
        if not any(kind_of(s).tracks_core for s in self.context.sheet.stage):
            return
        out, zone = self.context.out, self.zone
        known = self._side is not None
        total_s = self.total_s(t_ns) if known else None
        spent = Measured(
            value=total_s, u=0.0, from_ns=self._since_ns, to_ns=t_ns, channel=self.channel
        )
        found = checks.finding(
            self.context,
            "run.danger_zone_s",
            spent,
            subject=range_subject(zone.low_c, zone.high_c),
            why_missing=self.why_missing(),
        )
        if total_s is not None:
            says = self._says(total_s, found.evidence)
            found = dataclasses.replace(found, evidence=says)
        out.find(found)
        if total_s is not None:
            out.results.values["danger_zone_s"] = total_s
        if len(self.families) > 1:
            out.find(
                checks.finding(
                    self.context,
                    "run.rule_sets",
                    Measured(to_ns=t_ns),
                    why_missing=f"the sheet mixes {' and '.join(self.families)}: keep to one",
                )
            )

    def total_s(self, t_ns: int) -> float:
        """Return the time in the range up to now [s]; it runs on while readings are missing."""
        if self._seen_ns is None or self._side != 0:
            return self._total_s
        return self._total_s + (t_ns - self._seen_ns) / 1e9

    def _says(self, total_s: float, evidence: str) -> str:
        """Say how far the time [s] is an upper bound, and how long it was by the readings alone."""
        read = duration_text(self._read_s)
        if read != duration_text(total_s):
            evidence += f"; {read} from the readings alone"
        if self._moved_ns is None:
            return f"at most {evidence}"
        at = clock(self._moved_ns / 1e9)
        return f"{evidence}; the probe seems to have been moved at {at}, so it may be more"

    def _reads_inside(self, reading: Reading) -> bool:
        value = reading.value
        return value is not None and self.zone.low_c < value < self.zone.high_c

    def _side_of(self, reading: Reading) -> int:
        """Return -1 surely below the range, 1 surely above it, 0 perhaps inside."""
        value = reading.value if reading.value is not None else 0.0
        reach = 2.0 * reading.u  # NaN where it is unknown: then it is on neither side for sure
        if value + reach <= self.zone.low_c:
            return -1
        return 1 if value - reach >= self.zone.high_c else 0


def families(sheet: Sheet) -> list[str]:
    """Return the families of the cooling and holding rule sets that a sheet names."""
    return list(dict.fromkeys(named.rule.family for named in named_rules(sheet)))


def _hot_rules(sheet: Sheet) -> list[CoolingRule]:
    rules = [n.rule for n in named_rules(sheet) if isinstance(n.rule, CoolingRule)]
    by_key = {rule.key: rule for rule in rules if rule.starts_below_c is not None}
    return list(by_key.values())
