"""The ITS-90 functions against the printed tables of NIST SRD 60 and a second implementation."""

import csv
import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import thermocouple_its90
from numpy.typing import NDArray

from logger.model.errors import InputError, OutOfRangeError
from logger.science.metrology.its90 import (
    emf_mv,
    temperature_c,
)
from logger.science.metrology.its90_curve import TYPES, by_piece, curve_of

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published" / "nist_srd60_its90.csv"
HALF_DIGIT_MV = 0.0005 + 1e-9
POINTS = {"B": 1821, "E": 1271, "J": 1411, "K": 1643, "N": 1571, "R": 1819, "S": 1819, "T": 671}


@cache
def table() -> dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]]:
    with PUBLISHED.open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    return {
        tc: (
            np.array([float(r["temp_c"]) for r in rows if r["type"] == tc]),
            np.array([float(r["emf_mv"]) for r in rows if r["type"] == tc]),
        )
        for tc in TYPES
    }


def range_c(tc_type: str) -> tuple[float, float]:
    pieces = curve_of(tc_type).pieces
    return pieces[0].low_c, pieces[-1].high_c


@pytest.mark.parametrize("tc_type", TYPES)
def test_the_emf_agrees_with_every_printed_point_to_half_the_last_digit(tc_type: str):
    """NIST SRD 60, tables type_b.tab to type_t.tab, 12 026 points."""
    temp, printed = table()[tc_type]
    assert temp.size == POINTS[tc_type]
    assert np.max(np.abs(emf_mv(tc_type, temp) - printed)) <= HALF_DIGIT_MV


@pytest.mark.parametrize("tc_type", TYPES)
def test_the_inverse_gives_back_every_printed_point_within_the_rounding_of_its_emf(tc_type: str):
    """NIST SRD 60; the printed emf is rounded, so the temperature may differ by that / slope."""
    temp, printed = table()[tc_type]
    low, high = curve_of(tc_type).grid_mv[0], curve_of(tc_type).grid_mv[-1]
    usable = (printed >= low) & (printed <= high) & (temp >= (50.0 if tc_type == "B" else -300.0))
    assert usable.sum() >= temp.size - 55
    back = temperature_c(tc_type, printed[usable])
    # where the slope itself changes over the rounding (near -270 degC) judge by the emf instead
    assert np.max(np.abs(emf_mv(tc_type, back) - printed[usable])) <= 1e-9
    slope_mv = by_piece(curve_of(tc_type).pieces, temp[usable])[1]
    ordinary = temp[usable] > -250.0
    error = np.abs(back - temp[usable])[ordinary]
    assert np.all(error <= HALF_DIGIT_MV / slope_mv[ordinary] * 1.05 + 1e-6)


@pytest.mark.parametrize("tc_type", TYPES)
def test_the_inverse_undoes_the_forward_function(tc_type: str):
    """Bench range and all of the rest; loosest near -270 degC, where an emf says little."""
    low, high = range_c(tc_type)
    temp = np.linspace(50.0 if tc_type == "B" else low, high, 7001)
    assert np.max(np.abs(temperature_c(tc_type, emf_mv(tc_type, temp)) - temp)) < 1e-6


@pytest.mark.parametrize("tc_type", TYPES)
def test_one_value_and_an_array_give_the_same_bits(tc_type: str):
    low, high = curve_of(tc_type).grid_mv[0], curve_of(tc_type).grid_mv[-1]
    emf = np.linspace(low, high, 997)
    one_by_one = [temperature_c(tc_type, float(e)) for e in emf]
    assert temperature_c(tc_type, emf).tolist() == one_by_one
    temp = temperature_c(tc_type, emf)
    assert emf_mv(tc_type, temp).tolist() == [emf_mv(tc_type, float(t)) for t in temp]


