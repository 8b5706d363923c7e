"""Seeded cooling runs: what a probe in a vessel left alone would have read, and the truth.

Draws a vessel (size, wall, lid, air, loss exponent), a probe (lag, noise, step) and a limit, lets
the physics of logger.virtual.bodies.vessels run, and keeps when the limit was truly reached and
when the fat truly nucleated. Used by the accuracy tables and the tests.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from logger.virtual.bodies.probe import Probe
from logger.virtual.bodies.vessels import (
    FAT_J_PER_G_K,
    WATER_J_PER_G_K,
    SettingFat,
    Vessel,
    VesselSpec,
)

Array = npt.NDArray[np.float64]
Kind = Literal["newton", "power", "wall", "evaporating", "draughty"]
KINDS: tuple[Kind, ...] = ("newton", "power", "wall", "evaporating", "draughty")
SHARES = (0.15, 0.25, 0.2, 0.2, 0.2)
_DRAUGHT_EVERY_S = 10.0
_STEP_S = 1.0
_LONGEST_S = 6.0 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingRun:
    """Readings of one cooling vessel, with the truth beside them.

    Attributes
    ----------
    t_s : ndarray, shape (n,)
        Times of the readings [s], from the moment the vessel is left alone.
    temp_c : ndarray, shape (n,)
        What the probe shows [degC]: lagging, noisy, rounded.
    true_c : ndarray, shape (n,)
        Temperature of the contents [degC].
    ambient_c, true_ambient_c : float
        Air temperature as measured and as it is [degC].
    lag_s : float
        Time constant of the probe [s].
    step_k : float
        Step of its display [K].
    limit_c : float
        Limit the contents cool towards [degC].
    limit_at_s : float
        When they truly reach it [s]; ``inf`` when they do not within six hours.
    nucleated_s : float or None
        When the fat truly nucleated [s]; None when it never did.
    kind : str
        Which physics made the run.
    """

    t_s: Array
    temp_c: Array
    true_c: Array
    ambient_c: float
    true_ambient_c: float
    lag_s: float
    step_k: float
    limit_c: float
    limit_at_s: float
    nucleated_s: float | None
    kind: Kind


def cooling_run(seed: int, kind: Kind | None = None, *, sets: bool = False) -> CoolingRun:
    """Draw a vessel and a probe, let it cool, and read it.

    Parameters
    ----------
    seed : int
        Seed of everything drawn.
    kind : {"newton", "power", "wall", "evaporating", "draughty"} or None
        Physics of the vessel; None draws it.
    sets : bool
        Whether the fat in it nucleates and sets (then the run goes on past that).

    Returns
    -------
    CoolingRun
        Readings and truth. A run without setting ends when the limit is reached.
    """
    rng = np.random.default_rng(seed)
    drawn: Kind = KINDS[int(rng.choice(len(KINDS), p=SHARES))]
    kind = drawn if kind is None else kind
    ambient_c = float(rng.uniform(16.0, 27.0))
    limit_c = ambient_c + float(rng.uniform(4.0, 20.0))
    start_c = max(limit_c + 12.0, float(rng.uniform(48.0, 78.0)))
    vessel = _vessel(rng, kind, ambient_c, start_c, sets)
    nucleates_c = limit_c - float(rng.uniform(0.5, 2.5))
    if sets:
        fat = SettingFat(
            nucleates_at_c=nucleates_c,
            melts_at_c=nucleates_c + float(rng.uniform(4.0, 9.0)),
            sets_share=float(rng.uniform(0.2, 0.4)),
            latent_j_per_g=float(rng.uniform(85.0, 150.0)),
            growth_s=float(rng.uniform(200.0, 450.0)),
        )
        vessel.spec = replace(vessel.spec, fat=fat)
    draught = _Draught(vessel.spec, rng) if kind == "draughty" else None
    times_s, true_c, limit_at_s = _let_cool(vessel, limit_c, sets, draught)
    lag_s = float(rng.uniform(1.0, 10.0))
    step_k = float(rng.choice((0.01, 0.1, 0.25)))
    noise_k = float(rng.uniform(0.02, 0.15))
    probe = Probe(lag_s=lag_s, noise_k=noise_k, step_k=step_k, seed=seed + 1)
    read_c = [probe.read(float(temp_c), _STEP_S) for temp_c in true_c]
    return CoolingRun(
        t_s=times_s,
        temp_c=np.asarray(read_c),
        true_c=true_c,
        ambient_c=ambient_c + float(rng.normal(0.0, 0.5)),
        true_ambient_c=ambient_c,
        lag_s=lag_s,
        step_k=step_k,
        limit_c=limit_c,
        limit_at_s=limit_at_s,
        nucleated_s=vessel.nucleated_s,
        kind=kind,
    )


def _vessel(
    rng: np.random.Generator, kind: Kind, ambient_c: float, start_c: float, sets: bool
) -> Vessel:
    """Draw a vessel of a kind, filled and hot."""
    content_g = float(np.exp(rng.uniform(np.log(80.0), np.log(900.0))))
    fat_share = float(rng.choice((1.0, 1.0, 0.4)))
    if kind == "evaporating":
        fat_share = 0.4 if sets else 0.0
    fat_g, water_g = content_g * fat_share, content_g * (1.0 - fat_share)
    capacity = fat_g * FAT_J_PER_G_K + water_g * WATER_J_PER_G_K
    area_m2 = 0.0006 * content_g ** (2.0 / 3.0)
    loss_w_per_k = area_m2 * float(rng.uniform(7.0, 14.0))
    exponent = {"newton": 1.0, "power": float(rng.uniform(1.05, 1.33))}.get(
        kind, float(rng.uniform(1.0, 1.25))
    )
    wall_j_per_k = capacity * float(rng.uniform(0.15, 0.8)) if kind == "wall" else 0.0
    wall_time_s = float(rng.uniform(40.0, 240.0))
    spec = VesselSpec(
        ambient_c=ambient_c,
        loss_w_per_k=loss_w_per_k,
        loss_exponent=exponent,
        wall_j_per_k=wall_j_per_k,
        wall_w_per_k=max(wall_j_per_k, 1.0) / wall_time_s,
        open_cm2=1e4 * area_m2 * float(rng.uniform(0.05, 0.35)) if kind == "evaporating" else 0.0,
        humidity=float(rng.uniform(0.3, 0.6)),
    )
    # The wall was warmed in part while the contents were heated in it.
    wall_c = start_c - float(rng.uniform(0.0, 0.5)) * (start_c - ambient_c)
    return Vessel(spec, temp_c=start_c, water_g=water_g, fat_g=fat_g, wall_c=wall_c)


class _Draught:
    """Air that moves: the loss wanders by a tenth or so, the room warms or cools slowly."""

    def __init__(self, spec: VesselSpec, rng: np.random.Generator) -> None:
        self._spec = spec
        self._rng = rng
        self._size = float(rng.uniform(0.02, 0.08))
        self._memory_s = float(rng.uniform(60.0, 600.0))
        self._drift_k_per_s = float(rng.uniform(-1.0, 1.0)) / 3600.0
        self._factor = 0.0

    def spec_at(self, now: VesselSpec, time_s: float) -> VesselSpec:
        """The vessel's place at a time [s], called every 10 s."""
        keep = float(np.exp(-_DRAUGHT_EVERY_S / self._memory_s))
        push = self._size * float(np.sqrt(1.0 - keep**2)) * float(self._rng.standard_normal())
        self._factor = keep * self._factor + push
        return replace(
            now,
            loss_w_per_k=self._spec.loss_w_per_k * (1.0 + self._factor),
            ambient_c=self._spec.ambient_c + self._drift_k_per_s * time_s,
        )


def _let_cool(
    vessel: Vessel, limit_c: float, sets: bool, draught: _Draught | None
) -> tuple[Array, Array, float]:
    """Run a vessel to its limit, or past its setting; times, temperatures, time of the limit."""
    temps = [vessel.temp_c]
    limit_at_s = float("inf")
    while vessel.time_s < _LONGEST_S:
        before_c = temps[-1]
        if draught is not None and len(temps) % round(_DRAUGHT_EVERY_S / _STEP_S) == 0:
            vessel.spec = draught.spec_at(vessel.spec, vessel.time_s)
        temps.append(vessel.step(_STEP_S))
        if np.isinf(limit_at_s) and temps[-1] <= limit_c:
            share = (before_c - limit_c) / (before_c - temps[-1])
            limit_at_s = vessel.time_s - _STEP_S * (1.0 - share)
            if not sets:
                break
        if vessel.nucleated_s is not None and vessel.time_s > vessel.nucleated_s + 900.0:
            break
    times_s = np.linspace(0.0, _STEP_S * (len(temps) - 1), len(temps))
    return times_s, np.asarray(temps), limit_at_s
