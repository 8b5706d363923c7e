"""Amounts of a sheet: phases, concentrations, what the salt and the alginate come to.

Pure; numbers from the sheet, and from what was weighed in where that is known. Used by the bath
watcher, the plan, the features and the report.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from logger.model.kinds.set import SetStage
from logger.model.sheet import Ingredient, Sheet
from logger.science.calcium.salts import (
    Salt,
    anhydrous_mass_fraction,
    bath_density_kg_m3,
    free_calcium_mol_m3,
    salt_named,
    sequestered_calcium_mol_m3,
)
from logger.science.gel.alginate import capacity_mol_m3, sol_density_kg_m3
from logger.science.gel.coating import Body
from logger.science.gel.dwell import Unknowns
from logger.science.gel.slabs import SlabTest, folded, unknowns_by

CITRATE_G_MOL = 294.10
"""Trisodium citrate dihydrate, C6H5Na3O7 2 H2O, from IUPAC standard atomic weights."""

Weighed = Mapping[str, float]


def mass_g(ingredient: Ingredient, weighed_g: Weighed | None = None) -> float:
    """Return the mass of an ingredient [g]: as weighed if known, else as on the sheet."""
    return (weighed_g or {}).get(ingredient.name, ingredient.mass_g)


def phase_g(sheet: Sheet, phase: str, weighed_g: Weighed | None = None) -> float:
    """Return the mass of a phase [g].

    Parameters
    ----------
    sheet : Sheet
        Whose ingredients count.
    phase : str
        ``fat``, ``water`` or another of the sheet.
    weighed_g : mapping, optional
        What was weighed in [g] by the ingredient's name; the sheet's mass where it is missing.
    """
    return sum(mass_g(i, weighed_g) for i in sheet.of_phase(phase))


def share_percent(
    sheet: Sheet, phase: str, substance: str, weighed_g: Weighed | None = None
) -> float | None:
    """Return how much of a phase is a substance [% by mass]; None where there is none of it.

    Parameters
    ----------
    sheet : Sheet
        Whose ingredients count.
    phase : str
        The whole.
    substance : str
        What is looked for; purity counts.
    weighed_g : mapping, optional
        What was weighed in [g] by the ingredient's name; the sheet's mass where it is missing.
    """
    parts = [i for i in sheet.of_phase(phase) if i.substance == substance]
    total_g = phase_g(sheet, phase, weighed_g)
    if not parts or total_g <= 0.0:
        return None
    return 100.0 * sum(mass_g(i, weighed_g) * i.purity_percent / 100.0 for i in parts) / total_g


def fat_percent(sheet: Sheet, weighed_g: Weighed | None = None) -> float | None:
    """Return the fat in fat and water phase together [% by mass]; None without both."""
    fat_g, water_g = phase_g(sheet, "fat", weighed_g), phase_g(sheet, "water", weighed_g)
    return 100.0 * fat_g / (fat_g + water_g) if fat_g > 0.0 and water_g > 0.0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class BathAmounts:
    """A calcium bath as the sheet makes it up.

    Attributes
    ----------
    mass_g : float
        Salt and water [g].
    mass_fraction : float
        Anhydrous salt, 0 to 1.
    salt : Salt
        What is in the jar.
    sequestered_mol_m3 : float
        Calcium that citrate in the bath holds [mol/m3].
    """

    mass_g: float
    salt_g: float
    mass_fraction: float
    salt: Salt
    sequestered_mol_m3: float

    def volume_ml(self, temp_c: float) -> float:
        """Return the volume [mL] at a temperature [degC]: mass over density, Laliberte (2009)."""
        return 1e3 * self.mass_g / bath_density_kg_m3(self.mass_fraction, temp_c)

    def free_mol_m3(self, temp_c: float) -> float:
        """Return the free calcium [mol/m3] at a temperature [degC]."""
        return free_calcium_mol_m3(
            self.mass_fraction,
            temp_c,
            anhydrous_g_mol=self.salt.anhydrous_g_mol,
            sequestered_mol_m3=self.sequestered_mol_m3,
        )


def bath_amounts(sheet: Sheet, weighed_g: Weighed | None = None) -> BathAmounts | None:
    """Return the bath of a sheet, or None where it has no calcium salt or no water for it.

    Notes
    -----
    Two different salts in one bath are not covered: the first counts.
    """
    bath = sheet.of_phase("bath")
    salted = next((i for i in bath if i.salt is not None), None)
    if salted is None or salted.salt is None:
        return None
    total_g, salt_g = phase_g(sheet, "bath", weighed_g), mass_g(salted, weighed_g)
    if not total_g - salt_g > 0.0:
        return None
    salt = salt_named(salted.salt)
    citrate_mol_kg = _citrate_mol_kg(sheet, "bath", weighed_g)
    return BathAmounts(
        mass_g=total_g,
        salt_g=salt_g,
        mass_fraction=anhydrous_mass_fraction(
            salt_g, total_g - salt_g, salt, purity=salted.purity_percent / 100.0
        ),
        salt=salt,
        sequestered_mol_m3=sequestered_calcium_mol_m3("citrate", citrate_mol_kg, 1000.0),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CoatAmounts:
    """The alginate dip: mass fraction of alginate, density [kg/m3], capacity [mol/m3]."""

    mass_fraction: float
    density_kg_m3: float
    capacity_mol_m3: float


def coat_amounts(sheet: Sheet, weighed_g: Weighed | None = None) -> CoatAmounts | None:
    """Return the coat of a sheet, or None where it has no alginate."""
    percent = share_percent(sheet, "coat", "alginate", weighed_g)
    if percent is None or not 0.0 < percent <= 10.0:
        return None
    density = sol_density_kg_m3(percent / 100.0)
    citrate_mol_kg = _citrate_mol_kg(sheet, "coat", weighed_g)
    return CoatAmounts(
        mass_fraction=percent / 100.0,
        density_kg_m3=density,
        capacity_mol_m3=capacity_mol_m3(
            percent / 100.0,
            density,
            sequestrant_mol_m3=sequestered_calcium_mol_m3("citrate", citrate_mol_kg, density),
        ),
    )


def alginate_of(sheet: Sheet) -> str | None:
    """Return the name of the alginate in the coat; None without one, or with several in one."""
    names = [i.name for i in sheet.of_phase("coat") if i.substance == "alginate"]
    return names[0] if len(names) == 1 else None


def slab_for(sheet: Sheet, slabs: Mapping[str, SlabTest]) -> SlabTest | None:
    """Return the slab test of the sheet's alginate, by its name; None where there is none."""
    name = alginate_of(sheet)
    return None if name is None else slabs.get(folded(name))


