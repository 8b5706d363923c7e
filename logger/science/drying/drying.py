"""Has the rinse water gone from the skin?

Pure functions of numbers. Masses come from the scale under the rack. Loss of mass says that loose
water has left; it can't say that a piece will behave in hot oil, so nothing here ever does.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from logger.model.errors import OutOfRangeError
from logger.science.drying.bend import CLEARLY, Bend, find_bend
from logger.words.durations import duration_text
from logger.words.values import percent_text

CAUTION = (
    "Mass loss cannot tell whether a piece will burst or spit in hot oil: a gel that looks dry is "
    "still about 98 % water. Never lower a wet or frozen piece into hot oil. Pan at most half "
    "full, lower slowly, lid at hand, no water on burning oil; follow your kitchen's rules."
)

SLOWER_BELOW = 0.7  # of the first rate: proposal, no published threshold
GONE_BELOW = 0.5  # of the steady rate: proposal, no published threshold
SINCE_BEND_S = 120.0
WINDOW_S = 300.0


SurfaceState = Literal["cannot tell yet", "surface wet", "surface film probably gone"]
FILM_GONE: SurfaceState = "surface film probably gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingReading:
    """What a mass-loss curve says now.

    Parameters
    ----------
    state : str
        ``cannot tell yet``, ``surface wet`` or ``surface film probably gone``; nothing stronger.
    lost_g : float
        Loss since the start [g].
    rate_g_h, first_rate_g_h : float or None
        Loss now and in the first window [g/h]; None until a window is full.
    u_rate_g_h : float or None
        Standard uncertainty of the rate now [g/h].
    reason : str
        Which rule spoke.
    bend : Bend or None
        Where the rate began to fall, where that is clear.
    """

    state: SurfaceState
    lost_g: float
    rate_g_h: float | None
    first_rate_g_h: float | None
    u_rate_g_h: float | None
    reason: str
    bend: Bend | None = None


def read_drying(
    time_s: ArrayLike,
    mass_g: ArrayLike,
    *,
    resolution_g: float = 0.1,
    window_s: float = WINDOW_S,
) -> DryingReading:
    """Read a mass-loss curve from the moment the drained, blotted pieces lie on the rack.

    Parameters
    ----------
    time_s, mass_g : array_like, shape (n,)
        Rising times [s] and masses [g], without gaps' empty values.
    resolution_g : float
        Step of the scale [g].
    window_s : float
        Length over which a rate is fitted [s].

    Raises
    ------
    OutOfRangeError
        If there is no reading, or not one mass for each time.

    Notes
    -----
    Proposal, no published threshold. Loose water counts as gone when a steady rate has clearly
    bent into one that goes on falling, as a film that gives out does, and not merely changed, as in
    other air; when the whole range of the bend is past; and when the rate is below half of the
    steady one. How much has left says nothing: the water that the rinse put on isn't weighed.
    """
    time = np.asarray(time_s, dtype=float)
    mass = np.asarray(mass_g, dtype=float)
    if time.size == 0 or time.size != mass.size:
        raise OutOfRangeError("drying readings", time.size, "one mass for each time")
    time = time - time[0]
    rates = _window_rates(time, mass, resolution_g, window_s)
    if not rates:
        return _reading(
            "cannot tell yet", float(mass[0] - mass[-1]), rates, "too few readings so far"
        )
    head = time <= min(10.0, window_s / 10)
    tail = time >= time[-1] - min(10.0, window_s / 10)
    lost = float(np.median(mass[head]) - np.median(mass[tail]))
    first, u_first = rates[0]
    if first < 3 * u_first:
        return _reading("cannot tell yet", lost, rates, "loss too small for this scale so far")
    fastest = max(rate for rate, _ in rates)
    if rates[-1][0] + rates[-1][1] >= SLOWER_BELOW * fastest:
        return _reading("surface wet", lost, rates, "still losing water as fast as at first")
    bend = find_bend(time, mass, resolution_g)
    if bend is None or not _gone(bend, float(time[-1]), window_s):
        reason = "it loses water more slowly, but other air may do that too"
        return _reading("cannot tell yet", lost, rates, reason)
    return _reading(FILM_GONE, lost, rates, _bend_text(bend), bend)


def _gone(bend: Bend, now_s: float, window_s: float) -> bool:
    """Return whether a bend is that of a film which has given out."""
    seen = bend.early_s >= window_s and bend.late_s <= now_s - SINCE_BEND_S
    return seen and bend.better_by >= CLEARLY and bend.now_g_h < GONE_BELOW * bend.steady_g_h


def _bend_text(bend: Bend) -> str:
    early, late = duration_text(bend.early_s), duration_text(bend.late_s)
    share = percent_text(max(bend.now_g_h, 0.0) / bend.steady_g_h)
    return f"the loss was steady, began to fall after {early} to {late} and is now {share} of that"


def _window_rates(
    time: NDArray[np.float64], mass: NDArray[np.float64], resolution_g: float, window_s: float
) -> list[tuple[float, float]]:
    """Loss rate with its standard uncertainty in each full window [g/h]."""
    rates = []
    for index in range(int(time[-1] // window_s)):
        inside = (time >= index * window_s) & (time <= (index + 1) * window_s)
        if inside.sum() < 5:
            continue
        t, m = time[inside], mass[inside]
        centred = t - t.mean()
        spread = float(centred @ centred)
        slope = float(centred @ m) / spread
        residual = m - m.mean() - slope * centred
        # The steps of the scale are alike from sample to sample: they do not average out.
        noise = float(residual @ residual) / (t.size - 2)
        u_slope = math.hypot(
            math.sqrt(noise / spread), resolution_g / math.sqrt(12) * math.sqrt(2) / window_s
        )
        rates.append((-slope * 3600, u_slope * 3600))
    return rates


def _reading(
    state: SurfaceState,
    lost_g: float,
    rates: list[tuple[float, float]],
    reason: str,
    bend: Bend | None = None,
) -> DryingReading:
    return DryingReading(
        state=state,
        lost_g=lost_g,
        rate_g_h=rates[-1][0] if rates else None,
        first_rate_g_h=rates[0][0] if rates else None,
        u_rate_g_h=rates[-1][1] if rates else None,
        reason=reason,
        bend=bend,
    )
