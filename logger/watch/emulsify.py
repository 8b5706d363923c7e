"""Pouring one phase into the other: how much, how fast, how crowded, how warm.

Pure; the watcher of ``emulsify`` stages. Pours come from the bowl scale, in both directions; the
fat fraction by mass and by volume is told now and as it will be; crowding is worded as a notice.
The emulsion is held against two limits of *this* fat. Droplets supercool far below both, which is
explained and never used as a pass.
"""

from __future__ import annotations

import math

from logger.model.event import Event
from logger.model.reading import Reading
from logger.model.sheet import EmulsifyStage
from logger.model.state import Number, StageView, Tone
from logger.science.emulsion import (
    HEXAGONAL_PACKING,
    RANDOM_PACKING,
    packing_notice,
    volume_fraction,
)
from logger.science.water import density_kg_m3
from logger.watch import phases
from logger.watch.checks import finding, number
from logger.watch.contract import Condition, Context, Watcher, seconds
from logger.watch.emulsion import ABOVE_MELTED, ABOVE_SETTING, CoolingEmulsion
from logger.watch.forecast import clock
from logger.watch.limits import band_conditions
from logger.watch.plain import Plain
from logger.watch.pour import Pour, PourDetector
from logger.watch.probe import Probe

DEFAULT_STEP_G = 0.1
RATE_FROM_S = 6.0
"""A rate is told and alarmed from so long after the beginning on [s]."""
AFTER_POUR_S = 20.0
U_TIME_S = 0.5
"""Standard uncertainty of the beginning and the end of a pour [s]."""
CAUTIONS = (
    "Hot fat burns: pour slowly, away from you; keep hands out of the blades.",
    "Follow local rules and licensed practice for hot fat.",
)
SUPERCOOLING = (
    "Droplets may stay liquid far below these limits (supercooling, 18 to 28 K below the bulk has "
    "been measured): that is luck, not a pass."
)
LESS_REFINED = "A less refined fat may thicken earlier: common practice, no source."


