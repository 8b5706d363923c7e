"""The loss curve that fits the readings of a vessel left alone, and how well it is known.

Pure. Fits the loss model of logger.science.heat.cooling to block means since the last heating,
pour or stirring, with what is known beforehand about air, loss exponent and wall, and with two
kinds of wandering that the model does not describe: a slow one, and air that moves. How much of
them there is, and whether water evaporates, is not known: each of a few manners of cooling is
fitted, and counts by how well it explains the readings. Used by logger.science.heat.timeleft.

Departs from a plain fit over ten minutes in three ways, each for a measured gain (the table of
``python -m tests.bench phases``): old data stay in and fade by their own uncertainty; a cold wall
that still takes heat is a term of its own; the air that fits may lie below the measured air, for
open water cools towards the wet bulb.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from logger.model.errors import OutOfRangeError
from logger.science.heat.cooling import REFERENCE_EXCESS_K, excess_after, excess_derivatives
from logger.science.statistics.fitting import Fit, fit_least_squares

Array = npt.NDArray[np.float64]

FEWEST_BLOCKS = 12
_SMALLEST_EXCESS_K = 1e-3
_LEAST_LOG_K = -18.0
_AIR_MEMORY_S = 300.0
_SCALE = np.array([1.0, 0.3, 1.0, 0.2, 1.0, 0.5])
_SLOPE_BLOCKS = 24
_LEAST_SHARE = 0.003


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """What is known before the curve is looked at.

    Attributes
    ----------
    ambient_c : float
        Air temperature [degC].
    u_ambient_k : float
        Its standard uncertainty [K].
    u_wall_k : float
        Standard uncertainty of the excess that a cold wall has yet to take [K].
    wall_s, u_log_wall : float
        Time in which the wall follows [s] and the standard uncertainty of its logarithm.
    """

    ambient_c: float
    u_ambient_k: float = 0.5
    u_wall_k: float = 3.0
    wall_s: float = 80.0
    u_log_wall: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """A way in which vessels cool; common practice, no source: chosen on seeded vessels.

    Attributes
    ----------
    chance : float
        How often it is met [1].
    exponent, u_exponent : float
        Loss exponent and its standard uncertainty [1].
    u_above_k, u_below_k : float
        How far the air that fits may lie above and below the air [K], where that is known better:
        below also for evaporation.
    slow : float
        Relative change of the loss per square root of a time constant [1].
    air : float
        Relative size of moving air [1].
    """

    chance: float
    exponent: float
    u_exponent: float
    u_above_k: float
    u_below_k: float
    slow: float
    air: float


def _covered(chance: float, slow: float, air: float) -> Manner:
    return Manner(
        chance=chance,
        exponent=1.18,
        u_exponent=0.1,
        u_above_k=0.6,
        u_below_k=0.8,
        slow=slow,
        air=air,
    )


MANNERS = (
    _covered(0.3, 0.015, 0.005),
    _covered(0.2, 0.05, 0.005),
    _covered(0.15, 0.03, 0.02),
    _covered(0.1, 0.05, 0.06),
    Manner(
        chance=0.25,
        exponent=1.3,
        u_exponent=0.15,
        u_above_k=1.0,
        u_below_k=3.0,
        slow=0.05,
        air=0.02,
    ),
)
"""Covered or fat, in still and in moving air; and open water, which loses more the hotter it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingFit:
    """A loss curve fitted in one manner.

    Attributes
    ----------
    share : float
        How much it counts among the manners [1].
    temp_c : float
        Temperature now [degC], as the probe would show it without noise.
    k_per_s : float
        Loss constant at 30 K of excess [1/s].
    ambient_c : float
        Air temperature that fits [degC].
    exponent : float
        Loss exponent that fits.
    covariance : ndarray, shape (4, 4)
        Covariance of (temp_c, ln k, ambient_c, exponent).
    manner : Manner
        Of cooling.
    misfit : float
        Root mean square of the weighted residuals; about 1 when the model fits.
    """

    share: float
    temp_c: float
    k_per_s: float
    ambient_c: float
    exponent: float
    covariance: Array
    manner: Manner
    misfit: float

    @property
    def rate_k_per_s(self) -> float:
        """Fitted change of temperature now [K/s]; negative while it cools."""
        excess_k = max(self.temp_c - self.ambient_c, _SMALLEST_EXCESS_K)
        size = math.pow(excess_k / REFERENCE_EXCESS_K, self.exponent - 1.0)
        return -self.k_per_s * excess_k * size


