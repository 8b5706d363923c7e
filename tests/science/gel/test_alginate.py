import pytest

from logger.model.errors import OutOfRangeError
from logger.science.gel import alginate


def test_the_mass_of_uronic_acid_follows_the_formula():
    """JECFA and E 400 monographs: theoretical equivalent weight 176.13; 0.01."""
    assert pytest.approx(176.13, abs=0.01) == alginate.URONIC_ACID_G_MOL


@pytest.mark.parametrize(("uronate_g_mol", "expected"), [(198.11, 38.16), (222.0, 34.05)])
def test_capacity_of_a_one_and_a_half_percent_coat(uronate_g_mol, expected):
    """0.015 * 1008 * 0.5 / M by hand."""
    capacity = alginate.capacity_mol_m3(0.015, 1008.0, uronate_g_mol=uronate_g_mol)
    assert capacity == pytest.approx(expected, rel=1e-3)


def test_citrate_in_the_coat_adds_to_its_demand():
    plain = alginate.capacity_mol_m3(0.015, 1008.0)
    assert alginate.capacity_mol_m3(0.015, 1008.0, sequestrant_mol_m3=10.0) == plain + 10.0


def test_two_percent_sol_is_a_percent_heavier_than_water():
    """1008 to 1010 kg/m3 at 20 degC: from memory."""
    assert 1006 < alginate.sol_density_kg_m3(0.02, 20.0) < 1011


@pytest.mark.parametrize("fraction", [0.0, -0.01, 0.2])
def test_a_coat_without_alginate_is_refused(fraction):
    with pytest.raises(OutOfRangeError):
        alginate.capacity_mol_m3(fraction, 1008.0)
