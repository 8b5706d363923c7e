import csv
from pathlib import Path

import pytest

from logger.model.errors import InputError, OutOfRangeError
from logger.science.calcium import salts as calcium

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published"
DIHYDRATE = calcium.SALTS["calcium_chloride_dihydrate"]
HEXAHYDRATE = calcium.SALTS["calcium_chloride_hexahydrate"]
ANHYDROUS = calcium.SALTS["calcium_chloride_anhydrous"]


def density_rows() -> list[tuple[float, float, float]]:
    with (PUBLISHED / "cacl2_density.csv").open() as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return [
            (float(r["temp_c"]), float(r["mass_fraction"]), float(r["density_kg_m3"])) for r in rows
        ]


@pytest.mark.parametrize(("temp_c", "fraction", "expected"), density_rows())
def test_bath_density_agrees_with_a_package_that_carries_the_published_model(
    temp_c, fraction, expected
):
    """Laliberte (2009) through another implementation and another water equation: 0.02 kg/m3."""
    assert calcium.bath_density_kg_m3(fraction, temp_c) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize(("fraction", "expected"), [(0.01, 1006.5), (0.05, 1040.1), (0.10, 1083.5)])
def test_bath_density_agrees_with_handbook_points(fraction, expected):
    """CRC Handbook, concentrative properties of aqueous solutions, 20 degC: from memory, 0.1 %."""
    assert calcium.bath_density_kg_m3(fraction, 20.0) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("salt", "expected"), [(ANHYDROUS, 110.984), (DIHYDRATE, 147.015), (HEXAHYDRATE, 219.076)]
)
def test_molar_masses_follow_the_atomic_weights(salt, expected):
    """CAS registry data of 10043-52-4, 10035-04-8, 7774-34-7; IUPAC weights, 0.01 g/mol."""
    assert salt.molar_mass_g_mol == pytest.approx(expected, abs=0.01)


def test_a_percent_of_dihydrate_is_three_quarters_of_a_percent_of_salt():
    """10 g in 1 kg of solution, by hand: 10/1000 * 110.984/147.015 = 0.7549 %."""
    fraction = calcium.anhydrous_mass_fraction(10, 990, DIHYDRATE)
    assert fraction == pytest.approx(0.007549, rel=1e-3)
    assert calcium.anhydrous_mass_fraction(10, 990, HEXAHYDRATE) == pytest.approx(
        5.066e-3, rel=1e-3
    )


def test_purity_counts():
    half = calcium.anhydrous_mass_fraction(10, 990, DIHYDRATE, purity=0.5)
    assert half == pytest.approx(calcium.anhydrous_mass_fraction(10, 990, DIHYDRATE) / 2)


def test_a_salt_without_its_hydrate_is_refused_and_the_hydrates_are_named():
    with pytest.raises(InputError, match="calcium_chloride_dihydrate"):
        calcium.salt_named("calcium_chloride")


def test_every_salt_is_found_by_its_name():
    for key, salt in calcium.SALTS.items():
        assert calcium.salt_named(key) is salt


def test_a_one_percent_bath_holds_about_ninety_mol_per_cubic_metre():
    """0.01 * 1006.3 / 0.110984 by hand."""
    assert calcium.free_calcium_mol_m3(0.01, 20.0) == pytest.approx(90.67, rel=3e-3)


def test_citrate_in_the_bath_takes_calcium_one_to_one():
    held = calcium.sequestered_calcium_mol_m3("citrate", 0.02, 1000.0)
    assert held == pytest.approx(20.0)
    free = calcium.free_calcium_mol_m3(0.01, 20.0, sequestered_mol_m3=held)
    assert free == pytest.approx(70.67, rel=3e-3)
    assert calcium.free_calcium_mol_m3(0.001, 20.0, sequestered_mol_m3=held) == 0.0


def test_an_unknown_sequestrant_is_refused():
    with pytest.raises(InputError, match="citrate"):
        calcium.sequestered_calcium_mol_m3("citrat", 0.02, 1000.0)


@pytest.mark.parametrize(
    ("salt", "expected_k"), [(ANHYDROUS, 5.4), (DIHYDRATE, 2.2), (HEXAHYDRATE, -0.5)]
)
def test_dissolving_30_g_in_970_g_warms_or_cools_the_bath(salt, expected_k):
    """Enthalpies of solution -81.3, -44.8, +15.8 kJ/mol: from memory; 0.3 K."""
    assert calcium.warming_k(30, 970, salt) == pytest.approx(expected_k, abs=0.3)


def test_a_heat_of_solution_that_is_not_known_is_none():
    assert calcium.warming_k(30, 970, calcium.SALTS["calcium_lactate_pentahydrate"]) is None


@pytest.mark.parametrize(("salt_g", "water_g"), [(-1, 100), (1, 0)])
def test_masses_outside_their_range_are_refused(salt_g, water_g):
    with pytest.raises(OutOfRangeError):
        calcium.anhydrous_mass_fraction(salt_g, water_g, DIHYDRATE)
