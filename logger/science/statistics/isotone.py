"""The rising curve nearest to noisy values, in the sense of least absolute deviations.

Pure. A touch that goes away again, up or down, cannot bend a curve that may only rise, as long as
it is shorter than what surrounds it: medians are pooled, not means. Used by
logger.watch.scale.pour_parts and pour_ends.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence


def rising_fit(values: Sequence[float]) -> list[float]:
    """Fit a curve that never falls, by least absolute deviations.

    Parameters
    ----------
    values : sequence of float
        In time order, all finite; unit as wanted.

    Returns
    -------
    list of float
        Fitted values, as many as given, never falling.

    References
    ----------
    Pool adjacent violators: Ayer, M. et al. (1955), Annals of Mathematical Statistics 26, 641-647,
    DOI 10.1214/aoms/1177728423; with medians: Robertson, T. and Waltman, P. (1968), ibid. 39,
    1030-1039 (both from memory).
    """
    pools: list[list[float]] = []
    medians: list[float] = []
    for value in values:
        pools.append([value])
        medians.append(value)
        while len(pools) > 1 and medians[-2] > medians[-1]:
            last = pools.pop()
            medians.pop()
            pool = pools[-1]
            if len(last) > len(pool):
                pool, last = last, pool
            for item in last:
                insort(pool, item)
            pools[-1] = pool
            medians[-1] = pool[(len(pool) - 1) // 2]
    return [median for pool, median in zip(pools, medians, strict=True) for _ in pool]
