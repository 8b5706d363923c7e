"""Cooling vessels of a second kind, written apart from those that the estimator was tuned on.

Heat leaves by natural convection, by radiation and, where it is open, by evaporation; the room
swings slowly; the probe reads once in five seconds. No code of logger.virtual is used.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

EVERY_S = 5.0
SIGMA_W_M2_K4 = 5.670374419e-8
"""Stefan-Boltzmann constant, CODATA 2018."""


class Cooled(NamedTuple):
    """One curve: block means as the bench has them, and when the limit is truly reached."""

    t_s: Array
    temp_c: Array
    air_c: float
    limit_c: float
    limit_at_s: float


def cooled(seed: int) -> Cooled:
    """Draw a vessel and let it cool to its limit.

    Notes
    -----
    Natural convection of a vertical wall, Nu = 0.59 Ra^0.25, is about 1.42 (dT / L)^0.25 W/m2/K in
    air (Incropera and DeWitt, simplified; from memory). Evaporation by the Lewis relation with a
    Magnus saturation pressure.
    """
    rng = np.random.default_rng(900_000 + seed)
    mass_g = float(np.exp(rng.uniform(np.log(100.0), np.log(1500.0))))
    heat_j_k = mass_g * float(rng.choice([2.0, 2.0, 3.2, 4.19]))
    size_m = (mass_g * 1e-6) ** (1.0 / 3.0)
    area_m2 = 5.5 * size_m**2 * float(rng.uniform(0.8, 1.3))
    emits = float(rng.choice([0.1, 0.6, 0.9]))
    open_m2 = size_m**2 * float(rng.choice([0.0, 0.0, 0.15, 0.4]))
    damp = float(rng.uniform(0.35, 0.6))
    glass_j_k = heat_j_k * float(rng.uniform(0.03, 0.35))
    glass_w_k = area_m2 * float(rng.uniform(60.0, 200.0))
    air_c = float(rng.uniform(17.0, 27.0))
    swing_k, period_s, phase = rng.uniform(0.0, 0.7), rng.uniform(900.0, 5400.0), rng.uniform(0, 6)
    breeze, breeze_s = rng.uniform(0.0, 0.06), rng.uniform(40.0, 400.0)
    limit_c = air_c + float(rng.uniform(5.0, 22.0))
    temp_c = limit_c + float(rng.uniform(12.0, 40.0))
    glass_c = temp_c - float(rng.uniform(0.0, 0.4)) * (temp_c - air_c)
    noise_k, step_k = float(rng.uniform(0.01, 0.08)), float(rng.choice([0.01, 0.1, 0.25]))
    gust, read, times, dt_s = 0.0, [], [], 1.0
    now_s, block, reached_s = 0.0, [], float("inf")
    while now_s < 6.0 * 3600.0:
        gust += -gust * dt_s / breeze_s + breeze * np.sqrt(2.0 * dt_s / breeze_s) * rng.normal()
        room_c = air_c + swing_k * np.sin(2.0 * np.pi * now_s / period_s + phase)
        over_k = max(glass_c - room_c, 0.0)
        film_w = 1.42 * (max(over_k, 0.1) / size_m) ** 0.25 * area_m2 * over_k
        shines_w = emits * SIGMA_W_M2_K4 * area_m2
        shines_w *= (glass_c + 273.15) ** 4 - (room_c + 273.15) ** 4
        wet_w = open_m2 * 0.0162 * 6.0 * max(_vapour_pa(temp_c) - damp * _vapour_pa(room_c), 0.0)
        passes_w = glass_w_k * (temp_c - glass_c)
        glass_c += (passes_w - (1.0 + gust) * film_w - shines_w) * dt_s / glass_j_k
        before_c = temp_c
        temp_c -= (passes_w + (1.0 + gust) * wet_w) * dt_s / heat_j_k
        now_s += dt_s
        if temp_c <= limit_c:
            reached_s = now_s - dt_s * (limit_c - temp_c) / (before_c - temp_c)
            break
        block.append(round((temp_c + noise_k * rng.normal()) / step_k) * step_k)
        if len(block) == round(EVERY_S / dt_s):
            times.append(now_s - 0.5 * EVERY_S + 0.5 * dt_s)
            read.append(float(np.mean(block)))
            block = []
    measured_c = air_c + float(rng.normal(0.0, 0.4))
    return Cooled(np.array(times), np.array(read), measured_c, limit_c, reached_s)


def _vapour_pa(temp_c: float) -> float:
    return float(611.2 * np.exp(17.62 * temp_c / (243.12 + temp_c)))
