"""How fast the core of a piece of food can change at most.

Pure functions of numbers; used by logger.watch.sensors.plausible. Conduction only: whatever heats
or chills the surface, the core follows no faster than the slowest mode of the body allows.
"""

import math

from logger.science.gel.coating import Body

COLDEST_C, HOTTEST_C = -40.0, 250.0
"""Surroundings of food in a kitchen, from a blast freezer to an oven or a pan [degC]; common
practice, no source."""
THINNEST = Body(shape="cylinder", diameter_mm=25.0, length_mm=100.0)
"""Piece taken where the sheet gives none: a slender sausage; common practice, no source."""
DIFFUSIVITY_M2_S = 1.6e-7
"""Thermal diffusivity of water at 60 degC [m2/s], above that of foods: from memory."""
ICE_FACTOR = 8.0
"""Frozen food conducts heat so much faster than food that is not; from memory (ice 1.2e-6 m2/s)."""
MARGIN = 1.5
"""For a probe that is not quite in the middle, or runs along a hot or cold way; no source."""

_EIGENVALUE = {"sphere": math.pi**2, "cylinder": 2.404825557695773**2, "patty": math.pi**2 / 4}


def time_constant_s(body: Body) -> float:
    """Time constant of the core of a body whose surface is held at one temperature [s].

    Parameters
    ----------
    body : Body
        The bare piece.

    References
    ----------
    Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed. (1959): the slowest mode of a sphere
    (9.3), of a long cylinder (7.6, first zero of J0) and of a slab (3.3) decays with
    exp(-b alpha t / r2), b = pi2, 5.7832 and pi2 / 4.

    Notes
    -----
    A patty is taken as a slab of its thickness, or as a cylinder where that is slimmer.
    """
    radius_m = body.radius_mm * 1e-3
    shape = body.shape
    if shape == "patty" and body.length_mm <= body.diameter_mm:
        radius_m = body.length_mm * 0.5e-3
    elif shape == "patty":
        shape = "cylinder"
    return radius_m**2 / (_EIGENVALUE[shape] * DIFFUSIVITY_M2_S)


def fastest_per_s(body: Body | None) -> float:
    """Largest rate of the core as a share of its distance from what surrounds it [1/s].

    Parameters
    ----------
    body : Body or None
        The bare piece; None takes `THINNEST`.
    """
    return MARGIN / time_constant_s(body if body is not None else THINNEST)
