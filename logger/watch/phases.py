"""The two phases of an emulsion as sheet, bench and scale know them: masses, fat, what they mix to.

Pure; used by the watchers of warming and combining.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from logger.model.errors import OutOfRangeError
from logger.model.sheet import EmulsifyStage, Vessel
from logger.science.fats import Fat
from logger.science.mixing import VESSEL_J_G_K, Mixture, Part, mix, needed_temp_c
from logger.science.water import heat_capacity_j_kg_k
from logger.watch.contract import Context

DRY_MATTER_J_G_K = 1.5
"""Specific heat of the dry matter of foods (from memory)."""
U_WATER_CP_J_G_K = 0.1
DEFAULT_ROOM_C, U_DEFAULT_ROOM_K = 21.0, 3.0
U_PLACE_ROOM_K, U_PROBE_ROOM_K = 1.5, 0.7
U_BOWL_K = 3.0
LOSS_W_K, U_LOSS_W_K, LOSS_AT_G = 1.0, 0.4, 500.0
"""Heat an open bowl of half a kilogram loses while it is poured into, evaporation counted in, per
kelvin above the air: typical, unverified; goes with the surface."""
DEFAULT_RATE_G_MIN = 90.0


def main_fat(context: Context) -> tuple[Fat | None, str]:
    """Return the fat that counts, the heaviest that is named, or None and why not."""
    named = [i for i in context.sheet.of_phase("fat") if i.fat is not None]
    if not named:
        return None, "the sheet names no fat: add fat = ... to the ingredient"
    main = max(named, key=lambda i: i.mass_g)
    fat = context.fats.get(main.fat or "")
    if fat is None:
        return None, f"the fat {main.fat!r} is not in the fats file: add it or name another"
    return fat, ""


def phase_g(context: Context, phase: str) -> float:
    """Return the mass of a phase [g]: as weighed in where known, else as on the sheet."""
    weighed = context.batch.weighed_g
    return sum(weighed.get(i.name, i.mass_g) for i in context.sheet.of_phase(phase))


def room_c(context: Context) -> tuple[float, float, str]:
    """Return the air temperature [degC], its standard uncertainty [K] and where it comes from."""
    channel = context.channel_id("room")
    last = context.batch.last.get(channel) if channel is not None else None
    if last is not None and last.value is not None:
        u = last.u if math.isfinite(last.u) else 0.0
        return last.value, math.hypot(u, U_PROBE_ROOM_K), "room probe"
    if context.bench.place.room_c is not None:
        return context.bench.place.room_c, U_PLACE_ROOM_K, "bench file"
    return DEFAULT_ROOM_C, U_DEFAULT_ROOM_K, "taken as 21 °C: no room probe"


def receiving(context: Context) -> str:
    """Return the phase that is poured into: ``"water"`` or ``"fat"``."""
    stage = next((s for s in context.sheet.stage if isinstance(s, EmulsifyStage)), None)
    return "fat" if stage is not None and stage.pour == "water" else "water"


@dataclass(frozen=True, slots=True, kw_only=True)
class Warm:
    """A phase as it stands: temperature [degC], its standard uncertainty [K], set share."""

    temp_c: float
    u_k: float
    solid: float = 0.0


def parts_of(context: Context, fat: Fat | None, fat_now: Warm, water_now: Warm) -> list[Part]:
    """Return what takes part when the phases meet; empty without masses of both.

    The receiving vessel goes with the temperature of what it holds, a bowl apart with its own.
    """
    fat_g, water_g = phase_g(context, "fat"), phase_g(context, "water")
    if fat_g <= 0.0 or water_g <= 0.0:
        return []
    cp = fat.cp_liquid_j_g_k if fat is not None else None
    parts = [
        Part(
            name="fat", mass_g=fat_g, temp_c=fat_now.temp_c, u_temp_k=_known(fat_now.u_k),
            cp_j_g_k=cp.value if cp is not None else 2.05,
            u_cp_j_g_k=cp.u if cp is not None else 0.1,
            fat=fat, solid_share=fat_now.solid,
        ),
        Part(
            name="water phase", mass_g=water_g, temp_c=water_now.temp_c,
            u_temp_k=_known(water_now.u_k), cp_j_g_k=_water_cp(context, water_now.temp_c),
            u_cp_j_g_k=U_WATER_CP_J_G_K,
        ),
    ]  # fmt: skip
    return parts + _vessels(context, fat_now, water_now)


def mixture(
    context: Context, fat: Fat | None, fat_now: Warm, water_now: Warm, correlation: float
) -> Mixture | None:
    """Return what combining now would give, or None where it can't be told."""
    parts = parts_of(context, fat, fat_now, water_now)
    try:
        if not parts:
            return None
        lost_j, u_lost_j = pouring_loss_j(context, water_now.temp_c)
        mixed = mix(parts, loss_j=lost_j, correlation=correlation)
    except OutOfRangeError:
        return None
    u_loss_k = u_lost_j / sum(part.capacity_j_k for part in parts)
    if u_loss_k <= 0.0:
        return mixed
    terms = [*mixed.terms, ("heat lost while pouring", u_loss_k)]
    return replace(
        mixed,
        u_temp_k=math.hypot(mixed.u_temp_k, u_loss_k),
        terms=tuple(sorted(terms, key=lambda term: -term[1])),
    )


