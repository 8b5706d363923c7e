"""The plunge test on synthetic probes of known time constant."""

import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.heat.plunge import fit_plunge


@pytest.mark.parametrize("tau", [0.8, 3.0, 8.0])
@pytest.mark.parametrize(("start", "end"), [(22.0, 92.0), (90.0, 0.3)])
def test_a_plunge_gives_the_time_constant_within_its_uncertainty(
    tau: float, start: float, end: float
):
    """Synthetic plunge, 10 Hz, noise 0.05 K, 0.1 K steps."""
    rng = np.random.default_rng(7)
    t = np.arange(0.0, 5.0 + 8 * tau, 0.1)
    curve = np.where(t < 4.0, start, end + (start - end) * np.exp(-(t - 4.0) / tau))
    shown = np.round((curve + rng.normal(0.0, 0.05, t.size)) / 0.1) * 0.1
    found = fit_plunge(t, shown)
    assert found.time_constant_s == pytest.approx(tau, rel=0.01)
    assert abs(found.time_constant_s - tau) < 4.0 * found.u_time_constant_s
    assert found.start_c == pytest.approx(start, abs=0.1)
    assert found.end_c == pytest.approx(end, abs=0.1)
    assert found.plunge_s == pytest.approx(4.0, abs=0.05)
    assert found.rms_k < 0.1


def test_a_probe_of_two_parts_shows_in_the_misfit():
    t = np.arange(0.0, 60.0, 0.1)
    since = np.maximum(t - 4.0, 0.0)
    shown = 92.0 - 70.0 * (0.6 * np.exp(-since / 1.0) + 0.4 * np.exp(-since / 8.0))
    assert fit_plunge(t, shown).rms_k > 1.0


def test_a_plunge_that_says_nothing_is_refused():
    t = np.arange(0.0, 20.0, 0.1)
    with pytest.raises(OutOfRangeError, match="step of the plunge"):
        fit_plunge(t, np.full(t.size, 22.0))
    with pytest.raises(OutOfRangeError, match="readings in the plunge"):
        fit_plunge(t[:5], t[:5])
    with pytest.raises(OutOfRangeError, match="time after the plunge"):
        fit_plunge(t, 92.0 - 70.0 * np.exp(-np.maximum(t - 4.0, 0.0) / 30.0))
