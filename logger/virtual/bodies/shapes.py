"""Volume, surface and coat of the virtual rolls.

A roll is a cylinder with round ends; heavier ones are larger in the same shape. Pure.
"""

import math

from logger.virtual.batch.circumstances import DIAMETER_MM, LENGTH_MM

ROLL_G_CM3 = 1.04
COAT_G_CM3 = 1.01


def _volume_cm3(radius_mm: float, length_mm: float) -> float:
    shaft_mm = length_mm - 2.0 * radius_mm
    return 1e-3 * math.pi * radius_mm**2 * (shaft_mm + 4.0 / 3.0 * radius_mm)


def _size_mm(bare_g: float) -> tuple[float, float]:
    """Radius and overall length of a roll of that mass [mm]."""
    usual_g = ROLL_G_CM3 * _volume_cm3(DIAMETER_MM / 2.0, LENGTH_MM)
    scale = (bare_g / usual_g) ** (1.0 / 3.0)
    return scale * DIAMETER_MM / 2.0, scale * LENGTH_MM


def radius_mm(bare_g: float) -> float:
    """Radius of a roll [mm]."""
    return _size_mm(bare_g)[0]


def surface_cm2(bare_g: float) -> float:
    """Surface of a roll [cm2]."""
    radius, length = _size_mm(bare_g)
    return 1e-2 * 2.0 * math.pi * radius * length


def coat_g(bare_g: float, thickness_mm: float) -> float:
    """Mass of an even coat on a roll [g]."""
    radius, length = _size_mm(bare_g)
    outer = _volume_cm3(radius + thickness_mm, length + 2.0 * thickness_mm)
    return COAT_G_CM3 * (outer - _volume_cm3(radius, length))
