"""Known temperatures for a probe check, against the standard atmosphere and IAPWS."""

import csv
import math
from pathlib import Path

import pytest

from logger.model.errors import OutOfRangeError
from logger.science.heat.water import boiling_point_c
from logger.science.metrology.reference_points import (
    boiling_check,
    boiling_slope_k_per_kpa,
    pressure_at_altitude_kpa,
)

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published" / "boiling_1857.csv"


@pytest.mark.parametrize(
    ("altitude_m", "pressure_kpa"),
    [(0.0, 101.325), (1000.0, 89.874), (2000.0, 79.495), (3000.0, 70.108)],
)
def test_pressure_falls_with_altitude(altitude_m: float, pressure_kpa: float):
    """ISO 2533:1975 / U.S. Standard Atmosphere 1976, table of pressure (from memory)."""
    assert pressure_at_altitude_kpa(altitude_m) == pytest.approx(pressure_kpa, abs=0.006)


def test_the_boiling_point_falls_with_altitude():
    """300 to 3000 m: computed from the two standards above."""
    got = [boiling_point_c(pressure_at_altitude_kpa(h)) for h in (300, 500, 1000, 1500, 2000, 3000)]
    assert got == pytest.approx([98.98, 98.31, 96.65, 94.98, 93.32, 89.97], abs=0.005)


def test_a_kilopascal_moves_the_boiling_point_by_a_quarter_of_a_degree():
    assert boiling_slope_k_per_kpa(101.325) == pytest.approx(0.277, abs=0.0006)


def test_an_altitude_makes_a_worse_boiling_check_than_a_station_pressure():
    at_pressure, u_pressure = boiling_check(pressure_kpa=95.0)
    at_altitude, u_altitude = boiling_check(altitude_m=540.0)
    assert at_pressure == pytest.approx(98.178, abs=0.0005)
    assert at_altitude == pytest.approx(98.18, abs=0.01)
    assert u_pressure < 0.21
    # weather of 3 kPa is 0.84 K, even: 0.49 K
    assert u_altitude == pytest.approx(math.hypot(0.29 * 3 / math.sqrt(3), 0.2), rel=0.02)
    with pytest.raises(OutOfRangeError):
        boiling_check()


def test_an_altitude_above_the_layer_is_refused():
    for altitude_m in (20000.0, -600.0, math.nan):
        with pytest.raises(OutOfRangeError, match="altitude"):
            pressure_at_altitude_kpa(altitude_m)


def test_boiling_points_measured_on_mountains_lie_on_the_curve_but_for_one():
    """Measurements of 1857; row 12 is known to be wrong."""
    with PUBLISHED.open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    off_k = [
        (float(r["boiling_degf"]) - 32.0) / 1.8
        - boiling_point_c(float(r["pressure_inhg"]) * 3.386389)
        for r in rows
    ]
    assert len(off_k) == 17
    assert off_k.pop(11) == pytest.approx(-0.79, abs=0.02)
    assert max(abs(k) for k in off_k) < 0.25
