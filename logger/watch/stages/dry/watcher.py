"""Drying: mass lost on the rack, its rate, and whether the surface film is probably gone.

Pure; a stage watcher. The rack stands on the bench scale, or on the bath scale where there is no
other. Loss of mass never says that a piece may go into hot oil; nothing here does.
"""

import math

from logger.model.event import Event
from logger.model.finding import Finding
from logger.model.kinds.dry import DryStage
from logger.model.reading import Reading
from logger.model.state import StageView, Tone
from logger.science.drying.drying import CAUTION, FILM_GONE, DryingReading, read_drying
from logger.watch.engine.contract import Context, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.stages.dry.rack import Rack
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.words.values import value_text

_LOOK_NS = 20_000_000_000


def make(context: Context) -> Watcher:
    """Return the watcher of a drying stage."""
    return Dry(context)


class Dry(Plain):
    """Watches one drying stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, DryStage):
            raise TypeError("a dry watcher needs a dry stage")
        self.stage = stage
        self.channel = context.channel_id("bench_scale") or context.channel_id("bath_scale")
        self.rack = Rack(context, self.channel)
        self.says: DryingReading | None = None
        self._looked_ns = context.start_ns

    def reading(self, reading: Reading) -> None:
        """Take one reading of the scale under the rack."""
        if reading.channel == self.channel:
            self.rack.take(reading)

    def event(self, event: Event) -> None:
        """Take a gap of the scale."""
        if event.kind == "gap" and event.channel == self.channel:
            self.rack.gap()

    def tick(self, t_ns: int) -> None:
        """Read the curve every twenty seconds."""
        super().tick(t_ns)
        self.rack.tick(t_ns)
        if t_ns - self._looked_ns >= _LOOK_NS:
            self._looked_ns = t_ns
            self._look()

    def end(self, t_ns: int) -> None:
        """Judge loss and time, and keep what the curve said."""
        self.now_ns = t_ns
        self.rack.end()
        self._look()
        out = self.context.out
        out.find(self._loss_finding(t_ns))
        if self.stage.time_s is not None:
            lasted = Measured(
                value=self.elapsed_s(t_ns),
                u=checks.U_BETWEEN_TAPS_S,
                from_ns=self.context.start_ns,
                to_ns=t_ns,
            )
            out.find(checks.finding(self.context, "dry.time_s", lasted, self.stage.time_s))
        values = out.results.values
        ends = self.rack.ends()
        if ends is not None and not self.rack.unsure:
            values["dry_drained_g"] = (ends[1].value or 0.0) - (ends[0].value or 0.0)
        if self.says is not None:
            values["dry_lost_g"] = self.says.lost_g
            values["dry_surface"] = self.says.state
            if self.says.rate_g_h is not None:
                values["dry_rate_g_h"] = self.says.rate_g_h
            if self.says.bend is not None:
                values["dry_bend_from_s"] = self.says.bend.early_s
                values["dry_bend_to_s"] = self.says.bend.late_s

    def view(self, t_ns: int) -> StageView:
        """Return what the curve says, loss and rate, with the caution."""
        view = super().view(t_ns)
        view.cautions = [CAUTION]
        view.say, view.tone = self._say(t_ns)
        percent, u_percent = self._loss()
        if self.channel is not None:
            wanted = self.stage.loss_percent
            view.numbers.append(
                checks.progress(self.context, "Lost", percent, "%", u_percent, wanted)
            )
        time_s = self.stage.time_s
        if time_s is not None:
            u_s = checks.U_BETWEEN_TAPS_S
            elapsed_s = self.elapsed_s(t_ns)
            view.numbers.append(checks.progress(self.context, "Time", elapsed_s, "s", u_s, time_s))
            if time_s.low is not None:
                view.left_s = max(0.0, time_s.low - elapsed_s)
        says = self.says
        if says is not None:
            view.more.append(f"{says.state[:1].upper()}{says.state[1:]}: {says.reason}.")
            if says.rate_g_h is not None and says.u_rate_g_h is not None:
                rate = value_text(says.rate_g_h, "g/h", 2.0 * says.u_rate_g_h)
                view.more.append(f"Loses {rate}.")
        return view

    def finished(self) -> str | None:
        """Return that the film has probably gone and the least time is over."""
        low_s = self.stage.time_s.low if self.stage.time_s is not None else None
        if low_s is not None and self.elapsed_s() < low_s:
            return None
        if self.says is not None and self.says.state == FILM_GONE:
            return "The surface film has probably gone"
        return None

    def _look(self) -> None:
        """Read the curve of what lies on the rack."""
        curve = self.rack.curve()
        if curve is None:
            self.says = None
            return
        time_s, net_g = curve
        if net_g[0] > 0.0:
            step_g = self.rack.steady.step_g or 0.0
            self.says = read_drying(time_s, net_g, resolution_g=step_g)

    def _loss(self) -> tuple[float | None, float]:
        """Return the share of mass lost and its standard uncertainty [%]."""
        ends = self.rack.ends()
        if ends is None:
            return None, math.nan
        base, first, last = ends
        start_g = (first.value or 0.0) - (base.value or 0.0)
        lost_g = (first.value or 0.0) - (last.value or 0.0)
        if start_g <= 0.0:
            return None, math.nan
        percent = 100.0 * lost_g / start_g
        if self.rack.unsure:
            return percent, math.nan
        u_lost_g, u_start_g = self.rack.u_between(last, first), self.rack.u_between(base, first)
        return percent, math.hypot(100.0 * u_lost_g / start_g, percent * u_start_g / start_g)

    def _loss_finding(self, t_ns: int) -> Finding:
        percent, u_percent = self._loss()
        ends = self.rack.ends()
        why = "nothing was put on the scale" if self.rack.heard else "no reading of its scale"
        if self.channel is None:
            why = "the bench has no scale to dry on"
        unsure = ""
        if percent is not None:
            unsure = "the rack may be part of the load (tare it first)" if self.rack.unsure else ""
        loss = Measured(
            value=percent,
            u=u_percent,
            from_ns=ends[1].t_ns if ends is not None else self.context.start_ns,
            to_ns=ends[2].t_ns if ends is not None else t_ns,
            channel=self.channel,
        )
        return checks.finding(
            self.context,
            "dry.lost_percent",
            loss,
            self.stage.loss_percent,
            why_missing=why,
            why_unknown=unsure,
        )

    def _say(self, t_ns: int) -> tuple[str, Tone]:
        if self.channel is None:
            return "Dry: the bench has no scale, so the loss is not measured", "warn"
        if self.rack.ends() is None:
            return "Tare the rack on the scale, then put the drained, blotted pieces on it", "do"
        percent, _ = self._loss()
        lost = f"{value_text(percent, '%')} lost" if percent is not None else "loss not known"
        high_s = self.stage.time_s.high if self.stage.time_s is not None else None
        if high_s is not None and self.elapsed_s(t_ns) > high_s:
            return f"Dried for longer than the sheet's target, {lost}", "warn"
        if self.says is None or self.says.state != FILM_GONE:
            return f"Drying: {lost}", "wait"
        return f"Surface film probably gone, {lost}", "do"
