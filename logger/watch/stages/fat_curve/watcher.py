"""Know your fat: a melted sample cools with a probe in it and gives its own setting limits.

Pure; the watcher of ``fat_curve`` stages. Says when the curve is read, which points of it were read
and with what uncertainty, and writes the fat as an entry for the person's own fats file into the
results (``own_fat``); saving it is up to the recorder, after a tap.
"""

from __future__ import annotations

import math
from dataclasses import asdict, replace

import numpy as np

from logger.model.event import Event
from logger.model.kinds.fat_curve import FatCurveStage
from logger.model.reading import Reading
from logger.model.rows import OwnFatRow
from logger.model.state import Proposal, StageView, Tone
from logger.model.written import Band
from logger.science.fats.fatfile import fat_as_toml
from logger.science.fats.fats import Datum, Fat, with_measured_limits
from logger.science.fats.settingpoint import SettingPoint, read_setting_point
from logger.science.statistics.blocks import BlockMeans
from logger.watch.engine.contract import Condition, Context, Watcher, seconds
from logger.watch.engine.plain import Plain
from logger.watch.sensors.probe import Probe
from logger.watch.stages.cooling.forecast import SettingForecast
from logger.watch.verdict.checks import finding, number, why_unknown
from logger.watch.verdict.measured import Measured
from logger.words.durations import clock
from logger.words.values import exact_text, value_text

READ_EVERY_S = 30
SOURCE = "own cooling curve, run stage {stage}; onset at {rate}"
NOT_KEPT = "The limit can't be saved as your own fat's"
UNKNOWN = "the uncertainty is unknown"
HOW = (
    "Melt it fully and hold it 10 K above for some minutes, put the probe in the middle, leave it "
    "alone in still air."
)
CAUTIONS = (
    "Hot fat burns: set it down where nobody can knock it over.",
    "Follow local rules and licensed practice for hot fat.",
)


