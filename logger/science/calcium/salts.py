"""How much free calcium a bath holds, and what each piece takes from it.

Pure functions of numbers. Masses come from the sheet or the scale under the bath; the free calcium
goes to logger.science.gel.gelling. Nothing here knows about time.

References
----------
Laliberte, M. (2009). A model for calculating the heat capacity of aqueous solutions, with updated
density and viscosity data. J. Chem. Eng. Data 54(6), 1725-1760. doi:10.1021/je8008123.
"""

import math
from dataclasses import dataclass
from difflib import get_close_matches

from logger.model.errors import InputError, OutOfRangeError
from logger.science.heat.water import density_kg_m3

CALCIUM_G_MOL = 40.078  # IUPAC standard atomic weights, abridged
CHLORINE_G_MOL = 35.453  # IUPAC 1999 to 2007 value; the interval since 2009 is 35.446 to 35.457
WATER_G_MOL = 2 * 1.008 + 15.999
CACL2_G_MOL = CALCIUM_G_MOL + 2 * CHLORINE_G_MOL

CAUTION = (
    "Calcium chloride warms the water as it dissolves and stings skin and eyes: wear eye "
    "protection and gloves, salt into water in portions, never water onto salt. Rinse the pan "
    "after: chloride corrodes steel."
)
WAIT_FOR_TEMPERATURE = "Fresh bath: wait until its temperature is steady before you time a dwell."