@pytest.mark.parametrize("tc_type", TYPES)
def test_a_second_implementation_agrees(tc_type: str):
    """Package thermocouple-its90 1.0.2 (MIT), coefficients from NIST SRD 60."""
    other = thermocouple_its90.get(tc_type)
    low, high = range_c(tc_type)
    for temp in np.linspace(low, high, 101):
        assert emf_mv(tc_type, float(temp)) == pytest.approx(other.emf(float(temp)), abs=1e-11)


@pytest.mark.parametrize("tc_type", TYPES)
def test_the_slope_is_the_derivative(tc_type: str):
    low, high = range_c(tc_type)
    temp = np.linspace(low + 0.5, high - 0.5, 301)
    step = 1e-3
    by_difference = (emf_mv(tc_type, temp + step) - emf_mv(tc_type, temp - step)) / (2 * step)
    slope_mv = by_piece(curve_of(tc_type).pieces, temp)[1]
    # the published segments join to about 1e-7 mV only
    assert np.max(np.abs(slope_mv - by_difference)) < 2e-6


@pytest.mark.parametrize("tc_type", TYPES)
def test_each_emf_the_inverse_accepts_belongs_to_one_temperature(tc_type: str):
    low, high = range_c(tc_type)
    emf = emf_mv(tc_type, np.arange(50.0 if tc_type == "B" else low, high, 0.25))
    assert np.all(np.diff(emf) > 0.0)


@pytest.mark.parametrize(
    ("tc_type", "temp", "printed"),
    [
        ("K", 25.0, 1.000),
        ("K", 60.0, 2.436),
        ("K", 71.0, 2.893),
        ("K", 100.0, 4.096),
        ("K", 121.0, 4.961),
        ("T", 25.0, 0.992),
        ("T", 60.0, 2.468),
        ("T", 100.0, 4.279),
        ("J", 25.0, 1.277),
        ("J", 60.0, 3.116),
        ("J", 100.0, 5.269),
    ],
)
def test_bench_temperatures_have_their_printed_emf(tc_type: str, temp: float, printed: float):
    """NIST SRD 60, tables of types K, T and J."""
    assert emf_mv(tc_type, temp) == pytest.approx(printed, abs=HALF_DIGIT_MV)


def test_a_cold_junction_is_added_as_emf_not_as_degrees():
    """4.096 mV of type K is 100 degC against 0 degC; with a 25 degC cold junction it is 124.31."""
    assert temperature_c("K", 4.096, 25.0) == pytest.approx(124.310, abs=0.005)
    measured = emf_mv("K", 71.0) - emf_mv("K", 25.0)
    assert temperature_c("K", measured, 25.0) == pytest.approx(71.0, abs=1e-9)
    adding_degrees = temperature_c("K", measured) + 25.0
    assert adding_degrees - 71.0 == pytest.approx(0.832, abs=0.005)


def test_an_emf_beyond_the_type_is_refused_alone_and_nan_in_an_array():
    with pytest.raises(OutOfRangeError, match="type T"):
        temperature_c("T", 60.0)
    with pytest.raises(OutOfRangeError):
        temperature_c("T", math.nan)
    with pytest.raises(OutOfRangeError):
        temperature_c("T", 1.0, math.nan)
    got = temperature_c(
        "T", np.array([1.0, 60.0, math.nan, -60.0]), np.array([20.0, 20.0, 20.0, 20.0])
    )
    assert np.isnan(got).tolist() == [False, True, True, True]


def test_a_temperature_beyond_the_type_is_refused_alone_and_nan_in_an_array():
    with pytest.raises(OutOfRangeError, match="type K"):
        emf_mv("K", 1400.0)
    assert np.isnan(emf_mv("K", np.array([1400.0, 20.0]))).tolist() == [True, False]


def test_type_b_near_room_temperature_is_refused_because_two_temperatures_share_its_emf():
    with pytest.raises(OutOfRangeError):
        temperature_c("B", -0.001)
    with pytest.raises(OutOfRangeError):
        temperature_c("B", 0.0)


def test_an_unknown_type_is_refused_with_the_known_ones():
    with pytest.raises(InputError, match="B, E, J, K, N, R, S, T"):
        emf_mv("Q", 20.0)