class FatCurveWatch(Plain):
    """Watches one sample of fat cool."""

    def __init__(self, context: Context, stage: FatCurveStage) -> None:
        super().__init__(context)
        self.stage = stage
        self.probe = Probe(context, "fat")
        self.known: Fat | None = context.fats.get(stage.fat)
        melted = self.known.all_melted_above_c if self.known is not None else None
        sets = self.known.sets_below_c.value if self.known is not None else None
        # A swapped fat under an old name may set higher than the entry says: look from its melting
        # limit on, with room above.
        top_c = None if melted is None else melted.value + 5.0
        self.forecast = SettingForecast(context, self.probe, sets, top_c)
        self.point: SettingPoint | None = None
        self._means = BlockMeans()
        self._t: list[float] = []
        self._y: list[float] = []

    def reading(self, reading: Reading) -> None:
        """Take one reading of the fat."""
        if not self.probe.take(reading) or reading.value is None:
            return
        self.forecast.take(reading)
        block = self._means.add(seconds(reading.t_ns), reading.value)
        if block is not None:
            self._t.append(block.mid_s)
            self._y.append(block.mean)

    def event(self, event: Event) -> None:
        """Take nothing: a sample is left alone."""

    def tick(self, t_ns: int) -> None:
        """Ask for the forecast, and read the curve anew every half minute."""
        self.now_ns = t_ns
        self.forecast.tick(t_ns)
        if self.forecast.arrest is not None and (t_ns // 1_000_000_000) % READ_EVERY_S == 0:
            before = self.point
            self._read()
            if self._done() and not (before is not None and before.complete):
                self._offer(t_ns)

    def end(self, t_ns: int) -> None:
        """Read the curve for good; record onset and plateau."""
        self.now_ns = t_ns
        self._read()
        point, channel = self.point, self.probe.channel
        why = self._why_not()
        onset = Measured(from_ns=self.context.start_ns, to_ns=t_ns, channel=channel)
        plateau, named = onset, ""
        if point is not None:
            onset = replace(onset, value=point.onset_c, u=point.u_onset_k)
            plateau = replace(plateau, value=point.plateau_c, u=point.u_plateau_k)
            named = point.point
        none = Band(unit="degC")
        for key, measured, subject in (
            ("fat_curve.onset_c", onset, ""),
            ("fat_curve.plateau_c", plateau, named),
        ):
            self.context.out.find(
                finding(self.context, key, measured, none, subject=subject, why_missing=why)
            )
        if point is not None:
            self._keep_fat(point)

    def view(self, t_ns: int) -> StageView:
        """Show how far the curve is, and what was read."""
        view = super().view(t_ns)
        view.say, view.tone = self._say()
        view.numbers = [
            number(
                self.context,
                "Fat",
                self.probe.value(t_ns),
                "degC",
                self.probe.u,
                text="" if self.probe.value(t_ns) is not None else self.probe.why_missing("fat"),
            )
        ]
        if self.point is not None:
            view.more.append(self.point.says())
            if math.isnan(self.point.u_onset_k):
                view.more.append(f"{NOT_KEPT}: {self._why_unknown()}.")
            view.numbers += [
                number(self.context, "Onset", self.point.onset_c, "degC", self.point.u_onset_k),
                number(
                    self.context,
                    "Plateau",
                    self.point.plateau_c,
                    "degC",
                    self.point.u_plateau_k,
                    text=self.point.point,
                ),
            ]
        elif self.known is not None and self.probe.channel is not None:
            view.more.append(self.forecast.says(f"From the fats file: {self.known.name}"))
        view.more.append(HOW)
        entry = self.forecast.entry(self.stage.fat)
        if entry is not None and self.forecast.arrest is None:
            view.forecasts = [entry]
        view.cautions = list(CAUTIONS)
        return view

    def conditions(self) -> list[Condition]:
        """Return none: nothing calls for action here."""
        return []

    def finished(self) -> str | None:
        """Return that the curve is read, or that it came to its end without setting."""
        if self._done():
            return "The curve is done: onset and plateau are known."
        temp_c = self.probe.value(self.now_ns)
        until_c = self.stage.until_c
        if until_c is not None and temp_c is not None and temp_c <= until_c and self._quiet():
            return f"The fat has come down to {exact_text(until_c, 'degC')}."
        return None

    def measured(self) -> Fat | None:
        """Return the fat with its measured limit, None before the curve is read, or where its
        uncertainty is unknown: a limit without one would count as exact."""
        point = self.point
        if point is None or math.isnan(point.u_onset_k):
            return None
        source = SOURCE.format(
            stage=self.stage.id, rate=value_text(point.cooling_k_per_min, "K/min")
        )
        name = self.known.name if self.known is not None else self.stage.fat.replace("_", " ")
        limit = Datum(value=round(point.onset_c, 1), u=round(point.u_onset_k, 1), source=source)
        melted = None
        if self.known is not None and self.known.all_melted_above_c.value <= point.onset_c + 1.0:
            melted = Datum(
                value=round(point.onset_c + 12.0, 1),
                u=5.0,
                source="typical, unverified: 12 K above the measured onset",
            )
        return with_measured_limits(
            self.known, key=self.stage.fat, name=name, sets_below_c=limit, melted_above_c=melted
        )

    # Inside.

    def _quiet(self) -> bool:
        """Whether no onset is being followed."""
        return self.forecast.arrest is None or self._done()

    def _done(self) -> bool:
        return self.point is not None and self.point.complete

    def _read(self) -> None:
        arrest = self.forecast.arrest
        if arrest is None or len(self._t) < 12:
            return
        self.point = read_setting_point(np.array(self._t), np.array(self._y), arrest, self.probe.u)

    def _say(self) -> tuple[str, Tone]:
        if self.probe.channel is None:
            return "The bench has no fat probe: nothing can be measured.", "warn"
        if self._done():
            return "The curve is done.", "do"
        arrest = self.forecast.arrest
        if arrest is not None:
            return f"It began to set at {clock(arrest.onset_s)}: leave it alone.", "wait"
        return "Let it cool: leave it alone.", "wait"

    def _why_not(self) -> str:
        if self.probe.channel is None or not self._t:
            return self.probe.why_missing("fat")
        return "no setting was seen"

    def _why_unknown(self) -> str:
        measured = Measured(channel=self.probe.channel)
        return why_unknown(self.context, "fat_curve.onset_c", measured) or UNKNOWN

    def _offer(self, t_ns: int) -> None:
        point = self.point
        if point is None or math.isnan(point.u_onset_k):
            return
        self._keep_fat(point)
        own_fat = self.context.out.results.own_fat
        self.context.out.proposals[f"{self.stage.id}.own_fat"] = Proposal(
            id=f"{self.stage.id}.own_fat",
            text=f"Save {self.stage.fat} with its setting limit of "
            f"{value_text(point.onset_c, 'degC')}?",
            what="own_fat",
            t_s=seconds(t_ns),
            data={} if own_fat is None else asdict(own_fat),
        )

    def _keep_fat(self, point: SettingPoint) -> None:
        fat = self.measured()
        if fat is None:
            return
        self.context.out.results.own_fat = OwnFatRow(
            key=fat.key,
            toml=fat_as_toml(fat),
            onset_c=point.onset_c,
            u_onset_k=point.u_onset_k,
            plateau_c=point.plateau_c,
            u_plateau_k=point.u_plateau_k,
            point=point.point,
            says=point.says(),
        )


def make(context: Context) -> Watcher:
    """Return the watcher of a ``fat_curve`` stage.

    Raises
    ------
    TypeError
        If the stage is of another kind.
    """
    if not isinstance(context.stage, FatCurveStage):
        raise TypeError(f"a fat curve watcher needs a fat_curve stage, not {context.stage!r}")
    return FatCurveWatch(context, context.stage)
