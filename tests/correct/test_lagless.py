"""A trace without the probe's lag: only where it pays, and never across a gap."""

import numpy as np
import pytest

from logger.correct.lagless import DECIMALS, sentences, without_lag
from logger.model.rows import DerivedRow

TAU_S = 8.0


def ramp(rate_k_s, u_k=0.05, n=400):
    """A probe of first order on a steady ramp lags by rate x time constant, by hand."""
    t_s = np.arange(n) * 0.5
    true_c = 20.0 + rate_k_s * t_s
    shown_c = true_c - rate_k_s * TAU_S * (1.0 - np.exp(-t_s / TAU_S))
    return true_c, ((t_s * 1e9).astype(np.int64), shown_c, np.full(n, u_k))


def test_a_steady_ramp_gets_its_lag_back():
    true_c, trace = ramp(0.2)
    found = without_lag(*trace, TAU_S)
    settled = slice(100, -40)
    assert found[settled] == pytest.approx(true_c[settled], abs=0.02)
    assert np.max(np.abs(trace[1][settled] - true_c[settled])) > 1.5


def test_where_the_lag_drowns_in_the_uncertainty_nothing_is_shown():
    _, trace = ramp(0.02, u_k=0.3)
    assert np.isnan(without_lag(*trace, TAU_S)).all()


@pytest.mark.parametrize("time_constant_s", [None, 0.0])
def test_without_a_time_constant_nothing_is_shown(time_constant_s):
    assert np.isnan(without_lag(*ramp(0.2)[1], time_constant_s)).all()


def test_a_gap_stays_a_gap():
    true_c, trace = ramp(0.2)
    cut = [np.delete(part, slice(150, 250)) for part in trace]
    found = without_lag(*cut, TAU_S)
    kept_true = np.delete(true_c, slice(150, 250))
    assert np.isnan(found[145:155]).any()
    good = np.isfinite(found)
    good[:100] = good[-40:] = False
    assert found[good] == pytest.approx(kept_true[good], abs=0.05)


def test_it_comes_to_hundredths_so_that_stored_and_worked_out_are_the_same():
    found = without_lag(*ramp(0.2)[1], TAU_S)
    assert np.array_equal(found, np.round(found, DECIMALS), equal_nan=True)


def test_what_is_kept_is_said_with_its_time_constant():
    row = DerivedRow(
        channel="fat", kind="without lag", label="Fat", time_constant_s=3.5, largest_k=1.24
    )
    assert sentences([row]) == [
        "Fat: also saved without the probe's lag (worked out with a time constant of 3.5 s; up to "
        "1.2 K from what it showed)."
    ]
