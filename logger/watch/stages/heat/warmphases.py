"""Both phases on the stove as their probes have them: apart, and what they would come to together.

Pure; used by the watcher of warming and by what it tells. Correlated errors of two channels on one
board are taken into account; a fat that is not all melted takes its latent heat into the mixture.
"""

from __future__ import annotations

import math

from logger.batch import phases
from logger.batch.meeting import Warm
from logger.correct.channel import difference_uncertainty
from logger.model.kinds.heat import HeatStage
from logger.model.reading import Reading
from logger.model.written import Band
from logger.science.fats.mixing import Mixture
from logger.watch.engine.contract import Context, seconds
from logger.watch.sensors.probe import Probe
from logger.watch.stages.cooling.forecast import SettingForecast
from logger.words.values import rounded_text


class WarmPhases:
    """Follows the fat and the water of one stage of warming.

    Parameters
    ----------
    context : Context
        Of the stage.
    stage : HeatStage
        With the bands.
    """

    def __init__(self, context: Context, stage: HeatStage) -> None:
        self.context = context
        self.stage = stage
        self.fat = Probe(context, "fat")
        self.water = Probe(context, "water")
        self.known, self.why_no_fat = phases.main_fat(context)
        sets, melts = None, None
        if self.known is not None:
            sets, melts = self.known.sets_below_c.value, self.known.all_melted_above_c.value
        self.forecast = SettingForecast(context, self.fat, sets, melts)

    def take(self, reading: Reading) -> None:
        """Take one reading of fat or water."""
        if self.fat.take(reading):
            self.forecast.take(reading)
        self.water.take(reading)

    def note_melting(self, t_ns: int) -> None:
        """Keep for the batch when the fat was first all melted."""
        if self.known is None or "melted_t_s" in self.context.batch.values:
            return
        fat_c = self.fat.value(t_ns)
        if fat_c is not None and fat_c >= self.known.all_melted_above_c.value:
            self.context.batch.values["melted_t_s"] = seconds(t_ns)

    def each(self) -> tuple[tuple[str, Probe, Band | None], ...]:
        """Return name, probe and band of both phases."""
        return (("fat", self.fat, self.stage.fat_c), ("water", self.water, self.stage.water_c))

    def melted(self) -> bool:
        """Whether the fat has been all melted since, and has not begun to set again."""
        if "melted_t_s" not in self.context.batch.values:
            return False
        return self.forecast.arrest is None

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

    def why_no_mixture(self) -> str:
        """Return why it can't be told what combining would give, in words."""
        if phases.phase_g(self.context, "fat") <= 0.0 or phases.phase_g(self.context, "water") <= 0:
            return "the sheet has no mass of fat and water"
        if self.fat.channel is None:
            return self.fat.why_missing("fat")
        return self.water.why_missing("water") if self.water.channel is None else "no readings"

    def would_do(self, t_ns: int, band: Band) -> str:
        """Say what temperature of the water would bring the mixture to the middle of a band."""
        now = self._warm(t_ns)
        ends = [end for end in (band.low, band.high) if end is not None]
        if now is None or not ends:
            return ""
        wanted_c = sum(ends) / len(ends)
        needed = phases.needed_water_c(self.context, self.known, *now, wanted_c)
        if needed is None:
            return "No water temperature from 0 to 100 °C would do: warm or cool the fat."
        water, mixture = rounded_text(needed, "degC"), rounded_text(wanted_c, "degC")
        return f"Water at {water} would give {mixture}."

    def _warm(self, t_ns: int) -> tuple[Warm, Warm] | None:
        fat_c, water_c = self.fat.value(t_ns), self.water.value(t_ns)
        if fat_c is None or water_c is None:
            return None
        solid = 0.0
        if self.known is not None and not self.melted():
            solid = self.known.solid_share(fat_c)
        return (
            Warm(temp_c=fat_c, u_k=self.fat.u, solid=solid),
            Warm(temp_c=water_c, u_k=self.water.u),
        )

    def _correlation(self, t_ns: int) -> float:
        """Correlation of the errors of both probes, from that of their difference."""
        _, u_gap = self.difference(t_ns)
        product = 2.0 * self.fat.u * self.water.u
        if not product > 0.0 or math.isnan(u_gap):
            return 0.0
        return min(max((self.fat.u**2 + self.water.u**2 - u_gap**2) / product, 0.0), 1.0)
