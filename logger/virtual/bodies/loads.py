"""What lies on a scale over time, and what the scale makes of it.

A load is a sum of steps (something put on or taken off, with the time it takes), profiles (a pour,
a drying rack) and knocks. The scale filters, is noisy, rounds, can be tared and says whether it is
stable. Pure; times are seconds of the batch. Used by ``simulate``.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_banded
from scipy.ndimage import maximum_filter1d, minimum_filter1d

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(slots=True, kw_only=True)
class Load:
    """What lies on one scale.

    Attributes
    ----------
    steps : list of (t_s, delta_g, rise_s)
        Mass put on (taken off when negative) over a rise that begins at ``t_s``.
    knocks : list of (t_s, height_g, width_s)
        Passing forces: a hand, a spoon against the bowl.
    profiles : list of (times_s, mass_g, until_s)
        Mass that changes by itself; 0 before its first time, gone after ``until_s``.
    tares_s : list of float
        When the tare key was pressed; on an empty pan it clears the tare.
    shaken : list of (from_s, to_s, sd_g)
        Spans with more noise: a whisk in the bowl.
    """

    steps: list[tuple[float, float, float]] = field(default_factory=list)
    knocks: list[tuple[float, float, float]] = field(default_factory=list)
    profiles: list[tuple[Array, Array, float]] = field(default_factory=list)
    tares_s: list[float] = field(default_factory=list)
    shaken: list[tuple[float, float, float]] = field(default_factory=list)

    def put(self, t_s: float, mass_g: float, rise_s: float = 0.5) -> None:
        """Put something on, or take it off.

        Parameters
        ----------
        t_s : float
            When [s].
        mass_g : float
            How much [g]; negative takes it off.
        rise_s : float
            How long until all of it lies there [s].
        """
        self.steps.append((t_s, mass_g, rise_s))

    def at(self, times_s: Array) -> Array:
        """Return the force on the scale [g] at ascending times, shape (n,)."""
        load = np.zeros(len(times_s))
        for t_s, delta_g, rise_s in self.steps:
            first, last = np.searchsorted(times_s, (t_s, t_s + rise_s))
            load[last:] += delta_g
            share = (times_s[first:last] - t_s) / rise_s
            load[first:last] += delta_g * share * share * (3.0 - 2.0 * share)
        for t_s, height_g, width_s in self.knocks:
            first, last = np.searchsorted(times_s, (t_s, t_s + width_s))
            load[first:last] += height_g * np.sin(np.pi * (times_s[first:last] - t_s) / width_s)
        for known_s, mass_g, until_s in self.profiles:
            first, last = np.searchsorted(times_s, (known_s[0], until_s))
            load[first:last] += np.interp(times_s[first:last], known_s, mass_g)
        return load


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How a scale reads.

    Attributes
    ----------
    step_g : float
        Step of its display [g].
    noise_g : float
        Standard deviation of a reading at rest [g].
    lag_s : float
        Time constant of its weighing filter [s].
    """

    step_g: float
    noise_g: float
    lag_s: float = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighings:
    """Readings of a scale: values [g], whether stable and whether net, each of shape (n,)."""

    value_g: Array
    stable: Flags
    net: Flags


def weigh(scale: Scale, load: Load, times_s: Array, rng: np.random.Generator) -> Weighings:
    """Read a scale at evenly spaced, ascending times.

    Parameters
    ----------
    scale : Scale
        Step, noise and lag.
    load : Load
        What lies on it, and when it is tared.
    times_s : ndarray, shape (n,)
        Sample times [s].
    rng : numpy.random.Generator
        For the noise.
    """
    period_s = float(times_s[1] - times_s[0]) if len(times_s) > 1 else 0.1
    true_g = load.at(times_s)
    keep = float(np.exp(-period_s / scale.lag_s))
    filtered = _lagged(true_g, keep)
    noise_g = np.full(len(times_s), scale.noise_g)
    for from_s, to_s, sd_g in load.shaken:
        noise_g[slice(*np.searchsorted(times_s, (from_s, to_s)))] += sd_g
    shown = filtered + noise_g * rng.standard_normal(len(times_s))
    tared = np.zeros(len(times_s))
    net = np.zeros(len(times_s), dtype=bool)
    for t_s in sorted(load.tares_s):
        first = int(np.searchsorted(times_s, t_s))
        if first < len(times_s):
            on_g = float(shown[max(0, first - 3) : first + 1].mean())
            # With nothing on the pan the key clears the tare: the scale shows gross again.
            tared[first:] = on_g
            net[first:] = abs(on_g) > 20.0 * scale.step_g
    calm_g = max(2.0 * scale.step_g, 5.0 * scale.noise_g)
    value_g = np.round((shown - tared) / scale.step_g) * scale.step_g
    return Weighings(value_g=value_g, stable=stable_marks(shown, period_s, calm_g), net=net)


def _lagged(true_g: Array, keep: float) -> Array:
    """Return values behind a lag of first order: each keeps a share of the one before [1]."""
    steps = np.vstack((np.ones(len(true_g)), np.full(len(true_g), -keep)))
    driven = (1.0 - keep) * true_g
    driven[0] += keep * true_g[0]
    lagged: Array = solve_banded((1, 0), steps, driven)
    return lagged


def stable_marks(shown_g: Array, period_s: float, calm_g: float) -> Flags:
    """Return where a balance calls itself stable: within `calm_g` for the last second.

    Parameters
    ----------
    shown_g : ndarray, shape (n,)
        Readings before rounding [g].
    period_s : float
        Time between two of them [s].
    calm_g : float
        Span within which the scale is calm [g].
    """
    width = max(2, round(1.0 / period_s))
    origin = (width - 1) // 2  # the window ends at the sample
    high = maximum_filter1d(shown_g, width, origin=origin)
    marks: Flags = high - minimum_filter1d(shown_g, width, origin=origin) <= calm_g
    return marks
