"""How many minutes until a vessel left alone reaches a limit, as a range.

Pure. Takes block means since the last heating, pour or stirring, lets
logger.science.heat.losscurve fit them in each manner of cooling and gives the time left with its
90 % interval, or why it can't be told yet. Used by logger.watch.stages.cooling.forecast. The draws
have a fixed seed: live and replay agree.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from logger.science.heat.cooling import excess_after, lag_ahead_s, time_to_excess
from logger.science.heat.losscurve import (
    FEWEST_BLOCKS,
    CoolingFit,
    Prior,
    fit_cooling,
    recent_slope_k_per_s,
    wander_ahead,
)

Array = npt.NDArray[np.float64]

MOST_BLOCKS = 120
SMALLEST_SPAN_K = 1.0
LARGEST_EXCESS_RATIO = 1.6
"""Readings from when the excess over the air was more than this times that of now are left out: one
loss exponent holds over a limited span only, above all for open water."""
SHORTEST_MEMORY_S = 600.0
"""Readings of the last ten minutes stay in whatever the excess was."""
WAIT_S = 120.0
WAIT_LAGS = 10.0
DRAWS = 400
EARLY, LATE = 0.035, 0.95
"""Ends of the interval: an alarm goes by the early one, so that is the surer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeLeft:
    """Time until a limit as a range [s]; ``math.inf`` means "may not reach it"."""

    early_s: float
    likely_s: float
    late_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A time left, or why it can't be told yet.

    Attributes
    ----------
    left : TimeLeft or None
        None when it can't be told.
    why_not : str
        The reason in words, empty when there is a time.
    fits : tuple of CoolingFit
        The curves behind it, the likeliest first, so that a wrong air or exponent is visible.
    """

    left: TimeLeft | None
    why_not: str = ""
    fits: tuple[CoolingFit, ...] = ()

    @property
    def fit(self) -> CoolingFit | None:
        """The likeliest curve, if there is one."""
        return self.fits[0] if self.fits else None


def waiting_time_s(lag_s: float) -> float:
    """How long after an event the readings do not count yet [s]: max(120 s, 10 lags)."""
    return float(max(WAIT_S, WAIT_LAGS * lag_s))


def estimate_time_left(
    t_s: Array,
    temp_c: Array,
    *,
    now_s: float,
    event_s: float,
    limit_c: float,
    prior: Prior,
    u_temp_k: float = 0.06,
    lag_s: float = 0.0,
) -> Estimate:
    """Time until a limit from the block means of a vessel left alone, or why not yet.

    Parameters
    ----------
    t_s, temp_c : ndarray, shape (n,)
        Times [s], increasing, and block means [degC].
    now_s : float
        Time from which the time left is counted [s].
    event_s : float
        Time of the last heating, pour or stirring [s].
    limit_c : float
        The limit [degC].
    prior : Prior
        Air, exponent and wall beforehand.
    u_temp_k : float
        Standard uncertainty of one block mean [K].
    lag_s : float
        Time constant of the probe [s].

    Returns
    -------
    Estimate
        The range, or the reason it can't be told: too soon, too few readings, a change of less
        than 1 K, or not cooling.
    """
    wait_s = waiting_time_s(lag_s)
    if now_s < event_s + wait_s:
        return Estimate(left=None, why_not="too soon after heating, pouring or stirring")
    used = (t_s >= event_s + wait_s) & (t_s <= now_s)
    if not used.any():
        return Estimate(left=None, why_not="too few readings yet")
    times, temps = thin(*_relevant(t_s[used] - now_s, temp_c[used], prior.ambient_c))
    if times.size < FEWEST_BLOCKS:
        return Estimate(left=None, why_not="too few readings yet")
    if float(temps[-1]) > limit_c and float(np.ptp(temps)) < SMALLEST_SPAN_K:
        return Estimate(left=None, why_not="it has changed by less than 1 K so far")
    if recent_slope_k_per_s(times, temps) >= 0.0:
        return Estimate(left=None, why_not="it is not cooling")
    fits = tuple(fit_cooling(times, temps, u_temp_k, prior, since_event_s=now_s - event_s))
    return Estimate(left=time_left(fits, limit_c, lag_s=lag_s), fits=fits)


def _relevant(t_s: Array, temp_c: Array, ambient_c: float) -> tuple[Array, Array]:
    """Leave out what is both old and much hotter than now."""
    hottest = ambient_c + LARGEST_EXCESS_RATIO * max(float(temp_c[-1]) - ambient_c, 1.0)
    far = np.flatnonzero((temp_c > hottest) & (t_s < -SHORTEST_MEMORY_S))
    first = int(far[-1]) + 1 if far.size else 0
    return t_s[first:], temp_c[first:]


def thin(t_s: Array, temp_c: Array, most: int = MOST_BLOCKS) -> tuple[Array, Array]:
    """Merge neighbouring block means until there are at most ``most``; the newest stay whole.

    Parameters
    ----------
    t_s, temp_c : ndarray, shape (n,)
        Times [s] and values.
    most : int
        Most blocks to give back.

    Returns
    -------
    tuple of ndarray
        Times and values, shape (m,), m at most ``most``.
    """
    merge = math.ceil(t_s.size / most)
    if merge <= 1:
        return t_s, temp_c
    kept = t_s.size // merge * merge
    return (
        t_s[-kept:].reshape(-1, merge).mean(axis=1),
        temp_c[-kept:].reshape(-1, merge).mean(axis=1),
    )


def time_left(fits: Sequence[CoolingFit], limit_c: float, *, lag_s: float = 0.0) -> TimeLeft:
    """Time until the contents reach a limit, with its 90 % interval.

    Parameters
    ----------
    fits : sequence of CoolingFit
        The fitted curves, at least one.
    limit_c : float
        The limit [degC].
    lag_s : float
        Time constant of the probe [s]: the contents are that much ahead of the reading.

    Returns
    -------
    TimeLeft
        3.5th percentile, median and 95th percentile of the time left [s], by 400 draws of each
        curve.
    """
    normal = _draws()
    drawn = []
    for fit in fits:
        excess_k = fit.temp_c - fit.ambient_c
        point_s = float(
            time_to_excess(excess_k, limit_c - fit.ambient_c, fit.k_per_s, fit.exponent)
        )
        temp, k, ambient, exponent = _drawn(fit)
        left = time_to_excess(temp - ambient, limit_c - ambient, k, exponent)
        drawn.append(left * np.exp(wander_ahead(fit, point_s) * normal[4]))
    early, likely, late = _quantiles(np.array(drawn), fits, (EARLY, 0.5, LATE))
    first = fits[0]
    ahead = lag_ahead_s(-first.rate_k_per_s / max(first.temp_c - first.ambient_c, 1.0), lag_s)
    return TimeLeft(
        early_s=max(0.0, float(early) - ahead),
        likely_s=max(0.0, float(likely) - ahead),
        late_s=max(0.0, float(late) - ahead),
    )


def _drawn(fit: CoolingFit) -> tuple[Array, Array, Array, Array]:
    """Draw temperature, loss constant, air and exponent of a fit."""
    mean = np.array([fit.temp_c, math.log(fit.k_per_s), fit.ambient_c, fit.exponent])
    temp, log_k, ambient, exponent = mean[:, None] + _root(fit.covariance) @ _draws()[:4]
    return temp, np.exp(np.clip(log_k, -25.0, 0.0)), ambient, exponent


def _quantiles(drawn: Array, fits: Sequence[CoolingFit], shares: Sequence[float]) -> Array:
    """Quantiles of draws, shape (fits, draws, ...), that count by the share of their fit."""
    values = drawn.reshape(-1, *drawn.shape[2:])
    weights = np.repeat([fit.share for fit in fits], drawn.shape[1])
    order = np.argsort(values, axis=0)
    reached = np.cumsum(weights[order], axis=0) / weights.sum()
    values = np.take_along_axis(values, order, axis=0)
    places = [np.minimum((reached < share).sum(axis=0), len(values) - 1) for share in shares]
    found: Array = np.array([np.take_along_axis(values, p[None], axis=0)[0] for p in places])
    return found


def _root(covariance: Array) -> Array:
    """Square root of a covariance that may be singular."""
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    root: Array = vectors * np.sqrt(np.maximum(values, 0.0))
    return root


def temperatures_ahead(fits: Sequence[CoolingFit], ahead_s: Array) -> Array:
    """Temperatures that the fitted curves foretell, with their 90 % band.

    Parameters
    ----------
    fits : sequence of CoolingFit
        The fitted curves, at least one.
    ahead_s : ndarray, shape (n,)
        Times from now [s], 0 or more.

    Returns
    -------
    ndarray, shape (3, n)
        Early end, median and late end [degC], as `time_left` has them.
    """
    normal = _draws()
    drawn = []
    for fit in fits:
        temp, k, ambient, exponent = _drawn(fit)
        wander = np.array([wander_ahead(fit, float(s)) for s in ahead_s])
        excess = np.maximum(temp - ambient, 1e-3)[:, None]
        times = ahead_s[None, :] * np.exp(-wander[None, :] * normal[4][:, None])
        after = excess_after(excess, k[:, None], exponent[:, None], times)
        drawn.append(ambient[:, None] + after)
    return _quantiles(np.array(drawn), fits, (EARLY, 0.5, LATE))


@functools.cache
def _draws() -> Array:
    """Standard normal draws with a fixed seed, shape (5, 400): a forecast is repeatable."""
    return np.random.default_rng(20_261_125).standard_normal((5, DRAWS))
