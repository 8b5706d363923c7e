"""When will this phase set: a forecast for one cooling channel, and its onset of setting.

Pure; used by the watchers of warming, combining and the fat's own curve. Gathers block means,
notices by itself when the phase is heated or held, waits after pours, and asks
logger.science.heat.timeleft every ten seconds. The alarm goes by the early end; "can't tell yet"
and "may not reach it" are answers.
"""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from logger.batch.phases import room_c
from logger.model.reading import Reading
from logger.model.rows import ForecastRow, Left, SettingRow
from logger.model.state import ForecastView
from logger.science.fats.setting import Arrest, ArrestDetector
from logger.science.heat.losscurve import Prior
from logger.science.heat.timeleft import (
    Estimate,
    TimeLeft,
    estimate_time_left,
    temperatures_ahead,
    waiting_time_s,
)
from logger.science.statistics.blocks import BLOCK_S, BlockMeans
from logger.watch.engine.contract import Context, seconds
from logger.watch.sensors.probe import Probe
from logger.words.durations import about_span, clock
from logger.words.values import exact_text, value_text

EVERY_S, ROW_EVERY_S = 10, 60
MEMORY_S = 5400.0
HEATING_K_PER_S = 0.05
"""Faster than any fat warms itself on setting [K/s]."""
RISING_K_PER_S = 0.01
HELD_K_PER_S = -0.1 / 60.0
NEAR_AIR_K, HELD_NEAR_AIR_K_PER_S = 8.0, -0.02 / 60.0
_SHORT, _LONG = 6, 24
_CONE_POINTS = 13
_LONGEST_CONE_S = 3600.0


