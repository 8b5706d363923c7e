"""The law of the front against bisection, conductivities and the fluidity of water."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erf

from logger.model.errors import OutOfRangeError
from logger.science.gel import gelfront


def test_the_root_agrees_with_bisection_over_seven_decades():
    for stefan in np.logspace(-4, 3, 60):

        def equation(root, stefan=stefan):
            return math.sqrt(math.pi) * root * math.exp(root**2) * erf(root) - stefan

        assert float(gelfront.neumann_root(stefan)) == pytest.approx(
            brentq(equation, 1e-9, 5.0, xtol=1e-14), rel=1e-9
        )


def test_default_diffusivity_lies_between_the_ion_and_the_salt_in_water():
    """Nernst: D = RT lambda / (z**2 F**2) with the limiting conductivity of calcium, 2 x 59.47
    S cm2/mol (CRC Handbook): 0.792e-9; of the salt, Nernst-Hartley, 1.335e-9 m2/s."""
    gas, temp_k, faraday = 8.314462618, 298.15, 96485.33212
    ion = gas * temp_k * 0.005947 / (2 * faraday**2)
    assert ion == pytest.approx(0.792e-9, rel=2e-3)
    assert 0.6 * ion < gelfront.D25_LOW_M2_S <= ion
    assert ion <= gelfront.D25_M2_S <= gelfront.D25_HIGH_M2_S <= 1.335e-9


def test_salt_diffuses_a_quarter_faster_at_35_than_at_25():
    """Published salt diffusion scales about 1.25 over this range; from fluidity, 3 %."""
    ratio = gelfront.calcium_diffusivity_m2_s(35.0) / gelfront.calcium_diffusivity_m2_s(25.0)
    assert float(ratio) == pytest.approx(1.25, rel=0.03)


@pytest.mark.parametrize(
    ("temp_c", "expected"), [(5.0, 0.549), (12.0, 0.691), (20.0, 0.874), (30.0, 1.135)]
)
def test_diffusivity_follows_the_viscosity_of_water(temp_c, expected):
    """Stokes-Einstein with the CRC Handbook's viscosity equation, worked apart; 0.5 %."""
    ratio = float(gelfront.calcium_diffusivity_m2_s(temp_c)) / gelfront.D25_M2_S
    assert ratio == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("temp_c", [-0.1, 60.1])
def test_ice_and_steam_are_no_bath(temp_c):
    assert np.isfinite(gelfront.calcium_diffusivity_m2_s([0.0, 60.0])).all()
    with pytest.raises(OutOfRangeError, match="bath temperature"):
        gelfront.calcium_diffusivity_m2_s([20.0, temp_c])


@pytest.mark.parametrize("stefan", [0.0, -1.0, math.nan])
def test_a_root_of_nonsense_is_refused(stefan):
    with pytest.raises(OutOfRangeError):
        gelfront.neumann_root(stefan)
