"""Pouring one phase into the other: how much, how fast, how crowded, how warm.

Pure; the watcher of ``emulsify`` stages. Pours come from the bowl scale, in both directions; the
fat fraction by mass and by volume is told now and as it will be; crowding is worded as a notice.
The emulsion is held against two limits of *this* fat. Droplets supercool far below both, which is
explained and never used as a pass.
"""

from __future__ import annotations

import math

from logger.batch import phases
from logger.model.event import Event
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.reading import Reading
from logger.model.state import Number, StageView, Tone
from logger.science.fats.emulsion import (
    HEXAGONAL_PACKING,
    RANDOM_PACKING,
    packing_notice,
    volume_fraction,
)
from logger.science.heat.water import density_kg_m3
from logger.watch.engine.contract import Condition, Context, Watcher, seconds
from logger.watch.engine.plain import Plain
from logger.watch.sensors.probe import Probe
from logger.watch.stages.emulsify.emulsion import ABOVE_MELTED, ABOVE_SETTING, CoolingEmulsion
from logger.watch.stages.emulsify.poured import Poured
from logger.watch.verdict.checks import finding, number
from logger.watch.verdict.limits import band_conditions
from logger.words.durations import clock
from logger.words.values import percent_text, rounded_text, value_text

AFTER_POUR_S = 20.0
CAUTIONS = (
    "Hot fat burns: pour slowly, away from you; keep your hands away from the blades.",
    "Follow local rules and licensed practice for hot fat.",
)
SUPERCOOLING = (
    "Droplets may stay liquid far below these limits (supercooling, 18 to 28 K below the bulk has "
    "been measured): that is luck, and does not count as met."
)
LESS_REFINED = "A less refined fat may thicken earlier: common practice, no source."


