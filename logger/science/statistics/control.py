"""Control limits of single values in the order in which they came: mean and moving range.

Pure numbers. Used for the chart of one number over the runs of a product.

References
----------
NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, "Individuals control charts".
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from logger.model.errors import OutOfRangeError

D2_OF_TWO = 1.128
"""Mean range of two normal values, in standard deviations (6.3.2.2; d2 for n = 2)."""
LEAST = 4
"""Fewer values than this give no limits worth drawing. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlLimits:
    """Mean and limits of single values, in their unit."""

    mean: float
    low: float
    high: float

    def distance(self, value: float) -> float:
        """Return how far a value [same unit] is from the mean, in widths from mean to limit [1]."""
        width = self.high - self.mean
        off = abs(value - self.mean)
        return off / width if width > 0.0 else float(off > 0.0)


def individuals_limits(values: Sequence[float]) -> ControlLimits:
    """Return the limits of single values: mean ± 3 mean moving ranges / 1.128.

    Parameters
    ----------
    values : sequence of float
        In the order in which they came [any one unit], at least `LEAST`.

    Raises
    ------
    OutOfRangeError
        If there are fewer.
    """
    if len(values) < LEAST:
        raise OutOfRangeError("number of values [1]", len(values), f"at least {LEAST}")
    mean = sum(values) / len(values)
    moving = [abs(b - a) for a, b in itertools.pairwise(values)]
    half = 3.0 * sum(moving) / len(moving) / D2_OF_TWO
    return ControlLimits(mean=mean, low=mean - half, high=mean + half)
