"""Water against the tables of IAPWS and an independent package."""

import csv
import math
from pathlib import Path

import iapws
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.heat.water import (
    boiling_point_c,
    density_kg_m3,
    heat_capacity_j_kg_k,
    viscosity_pa_s,
)

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published" / "iapws_if97_saturation.csv"

with PUBLISHED.open(encoding="utf-8") as lines:
    ROWS = list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['table']}-{r['temp_k']}")
def test_the_saturation_line_reproduces_the_release(row: dict[str, str]):
    """IAPWS R7-97(2012), tables 35 and 36: nine digits."""
    temp_k, pressure_mpa = float(row["temp_k"]), float(row["pressure_mpa"])
    if row["table"] == "35":
        back_k = boiling_point_c(pressure_mpa * 1000.0) + 273.15
        assert back_k == pytest.approx(temp_k, abs=1e-6)
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
