"""Reading a fat's own setting limits off the curve of a melted sample that cools.

Pure. Used by logger.watch.stages.fat_curve.watcher after logger.science.fats.setting has found the
onset. Two points are read and named: the onset, where the curve leaves its loss line, and the
plateau: the maximum of the recalescence, or, where the fat did not warm itself, the slowest
cooling after the onset.

Neither is the titre of ISO 935, which is measured on the dried fatty acids: never compare them.
Nor a slip melting point (ISO 6321), which is higher. The onset is that of this sample at this
cooling rate, with its supercooling.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from logger.science.fats.setting import RECALESCENCE_K, Arrest
from logger.words.values import value_text

Array = npt.NDArray[np.float64]
Point = Literal["maximum of the recalescence", "slowest cooling after the onset"]

U_ONSET_REPEAT_K = 1.0
"""Spread of the onset from one cooling to the next, for nucleation is a matter of chance
(common practice, no source); measure the fat twice to know better."""
_SLOPE_S = 60.0
_PAST_MAXIMUM_S = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingPoint:
    """What was read off one curve.

    Attributes
    ----------
    onset_c, u_onset_k : float
        Temperature at the onset of setting [degC] and its standard uncertainty [K].
    plateau_c, u_plateau_k : float
        Temperature of the plateau [degC] and its standard uncertainty [K].
    point : str
        Which point of the curve the plateau is.
    rise_k : float
        How far the fat warmed itself [K].
    cooling_k_per_min : float
        Cooling rate just before the onset [K/min], above 0: the onset belongs to it.
    complete : bool
        Whether the curve goes on long enough past the point.
    """

    onset_c: float
    u_onset_k: float
    plateau_c: float
    u_plateau_k: float
    point: Point
    rise_k: float
    cooling_k_per_min: float
    complete: bool

    def says(self) -> str:
        """Say what was read, in a sentence."""
        return (
            f"It began to set at {value_text(self.onset_c, 'degC', 2 * self.u_onset_k)} while "
            f"cooling at {value_text(self.cooling_k_per_min, 'K/min')}; plateau "
            f"{value_text(self.plateau_c, 'degC', 2 * self.u_plateau_k)}, read as the "
            f"{self.point}. Not a titre (ISO 935 is for fatty acids): do not compare."
        )


def read_setting_point(t_s: Array, temp_c: Array, arrest: Arrest, u_probe_k: float) -> SettingPoint:
    """Read onset and plateau off a curve with a known arrest.

    Parameters
    ----------
    t_s, temp_c : ndarray, shape (n,)
        Block means of the whole curve: times [s], increasing, and temperatures [degC].
    arrest : Arrest
        The setting found on it.
    u_probe_k : float
        Standard uncertainty of the probe [K].

    Returns
    -------
    SettingPoint
        Both points with their uncertainties; `complete` is False while the maximum may still
        move.
    """
    before = (t_s > arrest.onset_s - 2.0 * _SLOPE_S) & (t_s <= arrest.onset_s)
    rate = 0.0
    if int(before.sum()) >= 3:
        rate = max(0.0, -float(np.polyfit(t_s[before], temp_c[before], 1)[0]))
    u_onset = math.sqrt(u_probe_k**2 + (rate * arrest.u_onset_s) ** 2 + U_ONSET_REPEAT_K**2)
    after = t_s >= arrest.onset_s
    times, temps = t_s[after], temp_c[after]
    lowest = _first_minimum(temps)
    highest = lowest + int(temps[lowest:].argmax())
    rise_k = float(temps[highest] - temps[lowest])
    if rise_k >= RECALESCENCE_K:
        near = np.abs(times - times[highest]) <= 0.5 * _SLOPE_S
        plateau_c, spread = float(temps[near].mean()), float(temps[near].std())
        complete = bool(times[-1] > times[highest] + _PAST_MAXIMUM_S)
        point: Point = "maximum of the recalescence"
    else:
        plateau_c, spread, complete = _slowest(times, temps)
        point = "slowest cooling after the onset"
    return SettingPoint(
        onset_c=arrest.onset_c,
        u_onset_k=u_onset,
        plateau_c=plateau_c,
        u_plateau_k=math.hypot(u_probe_k, max(spread, 0.05)),
        point=point,
        rise_k=rise_k,
        cooling_k_per_min=60.0 * rate,
        complete=complete,
    )


def _first_minimum(temps: Array) -> int:
    """Index of the minimum that the first rise follows: before any later cooling."""
    lowest = 0
    for place in range(temps.size):
        if temps[place] < temps[lowest]:
            lowest = place
        elif temps[place] - temps[lowest] >= RECALESCENCE_K:
            break
    return lowest


def _slowest(times: Array, temps: Array) -> tuple[float, float, bool]:
    """Temperature, half its change in the window, and completeness, where cooling is slowest."""
    best: tuple[float, float, float] | None = None
    for place in range(times.size):
        window = (times >= times[place]) & (times < times[place] + _SLOPE_S)
        if times[place] + _SLOPE_S > times[-1] or int(window.sum()) < 6:
            break
        slope = abs(float(np.polyfit(times[window], temps[window], 1)[0]))
        if best is None or slope < best[0]:
            best = (slope, float(temps[window].mean()), float(times[place]))
    if best is None:
        return float(temps[-1]), float(np.ptp(temps)), False
    slope, plateau_c, at_s = best
    return plateau_c, 0.5 * slope * _SLOPE_S, bool(times[-1] > at_s + _SLOPE_S + _PAST_MAXIMUM_S)
