"""The pan, the bowl and the bath tray of the virtual bench, filled for a batch.

Pure: circumstances in, vessels out. Losses and wall capacities are those of small steel vessels on
a kitchen bench (common practice, no source).
"""

from dataclasses import replace

from logger.virtual.batch.circumstances import Circumstances
from logger.virtual.bodies.vessels import SettingFat, Vessel, VesselSpec

_FATS = {
    "cocoa_butter": SettingFat(
        nucleates_at_c=26.0, melts_at_c=34.0, sets_share=0.6, latent_j_per_g=157.0
    ),
    "coconut_oil": SettingFat(
        nucleates_at_c=18.5, melts_at_c=25.0, sets_share=0.6, latent_j_per_g=107.0
    ),
}
"""How each fat sets in bulk."""
_DROPS_SET_BELOW_MELTING_K = 1.5
"""Droplets on the stirred, cooler wall of the bowl hardly supercool."""


def fat_pan(batch: Circumstances) -> Vessel:
    """Return the pan with the fat: a cold block, or for the short batch melted already."""
    fat = _FATS[batch.fat]
    start_c = min(44.0, batch.fat_set_c) if batch.short else batch.room_c
    spec = VesselSpec(
        ambient_c=batch.room_c,
        loss_w_per_k=0.45,
        wall_j_per_k=150.0,
        wall_w_per_k=2.0,
        fat=fat,
    )
    return Vessel(
        spec,
        temp_c=start_c,
        fat_g=batch.fat_g,
        wall_c=start_c,
        solid=fat.sets_share if start_c < fat.melts_at_c else 0.0,
    )


def mixing_bowl(batch: Circumstances) -> Vessel:
    """Return the bowl with the water phase, into which the fat is poured."""
    fat = _FATS[batch.fat]
    start_c = min(38.0, batch.water_set_c) if batch.short else batch.room_c
    spec = VesselSpec(
        ambient_c=batch.room_c,
        loss_w_per_k=0.8,
        wall_j_per_k=200.0,
        wall_w_per_k=6.0,
        open_cm2=150.0,
        fat=replace(fat, nucleates_at_c=fat.melts_at_c - _DROPS_SET_BELOW_MELTING_K),
    )
    return Vessel(spec, temp_c=start_c, water_g=batch.water_g, wall_c=start_c)


def bath_tray(batch: Circumstances) -> Vessel:
    """Return the calcium bath; its salt counts as water."""
    spec = VesselSpec(ambient_c=batch.room_c, loss_w_per_k=1.1)
    return Vessel(spec, temp_c=batch.bath_c, water_g=batch.bath_g)


def hotplate_w(vessel: Vessel, wanted_c: float, most_w: float) -> float:
    """Heat that a cook's hand on the dial gives [W]: all of it until near, then less.

    Parameters
    ----------
    vessel : Vessel
        What stands on it.
    wanted_c : float
        Temperature the cook wants [degC].
    most_w : float
        Most the plate gives [W].
    """
    holding = vessel.spec.loss_w_per_k * (wanted_c - vessel.spec.ambient_c)
    return min(most_w, max(0.0, 30.0 * (wanted_c - vessel.temp_c) + holding))
