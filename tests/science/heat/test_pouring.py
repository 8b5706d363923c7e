"""Heat lost while pouring: by surface, by time, by kelvin; refused beyond reason."""

import pytest

from logger.model.errors import OutOfRangeError
from logger.science.heat.pouring import pouring_loss_j


def test_half_a_kilogram_loses_a_watt_per_kelvin_while_it_is_poured():
    """180 g at 90 g/min take 120 s: 1.0 +- 0.4 W/K (typical, unverified), 30 K, 3600 +- 1440 J; as
    it cools by 2 K on the way, 3.5 and 7 % less."""
    loss_j, u_j = pouring_loss_j(180.0, 90.0, 500.0, 30.0, 1700.0)
    assert (loss_j, u_j) == (pytest.approx(3600.0, rel=0.04), pytest.approx(1440.0, rel=0.08))
    assert pouring_loss_j(180.0, 90.0, 500.0, 30.0, 1e9)[0] == pytest.approx(3600.0)


def test_however_long_it_is_poured_it_comes_no_further_than_to_the_air():
    """Newton's law of cooling, worked out by small steps."""
    loss_j, u_j = pouring_loss_j(180_000.0, 105.0, 180_400.0, 30.0, 370_000.0)
    assert loss_j == pytest.approx(30.0 * 370_000.0, rel=1e-6)
    assert u_j < 1e-5 * loss_j
    temp_k, size, step_s = 30.0, 4.0 ** (2.0 / 3.0), 0.5
    for _ in range(2400):
        temp_k -= size * temp_k / 6000.0 * step_s
    loss_j, _ = pouring_loss_j(1800.0, 90.0, 2000.0, 30.0, 6000.0)
    assert loss_j == pytest.approx((30.0 - temp_k) * 6000.0, rel=2e-3)


def test_the_loss_goes_with_the_surface_and_changes_its_sign_with_the_air():
    """Eight times the mass at one shape has four times the surface."""
    small, _ = pouring_loss_j(100.0, 100.0, 250.0, 20.0, 1e9)
    large, _ = pouring_loss_j(100.0, 100.0, 2000.0, 20.0, 1e9)
    assert large / small == pytest.approx(4.0)
    cold, u_cold = pouring_loss_j(100.0, 100.0, 250.0, -20.0, 1e9)
    assert cold == -small
    assert u_cold > 0.0
    assert pouring_loss_j(0.0, 100.0, 250.0, 20.0, 1e3) == (0.0, 0.0)


@pytest.mark.parametrize("given", [(-1.0, 90.0, 500.0), (1.0, 0.0, 500.0), (1.0, 90.0, 0.0)])
def test_what_cannot_be_is_refused(given):
    with pytest.raises(OutOfRangeError):
        pouring_loss_j(*given, 30.0, 1e3)