def pouring_loss_j(context: Context, about_c: float) -> tuple[float, float]:
    """Return the heat lost to the air while one phase is poured [J] and its standard uncertainty.

    Parameters
    ----------
    about_c : float
        Temperature of what loses it [degC].

    Notes
    -----
    Only where the sheet has a stage of combining: its rate says how long it takes.
    """
    stage = next((s for s in context.sheet.stage if isinstance(s, EmulsifyStage)), None)
    if stage is None:
        return 0.0, 0.0
    band = stage.rate_g_min
    ends = [e for e in (band.low, band.high) if e is not None] if band is not None else []
    rate = sum(ends) / len(ends) if ends else DEFAULT_RATE_G_MIN
    lasts_s = 60.0 * phase_g(context, stage.pour) / rate
    whole_g = phase_g(context, "fat") + phase_g(context, "water")
    size = (whole_g / LOSS_AT_G) ** (2.0 / 3.0)
    excess_k = about_c - room_c(context)[0]
    return LOSS_W_K * size * excess_k * lasts_s, abs(U_LOSS_W_K * size * excess_k * lasts_s)


def needed_water_c(
    context: Context, fat: Fat | None, fat_now: Warm, water_now: Warm, wanted_c: float
) -> float | None:
    """Return what temperature of the water would bring the mixture to ``wanted_c``.

    Parameters
    ----------
    wanted_c : float
        Wanted temperature right after combining [degC].

    Returns
    -------
    float or None
        Temperature [degC]; None where it can't be told or lies outside 0 to 100.

    Notes
    -----
    A vessel that holds the water is warmed with it.
    """
    parts = parts_of(context, fat, fat_now, water_now)
    with_water = [p for p in parts if p.name in ("water phase", "vessel of the water phase")]
    if not with_water:
        return None
    heat = sum(p.capacity_j_k for p in with_water)
    mass = sum(p.mass_g for p in with_water)
    joined = Part(name="water", mass_g=mass, temp_c=water_now.temp_c, cp_j_g_k=heat / mass)
    others = [p for p in parts if p not in with_water]
    try:
        lost_j, _ = pouring_loss_j(context, wanted_c)
        return needed_temp_c([*others, joined], "water", wanted_c, loss_j=lost_j)
    except OutOfRangeError:
        return None


def vessel_j_k(vessel: Vessel) -> float | None:
    """Return the heat capacity of a vessel [J/K], None where the sheet does not say enough."""
    if vessel.heat_capacity_j_k is not None:
        return vessel.heat_capacity_j_k
    if vessel.mass_g is None or vessel.material is None:
        return None
    return vessel.mass_g * VESSEL_J_G_K[vessel.material]


def counts_a_vessel(context: Context) -> bool:
    """Return whether the sheet describes the vessel in which the phases meet."""
    meets = (receiving(context), "bowl")
    return any(v.holds in meets and vessel_j_k(v) is not None for v in context.sheet.vessel)


def _vessels(context: Context, fat_now: Warm, water_now: Warm) -> list[Part]:
    parts = []
    into = receiving(context)
    for vessel in context.sheet.vessel:
        capacity = vessel_j_k(vessel)
        if capacity is None or vessel.holds not in (into, "bowl"):
            continue
        if vessel.holds == "bowl":
            air_c, u_air_k, _ = room_c(context)
            at_c = air_c if vessel.temp_c is None else vessel.temp_c
            name, u_k = f"bowl {vessel.id}", math.hypot(u_air_k, U_BOWL_K)
        else:
            at = water_now if into == "water" else fat_now
            name, at_c, u_k = f"vessel of the {into} phase", at.temp_c, _known(at.u_k)
        parts.append(
            Part(
                name=name, mass_g=vessel.mass_g or 1.0, temp_c=at_c, u_temp_k=u_k,
                cp_j_g_k=capacity / (vessel.mass_g or 1.0),
            )
        )  # fmt: skip
    return parts


def _water_cp(context: Context, temp_c: float) -> float:
    """Specific heat of the water phase [J/(g K)]: water, and dry matter where it is named."""
    cp = heat_capacity_j_kg_k(min(max(temp_c, 0.0), 100.0)) / 1000.0
    phase = context.sheet.of_phase("water")
    wet = sum(i.mass_g for i in phase if i.substance == "water")
    total = sum(i.mass_g for i in phase)
    if wet <= 0.0 or total <= 0.0:  # nothing says what is water: a thin phase is nearly all of it
        return cp
    return (wet * cp + (total - wet) * DRY_MATTER_J_G_K) / total


def _known(u: float) -> float:
    return u if math.isfinite(u) else 0.0
