"""When a pour began, as a probability: a hidden Markov model of mass, flow and touches.

Pure; used by logger.watch.scale.pour_ends. What lies in the bowl is at first level, then flows in
at a rate that wanders, may pause, and never falls. A hand that touches the bowl hides it for a
while: the readings then say nothing about the mass, so that a beginning under a touch is told from
what was before and after, and as uncertainly as it is. Things are put in and taken out, and a
display of coarse steps tells no more than the step. Reversed in time and sign, the end is a
beginning.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from logger.science.statistics.pourchain import PourChain
from logger.science.statistics.scalenoise import best_width_s, means_of, noise_along, slow_share

Array = npt.NDArray[np.float64]

BELOW_G, ABOVE_G = 15.0, 30.0
"""Masses looked at, about the level ahead of the pour [g]."""
FEWEST = 12

_CREEP_STEPS = 0.6
"""A level creeps by up to so many steps of the display: rounding, warmth, a draught."""
_TOUCH_SPAN_G, _HELD, _HELD_NOISES = 120.0, 0.7, 2.0
"""How heavy touches are, and how often a hand stays as it is from one mean to the next."""
_TAIL, _TAIL_NOISES = 0.1, 3.0
_LEAST_NOISE_G, _LEAST_NOISE_STEPS = 0.08, 0.2
_SWELL = 0.85
"""A slow swell counts from 1/0.85 of the noise on: less is chance."""
_QUANTILES = (0.05, 0.5, 0.95)
_PLACES = 6
"""Decimals kept: the last bits of a product of matrices are not the same on every machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PourStart:
    """When a pour began.

    Attributes
    ----------
    at_s : float
        As likely before as after it [s].
    early_s, late_s : float
        Between them with a probability of 90 % [s].
    level_g, u_level_g : float
        Mass shown just before, and its standard uncertainty [g].
    chance : float
        That anything was poured at all, 0 to 1.
    """

    at_s: float
    early_s: float
    late_s: float
    level_g: float
    u_level_g: float
    chance: float = 1.0


def pour_start(
    t_s: Array, mass_g: Array, *, near_s: float, level_g: float, step_g: float
) -> PourStart | None:
    """Tell when a level began to rise.

    Parameters
    ----------
    t_s, mass_g : ndarray
        Readings [s], [g], shape (n,), times ascending; some 20 s from before the pour up to 20 s
        after, or to where it has risen by `ABOVE_G`.
    near_s : float
        About when [s].
    level_g : float
        About the level before [g].
    step_g : float
        Step of the display [g], above 0.

    Returns
    -------
    PourStart or None
        None where there are too few readings, or none that fits.
    """
    if t_s.size < FEWEST:
        return None
    seen = _Seen.of(t_s, mass_g, near_s, step_g)
    if seen.t_s.size < FEWEST:
        return None
    cell_g = float(np.clip(0.7 * np.median(seen.noise_g), 0.15, 0.5))
    grid_g = np.arange(level_g - BELOW_G, level_g + ABOVE_G, cell_g)
    chain = PourChain(
        seen.t_s, _free(seen, grid_g), _held(seen), cell_g=cell_g, creep_g=_CREEP_STEPS * step_g
    )
    left = chain.left_level()
    if left is None:
        return None
    # left[k] is the chance that the level was left after mean k, by mass on the grid
    gone = np.concatenate(([0.0], np.cumsum(left.sum(axis=1))))
    by_mass = left.sum(axis=0)
    whole = float(gone[-1])
    if not whole > 0.0:
        return None
    early_s, at_s, late_s = np.interp(_QUANTILES, gone / whole, seen.t_s)
    level = float(by_mass @ grid_g) / whole
    spread_g = math.sqrt(max(float(by_mass @ (grid_g - level) ** 2) / whole, 0.0))
    return PourStart(
        at_s=round(float(at_s), _PLACES),
        early_s=round(float(early_s), _PLACES),
        late_s=round(float(late_s), _PLACES),
        level_g=round(level, _PLACES),
        u_level_g=spread_g,
        chance=round(whole, _PLACES),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """Means of the readings: times [s], masses [g], noise [g], half width of the rounding [g]."""

    t_s: Array
    mass_g: Array
    noise_g: Array
    rounding_g: Array

    @classmethod
    def of(cls, t_s: Array, mass_g: Array, near_s: float, step_g: float) -> _Seen:
        gap_s = float(np.median(np.diff(t_s)))
        width_s = best_width_s(t_s, mass_g, gap_s)
        times, means = means_of(t_s, mass_g, width_s)
        if times.size < FEWEST:
            return cls(t_s=times, mass_g=means, noise_g=means, rounding_g=means)
        least_g = max(_LEAST_NOISE_STEPS * step_g, _LEAST_NOISE_G)
        noise_g = np.maximum(noise_along(means, max(3, int(3.0 / width_s))), least_g)
        ahead = (times > near_s - 14.0) & (times < near_s - 1.0)
        if ahead.sum() >= 10:
            swell = _SWELL * slow_share(means[ahead], float(np.median(noise_g[ahead])))
            noise_g = noise_g * min(max(swell, 1.0), 4.0)
        # Noise of half a step and more makes the means of a rounded display true.
        raw_g = np.interp(times, t_s, noise_along(mass_g, max(3, int(3.0 / max(gap_s, 0.01)))))
        rounding_g = 0.5 * step_g * np.clip(1.0 - raw_g / (0.5 * step_g), 0.0, 1.0)
        return cls(t_s=times, mass_g=means, noise_g=noise_g, rounding_g=rounding_g)


def _free(seen: _Seen, grid_g: Array) -> Array:
    """Density of each mean at each mass [1/g], untouched; shape (means, grid)."""
    # Here, because every process that may need it would pay for it at its start.
    from scipy.special import ndtr

    off = seen.mass_g[:, None] - grid_g[None, :]
    half = np.maximum(seen.rounding_g, 1e-6)[:, None]
    rounded = seen.rounding_g > 0.25 * seen.noise_g

    def density(noise_g: Array) -> Array:
        wide = noise_g[:, None]
        normal = np.exp(-0.5 * (off / wide) ** 2) / (wide * math.sqrt(2.0 * math.pi))
        if rounded.any():
            o, h, w = off[rounded], half[rounded], wide[rounded]
            normal[rounded] = (ndtr((o + h) / w) - ndtr((o - h) / w)) / (2.0 * h)
        return np.asarray(normal)

    return (1.0 - _TAIL) * density(seen.noise_g) + _TAIL * density(_TAIL_NOISES * seen.noise_g)


def _held(seen: _Seen) -> Array:
    """Density of each mean under a hand [1/g], shape (means,): as it was, or anything."""
    wide = _HELD_NOISES * seen.noise_g
    moved = np.diff(seen.mass_g, prepend=np.inf) / wide
    same = np.exp(-0.5 * moved**2) / (wide * math.sqrt(2.0 * math.pi))
    return np.asarray((1.0 - _HELD) / _TOUCH_SPAN_G + _HELD * same)
