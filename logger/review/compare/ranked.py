"""Differences between runs, the largest first, in multiples of what good batches scatter anyway.

Pure; a comparison and good runs in, differences out. The scatter is the sample standard deviation
of three good runs or more, never below what is ordinary for the number or below the uncertainty of
the values compared.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from logger.review.compare.compare import Row
from logger.review.features.feature import BY_NAME
from logger.review.features.portrait import Portrait

FEWEST = 3
"""With fewer good runs the ordinary scatter of the number stands for theirs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One number of the runs, and how far they are apart.

    Attributes
    ----------
    row : Row
        The values.
    scatter : float
        Usual standard deviation between good batches, in the unit of the row.
    times : float
        Largest distance of a run from the first, over `scatter`.
    good : tuple of float
        The values of the good runs.
    """

    row: Row
    scatter: float
    times: float
    good: tuple[float, ...]


def ranked(rows: Sequence[Row], good: Sequence[Portrait]) -> tuple[Difference, ...]:
    """Return the differences that can be told, largest first.

    Parameters
    ----------
    rows : sequence of Row
        Numbers of the runs compared; the first run is the reference.
    good : sequence of Portrait
        Good runs of the same product.
    """
    found = []
    for row in rows:
        first, others = row.values[0], [v for v in row.values[1:] if v is not None]
        if first is None or not others:
            continue
        values = tuple(
            feature.value
            for run in good
            if (feature := run.features.get(row.name)) is not None and feature.value is not None
        )
        scatter = _scatter(row, values)
        if scatter <= 0.0:
            continue
        times = max(abs(value - first) for value in others) / scatter
        found.append(Difference(row=row, scatter=scatter, times=times, good=values))
    return tuple(sorted(found, key=lambda one: -one.times))


def _scatter(row: Row, good: Sequence[float]) -> float:
    of_good = statistics.stdev(good) if len(good) >= FEWEST else 0.0
    known = [u for u in row.us if u is not None and math.isfinite(u)]
    return max(of_good, BY_NAME[row.name].least, *known)
