import pytest

from logger.model.errors import OutOfRangeError
from logger.science.submerged import hung_step_g, sheath_step_g


def test_a_hung_piece_adds_the_water_it_displaces():
    """Archimedes: 80 g of 1030 kg/m3 in 1008 kg/m3 is 80 * 1008/1030 = 78.29 g, by hand."""
    assert hung_step_g(80.0, 1030.0, 1008.0) == pytest.approx(78.29, abs=0.01)


def test_a_piece_as_dense_as_the_bath_adds_its_mass():
    assert hung_step_g(80.0, 1008.0, 1008.0) == pytest.approx(80.0)


@pytest.mark.parametrize(("diameter_mm", "expected_g"), [(3.0, 0.7), (6.0, 2.8)])
def test_ten_centimetres_of_probe_add_their_volume(diameter_mm, expected_g):
    assert sheath_step_g(diameter_mm, 100.0) == pytest.approx(expected_g, abs=0.05)


def test_a_body_without_density_is_refused():
    with pytest.raises(OutOfRangeError):
        hung_step_g(80.0, 0.0, 1008.0)
