"""The fit of a slab test gives back the diffusivity that the readings were made with."""

import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.gel import gelfront, slabfit


def test_a_slab_calibration_finds_the_diffusivity_it_was_made_with():
    stefan, d12 = 2.4, float(gelfront.calcium_diffusivity_m2_s(12.0, d25_m2_s=0.8e-9))
    times = np.array([60.0, 120.0, 300.0, 600.0])
    root = float(gelfront.neumann_root(stefan))
    read = 2e3 * root * np.sqrt(d12 * (times - 8.0)) + np.array([0.01, -0.01, 0.01, -0.005])
    found = slabfit.fit_slab(times, read, stefan, 12.0)
    assert found.d25_m2_s == pytest.approx(0.8e-9, abs=3 * found.u_d25_m2_s)
    assert found.u_d25_m2_s < 0.1e-9
    assert found.delay_s == pytest.approx(8.0, abs=8.0)


def test_a_slab_with_two_readings_is_refused():
    with pytest.raises(OutOfRangeError, match="at least 3"):
        slabfit.fit_slab([60, 120], [0.5, 0.7], 2.4, 20.0)
