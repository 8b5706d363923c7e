"""Printed units become g, degC and uV."""

import pytest

from logger.wire.units import conversion, converted

# NIST Handbook 44 (2024), appendix C, "General tables of units of measurement": 1 avoirdupois pound
# 453.592 37 g exactly; 1 avoirdupois ounce 28.349 523 125 g exactly; 1 troy ounce 31.103 476 8 g
# exactly; 1 carat 200 mg exactly.
MASSES = [("lb", 453.59237), ("oz", 28.349523125), ("ozt", 31.1034768), ("ct", 0.2), ("kg", 1000.0)]


@pytest.mark.parametrize(("unit", "grams"), MASSES)
def test_mass_units_are_those_of_the_handbook(unit, grams):
    assert converted(1.0, conversion("mass", unit)) == pytest.approx(grams, abs=5e-10)


# NIST Special Publication 811 (2008), appendix B.8: t/degC = (t/degF - 32)/1.8 and
# t/degC = T/K - 273.15
@pytest.mark.parametrize(
    ("unit", "value", "temp_c"),
    [("degF", 32.0, 0.0), ("F", 212.0, 100.0), ("K", 273.15, 0.0), ("degC", -3.2, -3.2)],
)
def test_temperature_units(unit, value, temp_c):
    assert converted(value, conversion("temperature", unit)) == pytest.approx(temp_c, abs=5e-9)


def test_an_unknown_unit_is_no_number():
    assert conversion("mass", "pcs") is None
