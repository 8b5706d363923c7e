"""A batch sheet from runs: targets proposed from what worked, and how many runs stand behind each.

Pure; portraits of runs in, a sheet out. One run gives its values with an ordinary tolerance;
several good runs give the range in which the next good one lies, wide enough for all that was
judged in them. Limits of a kind of stage that tracks a core or goes by a published rule set stay as
they are: that a batch came out well says nothing of them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from logger.model.errors import OutOfRangeError
from logger.model.kinds.registry import kind_of
from logger.model.sheet import Sheet
from logger.model.written import Band
from logger.review.features.feature import SPECS, Feature, Spec
from logger.review.features.portrait import Portrait
from logger.review.why.unlike import FEWEST, MOST, unlike
from logger.watch.verdict.checks import COVERAGE
from logger.words.bands import target_text
from logger.words.counts import count_text

_LEAST_FACTOR = 2.0  # ordinary standard deviations either side where runs are too few to tell


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One target.

    Attributes
    ----------
    stage, key : str
        Where on the sheet it goes.
    before : Band or None
        What the sheet wants now.
    band : Band
        What is proposed; its source says from how many runs.
    runs : int
        How many good runs are behind it.
    says : str
        In words.
    """

    stage: str
    key: str
    before: Band | None
    band: Band
    runs: int
    says: str


def learned_sheet(runs: Sequence[Portrait]) -> tuple[Sheet, tuple[Proposal, ...]]:
    """Make a sheet whose targets are what worked.

    Parameters
    ----------
    runs : sequence of Portrait
        One run, or accepted runs of one product, the latest first. The first gives the ingredients
        and the stages.

    Returns
    -------
    tuple
        The sheet with its revision raised, and what was proposed.

    Raises
    ------
    OutOfRangeError
        Without a run.
    """
    if not runs:
        raise OutOfRangeError("runs to learn from", 0, "at least one")
    runs = runs[:MOST]
    first = runs[0].sheet
    proposals = [p for spec_group in _targets() if (p := _proposal(spec_group, runs)) is not None]
    stages: list[Any] = []
    for stage in first.stage:
        own = {p.key: p.band for p in proposals if p.stage == stage.id}
        stages.append(stage.model_copy(update=own))
    count = len(runs)
    head = first.sheet.model_copy(
        update={
            "revision": first.sheet.revision + 1,
            "change": f"targets from {_counted(count, runs)}",
        }
    )
    return first.model_copy(update={"sheet": head, "stage": stages}), tuple(proposals)


def _targets() -> list[tuple[Spec, ...]]:
    """Group the specs that set one band of the sheet together: shortest and longest dwell."""
    groups: dict[tuple[str, str], list[Spec]] = {}
    for spec in SPECS:
        if spec.target is not None:
            groups.setdefault((spec.kind, spec.target), []).append(spec)
    return [tuple(group) for group in groups.values()]


def _proposal(specs: tuple[Spec, ...], runs: Sequence[Portrait]) -> Proposal | None:
    lows, highs, counts = [], [], []
    stage_id = ""
    for spec in specs:
        found = [f for r in runs if (f := r.features.get(spec.name)) and f.value is not None]
        if not found:
            return None
        stage_id = found[0].stage
        low, high = _reach(spec, [f.value for f in found if f.value is not None])
        lows += [low, *_ends(found, -1.0)]
        highs += [high, *_ends(found, 1.0)]
        counts.append(len(found))
    stage = next((s for s in runs[0].sheet.stage if s.id == stage_id), None)
    key = specs[0].target
    if stage is None or key is None or not hasattr(stage, key) or kind_of(stage).keeps_limits:
        return None
    judged_low, judged_high = _judged(runs, stage_id, _check_of(specs[0]))
    before, count = getattr(stage, key), min(counts)
    band = _rounded_band(min([*lows, *judged_low]), max([*highs, *judged_high]), specs[0].unit)
    source = f"proposed from {_counted(count, runs)}"
    band = band.model_copy(update={"source": source})
    if before is not None:
        # What the sheet leaves open stays open.
        band = band.model_copy(
            update={
                "low": None if before.low is None else band.low,
                "high": None if before.high is None else band.high,
            }
        )
    was = f", was {target_text(before)}" if before is not None else ""
    return Proposal(
        stage=stage_id,
        key=key,
        before=before,
        band=band,
        runs=count,
        says=f"{specs[0].label}: {target_text(band)}{was} ({source})",
    )


def _ends(found: Sequence[Feature], way: float) -> list[float]:
    """Return how far numbers may reach with their uncertainty, down (-1) or up (1)."""
    return [
        f.value + way * COVERAGE * f.u for f in found if f.value is not None and math.isfinite(f.u)
    ]


def _check_of(spec: Spec) -> str:
    """Return the key of the check that judges a spec's target."""
    return spec.judged_by or f"{spec.kind}.{spec.target}"


def _judged(runs: Sequence[Portrait], stage: str, key: str) -> tuple[list[float], list[float]]:
    """Return how far down and up what was judged reaches: a sheet accepts what it is made of."""
    found = [
        (f.value, f.expanded_uncertainty or 0.0)
        for run in runs
        for f in run.findings
        if (f.stage, f.key) == (stage, key) and f.value is not None
    ]
    return [v - u for v, u in found], [v + u for v, u in found]


def _rounded_band(low: float, high: float, unit: str) -> Band:
    """Return a band with round ends [unit] that holds both."""
    step = _step(unit, high - low)
    floor = math.floor(low / step) * step
    return Band(
        low=round(max(floor, 0.0) if unit not in ("degC", "K") else floor, 6),
        high=round(math.ceil(high / step) * step, 6),
        unit=unit,
    )


def width_says(runs: Sequence[Portrait]) -> str:
    """Say what the width of the bands rests on; empty where the runs themselves tell it."""
    if len(runs) >= FEWEST:
        return ""
    said = "One run does" if len(runs) == 1 else f"{len(runs)} runs do"
    return (
        f"{said} not tell how much good batches differ: each band is what was measured with an "
        "ordinary tolerance (common practice, no source). Learn again from more runs."
    )


def _counted(count: int, runs: Sequence[Portrait]) -> str:
    if all(r.outcome == "accepted" for r in runs):
        return count_text(count, "good batch", "good batches")
    return count_text(count, "run")


def _reach(spec: Spec, values: Sequence[float]) -> tuple[float, float]:
    """Return where the next good run lies: by statistics from three runs on, else by habit."""
    if len(values) >= FEWEST:
        found = unlike(float(np.median(values)), values, least=spec.least)
        if found is not None:
            return min(found.low, *values), max(found.high, *values)
    wide = _LEAST_FACTOR * spec.least
    return min(values) - wide, max(values) + wide


def _step(unit: str, width: float) -> float:
    """Return a round step for the ends of a band."""
    if unit == "s":
        return 30.0 if width > 240.0 else 5.0
    return float(10.0 ** math.floor(math.log10(max(width, 1e-6) / 10.0)))