def fit_cooling(
    t_s: Array, temp_c: Array, u_temp_k: float, prior: Prior, *, since_event_s: float = math.inf
) -> list[CoolingFit]:
    """Fit the loss curve to block means in each manner of cooling.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        Times measured from now [s], 0 or less, increasing; n from 12 to a few hundred.
    temp_c : ndarray, shape (n,)
        Block means [degC].
    u_temp_k : float
        Standard uncertainty of a block mean [K], above 0.
    prior : Prior
        Air and wall beforehand.
    since_event_s : float
        How long ago the vessel was last heated, filled or stirred [s].

    Returns
    -------
    list of CoolingFit
        The curves that count, the likeliest first, each with its covariance; where the residuals
        are larger than stated, the data part is widened by the square of ``misfit``.

    Raises
    ------
    OutOfRangeError
        If there are fewer than 12 blocks.

    References
    ----------
    Weights of the manners by the Laplace approximation of the evidence: MacKay, D. J. C. (1992),
    "Bayesian interpolation", Neural Computation 4, 415-447, DOI 10.1162/neco.1992.4.3.415
    (from memory).
    """
    if t_s.size < FEWEST_BLOCKS:
        raise OutOfRangeError("blocks in the window", t_s.size, f"at least {FEWEST_BLOCKS}")
    slow, air = _wander(t_s, temp_c, prior)
    noise = u_temp_k**2 * np.eye(t_s.size)
    params = _start(t_s, temp_c, prior)
    found: list[tuple[float, Fit]] = []
    for manner in MANNERS:
        wander = manner.slow**2 * slow + manner.air**2 * air
        lower = np.asarray(np.linalg.cholesky(noise + wander), dtype=np.float64)
        problem = _Problem(t_s, temp_c, lower, prior, manner, min(since_event_s, 1e6))
        fit = fit_least_squares(problem.residuals, problem.jacobian, params, _SCALE, tolerance=1e-6)
        params = fit.params
        found.append((_evidence(fit, lower) + problem.log_prior, fit))
    most = max(evidence for evidence, _ in found)
    weights = [math.exp(evidence - most) for evidence, _ in found]
    total = sum(weights)
    fits = [
        _cooling_fit(fit, t_s.size, manner, weight / total)
        for (_, fit), manner, weight in zip(found, MANNERS, weights, strict=True)
        if weight >= _LEAST_SHARE * total
    ]
    return sorted(fits, key=lambda fit: -fit.share)


def recent_slope_k_per_s(t_s: Array, temp_c: Array) -> float:
    """Slope of the last 24 blocks [K/s], by a straight line."""
    return float(np.polyfit(t_s[-_SLOPE_BLOCKS:], temp_c[-_SLOPE_BLOCKS:], 1)[0])


def wander_ahead(fit: CoolingFit, likely_s: float) -> float:
    """Relative standard uncertainty of a time left for the wander still to come.

    Parameters
    ----------
    fit : CoolingFit
        The fitted curve.
    likely_s : float
        The time left [s].
    """
    if likely_s <= 0.0:
        return 0.0
    ahead_s = min(likely_s, 1e5)
    constant = -fit.rate_k_per_s / max(fit.temp_c - fit.ambient_c, 1.0)
    slow = fit.manner.slow**2 * constant * ahead_s / 3.0
    kept = ahead_s - _AIR_MEMORY_S * (1.0 - math.exp(-ahead_s / _AIR_MEMORY_S))
    air = fit.manner.air**2 * 2.0 * _AIR_MEMORY_S * kept / ahead_s**2
    return math.sqrt(slow + air)


def _start(t_s: Array, temp_c: Array, prior: Prior) -> Array:
    """Start of the fit: last value, slope of the last blocks, the prior, no wall."""
    now = float(temp_c[-1])
    k = max(1e-6, -recent_slope_k_per_s(t_s, temp_c) / max(now - prior.ambient_c, 1.0))
    return np.array(
        [now, math.log(k), prior.ambient_c, MANNERS[0].exponent, 0.0, math.log(prior.wall_s)]
    )


def _wander(t_s: Array, temp_c: Array, prior: Prior) -> tuple[Array, Array]:
    """Covariance of the past temperatures for a slow wander and for moving air, both of size 1.

    The relative change of the loss is a Wiener process (slow) or an Ornstein-Uhlenbeck process
    (air), both counted from now; the temperature holds its integral times the rate.
    """
    rate = abs(recent_slope_k_per_s(t_s, temp_c))
    constant = rate / max(float(temp_c[-1]) - prior.ambient_c, 1.0)
    age = -t_s
    less, more = np.minimum.outer(age, age), np.maximum.outer(age, age)
    slow = rate**2 * constant * (less**3 / 3.0 + less**2 * (more - less) / 2.0)
    fade = np.exp(-age / _AIR_MEMORY_S)
    air = 2.0 * less / _AIR_MEMORY_S - 1.0 + fade[:, None] + fade[None, :]
    air -= np.exp(-(more - less) / _AIR_MEMORY_S)
    return slow, (rate * _AIR_MEMORY_S) ** 2 * air


