"""Pieces of a trace, and how they are made fewer to be drawn.

Pure numpy. What is drawn keeps the look of what was measured: lowest and highest stay in, a gap
stays a gap.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from tsdownsample import MinMaxLTTBDownsampler

GAP_S = 2.5
"""Two samples further apart than this, and than five usual steps, are not joined [s]."""


class Points(NamedTuple):
    """A piece of a trace; arrays of one length, nan where the line breaks."""

    t_s: NDArray[np.float64]
    value: NDArray[np.float64]


EMPTY = Points(np.empty(0), np.empty(0))


def ends_of_rows(rows: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the places, in all rows put together, of the lowest and highest of each row, in order.

    Parameters
    ----------
    rows : ndarray, shape (n, m)
        Values [any unit]; nan where there is none.

    Returns
    -------
    ndarray of int, shape (2 n,)
        Of a row with nans the first of those is the lowest, of one value both its ends.
    """
    each = rows.shape[1]
    shown = np.where(np.isfinite(rows), rows, -np.inf)
    ends = np.sort(np.column_stack((shown.argmin(axis=1), shown.argmax(axis=1))), axis=1)
    ends[ends[:, 0] == ends[:, 1]] = 0, each - 1
    places: NDArray[np.intp] = (np.arange(len(rows))[:, None] * each + ends).ravel()
    return places


def breaks(points: Points) -> NDArray[np.intp]:
    """Return how many breaks of the line lie at or before each sample.

    A break is a sample without value or a step of time that is too long.
    """
    if points.t_s.size == 0:
        return np.empty(0, dtype=np.intp)
    steps = np.diff(points.t_s, prepend=points.t_s[0])
    usual = float(np.median(steps[1:])) if steps.size > 1 else 0.0
    broken = ~np.isfinite(points.value) | (steps > max(GAP_S, 5.0 * usual))
    return np.cumsum(broken)


def thinned(points: Points, most: int) -> Points:
    """Return at most about `most` samples that keep the trace's look; gaps stay gaps.

    The largest and smallest values stay in; where the line breaks a nan stands between.
    """
    number = breaks(points)
    real = np.isfinite(points.value)
    t_s, value, number = points.t_s[real], points.value[real], number[real]
    if t_s.size > most >= 4:
        chosen = MinMaxLTTBDownsampler().downsample(t_s, value, n_out=most).astype(np.intp)
        t_s, value, number = t_s[chosen], value[chosen], number[chosen]
    if t_s.size == 0:
        return EMPTY
    cut = np.flatnonzero(np.diff(number)) + 1
    middle = (t_s[cut - 1] + t_s[cut]) / 2.0
    return Points(np.insert(t_s, cut, middle), np.insert(value, cut, np.nan))


def few(points: Points, most: int = 4) -> Points:
    """Return the lowest and highest of each of a few parts of a short piece, in time order."""
    size = points.t_s.size
    if size <= most:
        return points
    places: set[int] = {size - 1}
    for part in np.array_split(np.arange(size), max(1, most // 2)):
        values = points.value[part]
        if np.isfinite(values).all():
            places |= {int(part[np.argmin(values)]), int(part[np.argmax(values)])}
        else:
            places |= {int(part[0]), int(part[np.argmin(np.isfinite(values))])}
    chosen = sorted(places)
    return Points(points.t_s[chosen], points.value[chosen])
