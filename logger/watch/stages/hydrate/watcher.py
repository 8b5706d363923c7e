"""A binder or an alginate takes up water: enough time, at the right temperature.

Pure; a stage watcher. Going on too early is a finding, because a binder that had no time thickens
later, in the piece.
"""

import dataclasses

from logger.model.finding import Finding
from logger.model.kinds.hydrate import HydrateStage
from logger.model.kinds.record.stage import COMMON_PRACTICE
from logger.model.reading import Reading
from logger.model.state import StageView, Tone
from logger.model.written import Band
from logger.watch.engine.contract import Condition, Context, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.verdict import checks
from logger.watch.verdict.extremes import Extremes
from logger.watch.verdict.limits import band_conditions
from logger.watch.verdict.measured import Measured
from logger.words.bands import target_text
from logger.words.durations import duration_text

BINDER_S = 3600.0
"""Time a binder of about 3 % in water needs to thicken fully; common practice, no source."""
FRESH_S = 10.0


def make(context: Context) -> Watcher:
    """Return the watcher of a hydrating stage."""
    return Hydrate(context)


class Hydrate(Plain):
    """Watches one hydrating stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, HydrateStage):
            raise TypeError("a hydrate watcher needs a hydrate stage")
        self.stage = stage
        self.time_s = stage.time_s or _habit(context, stage)
        self.last: Reading | None = None
        self.extremes = Extremes()

    @property
    def name(self) -> str:
        """What takes up water."""
        return self.stage.ingredient or "the mix"

    def reading(self, reading: Reading) -> None:
        """Take the temperature of the mix."""
        if reading.channel != self.stage.channel or reading.value is None:
            return
        self.last = reading
        self.extremes.take(reading)

    def end(self, t_ns: int) -> None:
        """Judge the time and both extremes of the temperature."""
        self.now_ns = t_ns
        out, band = self.context.out, self.time_s
        if band is not None:
            elapsed_s = self.elapsed_s(t_ns)
            lasted = Measured(value=elapsed_s, u=0.0, from_ns=self.context.start_ns, to_ns=t_ns)
            finding = checks.finding(
                self.context, "hydrate.time_s", lasted, band, subject=self.stage.ingredient or ""
            )
            if band.low is not None and elapsed_s < band.low:
                early = duration_text(band.low - elapsed_s)
                text = f"{finding.evidence}; the next stage began {early} too early"
                finding = dataclasses.replace(finding, evidence=text)
            out.find(finding)
        if self.stage.temp_c is not None:
            found = self.extremes
            for key, extreme in (
                ("hydrate.lowest_c", found.lowest),
                ("hydrate.highest_c", found.highest),
            ):
                out.find(self._temperature(key, extreme, self.stage.temp_c, t_ns))

    def view(self, t_ns: int) -> StageView:
        """Return the time left and the temperature."""
        say, tone = self._say(t_ns)
        view = StageView(say=say, tone=tone, left_s=self._left_s(t_ns))
        if self.time_s is not None:
            elapsed_s = self.elapsed_s(t_ns)
            view.numbers.append(
                checks.progress(self.context, "Time", elapsed_s, "s", 0.0, self.time_s)
            )
            if self.time_s.source != "sheet":
                view.more.append(f"{target_text(self.time_s)}: {self.time_s.source}".capitalize())
        if self.stage.channel is not None or self.stage.temp_c is not None:
            last = self._fresh()
            view.numbers.append(
                checks.number(
                    self.context,
                    "Temperature",
                    last.value if last is not None else None,
                    "degC",
                    last.u if last is not None else 0.0,
                    self.stage.temp_c,
                )
            )
        return view

    def conditions(self) -> list[Condition]:
        """Return the temperature outside its band."""
        last = self._fresh()
        return band_conditions(
            f"{self.context.stage_id}.temp",
            "The mix",
            last.value if last is not None else None,
            self.stage.temp_c,
            channel=self.stage.channel,
        )

    def finished(self) -> str | None:
        """Return that the time is over."""
        if self.time_s is None or self.time_s.low is None or self.elapsed_s() < self.time_s.low:
            return None
        return f"{self.name.capitalize()} has had its time"

    def _fresh(self) -> Reading | None:
        last = self.last
        return last if last is not None and self.now_ns - last.t_ns <= FRESH_S * 1e9 else None

    def _left_s(self, t_ns: int) -> float | None:
        if self.time_s is None or self.time_s.low is None:
            return None
        return max(0.0, self.time_s.low - self.elapsed_s(t_ns))

    def _say(self, t_ns: int) -> tuple[str, Tone]:
        left_s = self._left_s(t_ns)
        if left_s is None:
            return f"{self.name.capitalize()} is taking up water", "wait"
        if left_s > 0.0:
            return f"{self.name.capitalize()}: {duration_text(left_s)} left", "wait"
        high_s = self.time_s.high if self.time_s is not None else None
        if high_s is not None and self.elapsed_s(t_ns) > high_s:
            return f"{self.name.capitalize()} has stood too long", "warn"
        return f"{self.name.capitalize()} has had its time: go on", "do"

    def _temperature(self, key: str, extreme: Measured | None, band: Band, t_ns: int) -> Finding:
        channel = self.stage.channel
        why = "no reading of its probe" if channel is not None else "the sheet names no probe"
        nothing = Measured(from_ns=self.context.start_ns, to_ns=t_ns, channel=channel)
        return checks.finding(self.context, key, extreme or nothing, band, why_missing=why)


def _habit(context: Context, stage: HydrateStage) -> Band | None:
    """Return the habit of the trade for a binder where the sheet gives no time."""
    of = next((i for i in context.sheet.ingredient if i.name == stage.ingredient), None)
    if of is None or of.substance != "binder":
        return None
    return Band(low=BINDER_S, unit="s", source=COMMON_PRACTICE)