# Laliberte (2009), density parameters c0 to c4 of calcium chloride; fitted for 15 to 126.7 degC and
# mass fractions up to 0.5132. The digits are those of the table shipped with the MIT-licensed
# package `chemicals` 1.5.2 (Electrolytes/Laliberte2009.tsv).
_LALIBERTE_CACL2 = (
    -9.72893747074295,
    14.7005352975276,
    4.19033341468332,
    0.0397403624277021,
    2708.12778894614,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Salt:
    """A calcium salt as it lies in the jar, its water of crystallisation included.

    Parameters
    ----------
    key : str
        The name a sheet uses.
    molar_mass_g_mol : float
        With its crystal water [g/mol].
    anhydrous_g_mol : float
        Without it [g/mol].
    solution_kj_mol : float or None
        Heat of solution, negative when it warms [kJ/mol]; None when not known.
    fully_free : bool
        Whether practically all its calcium is free in a dilute bath. When not, the free calcium
        given here is an upper bound and a set time a lower one.
    """

    key: str
    molar_mass_g_mol: float
    anhydrous_g_mol: float
    solution_kj_mol: float | None
    fully_free: bool = True

    @property
    def anhydrous_share(self) -> float:
        """Mass of anhydrous salt in a gram of this hydrate, 0 to 1."""
        return self.anhydrous_g_mol / self.molar_mass_g_mol


_LACTATE_G_MOL = 218.218  # C6H10CaO6, from IUPAC weights
_GLUCONATE_G_MOL = 430.373  # C12H22CaO14, from IUPAC weights

SALTS: dict[str, Salt] = {
    salt.key: salt
    for salt in (
        # Heats of solution at infinite dilution: from memory.
        Salt(
            key="calcium_chloride_anhydrous",
            molar_mass_g_mol=CACL2_G_MOL,
            anhydrous_g_mol=CACL2_G_MOL,
            solution_kj_mol=-81.3,
        ),
        Salt(
            key="calcium_chloride_dihydrate",
            molar_mass_g_mol=CACL2_G_MOL + 2 * WATER_G_MOL,
            anhydrous_g_mol=CACL2_G_MOL,
            solution_kj_mol=-44.8,
        ),
        Salt(
            key="calcium_chloride_hexahydrate",
            molar_mass_g_mol=CACL2_G_MOL + 6 * WATER_G_MOL,
            anhydrous_g_mol=CACL2_G_MOL,
            solution_kj_mol=15.8,
        ),
        Salt(
            key="calcium_lactate_pentahydrate",
            molar_mass_g_mol=_LACTATE_G_MOL + 5 * WATER_G_MOL,
            anhydrous_g_mol=_LACTATE_G_MOL,
            solution_kj_mol=None,
            fully_free=False,
        ),
        Salt(
            key="calcium_gluconate_monohydrate",
            molar_mass_g_mol=_GLUCONATE_G_MOL + WATER_G_MOL,
            anhydrous_g_mol=_GLUCONATE_G_MOL,
            solution_kj_mol=None,
            fully_free=False,
        ),
    )
}


def salt_named(key: str) -> Salt:
    """Look a salt up by the name a sheet uses; the hydrate is part of the name.

    Raises
    ------
    InputError
        If there is no such salt, or its water of crystallisation is not given.
    """
    if key in SALTS:
        return SALTS[key]
    hydrates = [name for name in SALTS if name.startswith(key)] or get_close_matches(key, SALTS)
    wanted = "name the hydrate, one of " + ", ".join(hydrates or SALTS)
    raise InputError("salt", f"'{key}' does not say which salt and how much crystal water", wanted)


def anhydrous_mass_fraction(
    salt_g: float, water_g: float, salt: Salt, *, purity: float = 1.0
) -> float:
    """Mass fraction of anhydrous salt in a bath mixed from a jar and a tap.

    Parameters
    ----------
    salt_g, water_g : float
        What was weighed in [g], salt 0 or more, water above 0.
    salt : Salt
        What the jar holds.
    purity : float
        Share of the jar's mass that is this hydrate [g/g], above 0 up to 1; the rest counts as
        inert.

    Returns
    -------
    float
        g of anhydrous salt per g of bath, 0 to 1.

    Raises
    ------
    OutOfRangeError
        If a mass or the purity is outside its range.
    """
    _require("salt [g]", salt_g, salt_g >= 0, "0 or more")
    _require("water [g]", water_g, water_g > 0, "more than 0")
    _require("purity", purity, 0 < purity <= 1, "more than 0, at most 1")
    return salt_g * purity * salt.anhydrous_share / (salt_g + water_g)


def bath_density_kg_m3(mass_fraction: float, temp_c: float) -> float:
    """Density of a calcium chloride solution [kg/m3].

    Parameters
    ----------
    mass_fraction : float
        Anhydrous calcium chloride [g/g], 0 to 0.51.
    temp_c : float
        Temperature [degC], 0 to 100; below 15 the correlation is extrapolated.

    Raises
    ------
    OutOfRangeError
        If the solution lies outside the correlation.

    References
    ----------
    Laliberte (2009), see the module; with the IAPWS density of water instead of Kell's, 0.004 kg/m3
    away.
    """
    _require(
        "calcium chloride mass fraction", mass_fraction, 0 <= mass_fraction <= 0.5132, "0-0.51"
    )
    _require("bath temperature [degC]", temp_c, 0 <= temp_c <= 100, "0 to 100")
    c0, c1, c2, c3, c4 = _LALIBERTE_CACL2
    w = mass_fraction
    apparent = (c0 * w + c1) * math.exp(1e-6 * (temp_c + c4) ** 2) / (w + c2 + c3 * temp_c)
    return 1.0 / ((1 - w) / density_kg_m3(temp_c) + w / apparent)


def free_calcium_mol_m3(
    mass_fraction: float,
    temp_c: float,
    *,
    anhydrous_g_mol: float = CACL2_G_MOL,
    sequestered_mol_m3: float = 0.0,
) -> float:
    """Calcium in a bath that alginate can still bind [mol/m3], never below 0.

    Parameters
    ----------
    mass_fraction : float
        Anhydrous salt [g/g], 0 to 0.51.
    temp_c : float
        Temperature [degC].
    anhydrous_g_mol : float
        Molar mass of the anhydrous salt [g/mol].
    sequestered_mol_m3 : float
        Calcium held by citrate or phosphate in the bath [mol/m3].

    Raises
    ------
    OutOfRangeError
        If the solution lies outside the correlation, or `sequestered_mol_m3` is negative.

    Notes
    -----
    The density of calcium chloride is used for every salt; at bath strengths that errs by less than
    1 %. All calcium counts as free: see `Salt.fully_free`.
    """
    _require("sequestered [mol/m3]", sequestered_mol_m3, sequestered_mol_m3 >= 0, "0 or more")
    density = bath_density_kg_m3(mass_fraction, temp_c)
    return max(0.0, mass_fraction * density / (anhydrous_g_mol * 1e-3) - sequestered_mol_m3)


# Calcium held by one mole of additive in mol, order of magnitude. Citrate about 1:1 with log K
# 3.2 to 3.6, phosphates 1 and more: from memory.
CALCIUM_PER_SEQUESTRANT: dict[str, float] = {"citrate": 1.0, "phosphate": 1.0, "diphosphate": 1.5}


def sequestered_calcium_mol_m3(kind: str, amount_mol_kg: float, liquid_kg_m3: float) -> float:
    """Calcium that an additive holds back [mol/m3]: from the bath, or extra demand of a coat.

    Parameters
    ----------
    kind : str
        ``citrate``, ``phosphate`` or ``diphosphate``.
    amount_mol_kg : float
        Additive per kg of liquid [mol/kg], 0 or more.
    liquid_kg_m3 : float
        Density of that liquid [kg/m3].

    Raises
    ------
    InputError
        If the additive is not known.
    """
    if kind not in CALCIUM_PER_SEQUESTRANT:
        known = ", ".join(CALCIUM_PER_SEQUESTRANT)
        raise InputError("sequestrant", f"'{kind}' is not known", f"use one of {known}")
    _require("additive [mol/kg]", amount_mol_kg, amount_mol_kg >= 0, "0 or more")
    return CALCIUM_PER_SEQUESTRANT[kind] * amount_mol_kg * liquid_kg_m3


def warming_k(salt_g: float, water_g: float, salt: Salt) -> float | None:
    """How much a bath warms while the salt dissolves, no heat lost [K].

    Parameters
    ----------
    salt_g, water_g : float
        What is weighed in [g], salt 0 or more, water above 0.
    salt : Salt
        What the jar holds.

    Returns
    -------
    float or None
        Negative when it cools; None when the salt's heat of solution is not known.

    Raises
    ------
    OutOfRangeError
        If a mass is outside its range.

    Notes
    -----
    Heat capacity of the solution taken as 4.18 kJ/(kg K) less 1 % for each percent of salt, which
    holds up to some 10 %: from memory.
    """
    _require("salt [g]", salt_g, salt_g >= 0, "0 or more")
    _require("water [g]", water_g, water_g > 0, "more than 0")
    if salt.solution_kj_mol is None:
        return None
    heat_kj = -salt.solution_kj_mol * salt_g / salt.molar_mass_g_mol
    total_kg = (salt_g + water_g) * 1e-3
    heat_capacity = 4.18 * (1 - anhydrous_mass_fraction(salt_g, water_g, salt))
    return heat_kj / (total_kg * heat_capacity)


def _require(name: str, value: float, holds: bool, wanted: str) -> None:
    if not holds:
        raise OutOfRangeError(name, value, wanted)
