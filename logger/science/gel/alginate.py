"""How much calcium an alginate coat can bind.

Pure functions of numbers, used by logger.science.gel.gelling and the coat watcher.
"""

from logger.model.errors import OutOfRangeError
from logger.science.heat.water import density_kg_m3

_CARBON, _HYDROGEN, _OXYGEN = 12.011, 1.008, 15.999  # IUPAC
URONIC_ACID_G_MOL = 6 * _CARBON + 8 * _HYDROGEN + 6 * _OXYGEN

CALCIUM_PER_URONATE = 0.5  # all charge satisfied: the long, careful side


def sol_density_kg_m3(mass_fraction: float, temp_c: float = 20.0) -> float:
    """Density of sodium alginate in water [kg/m3].

    Parameters
    ----------
    mass_fraction : float
        Alginate powder [g/g], above 0 up to 0.1.
    temp_c : float
        Temperature [degC].

    Raises
    ------
    OutOfRangeError
        If the mass fraction is outside its range.

    Notes
    -----
    Water plus 5 kg/m3 for each percent: from memory; 1 % off in density is 1 % in thickness.
    """
    _require_sol(mass_fraction)
    return density_kg_m3(temp_c) + 500.0 * mass_fraction


def capacity_mol_m3(
    mass_fraction: float,
    sol_kg_m3: float,
    *,
    uronate_g_mol: float = 198.11,
    calcium_per_uronate: float = CALCIUM_PER_URONATE,
    sequestrant_mol_m3: float = 0.0,
) -> float:
    """Calcium that a volume of coat takes before it is set [mol/m3].

    Parameters
    ----------
    mass_fraction : float
        Alginate powder in the coat [g/g], above 0 up to 0.1.
    sol_kg_m3 : float
        Density of the coat [kg/m3].
    uronate_g_mol : float
        Mass of powder per mole of uronate [g/mol]; the default is dry sodium alginate. The actual
        average with the powder's moisture is 222 (JECFA): 11 % less capacity.
    calcium_per_uronate : float
        Calcium bound per uronate [mol/mol], above 0 up to 0.5.
    sequestrant_mol_m3 : float
        Calcium that citrate or phosphate in the coat takes first [mol/m3].

    Raises
    ------
    OutOfRangeError
        If an argument is outside its range.
    """
    _require_sol(mass_fraction)
    if not 0 < calcium_per_uronate <= 0.5:
        raise OutOfRangeError(
            "calcium per uronate", calcium_per_uronate, "more than 0, at most 0.5"
        )
    if uronate_g_mol < URONIC_ACID_G_MOL:
        raise OutOfRangeError("uronate mass [g/mol]", uronate_g_mol, f"{URONIC_ACID_G_MOL:.0f} up")
    if sequestrant_mol_m3 < 0:
        raise OutOfRangeError("sequestrant demand [mol/m3]", sequestrant_mol_m3, "0 or more")
    uronate_mol_m3 = mass_fraction * sol_kg_m3 / (uronate_g_mol * 1e-3)
    return uronate_mol_m3 * calcium_per_uronate + sequestrant_mol_m3


def _require_sol(mass_fraction: float) -> None:
    if not 0 < mass_fraction <= 0.1:
        raise OutOfRangeError("alginate mass fraction", mass_fraction, "more than 0, at most 0.1")