class SettingForecast:
    """Forecast and arrest detector of one channel.

    Parameters
    ----------
    context : Context
        Of the stage.
    probe : Probe
        Of the channel.
    limit_c : float or None
        The bulk of the fat may start to set below this [degC]; None gives no forecast.
    melted_above_c : float or None
        All melted above this [degC]: no setting is looked for above it.
    """

    def __init__(
        self, context: Context, probe: Probe, limit_c: float | None, melted_above_c: float | None
    ) -> None:
        self.context = context
        self.probe = probe
        self.limit_c = limit_c
        self.melted_above_c = melted_above_c
        self.estimate = Estimate(left=None, why_not="too few readings yet")
        self.cone: list[tuple[float, float, float, float]] = []
        self.event_s = seconds(context.start_ns)
        self._solved_s = -math.inf
        self._means = BlockMeans()
        self._t: deque[float] = deque()
        self._y: deque[float] = deque()
        self._row: SettingRow | None = None
        air_c, _, _ = room_c(context)
        self._arrests = ArrestDetector(
            air_c, below_c=melted_above_c, lag_s=probe.lag_s, step_k=probe.step_k
        )

    @property
    def arrest(self) -> Arrest | None:
        """The setting that was seen, if any."""
        return self._arrests.arrest

    @property
    def left(self) -> TimeLeft | None:
        """Time left as it was told last [s]."""
        return self.estimate.left

    def take(self, reading: Reading) -> None:
        """Take one reading with a value of the channel."""
        if reading.value is None:
            return
        time_s = seconds(reading.t_ns)
        block = self._means.add(time_s, reading.value)
        if block is not None:
            self._t.append(block.mid_s)
            self._y.append(block.mean)
            while self._t[0] < block.mid_s - MEMORY_S:
                self._t.popleft()
                self._y.popleft()
            self._look_for_heat(block.mid_s)
        if time_s >= self.event_s + waiting_time_s(self.probe.lag_s):
            self._see(time_s, reading.value)

    def restart(self, t_s: float) -> None:
        """Begin anew after a pour, stirring or heating at a time [s]."""
        self.event_s = t_s
        if self._arrests.arrest is None:
            self._arrests.reset()

    def tick(self, t_ns: int) -> None:
        """Ask anew every ten seconds; keep a row a minute while it cools towards its limit."""
        now_s = t_ns // 1_000_000_000
        if now_s % EVERY_S == 0:
            self._solve(float(now_s), self.probe.value(t_ns))
            if now_s % ROW_EVERY_S == 0:
                self._keep_row(float(now_s))

    def early_s(self, now_s: float) -> float | None:
        """Early end of the time left, counted from now [s]; None while it can't be told."""
        left = self.estimate.left
        return None if left is None else max(0.0, left.early_s - (now_s - self._solved_s))

    def says(self, what: str) -> str:
        """Say the forecast in a sentence.

        Parameters
        ----------
        what : str
            What sets, as the subject: ``"The fat"``.
        """
        if self.limit_c is None:
            return f"{what}: no setting limit known."
        at = exact_text(self.limit_c, "degC")
        if self.arrest is not None:
            arrest = self.arrest
            sure = "began" if arrest.state == "confirmed" else "seems to have begun"
            onset = value_text(arrest.onset_c, "degC")
            return f"{what} {sure} to set at {clock(arrest.onset_s)} and {onset}."
        left = self.estimate.left
        if left is None:
            lead, gap, subject = what.rpartition(": ")
            subject = subject[:1].lower() + subject[1:]
            begin = f"{lead}{gap}can't" if gap else "Can't"
            return f"{begin} tell yet when {subject} sets: {self.estimate.why_not}."
        return left_text(what, left, at)

    def entry(self, what: str) -> ForecastView | None:
        """Return the forecast for the screen, None while it can't be told."""
        left = self.estimate.left
        if left is None or self.limit_c is None or self.probe.channel is None:
            return None
        return ForecastView(
            channel=self.probe.channel,
            limit_c=self.limit_c,
            left_s=_left(left),
            says=self.says(what),
            cone=self.cone,
        )

    def keep_setting(self) -> None:
        """Enter the setting that was seen into the results, once, and refine it there."""
        arrest, channel = self.arrest, self.probe.channel
        if arrest is None or channel is None:
            return
        if self._row is None:
            self._row = SettingRow(
                channel=channel,
                onset_s=arrest.onset_s,
                temp_c=arrest.onset_c,
                stage=self.context.stage_id,
            )
            self.context.out.results.settings.append(self._row)
        row = self._row
        row.onset_s, row.u_onset_s = arrest.onset_s, arrest.u_onset_s
        row.temp_c, row.state = arrest.onset_c, arrest.state

    def _see(self, time_s: float, temp_c: float) -> None:
        air_c, _, _ = room_c(self.context)
        self._arrests.ambient_c = air_c
        before = self.arrest
        if self._arrests.add(time_s, temp_c) is not None:
            self.keep_setting()
            self._tell(before, time_s)

    def _tell(self, before: Arrest | None, time_s: float) -> None:
        arrest = self.arrest
        if arrest is None or (before is not None and before.state == arrest.state):
            return
        self.context.out.emit(
            round(time_s * 1e9),
            f"setting_{arrest.state}",
            f"setting {arrest.state}: began at {clock(arrest.onset_s)}, "
            f"{value_text(arrest.onset_c, 'degC')}",
            channel=self.probe.channel,
            stage=self.context.stage_id,
            onset_s=arrest.onset_s,
            temp_c=arrest.onset_c,
        )

    def _look_for_heat(self, now_s: float) -> None:
        """Count the time from the last heating or holding, which the curve itself shows."""
        if len(self._t) < _SHORT:
            return
        short = _slope(self._t, self._y, _SHORT)
        if short > HEATING_K_PER_S:
            self.restart(now_s)
            return
        temp_c = self._y[-1]
        setting = self.melted_above_c is not None and temp_c < self.melted_above_c
        if setting or len(self._t) < _LONG:
            return
        near_air = temp_c - room_c(self.context)[0] < NEAR_AIR_K
        held = HELD_NEAR_AIR_K_PER_S if near_air else HELD_K_PER_S
        if short > RISING_K_PER_S or _slope(self._t, self._y, _LONG) > held:
            self.restart(now_s)

    def _solve(self, now_s: float, temp_c: float | None) -> None:
        self.cone = []
        self._solved_s = now_s
        if self.limit_c is None or temp_c is None:
            self.estimate = Estimate(left=None, why_not="no reading")
            return
        if self.arrest is not None:
            self.estimate = Estimate(left=None, why_not="it has begun to set")
            return
        if temp_c <= self.limit_c:
            there = TimeLeft(early_s=0.0, likely_s=0.0, late_s=0.0)
            self.estimate = Estimate(left=there)
            return
        air_c, u_air_k, _ = room_c(self.context)
        self.estimate = estimate_time_left(
            np.array(self._t),
            np.array(self._y),
            now_s=now_s,
            event_s=self.event_s,
            limit_c=self.limit_c,
            lag_s=self.probe.lag_s,
            u_temp_k=max(0.06, 0.3 * self.probe.step_k),
            prior=Prior(ambient_c=air_c, u_ambient_k=u_air_k),
        )
        self._draw_cone(now_s)

    def _draw_cone(self, now_s: float) -> None:
        fits, left = self.estimate.fits, self.estimate.left
        if not fits or left is None:
            return
        until_s = min(left.late_s, _LONGEST_CONE_S)
        ahead = np.linspace(0.0, max(until_s, 60.0), _CONE_POINTS)
        low, likely, high = temperatures_ahead(fits, ahead)
        self.cone = [
            (round(float(t), 2), round(float(a), 2), round(float(b), 2), round(float(c), 2))
            for t, a, b, c in zip(now_s + ahead, low, likely, high, strict=True)
        ]

    def _keep_row(self, now_s: float) -> None:
        left = self.estimate.left
        if left is None or left.likely_s <= 0.0 or self.arrest is not None:
            return
        self.context.out.results.forecasts.append(
            ForecastRow(
                channel=self.probe.channel,
                at_s=now_s,
                limit_c=self.limit_c,
                left_s=_left(left),
            )
        )


def left_text(what: str, left: TimeLeft, at: str) -> str:
    """Say a time left in a sentence.

    Parameters
    ----------
    what : str
        What cools, at the head of the sentence.
    left : TimeLeft
        When it reaches its setting limit.
    at : str
        The limit as it is written.
    """
    if left.likely_s <= 0.0:
        return f"{what} is at its setting limit of {at}."
    if math.isinf(left.early_s):
        return f"{what} is not likely to cool to its setting limit of {at}."
    if math.isinf(left.late_s):
        early = about_span(left.early_s, left.early_s)
        return f"{what} may set in {early} at the earliest, or not at all (below {at})."
    return f"{what} may set in {about_span(left.early_s, left.late_s)} (below {at})."


def _left(left: TimeLeft) -> Left:
    early, likely, late = (
        None if math.isinf(value) else round(value, 1)
        for value in (left.early_s, left.likely_s, left.late_s)
    )
    return Left(early=early, likely=likely, late=late)


def _slope(t: deque[float], y: deque[float], count: int) -> float:
    """Slope of the last blocks [K/s]; 0 where they are not close together."""
    count = min(count, len(t))
    times, values = (
        np.array([t[-i] for i in range(count, 0, -1)]),
        [y[-i] for i in range(count, 0, -1)],
    )
    if times[-1] - times[0] > 3.0 * BLOCK_S * count:
        return 0.0
    return float(np.polyfit(times - times[-1], values, 1)[0])
