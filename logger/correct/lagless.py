"""A finished temperature trace with its probe's lag taken off, where that pays.

Pure; used by logger.recorder.replay.beside when a run ends, and by logger.review.trace for runs
that have none stored. For review only, beside the readings and never instead of them: what was
live stays what was judged.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from logger.model.rows import DerivedRow
from logger.science.heat.lag import correct_lag, window_points
from logger.words.durations import exact_duration
from logger.words.values import value_text

Floats = NDArray[np.float64]

FEWEST = 20
"""Readings below which no lag is taken off."""
DECIMALS = 2
"""Of the result [degC]: far below any probe's uncertainty, and short to store."""


def without_lag(
    t_ns: NDArray[np.int64], value_c: Floats, u_k: Floats, time_constant_s: float | None
) -> Floats:
    """Take a probe's lag off a trace, where that pays.

    Parameters
    ----------
    t_ns : ndarray
        Times, rising [ns]; shape (n,).
    value_c : ndarray
        Corrected readings [degC]; shape (n,); NaN for none.
    u_k : ndarray
        Standard uncertainties [K]; shape (n,); NaN if unknown.
    time_constant_s : float or None
        Of the probe, from a plunge test [s]; None or 0 gives nothing.

    Returns
    -------
    ndarray
        To `DECIMALS` places [degC]; shape (n,). NaN before and after gaps, and all NaN where it
        does not pay: the lag nowhere exceeds twice the standard uncertainty of the reading, or
        that is unknown.

    Notes
    -----
    The readings are brought to even steps of their median interval first; a gap of more than three
    steps stays a gap.
    """
    found = np.full(value_c.shape, np.nan)
    kept = np.isfinite(value_c)
    if not time_constant_s or np.count_nonzero(kept) < FEWEST:
        return found
    time_s, shown_c = t_ns[kept] / 1e9, value_c[kept]
    step_s = float(np.median(np.diff(time_s)))
    if step_s <= 0.0 or window_points(time_constant_s, step_s) > time_s.size:
        return found
    even_s = np.arange(time_s[0], time_s[-1] + step_s / 2, step_s)
    even_c = np.interp(even_s, time_s, shown_c)
    after = np.searchsorted(time_s, even_s, side="left").clip(1, time_s.size - 1)
    in_gap = (time_s[after] - time_s[after - 1] > 3.0 * step_s) & (
        np.minimum(np.abs(time_s[after] - even_s), np.abs(even_s - time_s[after - 1])) > step_s / 2
    )
    even_c[in_gap] = np.nan
    corrected_c = correct_lag(even_c, step_s, time_constant_s)
    if not np.isfinite(u_k[kept]).any():
        return found
    usual_k = float(np.nanmedian(u_k[kept]))
    lag_k = np.abs(corrected_c - even_c)
    if not np.isfinite(lag_k).any() or float(np.nanmax(lag_k)) <= 2.0 * usual_k:
        return found
    found[kept] = np.round(np.interp(time_s, even_s, corrected_c), DECIMALS)
    return found


def sentences(derived: Iterable[DerivedRow]) -> list[str]:
    """Say which traces without lag are kept beside the readings of a run.

    Parameters
    ----------
    derived : iterable of DerivedRow
        Rows of ``Results.derived``.
    """
    return [
        f"{row.label}: also saved without the probe's lag (worked out with a time constant of "
        f"{exact_duration(row.time_constant_s)}; up to {value_text(row.largest_k, 'K')} "
        "from what it showed)."
        for row in derived
        if row.time_constant_s is not None and row.largest_k is not None
    ]
