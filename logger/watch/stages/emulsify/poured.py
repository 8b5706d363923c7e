"""What the pours of a stage come to: mass, rate and fat fraction against the sheet.

Pure; used by logger.watch.stages.emulsify.watcher. Readings of the bowl scale go in, events and
rows of pours come out. Nothing is judged before the pour has ended: until then a fraction is on
its way to its band.
"""

from __future__ import annotations

import math

from logger.batch import phases
from logger.model.event import Event
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.reading import Reading
from logger.model.rows import PourRow
from logger.model.state import Number
from logger.model.written import Band
from logger.watch.engine.contract import Context, seconds
from logger.watch.scale.pour import Pour, PourDetector
from logger.watch.verdict.checks import finding, number
from logger.watch.verdict.measured import Measured
from logger.words.durations import clock
from logger.words.values import rounded_text

DEFAULT_STEP_G = 0.1
RATE_FROM_S = 6.0
"""A rate is told and alarmed from so long after the beginning on [s]."""
STILL_POURING = "still pouring"
NOT_OVER = "the pour was still going on when the stage ended"


class Poured:
    """Follows the pours of one stage of combining."""

    def __init__(self, context: Context, stage: EmulsifyStage) -> None:
        self.context = context
        self.stage = stage
        self.scale = context.channel_id("bowl_scale")
        known = context.bench.channel_of("bowl_scale")
        step_g = (known.resolution if known is not None else None) or DEFAULT_STEP_G
        self.detector = PourDetector(gives=stage.scale_under == "giving", step_g=step_g)
        self.weighed = False
        """Whether the bowl scale has said anything."""
        self._u_scale_g = math.nan

    @property
    def running(self) -> bool:
        """Whether a pour is under way."""
        return self.detector.running

    @property
    def pours(self) -> list[Pour]:
        """All pours so far."""
        return self.detector.pours

    @property
    def total_g(self) -> float:
        """Mass of all pours so far [g]."""
        return self.detector.poured_g

    def reading(self, reading: Reading) -> None:
        """Take one reading of the bowl scale."""
        if reading.value is not None:
            self.weighed = True
            self._u_scale_g = reading.u
            self.detector.add(seconds(reading.t_ns), reading.value)

    def event(self, event: Event) -> None:
        """Take a tare of the scale, and its offset: their jumps are no pour."""
        if event.kind in ("tare_suspected", "tare_counted") and event.channel == self.scale:
            self.detector.shift(float(event.data["at_s"]), float(event.data["offset_g"]))

    def look(self, t_ns: int) -> Pour | None:
        """Look for a pour that began or ended, tell it, and give it."""
        changed = self.detector.look(seconds(t_ns))
        if changed is not None:
            self._tell(changed, t_ns)
        if changed is not None or self.running:
            self._keep_rows(t_ns)
        return changed

    def finish(self, t_ns: int) -> Pour | None:
        """The stage ends: a pour that seems over is told as ended."""
        ended = self.detector.finish(seconds(t_ns))
        if ended is not None:
            self._tell(ended, t_ns)
        self._keep_rows(t_ns)
        return ended

    # What it comes to.

    def mass(self) -> tuple[float | None, float]:
        """Return the mass poured so far [g] and its standard uncertainty; None unweighed."""
        if not self.weighed:
            return None, math.nan
        noise_g = math.hypot(*(p.u_mass_g for p in self.pours))
        return self.total_g, math.hypot(noise_g, self._u_scale_g)

    def rate(self, t_ns: int) -> tuple[float | None, float]:
        """Return the mean rate of all pours [g/min] and its standard uncertainty."""
        pours, now_s = self.pours, seconds(t_ns)
        lasted_s = sum((now_s if p.end_s is None else p.end_s) - p.start_s for p in pours)
        poured_g, u_g = self.mass()
        if poured_g is None or not pours or lasted_s <= 0.0:
            return None, math.nan
        rate = 60.0 * poured_g / lasted_s
        u_time = math.hypot(*(p.u_lasted_s for p in pours)) / lasted_s
        return rate, rate * math.hypot(u_g / poured_g if poured_g > 0.0 else 0.0, u_time)

    def rate_now(self, t_ns: int) -> float | None:
        """Return the rate [g/min] while a pour has lasted long enough to have one."""
        lasts = self.running and bool(self.pours)
        if not lasts or seconds(t_ns) - self.pours[-1].start_s < RATE_FROM_S:
            return None
        return self.rate(t_ns)[0]

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

    def span(self, t_ns: int) -> tuple[int, int]:
        """Return from when to when it was poured [ns]."""
        if not self.pours:
            return self.context.start_ns, t_ns
        end_s = self.pours[-1].end_s
        return round(self.pours[0].start_s * 1e9), t_ns if end_s is None else round(end_s * 1e9)

    def why_none(self) -> str:
        """Say why there is no pour, or nothing."""
        if self.scale is None:
            return "the bench has no bowl scale"
        if not self.weighed:
            return "no reading of the bowl scale"
        return "" if self.pours else "no pour was seen"

    def why_no_fraction(self) -> str:
        """Say why there is no fat fraction though there is a mass."""
        into = "water" if self.stage.pour == "fat" else "fat"
        return f"the sheet has no mass of the {into} phase"

    # Against the sheet.

    def find(self, t_ns: int) -> None:
        """Judge mass, rate and fraction; a pour that is not over is undecided."""
        poured_g, u_g = self.mass()
        rate, u_rate = self.rate(t_ns)
        percent, u_percent = self.fat_percent(poured_g, u_g)
        stage, why = self.stage, self.why_none()
        why_share = why or self.why_no_fraction()
        checks: list[tuple[str, float | None, float, Band | None, str]] = [
            ("emulsify.poured_g", poured_g, u_g, stage.mass_g, why),
            ("emulsify.pour_rate_g_min", rate, u_rate, stage.rate_g_min, why),
            (
                "emulsify.fat_fraction_percent",
                percent,
                u_percent,
                stage.fat_fraction_percent,
                why_share,
            ),
        ]
        from_ns, to_ns = self.span(t_ns)
        for key, value, u, band, missing in checks:
            going = self.running and value is not None
            measured = Measured(
                value=value,
                u=math.nan if going else u,
                from_ns=from_ns,
                to_ns=to_ns,
                channel=self.scale,
            )
            why_missing = NOT_OVER if going else missing
            self.context.out.find(
                finding(self.context, key, measured, band, why_missing=why_missing)
            )

    def numbers(self, t_ns: int, crowd: str) -> list[Number]:
        """Return mass, rate and fraction for the screen; `crowd` is the fraction by volume."""
        context, stage = self.context, self.stage
        poured_g, u_g = self.mass()
        rate, u_rate = self.rate(t_ns)
        percent, u_percent = self.fat_percent(poured_g, u_g)
        going = STILL_POURING if self.running else ""
        found = [
            number(
                context,
                "Poured",
                poured_g,
                "g",
                u_g,
                stage.mass_g,
                text=going or ("" if self.weighed else self.why_none()),
            ),
            number(
                context,
                "Pour rate",
                rate,
                "g/min",
                u_rate,
                stage.rate_g_min,
                text=going if rate is not None else self.why_none(),
            ),
            number(
                context,
                "Fat fraction",
                percent,
                "%",
                u_percent,
                stage.fat_fraction_percent,
                text=", ".join(s for s in (crowd, going) if s),
            ),
        ]
        if self.running or not self.pours:
            for one in found:
                one.verdict = one.verdict if one.value is None else "undecided"
        return found

    # Inside.

    def _tell(self, pour: Pour, t_ns: int) -> None:
        if pour.end_s is None:
            text = f"pour began at {clock(pour.start_s)}"
            self.context.out.emit(
                t_ns,
                "pour_start",
                text,
                channel=self.scale,
                stage=self.stage.id,
                start_s=pour.start_s,
            )
            return
        rate = pour.rate_g_per_min(pour.end_s)
        text = f"pour of {rounded_text(pour.mass_g, 'g')} at {rounded_text(rate, 'g/min')}"
        self.context.out.emit(
            t_ns,
            "pour_end",
            text,
            channel=self.scale,
            stage=self.stage.id,
            start_s=pour.start_s,
            end_s=pour.end_s,
            mass_g=pour.mass_g,
            rate_g_per_min=rate,
        )

    def _keep_rows(self, t_ns: int) -> None:
        rows = self.context.out.results.pours
        rows[:] = [r for r in rows if r.stage != self.stage.id] + [
            PourRow(
                channel=self.scale,
                start_s=p.start_s,
                end_s=p.end_s,
                start_between_s=p.start_between_s,
                end_between_s=p.end_between_s,
                mass_g=p.mass_g,
                rate_g_per_min=p.rate_g_per_min(seconds(t_ns)),
                stage=self.stage.id,
            )
            for p in self.pours
        ]
