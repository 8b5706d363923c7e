"""Both phases on the stove: as their probes have them, what is missing, what they would come to.

Pure; used by the watcher of warming. Correlated errors of two channels on one board are taken into
account; a fat that is not all melted takes its latent heat into the mixture. Each missing thing is
a sentence, with what would do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from logger.batch import phases
from logger.batch.meeting import Warm
from logger.correct.channel import difference_uncertainty
from logger.model.kinds.heat import HeatStage
from logger.model.reading import Reading
from logger.model.state import Number
from logger.model.written import Band
from logger.science.fats.mixing import Mixture
from logger.watch.engine.contract import Context, judged_rule, seconds
from logger.watch.sensors.probe import Probe
from logger.watch.stages.cooling.forecast import SettingForecast
from logger.watch.verdict.checks import COVERAGE, judge, number, why_unknown
from logger.watch.verdict.measured import Measured
from logger.words.values import exact_text, rounded_text, value_text

CAUTIONS = (
    "Hot fat burns: keep handles inwards, keep water out, never leave it unattended.",
    "Fat at rest may be hotter at the bottom: stir before you take its temperature.",
    "Follow local rules and licensed practice for hot fat and open heat.",
)
FAT_ABOVE_WATER = (
    "Both phases at about the same temperature, the fat a little warmer at most: common practice, "
    "no source."
)


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

    @staticmethod
    def why_mixture_unknown(mixture: Mixture | None) -> str:
        """Say whose uncertainty leaves the mixture's unknown; empty where it is known."""
        if mixture is None or not math.isnan(mixture.u_temp_k) or not mixture.terms:
            return ""
        return f"the uncertainty of {mixture.terms[0][0]} is unknown"

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


def missing(warm: WarmPhases, t_ns: int) -> Iterator[str]:
    """Yield what is missing before the phases may be combined, each in a sentence.

    Parameters
    ----------
    warm : WarmPhases
        Both phases.
    t_ns : int
        Now [ns].
    """
    rule = judged_rule(warm.context.sheet)
    for name, probe, band in warm.each():
        value = probe.value(t_ns)
        if value is None:
            yield f"{_capital(name)}: {probe.why_missing(name)}."
            continue
        if band is None:
            continue
        key = f"heat.{name}_c"
        unknown = why_unknown(warm.context, key, probe.measured(t_ns))
        verdict, evidence = judge(value, probe.u, band, rule, why_unknown=unknown)
        if verdict != "met":
            yield f"{_capital(name)}: {evidence}."
    gap_k, u_gap = warm.difference(t_ns)
    band = warm.stage.fat_above_water_k
    if gap_k is not None:
        unknown = why_unknown(warm.context, "heat.fat_above_water_k", Measured())
        verdict, evidence = judge(gap_k, u_gap, band, rule, why_unknown=unknown)
        if verdict == "undecided" and band is not None and not unknown and u_gap > 0.0:
            yield f"Fat above water: {evidence}. {_what_makes_sure(gap_k, u_gap, band)}"
        elif verdict != "met":
            yield f"Fat above water: {evidence}."
    yield from _not_melted(warm)
    yield from _mix_missing(warm, t_ns, rule)


def _what_makes_sure(gap_k: float, u_gap: float, band: Band) -> str:
    """Say what to do about a difference [K] that is too close to a limit to call."""
    low, high = band.low, band.high
    if low is not None and high is not None and high - low <= 2.0 * COVERAGE * u_gap:
        return "No difference would be sure with these probes: check both (bainlog sensor-check)."
    if high is None or (low is not None and gap_k - low < high - gap_k):
        return "Warm the fat a little to be sure."
    return "Warm the water a little to be sure."


def numbers(warm: WarmPhases, t_ns: int) -> list[Number]:
    """Return both temperatures, their difference and what combining would give, each judged."""
    context, stage = warm.context, warm.stage
    shown_now = [
        number(
            context,
            _capital(name),
            probe.value(t_ns),
            "degC",
            probe.u,
            band,
            text="" if probe.value(t_ns) is not None else probe.why_missing(name),
            left_s=probe.there_in_s(t_ns, band),
        )
        for name, probe, band in warm.each()
    ]
    gap_k, u_gap = warm.difference(t_ns)
    gap = number(context, "Fat above water", gap_k, "K", u_gap, stage.fat_above_water_k)
    if gap.verdict == "not met" and _shrinks(warm, t_ns):
        gap.verdict, gap.text = "undecided", "not there yet: warm the water further"
    shown_now.append(gap)
    mixture = warm.mixture(t_ns)
    shown_now.append(
        number(
            context,
            "After combining",
            mixture.temp_c if mixture else None,
            "degC",
            mixture.u_temp_k if mixture else math.nan,
            stage.mix_c,
            text="" if mixture else f"can't tell: {warm.why_no_mixture()}",
        )
    )
    return shown_now


def _shrinks(warm: WarmPhases, t_ns: int) -> bool:
    """Whether water that warms on, within its target, brings the difference into its own."""
    fat_c, water_c = warm.fat.value(t_ns), warm.water.value(t_ns)
    water, most_k = warm.stage.water_c, warm.stage.fat_above_water_k.high
    if fat_c is None or water_c is None or water is None or water.high is None or most_k is None:
        return False
    return fat_c - water_c > most_k and fat_c - water.high <= most_k


def why(warm: WarmPhases, t_ns: int) -> list[str]:
    """Return what the numbers rest on, each in a sentence."""
    said = []
    mixture = warm.mixture(t_ns)
    if mixture is not None and not phases.counts_a_vessel(warm.context):
        said.append("Mixing temperature without bowl: the sheet describes no vessel.")
    if mixture is not None and mixture.terms:
        name, u_k = mixture.terms[0]
        said.append(
            f"The uncertainty of the mixing temperature is unknown, because that of {name} is."
            if math.isnan(u_k)
            else f"What makes the mixing temperature uncertain is mostly {name} "
            f"({value_text(2 * u_k, 'K')})."
        )
    if warm.stage.fat_above_water_k.source != "sheet":
        said.append(FAT_ABOVE_WATER)
    fit = warm.forecast.estimate.fit
    if fit is not None:
        _, _, where = phases.room_c(warm.context)
        said.append(
            f"Forecast fitted with air {rounded_text(fit.ambient_c, 'degC')} ({where}), loss "
            f"exponent {fit.exponent:.2f}."
        )
    return said


def _not_melted(warm: WarmPhases) -> list[str]:
    if warm.known is None or warm.melted() or warm.fat.channel is None:
        return []
    above = exact_text(warm.known.all_melted_above_c.value, "degC")
    if warm.forecast.arrest is not None:
        return [f"The fat has begun to set: warm it above {above} until it is fully melted."]
    return [f"{_capital(warm.known.name)} is fully melted only above {above}."]


def _mix_missing(warm: WarmPhases, t_ns: int, rule: str) -> list[str]:
    """Say what is wrong with the predicted mixture, and what water temperature would do."""
    band, mixture = warm.stage.mix_c, warm.mixture(t_ns)
    if band is None:
        return []
    if mixture is None:
        return [f"Predicted mixing temperature: {warm.why_no_mixture()}."]
    unknown = why_unknown(warm.context, "heat.mix_predicted_c", Measured())
    unknown = unknown or warm.why_mixture_unknown(mixture)
    verdict, evidence = judge(mixture.temp_c, mixture.u_temp_k, band, rule, why_unknown=unknown)
    if verdict == "met":
        return []
    return [f"After combining: {evidence}. {warm.would_do(t_ns, band)}"]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
