"""Balance limits against OIML R 76."""

import math

import numpy as np
import pytest

from logger.model.errors import InputError, OutOfRangeError
from logger.science.metrology.balance import max_permissible_error_g


@pytest.mark.parametrize(
    ("oiml_class", "load_g", "interval_g", "wanted_g"),
    [
        ("II", 400.0, 0.1, 0.05),
        ("II", 500.0, 0.1, 0.05),
        ("II", 600.0, 0.1, 0.1),
        ("III", 500.0, 1.0, 0.5),
        ("III", 501.0, 1.0, 1.0),
        ("III", 2000.0, 1.0, 1.0),
        ("III", 2001.0, 1.0, 1.5),
        ("III", 10_000.0, 1.0, 1.5),
        ("I", 50.0, 0.001, 0.0005),
        ("I", 200.0, 0.001, 0.001),
        ("I", 300.0, 0.001, 0.0015),
        ("IIII", 50.0, 1.0, 0.5),
        ("IIII", 200.0, 1.0, 1.0),
        ("IIII", 1000.0, 1.0, 1.5),
    ],
)
def test_the_limit_of_initial_verification(
    oiml_class: str, load_g: float, interval_g: float, wanted_g: float
):
    """OIML R 76-1:2006, table 6."""
    got = max_permissible_error_g(oiml_class, load_g, interval_g)
    assert got == pytest.approx(wanted_g, rel=1e-12)
    doubled = max_permissible_error_g(oiml_class, load_g, interval_g, in_service=True)
    assert doubled == pytest.approx(2.0 * wanted_g, rel=1e-12)
    assert max_permissible_error_g(oiml_class, np.array([load_g]), interval_g).tolist() == [got]


def test_a_negative_load_has_the_limit_of_its_size():
    assert max_permissible_error_g("III", -600.0, 1.0) == 1.0


def test_what_no_balance_can_be_is_refused():
    with pytest.raises(OutOfRangeError, match="at most 10000 g"):
        max_permissible_error_g("III", 10_001.0, 1.0)
    beyond = max_permissible_error_g("III", np.array([10_001.0, math.nan, 1.0]), 1.0)
    assert np.isnan(beyond).tolist() == [True, True, False]
    with pytest.raises(OutOfRangeError):
        max_permissible_error_g("III", 10.0, 0.0)
    with pytest.raises(InputError, match="I, II, III, IIII"):
        max_permissible_error_g("V", 10.0, 1.0)


@pytest.mark.parametrize(
    ("oiml_class", "half", "whole"),
    [("I", 50_000, 200_000), ("II", 5_000, 20_000), ("III", 500, 2_000), ("IIII", 50, 200)],
)
def test_one_interval_more_than_a_step_of_the_table_has_the_next_limit(oiml_class, half, whole):
    """OIML R 76-1:2006, table 6, with e = 1 g."""
    loads = (half, half + 1, whole, whole + 1)
    found = [max_permissible_error_g(oiml_class, float(load), 1.0) for load in loads]
    assert found == [0.5, 1.0, 1.0, 1.5]
