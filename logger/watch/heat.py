"""Warming both phases: are they in their bands, do they fit together, where will they land.

Pure; the watcher of ``heat`` stages. Says in one sentence that the phases are ready to combine, or
exactly what is missing and what water temperature would do; foretells when the fat may set, against
the planned pour. Correlated errors of two channels on one board are taken into account.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from logger.correct.channel import difference_uncertainty
from logger.model.event import Event
from logger.model.reading import Reading
from logger.model.sheet import HeatStage
from logger.model.state import Number, StageView
from logger.model.written import Band
from logger.science.mixing import Mixture
from logger.watch import phases
from logger.watch.checks import finding, judge, number
from logger.watch.contract import Condition, Context, Watcher, judged_rule, seconds
from logger.watch.forecast import SettingForecast, clock
from logger.watch.limits import DEADBAND_K, band_conditions
from logger.watch.meeting import Warm
from logger.watch.plain import Plain
from logger.watch.probe import Probe

HOLDS_S = 5
"""So long everything must be in its band before it is called ready."""
WARNING_S = 300.0
"""The alarm comes when the early end of the forecast is nearer than this [s]."""
CAUTIONS = (
    "Hot fat burns: keep handles inwards, no water into hot fat, never leave it alone.",
    "Fat at rest may be hotter below: stir before you read it.",
    "Follow local rules and licensed practice for hot fat and open heat.",
)
FAT_ABOVE_WATER = (
    "Both phases at about the same temperature, the fat a little warmer at most: common practice, "
    "no source."
)


class HeatWatch(Plain):
    """Watches one stage of warming."""

    def __init__(self, context: Context, stage: HeatStage) -> None:
        super().__init__(context)
        self.stage = stage
        self.fat = Probe(context, "fat")
        self.water = Probe(context, "water")
        self.known, self.why_no_fat = phases.main_fat(context)
        sets, melts = None, None
        if self.known is not None:
            sets, melts = self.known.sets_below_c.value, self.known.all_melted_above_c.value
        self.forecast = SettingForecast(context, self.fat, sets, melts)
        self.seen = {"fat": False, "water": False}
        """Whether a phase has been in its band: before that, below is no alarm."""
        self.ready_since_ns: int | None = None
        self._told_ready = False

    def reading(self, reading: Reading) -> None:
        """Take one reading of fat or water."""
        if self.fat.take(reading):
            self.forecast.take(reading)
        self.water.take(reading)

    def event(self, event: Event) -> None:
        """Take the start of a pour: what cools from then on is another vessel."""
        if event.kind in ("pour_start", "pour_end"):
            self.forecast.restart(seconds(event.t_ns))

    def tick(self, t_ns: int) -> None:
        """Look once a second: bands reached, ready or not, forecast."""
        self.now_ns = t_ns
        self.forecast.tick(t_ns)
        for name, probe, band in self._phases():
            value = probe.value(t_ns)
            if value is not None and band is not None:
                low = -math.inf if band.low is None else band.low
                self.seen[name] = self.seen[name] or value >= low
        self._note_melting(t_ns)
        self._note_ready(t_ns)

    def end(self, t_ns: int) -> None:
        """Judge temperatures, difference and predicted mixture at the end of the stage."""
        self.now_ns = t_ns
        context, out = self.context, self.context.out
        for name, probe, band in self._phases():
            out.find(
                finding(
                    context, f"{_label(name)} temperature", probe.value(t_ns), "degC", probe.u,
                    band, probe.first_ns, t_ns, channel=probe.channel,
                    why_missing=probe.why_missing(_label(name)),
                )
            )  # fmt: skip
        gap_k, u_gap = self.difference(t_ns)
        out.find(
            finding(
                context, "fat above water", gap_k, "K", u_gap, self.stage.fat_above_water_k,
                self.fat.first_ns, t_ns, channel=self.fat.channel,
                why_missing="needs a fat and a water probe",
            )
        )  # fmt: skip
        self._find_melted(t_ns)
        mixture = self.mixture(t_ns)
        if self.stage.mix_c is not None or mixture is not None:
            out.find(
                finding(
                    context, "predicted mixing temperature",
                    mixture.temp_c if mixture is not None else None, "degC",
                    mixture.u_temp_k if mixture is not None else math.nan, self.stage.mix_c,
                    self.fat.first_ns, t_ns, why_missing=self._why_no_mixture(),
                )
            )  # fmt: skip
        if mixture is not None:
            out.results.values["mixing_temp_c"] = mixture.temp_c
            context.batch.values["mixing_temp_c"] = mixture.temp_c

    def view(self, t_ns: int) -> StageView:
        """Show whether the phases are ready, what is missing, and the forecast."""
        view = super().view(t_ns)
        missing = self.missing(t_ns)
        pour = self._pour_warning(t_ns)
        if not missing:
            view.say, view.tone = "Ready to combine.", "do"
        else:
            view.say, view.tone = missing[0], "wait"
            view.more += missing[1:]
        if pour:
            view.more.insert(0, pour)
            view.tone = "warn"
        if self.known is None:
            view.more.append(f"No forecast: {self.why_no_fat}.")
        elif self.fat.channel is not None:
            view.more.append(self.forecast.says("The fat"))
        view.more += self._why(t_ns)
        view.numbers = self._numbers(t_ns)
        entry = self.forecast.entry("The fat")
        if entry is not None:
            view.forecasts = [entry]
        view.cautions = list(CAUTIONS)
        return view

    def conditions(self) -> list[Condition]:
        """Return each phase against its band once it has been there, and the fat near setting."""
        found: list[Condition] = []
        for name, probe, band in self._phases():
            value = probe.value(self.now_ns)
            for condition in band_conditions(
                f"{self.stage.id}.{name}", f"The {_label(name)}", value, band,
                channel=probe.channel, latches=True,
            ):  # fmt: skip
                if condition.id.endswith(".low") and not self.seen[name]:
                    continue
                found.append(condition)
        if self.known is not None and self.fat.channel is not None:
            found.append(self._setting_condition())
        return found

    def finished(self) -> str | None:
        """Return that the phases are ready to combine, while they are."""
        return "Both phases are ready to combine." if self.ready_since_ns is not None else None

    # What the numbers come to.

    def difference(self, t_ns: int) -> tuple[float | None, float]:
        """Return fat less water [K] and its standard uncertainty, errors in common taken out."""
        fat_c, water_c = self.fat.value(t_ns), self.water.value(t_ns)
        if fat_c is None or water_c is None:
            return None, math.nan
        known = self.context.correctors
        a, b = known.get(self.fat.channel or ""), known.get(self.water.channel or "")
        if a is None or b is None:
            return fat_c - water_c, math.hypot(self.fat.u, self.water.u)
        return fat_c - water_c, difference_uncertainty(a, fat_c, b, water_c)

    def mixture(self, t_ns: int) -> Mixture | None:
        """Return what combining now would give, None where it can't be told."""
        now = self._warm(t_ns)
        if now is None:
            return None
        return phases.mixture(self.context, self.known, *now, self._correlation(t_ns))

    def missing(self, t_ns: int) -> list[str]:
        """Return what is missing before the phases may be combined, each in a sentence."""
        return list(self._missing(t_ns))

    # Inside.

    def _missing(self, t_ns: int) -> Iterator[str]:
        rule = judged_rule(self.context.sheet)
        for name, probe, band in self._phases():
            value = probe.value(t_ns)
            if value is None:
                yield f"{_capital(_label(name))}: {probe.why_missing(_label(name))}."
                continue
            if band is None:
                continue
            verdict, evidence = judge(value, probe.u, band, rule)
            if verdict != "met":
                yield f"{_capital(_label(name))}: {evidence}."
        gap_k, u_gap = self.difference(t_ns)
        band = self.stage.fat_above_water_k
        if gap_k is not None and judge(gap_k, u_gap, band, rule)[0] != "met":
            yield f"Fat above water: {judge(gap_k, u_gap, band, rule)[1]}."
        yield from self._not_melted()
        yield from self._mix_missing(t_ns, rule)

    def _phases(self) -> tuple[tuple[str, Probe, Band | None], ...]:
        return (("fat", self.fat, self.stage.fat_c), ("water", self.water, self.stage.water_c))

    def _warm(self, t_ns: int) -> tuple[Warm, Warm] | None:
        fat_c, water_c = self.fat.value(t_ns), self.water.value(t_ns)
        if fat_c is None or water_c is None:
            return None
        solid = 0.0
        if self.known is not None and not self._melted():
            solid = self.known.solid_share(fat_c)
        return (
            Warm(temp_c=fat_c, u_k=self.fat.u, solid=solid),
            Warm(temp_c=water_c, u_k=self.water.u),
        )

    def _melted(self) -> bool:
        """Whether the fat has been all melted since, and has not begun to set again."""
        if "melted_t_s" not in self.context.batch.values:
            return False
        return self.forecast.arrest is None

    def _correlation(self, t_ns: int) -> float:
        """Correlation of the errors of both probes, from that of their difference."""
        _, u_gap = self.difference(t_ns)
        product = 2.0 * self.fat.u * self.water.u
        if not product > 0.0 or math.isnan(u_gap):
            return 0.0
        return min(max((self.fat.u**2 + self.water.u**2 - u_gap**2) / product, 0.0), 1.0)

    def _note_melting(self, t_ns: int) -> None:
        if self.known is None or "melted_t_s" in self.context.batch.values:
            return
        fat_c = self.fat.value(t_ns)
        if fat_c is not None and fat_c >= self.known.all_melted_above_c.value:
            self.context.batch.values["melted_t_s"] = seconds(t_ns)

    def _note_ready(self, t_ns: int) -> None:
        if next(self._missing(t_ns), None) is not None:
            self.ready_since_ns = None
            return
        if self.ready_since_ns is None:
            self.ready_since_ns = t_ns
        if not self._told_ready and t_ns - self.ready_since_ns >= HOLDS_S * 1_000_000_000:
            self._told_ready = True
            self.context.out.emit(
                t_ns, "ready", "Both phases are ready to combine.", stage=self.stage.id
            )

    def _not_melted(self) -> list[str]:
        if self.known is None or self._melted() or self.fat.channel is None:
            return []
        limit = self.known.all_melted_above_c
        if self.forecast.arrest is not None:
            return [
                f"The fat has begun to set: warm it above {limit.value:g} °C until all is melted."
            ]
        return [f"{_capital(self.known.name)} is all melted only above {limit.value:g} °C."]

    def _find_melted(self, t_ns: int) -> None:
        if self.known is None:
            return
        limit = self.known.all_melted_above_c
        highest = self.fat.highest_c if math.isfinite(self.fat.highest_c) else None
        band = Band(low=limit.value, unit="degC", source=f"{self.known.name}: {limit.source}")
        self.context.out.find(
            finding(
                self.context, "fat all melted", highest, "degC",
                math.hypot(self.fat.u, limit.u), band, self.context.start_ns, t_ns,
                channel=self.fat.channel, why_missing=self.fat.why_missing("fat"),
            )
        )  # fmt: skip

    def _mix_missing(self, t_ns: int, rule: str) -> list[str]:
        """Say what is wrong with the predicted mixture, and what water temperature would do."""
        band, mixture = self.stage.mix_c, self.mixture(t_ns)
        if band is None:
            return []
        if mixture is None:
            return [f"Predicted mixing temperature: {self._why_no_mixture()}."]
        verdict, evidence = judge(mixture.temp_c, mixture.u_temp_k, band, rule)
        if verdict == "met":
            return []
        return [f"After combining: {evidence}. {self._would_do(t_ns, band)}"]

    def _would_do(self, t_ns: int, band: Band) -> str:
        now = self._warm(t_ns)
        ends = [end for end in (band.low, band.high) if end is not None]
        if now is None or not ends:
            return ""
        wanted_c = sum(ends) / len(ends)
        needed = phases.needed_water_c(self.context, self.known, *now, wanted_c)
        if needed is None:
            return "No water temperature from 0 to 100 °C would do: warm or cool the fat."
        return f"Water at {needed:.0f} °C would give {wanted_c:.0f} °C."

    def _why_no_mixture(self) -> str:
        if phases.phase_g(self.context, "fat") <= 0.0 or phases.phase_g(self.context, "water") <= 0:
            return "the sheet has no mass of fat and water"
        if self.fat.channel is None:
            return self.fat.why_missing("fat")
        return self.water.why_missing("water") if self.water.channel is None else "no readings"

    def _until_pour_s(self, t_ns: int) -> float | None:
        after_s = self.stage.pour_after_s
        return None if after_s is None else max(0.0, after_s - self.elapsed_s(t_ns))

    def _pour_warning(self, t_ns: int) -> str:
        """Say it when the fat may set before the planned pour."""
        early_s, until_s = self.forecast.early_s(seconds(t_ns)), self._until_pour_s(t_ns)
        if early_s is None or until_s is None or early_s > until_s:
            return ""
        planned = clock(self.elapsed_s(t_ns) + until_s)
        return f"The fat may set before the pour planned at {planned}: warm it or pour earlier."

    def _setting_condition(self) -> Condition:
        early_s = self.forecast.early_s(seconds(self.now_ns))
        until_s = self._until_pour_s(self.now_ns)
        lead_s = max(WARNING_S, until_s) if until_s is not None else WARNING_S
        fat_c, limit_c = self.fat.value(self.now_ns), self.forecast.limit_c
        seen = self._melted() or self.forecast.arrest is not None
        active = None if early_s is None or fat_c is None else seen and early_s < lead_s
        if self.forecast.arrest is not None:
            active = True
        elif early_s is None and fat_c is not None and self.forecast.estimate.why_not:
            active = False  # it warms, is held or has hardly changed: nothing is about to set
        return Condition(
            id=f"{self.stage.id}.fat.setting",
            text=f"{self.forecast.says('The fat')} Warm it or combine now.",
            active=active,
            cleared=active is False and (
                fat_c is not None and limit_c is not None and fat_c > limit_c + DEADBAND_K
            ),
            latches=True,
            channel=self.fat.channel,
        )  # fmt: skip

    def _why(self, t_ns: int) -> list[str]:
        said = []
        mixture = self.mixture(t_ns)
        if mixture is not None and not phases.counts_a_vessel(self.context):
            said.append("Mixing temperature without bowl: the sheet describes no vessel.")
        if mixture is not None and mixture.terms:
            name, u_k = mixture.terms[0]
            said.append(f"Its uncertainty comes mostly from {name} ({2 * u_k:.1f} K).")
        if self.stage.fat_above_water_k.source != "sheet":
            said.append(FAT_ABOVE_WATER)
        fit = self.forecast.estimate.fit
        if fit is not None:
            _, _, where = phases.room_c(self.context)
            said.append(
                f"Forecast fitted with air {fit.ambient_c:.0f} °C ({where}), loss exponent "
                f"{fit.exponent:.2f}."
            )
        return said

    def _numbers(self, t_ns: int) -> list[Number]:
        context = self.context
        shown_now = [
            number(
                context, _capital(_label(name)), probe.value(t_ns), "degC", probe.u, band,
                text="" if probe.value(t_ns) is not None else probe.why_missing(_label(name)),
            )
            for name, probe, band in self._phases()
        ]  # fmt: skip
        gap_k, u_gap = self.difference(t_ns)
        shown_now.append(
            number(context, "Fat above water", gap_k, "K", u_gap, self.stage.fat_above_water_k)
        )
        mixture = self.mixture(t_ns)
        shown_now.append(
            number(
                context, "After combining", mixture.temp_c if mixture else None, "degC",
                mixture.u_temp_k if mixture else math.nan, self.stage.mix_c,
                text="" if mixture else f"can't tell: {self._why_no_mixture()}",
            )
        )  # fmt: skip
        return shown_now


def _label(name: str) -> str:
    return {"fat": "fat", "water": "water"}[name]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def make(context: Context) -> Watcher:
    """Return the watcher of a ``heat`` stage."""
    if not isinstance(context.stage, HeatStage):
        raise TypeError(f"a heat watcher needs a heat stage, not {context.stage!r}")
    return HeatWatch(context, context.stage)
