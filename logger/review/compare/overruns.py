"""Each number of a product over its runs: which runs are outside the control limits of good ones.

Pure; numbers of runs in, charts out, the one with the run that is farthest out first.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from logger.science.statistics.control import LEAST, ControlLimits, individuals_limits

MOST_FAR = 4
"""So many runs that are outside are named."""


class Measured(Protocol):
    """What was measured for a check of a run, and its target [`unit`]."""

    @property
    def label(self) -> str:
        """What the check is called."""

    @property
    def value(self) -> float:
        """What was measured [`unit`]."""

    @property
    def unit(self) -> str:
        """Of all the numbers."""

    @property
    def low(self) -> float | None:
        """Lower end of the target [`unit`]; None is open."""

    @property
    def high(self) -> float | None:
        """Upper end of the target [`unit`]; None is open."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One number over runs.

    Attributes
    ----------
    label, unit : str
        Of the number.
    values : tuple of float or None
        One for each run, in the order they were made [`unit`].
    limits : ControlLimits
        Of the good runs [`unit`].
    good : int
        From how many of them.
    low, high : float or None
        Target of the latest run [`unit`].
    far : tuple of int
        Places of the runs that are outside the limits, the farthest first.
    """

    label: str
    unit: str
    values: tuple[float | None, ...]
    limits: ControlLimits
    good: int
    low: float | None
    high: float | None
    far: tuple[int, ...]


def charts_of(runs: Sequence[Mapping[str, Measured]], good: Sequence[bool]) -> dict[str, Chart]:
    """Return a chart for each number that enough good runs have, by its name.

    Parameters
    ----------
    runs : sequence of mapping
        Numbers by name, of each run in the order they were made.
    good : sequence of bool
        Whether each was accepted.
    """
    names = dict.fromkeys(name for run in runs for name in run)
    found = {name: _chart(name, runs, good) for name in names}
    charts = {name: chart for name, chart in found.items() if chart is not None}
    return dict(sorted(charts.items(), key=lambda item: -_farthest(item[1])))


def _chart(name: str, runs: Sequence[Mapping[str, Measured]], good: Sequence[bool]) -> Chart | None:
    latest = [run[name] for run in runs if name in run][-1]
    values = tuple(
        run[name].value if name in run and run[name].unit == latest.unit else None for run in runs
    )
    of_good = [v for v, accepted in zip(values, good, strict=True) if accepted and v is not None]
    if len(of_good) < LEAST:
        return None
    limits = individuals_limits(of_good)
    if limits.high <= limits.low:  # all alike: counts and the like have no scatter to compare with
        return None
    out = {n: limits.distance(v) for n, v in enumerate(values) if v is not None}
    far = sorted((n for n, distance in out.items() if distance > 1.0), key=lambda n: -out[n])
    return Chart(
        label=latest.label,
        unit=latest.unit,
        values=values,
        limits=limits,
        good=len(of_good),
        low=latest.low,
        high=latest.high,
        far=tuple(far[:MOST_FAR]),
    )


def _farthest(chart: Chart) -> float:
    return max((chart.limits.distance(v) for v in chart.values if v is not None), default=0.0)
