"""Warming both phases: are they in their bands, do they fit together, where will they land.

Pure; the watcher of ``heat`` stages. Says in one sentence that the phases are ready to combine, or
exactly what is missing; foretells when the fat may set, against the planned pour.
"""

from __future__ import annotations

import math
from dataclasses import replace

from logger.model.event import Event
from logger.model.kinds.heat import HeatStage
from logger.model.reading import Reading
from logger.model.state import StageView
from logger.model.written import Band
from logger.watch.engine.contract import Condition, Context, Watcher, seconds
from logger.watch.engine.plain import Plain
from logger.watch.stages.heat import phases
from logger.watch.stages.heat.phases import WarmPhases
from logger.watch.verdict.carried import unknown_among
from logger.watch.verdict.checks import finding, why_unknown
from logger.watch.verdict.limits import DEADBAND_K, band_conditions
from logger.watch.verdict.measured import Measured
from logger.words.durations import clock

HOLDS_S = 5
"""So long everything must be in its band before it is called ready."""
WARNING_S = 300.0
"""The alarm comes when the early end of the forecast is nearer than this [s]."""


class HeatWatch(Plain):
    """Watches one stage of warming."""

    def __init__(self, context: Context, stage: HeatStage) -> None:
        super().__init__(context)
        self.stage = stage
        self.warm = WarmPhases(context, stage)
        self.seen = {"fat": False, "water": False}
        """Whether a phase has been in its band: before that, below is no alarm."""
        self.ready_since_ns: int | None = None
        self._told_ready = False

    def reading(self, reading: Reading) -> None:
        """Take one reading of fat or water."""
        self.warm.take(reading)

    def event(self, event: Event) -> None:
        """Take the start of a pour: what cools from then on is another vessel."""
        if event.kind in ("pour_start", "pour_end"):
            self.warm.forecast.restart(seconds(event.t_ns))

    def tick(self, t_ns: int) -> None:
        """Look once a second: bands reached, ready or not, forecast."""
        self.now_ns = t_ns
        self.warm.forecast.tick(t_ns)
        for name, probe, band in self.warm.each():
            value = probe.value(t_ns)
            if value is not None and band is not None:
                low = -math.inf if band.low is None else band.low
                self.seen[name] = self.seen[name] or value >= low
        self.warm.note_melting(t_ns)
        self._note_ready(t_ns)

    def end(self, t_ns: int) -> None:
        """Judge temperatures, difference and predicted mixture at the end of the stage."""
        self.now_ns = t_ns
        context, out = self.context, self.context.out
        for name, probe, band in self.warm.each():
            out.find(
                finding(
                    context,
                    f"heat.{name}_c",
                    probe.measured(t_ns),
                    band,
                    why_missing=probe.why_missing(name),
                )
            )
        gap_k, u_gap = self.warm.difference(t_ns)
        apart = replace(self.warm.fat.measured(t_ns), value=gap_k, u=u_gap)
        out.find(
            finding(
                context,
                "heat.fat_above_water_k",
                apart,
                self.stage.fat_above_water_k,
                why_missing="needs a fat and a water probe",
            )
        )
        self._find_melted(t_ns)
        self._find_mixture(t_ns)

    def view(self, t_ns: int) -> StageView:
        """Show whether the phases are ready, what is missing, and the forecast."""
        view = super().view(t_ns)
        missing = list(phases.missing(self.warm, t_ns))
        pour = self._pour_warning(t_ns)
        if not missing:
            view.say, view.tone = "Ready to combine.", "do"
        else:
            probes = {self.warm.fat.channel, self.warm.water.channel}
            unset = unknown_among(
                self.context, [c for c in self.context.bench.channel if c.id in probes]
            )
            view.say, view.tone = missing[0], "warn" if unset else "wait"  # waiting sets nothing
            view.more += missing[1:]
        if pour:
            view.more.insert(0, pour)
            view.tone = "warn"
        if self.warm.known is None:
            view.more.append(f"No forecast: {self.warm.why_no_fat}.")
        elif self.warm.fat.channel is not None:
            view.more.append(self.warm.forecast.says("The fat"))
        view.more += phases.why(self.warm, t_ns)
        view.numbers = phases.numbers(self.warm, t_ns)
        entry = self.warm.forecast.entry("The fat")
        if entry is not None:
            view.forecasts = [entry]
        view.cautions = list(phases.CAUTIONS)
        return view

    def conditions(self) -> list[Condition]:
        """Return each phase against its band once it has been there, and the fat near setting."""
        found: list[Condition] = []
        for name, probe, band in self.warm.each():
            value = probe.value(self.now_ns)
            for condition in band_conditions(
                f"{self.stage.id}.{name}",
                f"The {name}",
                value,
                band,
                channel=probe.channel,
                latches=True,
            ):
                if condition.id.endswith(".low") and not self.seen[name]:
                    continue
                found.append(condition)
        if self.warm.known is not None and self.warm.fat.channel is not None:
            found.append(self._setting_condition())
        return found

    def finished(self) -> str | None:
        """Return that the phases are ready to combine, while they are."""
        return "Both phases are ready to combine." if self.ready_since_ns is not None else None

    # Inside.

    def _note_ready(self, t_ns: int) -> None:
        if next(phases.missing(self.warm, t_ns), None) is not None:
            self.ready_since_ns = None
            return
        if self.ready_since_ns is None:
            self.ready_since_ns = t_ns
        if not self._told_ready and t_ns - self.ready_since_ns >= HOLDS_S * 1_000_000_000:
            self._told_ready = True
            self.context.out.emit(
                t_ns, "ready", "Both phases are ready to combine.", stage=self.stage.id
            )

    def _find_melted(self, t_ns: int) -> None:
        if self.warm.known is None:
            return
        limit = self.warm.known.all_melted_above_c
        fat = self.warm.fat
        band = Band(low=limit.value, unit="degC", source=f"{self.warm.known.name}: {limit.source}")
        highest = Measured(
            value=fat.stretches.highest.value if fat.stretches.highest is not None else None,
            u=math.hypot(fat.u, limit.u),
            from_ns=self.context.start_ns,
            to_ns=t_ns,
            channel=fat.channel,
        )
        self.context.out.find(
            finding(
                self.context,
                "heat.fat_highest_c",
                highest,
                band,
                why_missing=fat.why_missing("fat"),
            )
        )

    def _find_mixture(self, t_ns: int) -> None:
        """Judge what combining would give, and keep it for the stage that combines."""
        mixture, wanted = self.warm.mixture(t_ns), self.stage.mix_c
        if mixture is None and wanted is None:
            return
        predicted = Measured(from_ns=self.warm.fat.first_ns, to_ns=t_ns)
        if mixture is not None:
            predicted = replace(predicted, value=mixture.temp_c, u=mixture.u_temp_k)
            self.context.out.results.values["mixing_temp_c"] = mixture.temp_c
            self.context.batch.values["mixing_temp_c"] = mixture.temp_c
        key, why = "heat.mix_predicted_c", self.warm.why_no_mixture()
        self.context.out.find(
            finding(
                self.context,
                key,
                predicted,
                wanted,
                why_missing=why,
                why_unknown=why_unknown(self.context, key, predicted)
                or self.warm.why_mixture_unknown(mixture),
            )
        )

    def _until_pour_s(self, t_ns: int) -> float | None:
        after_s = self.stage.pour_after_s
        return None if after_s is None else max(0.0, after_s - self.elapsed_s(t_ns))

    def _pour_warning(self, t_ns: int) -> str:
        """Say it when the fat may set before the planned pour."""
        early_s, until_s = self.warm.forecast.early_s(seconds(t_ns)), self._until_pour_s(t_ns)
        if early_s is None or until_s is None or early_s > until_s:
            return ""
        planned = clock(self.elapsed_s(t_ns) + until_s)
        return f"The fat may set before the pour planned at {planned}: warm it or pour earlier."

    def _setting_condition(self) -> Condition:
        early_s = self.warm.forecast.early_s(seconds(self.now_ns))
        until_s = self._until_pour_s(self.now_ns)
        lead_s = max(WARNING_S, until_s) if until_s is not None else WARNING_S
        fat_c, limit_c = self.warm.fat.value(self.now_ns), self.warm.forecast.limit_c
        seen = self.warm.melted() or self.warm.forecast.arrest is not None
        active = None if early_s is None or fat_c is None else seen and early_s < lead_s
        if self.warm.forecast.arrest is not None:
            active = True
        elif early_s is None and fat_c is not None and self.warm.forecast.estimate.why_not:
            active = False  # it warms, is held or has hardly changed: nothing is about to set
        return Condition(
            id=f"{self.stage.id}.fat.setting",
            text=f"{self.warm.forecast.says('The fat')} Warm it or combine now.",
            active=active,
            cleared=active is False
            and fat_c is not None
            and limit_c is not None
            and fat_c > limit_c + DEADBAND_K,
            latches=True,
            channel=self.warm.fat.channel,
        )


def make(context: Context) -> Watcher:
    """Return the watcher of a ``heat`` stage.

    Raises
    ------
    TypeError
        If the stage is of another kind.
    """
    if not isinstance(context.stage, HeatStage):
        raise TypeError(f"a heat watcher needs a heat stage, not {context.stage!r}")
    return HeatWatch(context, context.stage)
