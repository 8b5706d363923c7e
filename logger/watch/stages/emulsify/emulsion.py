"""An emulsion on its way to setting: forecast, onset, lowest temperature, the limits of its fat.

Pure; made by logger.watch.stages.emulsify.watcher, and handed on through the batch to
logger.watch.stages.emulsify.aftercombining, which goes on with it while the emulsion is formed. A
probe that is taken out falls faster than any emulsion cools: from then on nothing is said of the
emulsion, until the probe is back.
"""

from __future__ import annotations

import math
from collections import deque
from statistics import median

from logger.batch import phases
from logger.model.finding import Finding
from logger.model.reading import Reading
from logger.model.state import ForecastView
from logger.model.written import Band
from logger.science.fats.fats import Datum, Fat
from logger.watch.engine.contract import Condition, Context, seconds
from logger.watch.sensors.probe import Probe
from logger.watch.stages.cooling.forecast import SettingForecast
from logger.watch.verdict.checks import finding
from logger.watch.verdict.extremes import Extremes
from logger.watch.verdict.limits import DEADBAND_K
from logger.watch.verdict.measured import Measured
from logger.words.values import exact_text

WARNING_S = 180.0
SUBJECT = "The emulsion's fat"
ABOVE_SETTING = "emulsify.above_setting_c"
ABOVE_MELTED = "emulsify.above_melted_c"
LOOK_BACK_NS = 8_000_000_000
OUT_K = 1.5
"""A fall within `LOOK_BACK_NS` that no emulsion makes by itself [K]: 0.19 K/s, where 100 g in an
open bowl 30 K above the air lose some 0.05 K/s (1 W/K at 500 g, by the surface: typical,
unverified)."""
BACK_K, BACK_K_PER_S, BACK_MOST_K = 1.0, 0.02, 5.0
"""How far below its last value in the emulsion a probe may be that was put back [K], and how much
more for each second it was out [K/s], at most [K]."""
SETTLED_NS, SETTLED_K, ABOVE_AIR_K = 60_000_000_000, 1.0, 3.0
"""A probe that changes by no more for so long, so far above the air, lies in something warm: the
emulsion fell fast itself. In air a probe of up to a minute's time constant does not do so."""
OUT = "The probe is out of the emulsion: put it back to see how near its fat is to setting."


