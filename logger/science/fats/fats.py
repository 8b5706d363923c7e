"""What is known of each fat: two limits, solid fat content, heat and density, with sources.

Pure functions of numbers; the fats that are known come from logger.science.fats.fatfile. Used by
mixing, emulsion and the watchers of warm phases.

Two limits per fat, because one number is wrong for both questions: *all melted above* and *bulk
starts setting below*. Both are of the bulk in a vessel; droplets supercool far below them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

UNVERIFIED = "typical, unverified"
GENERIC_DENSITY_SLOPE = -0.41757
"""Change of the density of fat [kg/m3 per K]: Choi and Okos (1986), from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """One number with its standard uncertainty and its source."""

    value: float
    u: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fat:
    """One fat.

    Attributes
    ----------
    key, name : str
        Key in the file and the name a person reads.
    all_melted_above_c : Datum
        Above this it is wholly melted [degC].
    sets_below_c : Datum
        Below this the melted bulk may start to set at bench rates [degC].
    cp_liquid_j_g_k : Datum
        Specific heat of the melted fat [J/(g K)].
    latent_j_g : Datum
        Heat given off when all of it sets [J/g].
    density_kg_m3 : Datum
        Density of the melted fat at `density_at_c` [kg/m3].
    density_at_c : float
        Temperature of that density [degC].
    solid_at_c, solid_percent : tuple of float
        Solid fat content: temperatures [degC], rising, and values [%], falling to 0.
    u_solid_percent : float
        Standard uncertainty of a solid fat content [percentage points].
    solid_source : str
        Where the solid fat content comes from.
    """

    key: str
    name: str
    all_melted_above_c: Datum
    sets_below_c: Datum
    cp_liquid_j_g_k: Datum
    latent_j_g: Datum
    density_kg_m3: Datum
    density_at_c: float
    solid_at_c: tuple[float, ...]
    solid_percent: tuple[float, ...]
    u_solid_percent: float
    solid_source: str

    def solid_share(self, temp_c: float) -> float:
        """Solid share [g/g] at rest at a temperature [degC]; straight lines between the points.

        Above `all_melted_above_c` it is 0 whatever the table says; below the coldest point it
        stays at that point's value.
        """
        if temp_c >= self.all_melted_above_c.value:
            return 0.0
        return float(np.interp(temp_c, self.solid_at_c, self.solid_percent)) / 100.0

    def density_at(self, temp_c: float) -> float:
        """Density of the melted fat [kg/m3] at a temperature [degC]."""
        return self.density_kg_m3.value + GENERIC_DENSITY_SLOPE * (temp_c - self.density_at_c)


def generic_cp_j_g_k(temp_c: float) -> float:
    """Specific heat of a fat of which nothing else is known.

    Parameters
    ----------
    temp_c : float
        Temperature [degC].

    Returns
    -------
    float
        Specific heat [J/(g K)].

    References
    ----------
    Choi, Y. and Okos, M. R. (1986), "Effects of temperature and composition on the thermal
    properties of foods", Food Engineering and Process Applications 1, 93-101 (from memory).
    """
    return 1.9842 + 1.4733e-3 * temp_c - 4.8008e-6 * temp_c**2


def generic_density_kg_m3(temp_c: float) -> float:
    """Density of a fat of which nothing else is known [kg/m3]; source as `generic_cp_j_g_k`."""
    return 925.59 + GENERIC_DENSITY_SLOPE * temp_c


def fat_of_limits(key: str, name: str, melted: Datum, sets: Datum) -> Fat:
    """Build a fat from its two limits; the rest is generic and says so.

    Parameters
    ----------
    key, name : str
        As sheets name it, and as people read it.
    melted, sets : Datum
        All melted above, and bulk starts setting below [degC].
    """
    melted_c, sets_c = melted.value, sets.value
    return Fat(
        key=key,
        name=name,
        all_melted_above_c=melted,
        sets_below_c=sets,
        cp_liquid_j_g_k=Datum(
            value=generic_cp_j_g_k(50.0), u=0.1, source=f"{UNVERIFIED}: generic fat"
        ),
        latent_j_g=Datum(value=115.0, u=25.0, source=f"{UNVERIFIED}: generic fat"),
        density_kg_m3=Datum(
            value=generic_density_kg_m3(50.0), u=10.0, source=f"{UNVERIFIED}: generic fat"
        ),
        density_at_c=50.0,
        solid_at_c=(sets_c - 10.0, sets_c, melted_c),
        solid_percent=(80.0, 40.0, 0.0),
        u_solid_percent=15.0,
        solid_source=f"{UNVERIFIED}: generic fat",
    )


def with_measured_limits(
    fat: Fat | None, *, key: str, name: str, sets_below_c: Datum, melted_above_c: Datum | None
) -> Fat:
    """Give a fat the setting limit that was measured on it, keeping what else is known.

    Parameters
    ----------
    fat : Fat or None
        What was known of it; None for a new fat, which gets generic values.
    key, name : str
        Key in the file and name.
    sets_below_c : Datum
        Measured onset of setting [degC].
    melted_above_c : Datum or None
        Measured or given upper limit [degC]; None keeps that of `fat`, or is estimated 12 K above
        the onset and marked as unverified.
    """
    if fat is None:
        guess = Datum(
            value=sets_below_c.value + 12.0,
            u=5.0,
            source=f"{UNVERIFIED}: 12 K above the measured onset",
        )
        return fat_of_limits(key, name, melted_above_c or guess, sets_below_c)
    return replace(
        fat,
        key=key,
        name=name,
        sets_below_c=sets_below_c,
        all_melted_above_c=melted_above_c or fat.all_melted_above_c,
    )