def unknowns_for(sheet: Sheet, slabs: Mapping[str, SlabTest]) -> Unknowns:
    """Return what is not known of the sheet's coats: less of it, the more was measured.

    Parameters
    ----------
    sheet : Sheet
        Whose alginate, and whose coats as they were cut and measured.
    slabs : mapping
        Slab tests by folded name of the alginate.
    """
    known = unknowns_by(slab_for(sheet, slabs))
    measured = (getattr(stage, "thickest", None) for stage in sheet.stage)
    thickest = max((found for found in measured if found is not None), default=None)
    return known if thickest is None else replace(known, thickness_high=thickest)


def body_of(sheet: Sheet) -> Body | None:
    """Return the shape of the pieces from the first stage that gives one."""
    for stage in sheet.stage:
        piece = getattr(stage, "piece", None)
        if piece is not None:
            return Body(
                shape=piece.body, diameter_mm=piece.diameter_mm, length_mm=piece.length_mm or 0.0
            )
    return None


def pieces_of(sheet: Sheet) -> int | None:
    """Return how many pieces the sheet makes."""
    counts = [getattr(stage, "pieces", None) for stage in sheet.stage]
    known = [c for c in counts if c]
    return known[0] if known else None


def set_stage_of(sheet: Sheet) -> SetStage | None:
    """Return the stage in the calcium bath."""
    return next((s for s in sheet.stage if isinstance(s, SetStage)), None)


def _citrate_mol_kg(sheet: Sheet, phase: str, weighed_g: Weighed | None) -> float:
    percent = share_percent(sheet, phase, "citrate", weighed_g)
    return 0.0 if percent is None else percent / 100.0 / (CITRATE_G_MOL * 1e-3)
