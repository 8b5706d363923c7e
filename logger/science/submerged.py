"""What a scale under a bath reads when something hangs in it or lies in it.

Pure functions of numbers. Archimedes: the bath pushes the body up, the body pushes the bath down.
"""

import math

from logger.model.errors import OutOfRangeError


def hung_step_g(mass_g: float, density_kg_m3: float, bath_density_kg_m3: float) -> float:
    """Rise of the reading when a piece hangs wholly in the bath [g].

    Parameters
    ----------
    mass_g : float
        Mass of the piece [g], above 0.
    density_kg_m3, bath_density_kg_m3 : float
        Of the piece and of the liquid [kg/m3], above 0.

    Returns
    -------
    float
        Mass of the displaced liquid [g]. Once released and sunk, or floating, the reading rises by
        `mass_g` instead.
    """
    if min(mass_g, density_kg_m3, bath_density_kg_m3) <= 0:
        least = min(mass_g, density_kg_m3, bath_density_kg_m3)
        raise OutOfRangeError("mass or density", least, "more than 0")
    return mass_g * bath_density_kg_m3 / density_kg_m3


def sheath_step_g(diameter_mm: float, depth_mm: float, bath_density_kg_m3: float = 1000.0) -> float:
    """Rise of the reading when a probe or hook is dipped this deep [g]."""
    volume_mm3 = math.pi / 4 * diameter_mm**2 * depth_mm
    return volume_mm3 * 1e-6 * bath_density_kg_m3
