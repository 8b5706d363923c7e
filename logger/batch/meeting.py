"""Two phases meet: what takes part, what the air takes meanwhile, where the temperature lands.

Pure; one way for the prediction while warming (logger.batch.phases), the plan and the review, so
that they give one number for the same masses and temperatures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from logger.model.errors import OutOfRangeError
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.sheet import Sheet, Vessel
from logger.science.fats.fats import Fat
from logger.science.fats.mixing import (
    VESSEL_J_G_K,
    Mixture,
    Part,
    largest_first,
    mix,
    needed_temp_c,
)
from logger.science.heat.pouring import pouring_loss_j
from logger.science.heat.water import heat_capacity_j_kg_k

DRY_MATTER_J_G_K = 1.5
"""Specific heat of the dry matter of foods (from memory)."""
U_WATER_CP_J_G_K = 0.1
FAT_J_G_K, U_FAT_J_G_K = 2.05, 0.1
"""Specific heat of a melted fat that is not named: typical, unverified."""
U_BOWL_K = 3.0
DEFAULT_RATE_G_MIN = 90.0
WATER = "water phase"
VESSEL_OF_WATER = "vessel of the water phase"


@dataclass(frozen=True, slots=True, kw_only=True)
class Warm:
    """A phase as it stands: temperature [degC], its standard uncertainty [K], set share."""

    temp_c: float
    u_k: float
    solid: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """What meets, and where.

    Attributes
    ----------
    sheet : Sheet
        Ingredients, vessels, how it is poured.
    fat : Fat or None
        The fat that counts; None is one that is not known.
    fat_g, water_g : float
        Masses of the phases [g], as weighed where that is known.
    air_c, u_air_k : float
        Air temperature [degC] and its standard uncertainty [K].
    """

    sheet: Sheet
    fat: Fat | None
    fat_g: float
    water_g: float
    air_c: float
    u_air_k: float


def receiving(sheet: Sheet) -> str:
    """Return the phase that is poured into: ``"water"`` or ``"fat"``."""
    stage = _combining(sheet)
    return "fat" if stage is not None and stage.pour == "water" else "water"


def parts_of(meeting: Meeting, fat_now: Warm, water_now: Warm) -> list[Part]:
    """Return what takes part when the phases meet; empty without masses of both.

    The receiving vessel goes with the temperature of what it holds, a bowl apart with its own.

    Parameters
    ----------
    meeting : Meeting
        What meets.
    fat_now, water_now : Warm
        Both phases right before.
    """
    if meeting.fat_g <= 0.0 or meeting.water_g <= 0.0:
        return []
    fat = meeting.fat
    cp = fat.cp_liquid_j_g_k if fat is not None else None
    parts = [
        Part(
            name="fat",
            mass_g=meeting.fat_g,
            temp_c=fat_now.temp_c,
            u_temp_k=fat_now.u_k,
            cp_j_g_k=cp.value if cp is not None else FAT_J_G_K,
            u_cp_j_g_k=cp.u if cp is not None else U_FAT_J_G_K,
            fat=fat,
            solid_share=fat_now.solid,
        ),
        Part(
            name=WATER,
            mass_g=meeting.water_g,
            temp_c=water_now.temp_c,
            u_temp_k=water_now.u_k,
            cp_j_g_k=_water_cp(meeting.sheet, water_now.temp_c),
            u_cp_j_g_k=U_WATER_CP_J_G_K,
        ),
    ]
    return parts + _vessels(meeting, fat_now, water_now)


def mixture(
    meeting: Meeting, fat_now: Warm, water_now: Warm, correlation: float = 0.0
) -> Mixture | None:
    """Return what combining gives, the heat lost while pouring taken off.

    Parameters
    ----------
    meeting : Meeting
        What meets.
    fat_now, water_now : Warm
        Both phases right before.
    correlation : float
        Correlation of the errors of the temperatures [1], 0 to 1.

    Returns
    -------
    Mixture or None
        None where it can't be told: a mass is missing, a temperature is beyond reason.
    """
    parts = parts_of(meeting, fat_now, water_now)
    try:
        if not parts:
            return None
        lost_j, u_lost_j = loss_j(meeting, water_now.temp_c)
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
        terms=tuple(sorted(terms, key=largest_first)),
    )


def loss_j(meeting: Meeting, about_c: float) -> tuple[float, float]:
    """Return the heat lost to the air while one phase is poured [J] and its standard uncertainty.

    Parameters
    ----------
    meeting : Meeting
        What meets.
    about_c : float
        Temperature of what loses it [degC].

    Notes
    -----
    Only where the sheet has a stage of combining: its rate says how long it takes.
    """
    stage = _combining(meeting.sheet)
    if stage is None:
        return 0.0, 0.0
    band = stage.rate_g_min
    ends = [e for e in (band.low, band.high) if e is not None] if band is not None else []
    rate_g_min = sum(ends) / len(ends) if ends else DEFAULT_RATE_G_MIN
    poured_g = meeting.fat_g if stage.pour == "fat" else meeting.water_g
    fat = meeting.fat
    fat_j_g_k = FAT_J_G_K if fat is None else fat.cp_liquid_j_g_k.value
    water_j_g_k = _water_cp(meeting.sheet, about_c)
    return pouring_loss_j(
        poured_g,
        rate_g_min,
        meeting.fat_g + meeting.water_g,
        about_c - meeting.air_c,
        meeting.fat_g * fat_j_g_k + meeting.water_g * water_j_g_k,
    )


def needed_water_c(
    meeting: Meeting, fat_now: Warm, water_now: Warm, wanted_c: float
) -> float | None:
    """Return what temperature of the water would bring the mixture to ``wanted_c``.

    Parameters
    ----------
    meeting : Meeting
        What meets.
    fat_now, water_now : Warm
        Both phases; of the water's temperature only its specific heat depends.
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
    parts = parts_of(meeting, fat_now, water_now)
    with_water = [p for p in parts if p.name in (WATER, VESSEL_OF_WATER)]
    if not with_water:
        return None
    heat = sum(p.capacity_j_k for p in with_water)
    mass = sum(p.mass_g for p in with_water)
    joined = Part(name="water", mass_g=mass, temp_c=water_now.temp_c, cp_j_g_k=heat / mass)
    others = [p for p in parts if p not in with_water]
    try:
        lost_j, _ = loss_j(meeting, wanted_c)
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