class EmulsifyWatch(Plain):
    """Watches one stage of combining."""

    def __init__(self, context: Context, stage: EmulsifyStage) -> None:
        super().__init__(context)
        self.stage = stage
        self.poured = Poured(context, stage)
        self.scale = self.poured.scale
        self.emulsion = Probe(context, "emulsion")
        self.fat_probe = Probe(context, "fat")
        self.cooling = CoolingEmulsion(context, self.emulsion)
        self.fat, self.why_no_fat = self.cooling.fat, self.cooling.why_no_fat
        self._mixed = False

    def reading(self, reading: Reading) -> None:
        """Take one reading of scale, emulsion or, before the pour, fat."""
        if reading.channel == self.emulsion.channel:
            if self._mixed:
                self.cooling.take(reading, poured_into=self.poured.running)
            else:
                self.emulsion.take(reading)
        elif reading.channel == self.scale:
            self.poured.reading(reading)
        elif not self._mixed:  # after that it may hang anywhere
            self.fat_probe.take(reading)

    def event(self, event: Event) -> None:
        """Take the answer to a question about what came."""
        self.poured.event(event)

    def tick(self, t_ns: int) -> None:
        """Look for a pour that began or ended, and ask when it may set."""
        self.now_ns = t_ns
        changed = self.poured.look(t_ns)
        if changed is not None:
            self._mixed = True
            self.cooling.forecast.restart(
                changed.start_s if changed.end_s is None else changed.end_s
            )
        if self._mixed:  # before that the probe hangs in the air or in one phase
            self.cooling.forecast.tick(t_ns)

    def end(self, t_ns: int) -> None:
        """Judge mass, rate, fraction and temperatures."""
        self.now_ns = t_ns
        self.poured.finish(t_ns)
        self.poured.find(t_ns)
        context, out = self.context, self.context.out
        out.find(
            finding(
                context,
                "emulsify.emulsion_c",
                self.emulsion.measured(t_ns),
                self.stage.emulsion_c,
                why_missing=self.cooling.why_missing(),
            )
        )
        self._find_setting(t_ns)
        if self._mixed and self.fat is not None and self.emulsion.channel is not None:
            context.batch.emulsion = self.cooling
        self._keep_values(t_ns)
        if self.poured.running:
            context.batch.pour = self

    def pour_is_over(self, t_ns: int, *, at_end: bool = False) -> bool:
        """Follow the pour after the stage; judge it and return True once it is over.

        Parameters
        ----------
        t_ns : int
            Time on the run's axis [ns].
        at_end : bool
            Whether the run ends.
        """
        over = self.poured.follow(t_ns)
        if at_end:
            self.poured.finish(t_ns)
            over = not self.poured.running
        if over:
            self.poured.find(t_ns)
            self.poured.tell_missed(t_ns)
        self._keep_values(t_ns)
        return over

    def view(self, t_ns: int) -> StageView:
        """Show the pour, the fractions and how far the emulsion is from setting."""
        view = super().view(t_ns)
        view.say, view.tone = self._say(t_ns)
        percent, _ = self.poured.fat_percent(*self.poured.mass())
        view.more += [s for s in (self._predicted(t_ns), *self._notices(t_ns)) if s]
        view.more += self.poured.says()
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
            f"{stage.id}.emulsion",
            "The emulsion",
            self.emulsion.value(now_ns) if self._mixed else None,
            stage.emulsion_c,
            channel=self.emulsion.channel,
            latches=True,
        )
        rate = self.poured.rate_now(now_ns)
        for condition in band_conditions(
            f"{stage.id}.rate",
            "The pour",
            rate,
            stage.rate_g_min,
            channel=self.scale,
            deadband=0.05 * (rate or 0.0),
        ):
            found.append(condition if self.poured.running else _quiet(condition))
        if self.fat is not None and self.emulsion.channel is not None:
            temp_c = self.emulsion.value(now_ns) if self._mixed else None
            found.append(self.cooling.condition(now_ns, temp_c))
        return found + self._packing_conditions(now_ns)

    def finished(self) -> str | None:
        """Return that the pour is over, once it is and nothing follows."""
        pours = self.poured.pours
        if not pours or self.poured.running or pours[-1].end_s is None:
            return None
        if seconds(self.now_ns) - pours[-1].end_s < AFTER_POUR_S:
            return None
        low = self.stage.mass_g.low if self.stage.mass_g is not None else None
        if low is not None and self.poured.total_g < low:
            return None
        poured = rounded_text(self.poured.total_g, "g")
        return f"The pour ended at {clock(pours[-1].end_s)}: {poured}."

    # Inside.

    def _keep_values(self, t_ns: int) -> None:
        """Keep mass and fat fraction by volume for later stages and for the run's results."""
        context, results = self.context, self.context.out.results
        poured_g, u_g = self.poured.mass()
        if poured_g is not None:
            context.batch.values["poured_g"] = poured_g
            results.values["poured_g"] = poured_g
        phi = self.volume(self.poured.fat_percent(poured_g, u_g)[0], t_ns)
        if phi is not None:
            results.values["fat_volume_fraction"] = phi

    def volume(self, percent: float | None, t_ns: int) -> float | None:
        """Return the volume fraction of the fat.

        Parameters
        ----------
        percent : float or None
            Fat in the whole [% by mass]; None while it is not known.
        t_ns : int
            Time on the run's axis [ns].

        Returns
        -------
        float or None
            Volume fraction of the fat [1]; None where it can't be told.
        """
        if percent is None or self.fat is None:
            return None
        temp_c = self.emulsion.value(t_ns)
        if temp_c is None:
            temp_c = self.context.batch.values.get("mixing_temp_c", 50.0)
        temp_c = min(max(temp_c, 0.0), 100.0)
        return volume_fraction(percent / 100.0, self.fat.density_at(temp_c), density_kg_m3(temp_c))

    def _find_setting(self, t_ns: int) -> None:
        """Hold the lowest emulsion temperature against both limits of this fat."""
        why = self.cooling.why_missing()
        if self.emulsion.channel is not None and not self._mixed:
            why = "no pour was seen, so the probe was not known to be in the emulsion"
        self.cooling.find_setting(
            (ABOVE_SETTING, ABOVE_MELTED), self.poured.span(t_ns)[0], t_ns, why
        )

    def _say(self, t_ns: int) -> tuple[str, Tone]:
        what = self.stage.pour
        pours = self.poured.pours
        if self.poured.running:
            silent_s = self.poured.silent_since_s(t_ns)
            if silent_s is not None:
                poured = rounded_text(pours[-1].mass_g, "g")
                return (
                    f"No readings of the bowl scale since {clock(silent_s)}, {poured} of {what} "
                    "until then. Look at its plug and cable.",
                    "warn",
                )
            rate = self.poured.rate_now(t_ns)
            pace = "" if rate is None else f" at {rounded_text(rate, 'g/min')}"
            return f"Pouring: {rounded_text(pours[-1].mass_g, 'g')} of {what}{pace}.", "wait"
        if pours:
            return (
                f"{rounded_text(self.poured.total_g, 'g')} of {what} poured. Keep blending.",
                "do",
            )
        if solid := self._not_melted(t_ns):
            return solid, "do"
        if not self.poured.weighed:
            return (
                f"Pour the {what} in; {self.poured.why_none()}, so mass and rate are not measured.",
                "do",
            )
        return f"Pour the {what} in.", "do"

    def _not_melted(self, t_ns: int) -> str:
        """Say that the fat is surely below where it is fully melted; empty where it need not be."""
        fat_c = self.fat_probe.value(t_ns)
        if self.fat is None or fat_c is None:
            return ""
        melted_c = self.fat.all_melted_above_c.value
        u_c = self.fat_probe.u
        if math.isnan(u_c) or fat_c + 2.0 * u_c >= melted_c:
            return ""
        return (
            f"The fat is at {value_text(fat_c, 'degC')}, fully melted above "
            f"{value_text(melted_c, 'degC')} only: warm it on before you pour."
        )

    def _predicted(self, t_ns: int) -> str:
        """Say the fat fraction at the end of the pour: planned until it is over."""
        planned_g = phases.phase_g(self.context, self.stage.pour)
        over = bool(self.poured.pours) and not self.poured.running
        percent, _ = self.poured.fat_percent(self.poured.total_g if over else planned_g, 0.0)
        phi = self.volume(percent, t_ns)
        if percent is None:
            return f"Fat fraction can't be told: {self.poured.why_no_fraction()}."
        by_volume = "" if phi is None else f", {percent_text(phi)} by volume"
        when = "Fat now" if over else "Fat at the end as planned"
        return f"{when}: {value_text(percent, '%')} by mass{by_volume}."

    def _notices(self, t_ns: int) -> list[str]:
        now, _ = self.poured.fat_percent(*self.poured.mass())
        planned_g = phases.phase_g(self.context, self.stage.pour)
        ahead, _ = self.poured.fat_percent(max(planned_g, self.poured.total_g), 0.0)
        found: list[str] = []
        if self.stage.pour == "fat":
            for percent, what in ((now, ""), (ahead, "At the end of the pour: ")):
                phi = self.volume(percent, t_ns)
                notice = "" if phi is None else packing_notice(phi)
                if notice and not any(notice[-40:] in old for old in found):
                    found.append(what + notice)
        else:
            phi = self.volume(now, t_ns)
            if self.poured.pours and phi is not None and packing_notice(phi):
                found.append(packing_notice(phi))
        return found

    def _packing_conditions(self, t_ns: int) -> list[Condition]:
        percent, _ = self.poured.fat_percent(*self.poured.mass())
        phi = self.volume(percent, t_ns) if self.poured.pours else None
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
        phi = self.volume(percent, t_ns)
        temp_c = self.emulsion.value(t_ns)
        return [
            *self.poured.numbers(t_ns, "" if phi is None else f"{percent_text(phi)} by volume"),
            number(
                self.context,
                "Emulsion",
                temp_c,
                "degC",
                self.emulsion.u,
                self.stage.emulsion_c,
                text="" if temp_c is not None else self.emulsion.why_missing("emulsion"),
            ),
        ]


def _quiet(condition: Condition) -> Condition:
    """A rate that is over can't be too slow or too fast any more."""
    return Condition(
        id=condition.id, text=condition.text, active=False, cleared=True, channel=condition.channel
    )


def make(context: Context) -> Watcher:
    """Return the watcher of an ``emulsify`` stage.

    Raises
    ------
    TypeError
        If the stage is of another kind.
    """
    if not isinstance(context.stage, EmulsifyStage):
        raise TypeError(f"an emulsify watcher needs an emulsify stage, not {context.stage!r}")
    return EmulsifyWatch(context, context.stage)
