"""How much a coat weighs says how thick it is.

Pure functions of numbers; used by the plan and the coat watcher. Geometry only: the density comes
from logger.science.gel.alginate.

References
----------
Schneider, R. (2014). Convex Bodies: The Brunn-Minkowski Theory, 2nd ed., section 4.2, the Steiner
formula: the volume between a convex body and its parallel body at distance h is
S h + M h**2 + (4 pi/3) h**3, with surface S and integral of mean curvature M.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from logger.model.errors import OutOfRangeError

Shape = Literal["cylinder", "sphere", "patty"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A bare piece: a cylinder with round ends, a sphere or a patty (a disc).

    Parameters
    ----------
    shape : {"cylinder", "sphere", "patty"}
        What it looks like.
    diameter_mm : float
        Diameter [mm], above 0.
    length_mm : float
        Overall length of a cylinder, round ends included, or thickness of a patty [mm]. Unused for
        a sphere.

    Raises
    ------
    OutOfRangeError
        If a dimension is not positive, or a cylinder is shorter than its own ends.
    """

    shape: Shape
    diameter_mm: float
    length_mm: float = 0.0

    def __post_init__(self) -> None:
        if not self.diameter_mm > 0:
            raise OutOfRangeError("diameter [mm]", self.diameter_mm, "more than 0")
        if self.shape == "cylinder" and not self.length_mm >= self.diameter_mm:
            raise OutOfRangeError(
                "length [mm]", self.length_mm, f"at least the diameter, {self.diameter_mm:g}"
            )
        if self.shape == "patty" and not self.length_mm > 0:
            raise OutOfRangeError("thickness [mm]", self.length_mm, "more than 0")

    @property
    def radius_mm(self) -> float:
        """Half the diameter [mm]."""
        return self.diameter_mm / 2


def volume_mm3(body: Body) -> float:
    """Volume of the bare body [mm3]."""
    radius = body.radius_mm
    if body.shape == "sphere":
        return 4 / 3 * math.pi * radius**3
    if body.shape == "cylinder":
        return math.pi * radius**2 * (body.length_mm - 2 * radius) + 4 / 3 * math.pi * radius**3
    return math.pi * radius**2 * body.length_mm


def surface_mm2(body: Body) -> float:
    """Surface of the bare body [mm2]."""
    radius = body.radius_mm
    if body.shape == "sphere":
        return 4 * math.pi * radius**2
    if body.shape == "cylinder":
        return 2 * math.pi * radius * body.length_mm
    return 2 * math.pi * radius**2 + 2 * math.pi * radius * body.length_mm


def coat_volume_mm3(thickness_mm: float, body: Body) -> float:
    """Volume of an even coat, exact for the three shapes [mm3].

    Parameters
    ----------
    thickness_mm : float
        Measured normal to the surface [mm], 0 or more. The rim of a patty comes out rounded.
    body : Body
        Bare body.

    Raises
    ------
    OutOfRangeError
        If the thickness is negative.
    """
    if thickness_mm < 0:
        raise OutOfRangeError("coat thickness [mm]", thickness_mm, "0 or more")
    h = thickness_mm
    return surface_mm2(body) * h + _mean_curvature_mm(body) * h**2 + 4 / 3 * math.pi * h**3


def coat_mass_g(thickness_mm: float, body: Body, density_kg_m3: float) -> float:
    """Mass of an even coat of a given thickness [g].

    Parameters
    ----------
    thickness_mm : float
        Measured normal to the surface [mm], 0 or more.
    body : Body
        Bare body.
    density_kg_m3 : float
        Density of the wet coat [kg/m3], above 0.

    Raises
    ------
    OutOfRangeError
        If the thickness is negative or the density not above 0.
    """
    if density_kg_m3 <= 0:
        raise OutOfRangeError("coat density [kg/m3]", density_kg_m3, "more than 0")
    return coat_volume_mm3(thickness_mm, body) * density_kg_m3 * 1e-6


def coat_thickness_mm(mass_g: float, body: Body, density_kg_m3: float) -> float:
    """Thickness of an even coat of a given mass.

    Parameters
    ----------
    mass_g : float
        Mass picked up in the dip [g], above 0.
    body : Body
        Bare body.
    density_kg_m3 : float
        Density of the wet coat [kg/m3], above 0.

    Returns
    -------
    float
        Thickness [mm], measured normal to the surface.

    Raises
    ------
    OutOfRangeError
        If the mass is not positive, or the coat would be thicker than the body's radius.
    """
    if not mass_g > 0:
        raise OutOfRangeError(
            "coat mass [g]", mass_g, "more than 0: weigh before and after the dip"
        )
    most_g = coat_mass_g(body.radius_mm, body, density_kg_m3)
    if mass_g > most_g:
        raise OutOfRangeError(
            "coat mass [g]", mass_g, f"at most {most_g:.3g}, a coat as thick as the body's radius"
        )

    # Here, because it takes a tenth of a second that every command would pay at its start.
    from scipy.optimize import brentq

    def excess(thickness_mm: float) -> float:
        return coat_mass_g(thickness_mm, body, density_kg_m3) - mass_g

    return float(brentq(excess, 0.0, body.radius_mm * (1 + 1e-9), xtol=1e-9))


def u_coat_thickness_mm(mass_g: float, u_mass_g: float, body: Body, density_kg_m3: float) -> float:
    """Standard uncertainty of the mean thickness from that of the coat's mass [mm].

    Parameters
    ----------
    mass_g, u_mass_g : float
        Mass of the coat and its standard uncertainty [g].
    body : Body
        Bare body.
    density_kg_m3 : float
        Density of the wet coat [kg/m3], above 0.
    """
    h = coat_thickness_mm(mass_g, body, density_kg_m3)
    slope = surface_mm2(body) + 2 * _mean_curvature_mm(body) * h + 4 * math.pi * h**2
    return u_mass_g / (slope * density_kg_m3 * 1e-6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How alike the pieces of a batch are; sd is None below two values."""

    count: int
    mean: float
    sd: float | None
    low: float
    high: float

    @property
    def relative(self) -> float | None:
        """Standard deviation over mean."""
        return None if self.sd is None else self.sd / self.mean


def spread(values: Sequence[float]) -> Spread:
    """Mean, standard deviation and extremes of a batch, in the unit that came in.

    Raises
    ------
    OutOfRangeError
        If there is no value.
    """
    if len(values) == 0:
        raise OutOfRangeError("number of pieces", 0, "at least 1")
    array = np.asarray(values, dtype=float)
    return Spread(
        count=array.size,
        mean=float(array.mean()),
        sd=float(array.std(ddof=1)) if array.size > 1 else None,
        low=float(array.min()),
        high=float(array.max()),
    )


def _mean_curvature_mm(body: Body) -> float:
    radius = body.radius_mm
    if body.shape == "sphere":
        return 4 * math.pi * radius
    if body.shape == "cylinder":
        return math.pi * (body.length_mm - 2 * radius) + 4 * math.pi * radius
    return math.pi * body.length_mm + math.pi**2 * radius
