"""Combining uncertainties, against the examples of the GUM and the package uncertainties."""

import csv
import math
from pathlib import Path

import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st

from logger.model.errors import InputError, OutOfRangeError
from logger.science.metrology.uncertainty import (
    combined_u,
    mean_u,
    resolution_u,
)

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published" / "gum_examples.csv"

with PUBLISHED.open(encoding="utf-8") as lines:
    GUM = {
        row["key"]: float(row["value"])
        for row in csv.DictReader(line for line in lines if not line.startswith("#"))
    }

END_GAUGE_U_NM = [25.0, 9.7, 2.9, 16.6]


def test_the_end_gauge_has_the_uncertainty_of_the_guide():
    """JCGM 100:2008, table H.1: 32 nm (printed rounded)."""
    assert combined_u(END_GAUGE_U_NM) == pytest.approx(GUM["H.1 u_nm"], abs=0.5)


@pytest.mark.parametrize("quantity", ["R", "X", "Z"])
def test_correlated_inputs_reproduce_resistance_and_reactance(quantity: str):
    """JCGM 100:2008, H.2: V, I, phi measured together; tables H.2 and H.3."""
    v, i, phi = 4.9990, 19.6610e-3, 1.04446
    us = [0.0032, 0.0095e-3, 0.00075]
    r = {(0, 1): -0.36, (0, 2): 0.86, (1, 2): -0.65}
    sensitivities = {
        "R": [math.cos(phi) / i, -v * math.cos(phi) / i**2, -v / i * math.sin(phi)],
        "X": [math.sin(phi) / i, -v * math.sin(phi) / i**2, v / i * math.cos(phi)],
        "Z": [1.0 / i, -v / i**2, 0.0],
    }[quantity]
    # the guide prints the correlations to two digits, which moves the third digit of u
    got = combined_u(us, sensitivities, r)
    assert got == pytest.approx(GUM[f"H.2 u_{quantity}_ohm"], rel=0.02)


def test_the_budget_of_a_core_limit():
    """Worked by hand: 0.30, 0.25/sqrt 12, 0.5/sqrt 3, 0.10, 0.3/sqrt 3 give 0.4675."""
    us = [0.30, resolution_u(0.25), 0.5 / math.sqrt(3.0), 0.10, 0.3 / math.sqrt(3.0)]
    assert combined_u(us) == pytest.approx(0.4675, abs=5e-5)


def test_an_uncorrected_class_1_probe_on_a_coarse_converter():
    """Worked by hand: 1.5/sqrt 3, 2/sqrt 3, 0.25/sqrt 12 give 1.445."""
    us = [1.5 / math.sqrt(3.0), 2.0 / math.sqrt(3.0), resolution_u(0.25)]
    assert combined_u(us) == pytest.approx(1.445, abs=5e-4)


def test_steps_and_means():
    """JCGM 100:2008, F.2.2.1 and 4.2.3."""
    assert resolution_u(0.25) == pytest.approx(0.07217, abs=5e-6)
    assert mean_u(0.3, 9) == pytest.approx(0.1)


def test_fully_correlated_equal_errors_cancel_in_a_difference():
    assert combined_u([0.4, 0.4], [1.0, -1.0], {(0, 1): 1.0}) == 0.0
    assert combined_u([0.4, 0.4], [1.0, -1.0]) == pytest.approx(0.4 * math.sqrt(2.0))


@given(
    st.lists(st.tuples(st.floats(1e-3, 10.0), st.floats(-5.0, 5.0)), min_size=2, max_size=2),
    st.floats(-0.99, 0.99),
)
def test_the_package_uncertainties_agrees_on_two_correlated_inputs(
    parts: list[tuple[float, float]], r: float
):
    """Package uncertainties 3.2 (BSD-3), first order with correlations."""
    (ua, ca), (ub, cb) = parts
    a, b = uncertainties.correlated_values_norm([(1.0, ua), (2.0, ub)], [[1.0, r], [r, 1.0]])
    other = (ca * a + cb * b).std_dev if (ca or cb) else 0.0
    got = combined_u([ua, ub], [ca, cb], {(0, 1): r})
    assert got == pytest.approx(other, rel=1e-6, abs=1e-7)


def test_an_unknown_part_makes_the_whole_unknown():
    assert math.isnan(combined_u([math.nan, 0.1]))


def test_what_cannot_be_combined_is_refused():
    with pytest.raises(OutOfRangeError):
        combined_u([-0.1])
    with pytest.raises(OutOfRangeError):
        combined_u([0.1, 0.1], None, {(0, 1): 1.2})
    with pytest.raises(InputError):
        combined_u([0.1, 0.1], None, {(0, 1): 0.2, (1, 0): 0.2})
    with pytest.raises(InputError):
        combined_u([0.1], [1.0, 2.0])
    with pytest.raises(OutOfRangeError):
        resolution_u(-1.0)
    with pytest.raises(OutOfRangeError):
        mean_u(0.1, 0)
