"""What is told of the warm phases: what is missing before they are combined, the numbers, and why.

Pure; used by the watcher of warming. Each missing thing is a sentence, with what would do.
"""

import math
from collections.abc import Iterator

from logger.batch import phases
from logger.model.state import Number
from logger.watch.engine.contract import judged_rule
from logger.watch.stages.heat.warmphases import WarmPhases
from logger.watch.verdict.checks import judge, number
from logger.words.values import exact_text, rounded_text, value_text

CAUTIONS = (
    "Hot fat burns: keep handles inwards, no water into hot fat, never leave it alone.",
    "Fat at rest may be hotter below: stir before you read it.",
    "Follow local rules and licensed practice for hot fat and open heat.",
)
FAT_ABOVE_WATER = (
    "Both phases at about the same temperature, the fat a little warmer at most: common practice, "
    "no source."
)


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
        verdict, evidence = judge(value, probe.u, band, rule)
        if verdict != "met":
            yield f"{_capital(name)}: {evidence}."
    gap_k, u_gap = warm.difference(t_ns)
    band = warm.stage.fat_above_water_k
    if gap_k is not None and judge(gap_k, u_gap, band, rule)[0] != "met":
        yield f"Fat above water: {judge(gap_k, u_gap, band, rule)[1]}."
    yield from _not_melted(warm)
    yield from _mix_missing(warm, t_ns, rule)


def numbers(warm: WarmPhases, t_ns: int) -> list[Number]:
    """Return both temperatures, their difference and what combining would give, each judged."""
    context, stage = warm.context, warm.stage
    shown_now = [
        number(
            context, _capital(name), probe.value(t_ns), "degC", probe.u, band,
            text="" if probe.value(t_ns) is not None else probe.why_missing(name),
        )
        for name, probe, band in warm.each()
    ]  # fmt: skip
    gap_k, u_gap = warm.difference(t_ns)
    shown_now.append(number(context, "Fat above water", gap_k, "K", u_gap, stage.fat_above_water_k))
    mixture = warm.mixture(t_ns)
    shown_now.append(
        number(
            context, "After combining", mixture.temp_c if mixture else None, "degC",
            mixture.u_temp_k if mixture else math.nan, stage.mix_c,
            text="" if mixture else f"can't tell: {warm.why_no_mixture()}",
        )
    )  # fmt: skip
    return shown_now


def why(warm: WarmPhases, t_ns: int) -> list[str]:
    """Return what the numbers rest on, each in a sentence."""
    said = []
    mixture = warm.mixture(t_ns)
    if mixture is not None and not phases.counts_a_vessel(warm.context):
        said.append("Mixing temperature without bowl: the sheet describes no vessel.")
    if mixture is not None and mixture.terms:
        name, u_k = mixture.terms[0]
        said.append(f"Its uncertainty comes mostly from {name} ({value_text(2 * u_k, 'K')}).")
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
        return [f"The fat has begun to set: warm it above {above} until all is melted."]
    return [f"{_capital(warm.known.name)} is all melted only above {above}."]


def _mix_missing(warm: WarmPhases, t_ns: int, rule: str) -> list[str]:
    """Say what is wrong with the predicted mixture, and what water temperature would do."""
    band, mixture = warm.stage.mix_c, warm.mixture(t_ns)
    if band is None:
        return []
    if mixture is None:
        return [f"Predicted mixing temperature: {warm.why_no_mixture()}."]
    verdict, evidence = judge(mixture.temp_c, mixture.u_temp_k, band, rule)
    if verdict == "met":
        return []
    return [f"After combining: {evidence}. {warm.would_do(t_ns, band)}"]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