class EmulsifyWatch(Plain):
    """Watches one stage of combining."""

    def __init__(self, context: Context, stage: EmulsifyStage) -> None:
        super().__init__(context)
        self.stage = stage
        self.scale = context.channel_id("bowl_scale")
        known = context.bench.channel_of("bowl_scale")
        step_g = (known.resolution if known is not None else None) or DEFAULT_STEP_G
        self.pours = PourDetector(gives=stage.scale_under == "giving", step_g=step_g)
        self.emulsion = Probe(context, "emulsion")
        self.cooling = CoolingEmulsion(context, self.emulsion)
        self.fat, self.why_no_fat = self.cooling.fat, self.cooling.why_no_fat
        self._weighed = False
        self._u_scale_g = math.nan
        self._mixed = False

    def reading(self, reading: Reading) -> None:
        """Take one reading of scale or emulsion."""
        if reading.channel == self.emulsion.channel:
            if self._mixed:
                self.cooling.take(reading, poured_into=self.pours.running)
            else:
                self.emulsion.take(reading)
        elif reading.channel == self.scale and reading.value is not None:
            self._weighed = True
            self._u_scale_g = reading.u
            self.pours.add(seconds(reading.t_ns), reading.value)

    def event(self, event: Event) -> None:
        """Take a tare of the scale, and its offset: their jumps are no pour."""
        if event.kind in ("tare_suspected", "tare_counted") and event.channel == self.scale:
            self.pours.shift(float(event.data["at_s"]), float(event.data["offset_g"]))

    def tick(self, t_ns: int) -> None:
        """Look for a pour that began or ended, and ask when it may set."""
        self.now_ns = t_ns
        changed = self.pours.look(seconds(t_ns))
        if changed is not None:
            self._tell(changed, t_ns)
        if self.pours.running:
            self._keep_rows()
        if self._mixed:  # before that the probe hangs in the air or in one phase
            self.cooling.forecast.tick(t_ns)

    def end(self, t_ns: int) -> None:
        """Judge mass, rate, fraction and temperatures."""
        self.now_ns = t_ns
        self._keep_rows()
        context, out, stage = self.context, self.context.out, self.stage
        poured_g, u_g = self.poured()
        from_ns, to_ns = self._pour_span(t_ns)
        why = self._why_no_scale()
        out.find(
            finding(context, "poured mass", poured_g, "g", u_g, stage.mass_g, from_ns, to_ns,
                    channel=self.scale, why_missing=why)
        )  # fmt: skip
        rate, u_rate = self.rate(t_ns)
        out.find(
            finding(context, "pour rate", rate, "g/min", u_rate, stage.rate_g_min, from_ns, to_ns,
                    channel=self.scale, why_missing=why)
        )  # fmt: skip
        percent, u_percent = self.fat_percent(poured_g, u_g)
        out.find(
            finding(context, "fat fraction by mass", percent, "%", u_percent,
                    stage.fat_fraction_percent, from_ns, to_ns, channel=self.scale,
                    why_missing=why or self._why_no_fraction())
        )  # fmt: skip
        out.find(
            finding(context, "emulsion temperature", self.emulsion.value(t_ns), "degC",
                    self.emulsion.u, stage.emulsion_c, self.emulsion.first_ns, t_ns,
                    channel=self.emulsion.channel,
                    why_missing=self.cooling.why_missing())
        )  # fmt: skip
        self._find_setting(t_ns)
        if self._mixed and self.fat is not None and self.emulsion.channel is not None:
            context.batch.emulsion = self.cooling
        if poured_g is not None:
            context.batch.values["poured_g"] = poured_g
            out.results.values["poured_g"] = poured_g
        phi = self.volume(percent, t_ns)
        if phi is not None:
            out.results.values["fat_volume_fraction"] = phi

    def view(self, t_ns: int) -> StageView:
        """Show the pour, the fractions and how far the emulsion is from setting."""
        view = super().view(t_ns)
        view.say, view.tone = self._say(t_ns)
        percent, _ = self.fat_percent(*self.poured())
        view.more += [s for s in (self._predicted(t_ns), *self._notices(t_ns)) if s]
        if self.fat is None:
            view.more.append(f"No setting limit: {self.why_no_fat}.")
        else:
            if self.emulsion.channel is not None:
                view.more.append(self.cooling.says())
            view.more += [self.cooling.two_limits(), SUPERCOOLING, LESS_REFINED]
        view.numbers = self._numbers(t_ns, percent)
        view.forecasts = self.cooling.entries()
        view.cautions = list(CAUTIONS)
        return view

    def conditions(self) -> list[Condition]:
        """Return temperature and rate against their bands, the fat near setting, the notices."""
        stage, now_ns = self.stage, self.now_ns
        found = band_conditions(
            f"{stage.id}.emulsion", "The emulsion",
            self.emulsion.value(now_ns) if self._mixed else None, stage.emulsion_c,
            channel=self.emulsion.channel, latches=True,
        )  # fmt: skip
        rate = self.rate(now_ns)[0] if self._rate_counts(now_ns) else None
        for condition in band_conditions(
            f"{stage.id}.rate", "The pour", rate, stage.rate_g_min, channel=self.scale,
            deadband=0.05 * (rate or 0.0),
        ):  # fmt: skip
            found.append(condition if self.pours.running else _quiet(condition))
        if self.fat is not None and self.emulsion.channel is not None:
            temp_c = self.emulsion.value(now_ns) if self._mixed else None
            found.append(self.cooling.condition(now_ns, temp_c))
        return found + self._packing_conditions(now_ns)

    def finished(self) -> str | None:
        """Return that the pour is over, once it is and nothing follows."""
        pours = self.pours.pours
        if not pours or self.pours.running or pours[-1].end_s is None:
            return None
        if seconds(self.now_ns) - pours[-1].end_s < AFTER_POUR_S:
            return None
        low = self.stage.mass_g.low if self.stage.mass_g is not None else None
        if low is not None and self.pours.poured_g < low:
            return None
        return f"The pour ended at {clock(pours[-1].end_s)}: {self.pours.poured_g:.0f} g."

    # What the numbers come to.

    def poured(self) -> tuple[float | None, float]:
        """Return the mass poured so far [g] and its standard uncertainty; None unweighed."""
        if not self._weighed:
            return None, math.nan
        noise = math.sqrt(sum(p.u_mass_g**2 for p in self.pours.pours))
        return self.pours.poured_g, math.hypot(noise, self._u_scale_g)

    def rate(self, t_ns: int) -> tuple[float | None, float]:
        """Return the mean rate of all pours [g/min] and its standard uncertainty."""
        pours, now_s = self.pours.pours, seconds(t_ns)
        lasted_s = sum((now_s if p.end_s is None else p.end_s) - p.start_s for p in pours)
        poured_g, u_g = self.poured()
        if poured_g is None or not pours or lasted_s <= 0.0:
            return None, math.nan
        rate = 60.0 * poured_g / lasted_s
        u_time = U_TIME_S * math.sqrt(2.0 * len(pours)) / lasted_s
        return rate, rate * math.hypot(u_g / poured_g if poured_g > 0.0 else 0.0, u_time)

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

    def volume(self, percent: float | None, t_ns: int) -> float | None:
        """Return the volume fraction of the fat, None where it can't be told."""
        if percent is None or self.fat is None:
            return None
        temp_c = self.emulsion.value(t_ns)
        if temp_c is None:
            temp_c = self.context.batch.values.get("mixing_temp_c", 50.0)
        temp_c = min(max(temp_c, 0.0), 100.0)
        return volume_fraction(percent / 100.0, self.fat.density_at(temp_c), density_kg_m3(temp_c))

    # Inside.

    def _tell(self, pour: Pour, t_ns: int) -> None:
        self._mixed = True
        self._keep_rows()
        if pour.end_s is None:
            text = f"pour began at {clock(pour.start_s)}"
            self.context.out.emit(
                t_ns, "pour_start", text, channel=self.scale, stage=self.stage.id,
                start_s=pour.start_s,
            )  # fmt: skip
        else:
            rate = pour.rate_g_per_min(pour.end_s)
            text = f"pour of {pour.mass_g:.0f} g at {rate:.0f} g/min"
            self.context.out.emit(
                t_ns, "pour_end", text, channel=self.scale, stage=self.stage.id,
                start_s=pour.start_s, end_s=pour.end_s, mass_g=pour.mass_g, rate_g_per_min=rate,
            )  # fmt: skip
        self.cooling.forecast.restart(pour.start_s if pour.end_s is None else pour.end_s)

    def _keep_rows(self) -> None:
        rows = self.context.out.results.pours
        rows[:] = [r for r in rows if r.get("stage") != self.stage.id] + [
            {
                "channel": self.scale,
                "start_s": p.start_s,
                "end_s": p.end_s,
                "mass_g": p.mass_g,
                "rate_g_per_min": p.rate_g_per_min(seconds(self.now_ns)),
                "stage": self.stage.id,
            }
            for p in self.pours.pours
        ]

    def _pour_span(self, t_ns: int) -> tuple[int, int]:
        pours = self.pours.pours
        if not pours:
            return self.context.start_ns, t_ns
        end_s = pours[-1].end_s
        return round(pours[0].start_s * 1e9), t_ns if end_s is None else round(end_s * 1e9)

    def _why_no_scale(self) -> str:
        if self.scale is None:
            return "the bench has no bowl scale"
        if not self._weighed:
            return "no reading of the bowl scale"
        return "" if self.pours.pours else "no pour was seen"

    def _why_no_fraction(self) -> str:
        into = "water" if self.stage.pour == "fat" else "fat"
        return f"the sheet has no mass of the {into} phase"

    def _rate_counts(self, t_ns: int) -> bool:
        pours = self.pours.pours
        return (
            self.pours.running and bool(pours) and seconds(t_ns) - pours[-1].start_s >= RATE_FROM_S
        )

    def _find_setting(self, t_ns: int) -> None:
        """Hold the lowest emulsion temperature against both limits of this fat."""
        why = self.cooling.why_missing()
        if self.emulsion.channel is not None and not self._mixed:
            why = "no pour was seen, so the probe was not known to be in the emulsion"
        self.cooling.find_setting(
            (ABOVE_SETTING, ABOVE_MELTED), self._pour_span(t_ns)[0], t_ns, why
        )

    def _say(self, t_ns: int) -> tuple[str, Tone]:
        what = self.stage.pour
        pours = self.pours.pours
        if self.pours.running:
            rate = self.rate(t_ns)[0] if self._rate_counts(t_ns) else None
            pace = "" if rate is None else f" at {rate:.0f} g/min"
            return f"Pouring: {pours[-1].mass_g:.0f} g of {what}{pace}.", "wait"
        if pours:
            return f"{self.pours.poured_g:.0f} g of {what} poured. Blend on.", "do"
        if self.scale is None or not self._weighed:
            return f"Pour the {what} in; {self._why_no_scale()}, so mass and rate are untold.", "do"
        return f"Pour the {what} in.", "do"

    def _predicted(self, t_ns: int) -> str:
        """Say the fat fraction at the end of the pour: planned until it is over."""
        planned_g = phases.phase_g(self.context, self.stage.pour)
        over = bool(self.pours.pours) and not self.pours.running
        percent, _ = self.fat_percent(self.pours.poured_g if over else planned_g, 0.0)
        phi = self.volume(percent, t_ns)
        if percent is None:
            return f"Fat fraction can't be told: {self._why_no_fraction()}."
        by_volume = "" if phi is None else f", {100 * phi:.0f} % by volume"
        when = "Fat now" if over else "Fat at the end as planned"
        return f"{when}: {percent:.1f} % by mass{by_volume}."

    def _notices(self, t_ns: int) -> list[str]:
        now, _ = self.fat_percent(*self.poured())
        planned_g = phases.phase_g(self.context, self.stage.pour)
        ahead, _ = self.fat_percent(max(planned_g, self.pours.poured_g), 0.0)
        found: list[str] = []
        if self.stage.pour == "fat":
            for percent, what in ((now, ""), (ahead, "At the end of the pour: ")):
                phi = self.volume(percent, t_ns)
                notice = "" if phi is None else packing_notice(phi)
                if notice and not any(notice[-40:] in old for old in found):
                    found.append(what + notice)
        else:
            phi = self.volume(now, t_ns)
            if self.pours.pours and phi is not None and packing_notice(phi):
                found.append(packing_notice(phi))
        return found

    def _packing_conditions(self, t_ns: int) -> list[Condition]:
        percent, _ = self.fat_percent(*self.poured())
        phi = self.volume(percent, t_ns) if self.pours.pours else None
        return [
            Condition(
                id=f"{self.stage.id}.crowded.{name}",
                text=packing_notice(mark),
                active=None if phi is None else phi >= mark,
                cleared=phi is not None and phi < mark - 0.005,
                priority="low",
                channel=self.scale,
            )
            for name, mark in (("random", RANDOM_PACKING), ("hexagonal", HEXAGONAL_PACKING))
        ]

    def _numbers(self, t_ns: int, percent: float | None) -> list[Number]:
        context, stage = self.context, self.stage
        poured_g, u_g = self.poured()
        rate, u_rate = self.rate(t_ns)
        _, u_percent = self.fat_percent(poured_g, u_g)
        phi = self.volume(percent, t_ns)
        crowd = "" if phi is None else f"{100 * phi:.0f} % by volume"
        return [
            number(context, "Poured", poured_g, "g", u_g, stage.mass_g,
                   text="" if self._weighed else self._why_no_scale()),
            number(context, "Pour rate", rate, "g/min", u_rate, stage.rate_g_min,
                   text="" if rate is not None else self._why_no_scale()),
            number(context, "Fat fraction", percent, "%", u_percent, stage.fat_fraction_percent,
                   text=crowd),
            number(context, "Emulsion", self.emulsion.value(t_ns), "degC", self.emulsion.u,
                   stage.emulsion_c,
                   text="" if self.emulsion.value(t_ns) is not None
                   else self.emulsion.why_missing("emulsion")),
        ]  # fmt: skip


def _quiet(condition: Condition) -> Condition:
    """A rate that is over can't be too slow or too fast any more."""
    return Condition(
        id=condition.id, text=condition.text, active=False, cleared=True, channel=condition.channel
    )


def make(context: Context) -> Watcher:
    """Return the watcher of an ``emulsify`` stage."""
    if not isinstance(context.stage, EmulsifyStage):
        raise TypeError(f"an emulsify watcher needs an emulsify stage, not {context.stage!r}")
    return EmulsifyWatch(context, context.stage)