class CoolingEmulsion:
    """Follows one emulsion by its probe.

    Parameters
    ----------
    context : Context
        Of the stage in which it is made; its alarm keeps that stage's name.
    probe : Probe
        The probe that lies in it; there may be none.
    """

    def __init__(self, context: Context, probe: Probe) -> None:
        self.context = context
        self.probe = probe
        self.fat, self.why_no_fat = phases.main_fat(context)
        sets, melts = None, None
        if self.fat is not None:
            sets, melts = self.fat.sets_below_c.value, self.fat.all_melted_above_c.value
        self.forecast = SettingForecast(context, probe, sets, melts)
        self.out_ns: int | None = None
        """When the probe was taken out; None while it lies in the emulsion."""
        self._sure = Extremes()
        """Of readings that were surely of the emulsion."""
        self._in_c = 0.0
        self._recent: deque[tuple[int, float]] = deque()
        """Readings so fresh that they may be of a probe on its way out."""
        self._outside: deque[tuple[int, float]] = deque()
        """Readings of the last minute out of the emulsion."""
        self._alarm = f"{context.stage_id}.emulsion.setting"

    def go_on_in(self, context: Context) -> None:
        """Another stage has begun: what is found from now on belongs to it."""
        self.context = self.forecast.context = context

    def take(self, reading: Reading, *, poured_into: bool = False) -> None:
        """Take a reading of the probe.

        Parameters
        ----------
        reading : Reading
            Of the probe's channel.
        poured_into : bool
            While a pour changes the temperature, no fall is too fast.
        """
        t_ns, value = reading.t_ns, reading.value
        if value is None or (self.out_ns is not None and not self._is_back(t_ns, value)):
            return
        recent = self._recent
        if poured_into:
            self._take_in()
        recent.append((t_ns, value))
        while t_ns - recent[0][0] > LOOK_BACK_NS:
            self._note(*recent.popleft())
        if self._falls():
            self.out_ns = recent[0][0]
            recent.clear()
            self.forecast.restart(seconds(t_ns))
            return
        self.probe.take(reading)
        self.forecast.take(reading)

    @property
    def lowest_c(self) -> float | None:
        """Lowest temperature while the probe lay in the emulsion [degC]."""
        known = [c for _, c in self._recent]
        sure = self._sure.lowest
        if sure is not None and sure.value is not None:
            known.append(sure.value)
        return min(known, default=None)

    def forget_lowest(self) -> None:
        """Begin a new stretch."""
        self._sure.forget()
        self._recent.clear()

    def why_missing(self) -> str:
        """Return why there may be no temperature."""
        if self.out_ns is not None:
            return "the probe was out of the emulsion"
        return self.probe.why_missing("emulsion")

    def find_setting(
        self, keys: tuple[str, ...], from_ns: int, to_ns: int, why: str
    ) -> list[Finding]:
        """Hold the lowest temperature against limits of this fat; return the findings.

        Parameters
        ----------
        keys : tuple of str
            `ABOVE_SETTING`, `ABOVE_MELTED` or both.
        from_ns, to_ns : int
            While the probe lay in the emulsion [ns].
        why : str
            Why there may be no temperature.
        """
        found: list[Finding] = []
        if self.fat is None:
            return found
        for key in keys:
            limit = self._limit(self.fat, key)
            band = Band(low=limit.value, unit="degC", source=f"{self.fat.name}: {limit.source}")
            lowest = Measured(
                value=self.lowest_c,
                u=math.hypot(self.probe.u, limit.u),
                from_ns=from_ns,
                to_ns=to_ns,
                channel=self.probe.channel,
            )
            found.append(finding(self.context, key, lowest, band, why_missing=why))
            self.context.out.find(found[-1])
        return found

    def condition(self, now_ns: int, temp_c: float | None) -> Condition:
        """Return whether the fat is about to set or has begun to.

        Parameters
        ----------
        now_ns : int
            Time on the run's axis [ns].
        temp_c : float or None
            The emulsion now [degC]; None while it is not known.
        """
        early_s = self.forecast.early_s(seconds(now_ns))
        active: bool | None = None
        if temp_c is not None:
            active = early_s is not None and early_s < WARNING_S
        if self.forecast.arrest is not None:
            active = True
        limit_c = self.forecast.limit_c
        return Condition(
            id=self._alarm,
            text=f"{self.forecast.says('The fat in the emulsion')} Warm it or go on at once.",
            active=active,
            cleared=active is False
            and temp_c is not None
            and limit_c is not None
            and temp_c > limit_c + DEADBAND_K,
            latches=True,
            channel=self.probe.channel,
        )

    def says(self) -> str:
        """Say the forecast, that setting has begun, or that the probe is out."""
        return OUT if self.out_ns is not None else self.forecast.says(SUBJECT)

    def entries(self) -> list[ForecastView]:
        """Return the forecast for the screen; none while it can't be told."""
        entry = self.forecast.entry(SUBJECT) if self.out_ns is None else None
        return [] if entry is None else [entry]

    def two_limits(self) -> str:
        """Say both limits of this fat."""
        if self.fat is None:
            return ""
        melted, sets = self.fat.all_melted_above_c, self.fat.sets_below_c
        return (
            f"{self.fat.name[:1].upper()}{self.fat.name[1:]}: fully melted above "
            f"{exact_text(melted.value, 'degC')} ({melted.source}); the bulk may "
            f"start setting below {exact_text(sets.value, 'degC')} ({sets.source})."
        )

    @staticmethod
    def _limit(fat: Fat, key: str) -> Datum:
        return fat.sets_below_c if key == ABOVE_SETTING else fat.all_melted_above_c

    def _note(self, t_ns: int, value: float) -> None:
        self._sure.note(value, math.nan, t_ns, self.probe.channel)

    def _take_in(self) -> None:
        """Nothing so far was of a probe on its way out."""
        for t_ns, value in self._recent:
            self._note(t_ns, value)
        self._recent.clear()

    def _falls(self) -> bool:
        """Return whether the probe falls as only one in air or cold water does."""
        if len(self._recent) < 6:
            return False
        values = [c for _, c in self._recent]
        before_c = median(values[:3])
        if before_c - median(values[-3:]) < OUT_K:
            return False
        self._in_c = before_c
        return True

    def _is_back(self, t_ns: int, value: float) -> bool:
        """Return whether a probe that was out lies in the emulsion again."""
        if self.out_ns is None:
            return True
        self._outside.append((t_ns, value))
        out_s = seconds(t_ns - self.out_ns)
        near = value >= self._in_c - min(BACK_K + BACK_K_PER_S * out_s, BACK_MOST_K)
        if not near and not self._settled(t_ns):
            return False
        self._outside.clear()
        self.forecast.restart(seconds(t_ns))
        self.out_ns = None
        return True

    def _settled(self, t_ns: int) -> bool:
        """Return whether a probe that was taken for out lies still in something warm."""
        outside = self._outside
        long_enough = False
        while t_ns - outside[0][0] > SETTLED_NS:
            outside.popleft()
            long_enough = True
        if not long_enough:
            return False
        values = [c for _, c in outside]
        air_c = phases.room_c(self.context)[0]
        return max(values) - min(values) <= SETTLED_K and min(values) > air_c + ABOVE_AIR_K
