"""How crowded an emulsion is: fat by mass to droplets by volume, and when to say so.

Pure functions of numbers; used by logger.watch.stages.emulsify.watcher and the plan. The two marks
are notices, not stops: real droplets differ in size and give way, and a good emulsifier holds an
oil-in-water emulsion above both.
"""

from __future__ import annotations

import math

from logger.model.errors import OutOfRangeError

RANDOM_PACKING = 0.64
"""Random close packing of equal spheres, 0.64 +- 0.02: Berryman, J. G. (1983), "Random close
packing of hard spheres and disks", Physical Review A 27, 1053, DOI 10.1103/PhysRevA.27.1053."""

HEXAGONAL_PACKING = math.pi / (3.0 * math.sqrt(2.0))
"""Densest packing of equal spheres, 0.7405: Hales, T. C. (2005), "A proof of the Kepler
conjecture", Annals of Mathematics 162, 1065-1185, DOI 10.4007/annals.2005.162.1065."""


def volume_fraction(mass_fraction: float, fat_kg_m3: float, water_kg_m3: float) -> float:
    """Volume fraction of the fat from its mass fraction.

    Parameters
    ----------
    mass_fraction : float
        Fat in the whole by mass [g/g], 0 to 1.
    fat_kg_m3, water_kg_m3 : float
        Densities of the phases at the working temperature [kg/m3], above 0.

    Returns
    -------
    float
        Volume fraction, 0 to 1 (volumes add up).

    Raises
    ------
    OutOfRangeError
        If the mass fraction is outside 0 to 1 or a density is not positive.
    """
    if not 0.0 <= mass_fraction <= 1.0:
        raise OutOfRangeError("fat mass fraction", mass_fraction, "0 to 1")
    for name, density in (("fat density", fat_kg_m3), ("water density", water_kg_m3)):
        if not density > 0.0:
            raise OutOfRangeError(f"{name} [kg/m3]", density, "a number above 0")
    fat, water = mass_fraction / fat_kg_m3, (1.0 - mass_fraction) / water_kg_m3
    return fat / (fat + water)


def packing_notice(phi: float) -> str:
    """A notice in words when the droplets are crowded, else the empty string.

    Parameters
    ----------
    phi : float
        Volume fraction of fat [1], 0 to 1.
    """
    if phi >= HEXAGONAL_PACKING:
        return (
            f"Fat fills {phi:.2f} of the volume: above 0.74, where even the densest packing of "
            "equal spheres ends, droplets must press flat. It thickens fast and needs a good "
            "emulsifier. For information."
        )
    if phi >= RANDOM_PACKING:
        return (
            f"Fat fills {phi:.2f} of the volume: above 0.64, where equal spheres packed at random "
            "jam, it gets stiff. For information."
        )
    return ""