def counts_a_vessel(sheet: Sheet) -> bool:
    """Return whether the sheet describes the vessel in which the phases meet."""
    meets = (receiving(sheet), "bowl")
    return any(v.holds in meets and vessel_j_k(v) is not None for v in sheet.vessel)


def _combining(sheet: Sheet) -> EmulsifyStage | None:
    return next((s for s in sheet.stage if isinstance(s, EmulsifyStage)), None)


def _vessels(meeting: Meeting, fat_now: Warm, water_now: Warm) -> list[Part]:
    parts = []
    into = receiving(meeting.sheet)
    for vessel in meeting.sheet.vessel:
        capacity = vessel_j_k(vessel)
        if capacity is None or vessel.holds not in (into, "bowl"):
            continue
        if vessel.holds == "bowl":
            at_c = meeting.air_c if vessel.temp_c is None else vessel.temp_c
            name, u_k = f"bowl {vessel.id}", math.hypot(meeting.u_air_k, U_BOWL_K)
        else:
            at = water_now if into == "water" else fat_now
            name, at_c, u_k = f"vessel of the {into} phase", at.temp_c, at.u_k
        parts.append(
            Part(
                name=name,
                mass_g=vessel.mass_g or 1.0,
                temp_c=at_c,
                u_temp_k=u_k,
                cp_j_g_k=capacity / (vessel.mass_g or 1.0),
            )
        )
    return parts


def _water_cp(sheet: Sheet, temp_c: float) -> float:
    """Specific heat of the water phase [J/(g K)]: water, and dry matter where it is named."""
    cp = heat_capacity_j_kg_k(min(max(temp_c, 0.0), 100.0)) / 1000.0
    phase = sheet.of_phase("water")
    wet = sum(i.mass_g for i in phase if i.substance == "water")
    total = sum(i.mass_g for i in phase)
    if wet <= 0.0 or total <= 0.0:  # nothing says what is water: a thin phase is nearly all of it
        return cp
    return (wet * cp + (total - wet) * DRY_MATTER_J_G_K) / total