class _Problem:
    """Weighted residuals of one window, and their derivatives."""

    def __init__(
        self,
        t_s: Array,
        temp_c: Array,
        lower: Array,
        prior: Prior,
        manner: Manner,
        since_event_s: float,
    ) -> None:
        # Here, because every process that may need it would pay for it at its start.
        from scipy.linalg.lapack import dtrtri

        self._t_s = t_s
        self._temp_c = temp_c
        # Not solve_triangular: its threads cost milliseconds on a busy bench computer.
        self._whiten: Array = np.asarray(dtrtri(lower, lower=1)[0], dtype=np.float64)
        self._prior, self._manner = prior, manner
        self._u_above_k = max(manner.u_above_k, prior.u_ambient_k)
        self._u_below_k = max(manner.u_below_k, prior.u_ambient_k)
        spread = manner.u_exponent * (self._u_above_k + self._u_below_k)
        self.log_prior = math.log(manner.chance / spread)
        """Logarithm of the density of the prior, but for what all manners share."""
        self._since_s = t_s + since_event_s

    def _ambient_u(self, ambient_c: float) -> float:
        return self._u_above_k if ambient_c > self._prior.ambient_c else self._u_below_k

    def _wall(self, p: Array) -> tuple[Array, float]:
        tau = math.exp(min(float(p[5]), 8.0))
        return np.exp(-self._since_s / tau), tau

    def residuals(self, p: Array) -> Array:
        prior = self._prior
        excess = max(p[0] - p[2], _SMALLEST_EXCESS_K)
        curve = p[2] + excess_after(excess, _k(p), p[3], self._t_s) + p[4] * self._wall(p)[0]
        known = [
            (p[2] - prior.ambient_c) / self._ambient_u(p[2]),
            (p[3] - self._manner.exponent) / self._manner.u_exponent,
            p[4] / prior.u_wall_k,
            (p[5] - math.log(prior.wall_s)) / prior.u_log_wall,
        ]
        return np.concatenate([self._whiten @ (curve - self._temp_c), known])

    def jacobian(self, p: Array) -> Array:
        prior = self._prior
        count = self._t_s.size
        excess = max(p[0] - p[2], _SMALLEST_EXCESS_K)
        by = excess_derivatives(excess, _k(p), float(p[3]), self._t_s)
        fade, tau = self._wall(p)
        columns = (
            by[:, 0],
            by[:, 1],
            1.0 - by[:, 0],
            by[:, 2],
            fade,
            p[4] * fade * self._since_s / tau,
        )
        rows = np.zeros((count + 4, 6))
        rows[:count] = self._whiten @ np.column_stack(columns)
        u_exponent = self._manner.u_exponent
        scales = (self._ambient_u(p[2]), u_exponent, prior.u_wall_k, prior.u_log_wall)
        rows[range(count, count + 4), range(2, 6)] = 1.0 / np.array(scales)
        return rows


def _k(p: Array) -> float:
    # A curve that has come to rest must not run the loss constant out of the numbers.
    return math.exp(min(max(float(p[1]), _LEAST_LOG_K), 0.0))


def _evidence(fit: Fit, lower: Array) -> float:
    """Logarithm of the evidence up to a constant (Laplace)."""
    information = fit.jacobian.T @ fit.jacobian
    volume = float(np.linalg.slogdet(information)[1])
    spread = float(np.log(np.diag(lower)).sum())
    return -0.5 * fit.sum_of_squares - spread - 0.5 * volume


def _cooling_fit(fit: Fit, count: int, manner: Manner, share: float) -> CoolingFit:
    misfit = float(np.sqrt(np.mean(fit.residuals[:count] ** 2)))
    data, known = fit.jacobian[:count], fit.jacobian[count:]
    information: Array = data.T @ data / max(1.0, misfit) ** 2 + known.T @ known
    covariance = np.asarray(np.linalg.pinv(information), dtype=np.float64)
    return CoolingFit(
        share=share,
        temp_c=float(fit.params[0]),
        k_per_s=_k(fit.params),
        ambient_c=float(fit.params[2]),
        exponent=float(fit.params[3]),
        covariance=covariance[:4, :4],
        manner=manner,
        misfit=misfit,
    )
