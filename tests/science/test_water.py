"""Water against the tables of IAPWS and an independent package."""

import csv
import math
from pathlib import Path

import iapws
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.water import (
    boiling_check,
    boiling_point_c,
    boiling_slope_k_per_kpa,
    density_kg_m3,
    heat_capacity_j_kg_k,
    pressure_at_altitude_kpa,
    saturation_pressure_kpa,
    viscosity_pa_s,
)

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published" / "iapws_if97_saturation.csv"

with PUBLISHED.open(encoding="utf-8") as lines:
    ROWS = list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['table']}-{r['temp_k']}")
def test_the_saturation_line_reproduces_the_release(row: dict[str, str]):
    """IAPWS R7-97(2012), tables 35 and 36: nine digits."""
    temp_k, pressure_mpa = float(row["temp_k"]), float(row["pressure_mpa"])
    if row["table"] == "35":
        got = saturation_pressure_kpa(temp_k - 273.15) / 1000.0
        assert got == pytest.approx(pressure_mpa, rel=2e-9)
    else:
        assert boiling_point_c(pressure_mpa * 1000.0) + 273.15 == pytest.approx(temp_k, abs=5e-7)


@pytest.mark.parametrize("pressure_kpa", [60.0, 70.0, 84.556, 95.0, 101.325, 104.0])
def test_the_boiling_point_agrees_with_the_scientific_formulation(pressure_kpa: float):
    """IAPWS-95 as implemented by the package iapws; the two formulations differ below 0.5 mK."""
    other = iapws.IAPWS95(P=pressure_kpa / 1000.0, x=0).T - 273.15
    assert boiling_point_c(pressure_kpa) == pytest.approx(other, abs=5e-4)


@pytest.mark.parametrize(
    ("pressure_kpa", "printed"),
    [
        (101.325, 99.974),
        (100.0, 99.606),
        (95.0, 98.178),
        (90.0, 96.687),
        (84.556, 94.983),
        (79.495, 93.315),
        (70.0, 89.932),
    ],
)
def test_the_table_on_the_check_sheet(pressure_kpa: float, printed: float):
    """IAPWS formulations, computed with two packages."""
    assert boiling_point_c(pressure_kpa) == pytest.approx(printed, abs=0.0005)


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


@pytest.mark.parametrize(
    ("temp_k", "density", "heat_capacity", "viscosity_upa_s"),
    [(260.0, 997.0683602710492, None, None), (298.15, 997.0470, 4181.446, 889.997)],
)
def test_liquid_water_reproduces_the_supplementary_release(
    temp_k: float, density: float, heat_capacity: float | None, viscosity_upa_s: float | None
):
    """IAPWS SR6-08(2011), table of check values; the package iapws prints the same."""
    temp_c = temp_k - 273.15
    assert density_kg_m3(temp_c) == pytest.approx(density, abs=5e-5)
    if heat_capacity is not None and viscosity_upa_s is not None:
        assert heat_capacity_j_kg_k(temp_c) == pytest.approx(heat_capacity, abs=5e-4)
        assert viscosity_pa_s(temp_c) * 1e6 == pytest.approx(viscosity_upa_s, abs=5e-4)


@pytest.mark.parametrize(
    ("temp_c", "density", "heat_capacity"),
    [
        (20.0, 998.207, 4184.0),
        (40.0, 992.22, 4179.0),
        (60.0, 983.20, 4185.0),
        (80.0, 971.79, 4197.0),
    ],
)
def test_liquid_water_agrees_with_the_scientific_formulation(
    temp_c: float, density: float, heat_capacity: float
):
    """IAPWS-95 at 0.1 MPa by the package iapws, and the values printed on the check sheet."""
    other = iapws.IAPWS95(T=temp_c + 273.15, P=0.1)
    assert density_kg_m3(temp_c) == pytest.approx(other.rho, abs=0.002)
    assert heat_capacity_j_kg_k(temp_c) == pytest.approx(other.cp * 1000.0, rel=2e-4)
    assert viscosity_pa_s(temp_c) == pytest.approx(other.mu, rel=0.005)
    assert density_kg_m3(temp_c) == pytest.approx(density, abs=0.006)
    assert heat_capacity_j_kg_k(temp_c) == pytest.approx(heat_capacity, abs=0.6)


@pytest.mark.parametrize("pressure_kpa", [math.nan, 0.1, -5.0, 1e6])
def test_a_pressure_water_cannot_boil_at_is_refused(pressure_kpa: float):
    with pytest.raises(OutOfRangeError, match="station pressure"):
        boiling_point_c(pressure_kpa)


@pytest.mark.parametrize("property_of", [density_kg_m3, heat_capacity_j_kg_k, viscosity_pa_s])
def test_a_temperature_beyond_the_equation_is_refused(property_of):
    for temp_c in (-20.0, 110.0, math.nan):
        with pytest.raises(OutOfRangeError, match="water temperature"):
            property_of(temp_c)
    with pytest.raises(OutOfRangeError):
        saturation_pressure_kpa(400.0)
    with pytest.raises(OutOfRangeError):
        pressure_at_altitude_kpa(20000.0)
