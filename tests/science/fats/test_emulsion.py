"""Crowding: fat by mass to droplets by volume, and the two marks."""

import math

import pytest

from logger.model.errors import OutOfRangeError
from logger.science.fats.emulsion import (
    HEXAGONAL_PACKING,
    RANDOM_PACKING,
    packing_notice,
    volume_fraction,
)


@pytest.mark.parametrize(
    ("mass", "volume"),
    [(0.60, 0.6209), (0.65, 0.6697), (0.70, 0.7181), (0.75, 0.7661), (0.80, 0.8137)],
)
def test_fat_takes_more_room_than_its_mass_says(mass, volume):
    """w/rho over the sum, by hand, with 900.536 and 983.196 kg/m3 (60 degC)."""
    assert volume_fraction(mass, 900.536, 983.196) == pytest.approx(volume, abs=5e-5)


def test_the_marks_are_those_of_packed_spheres():
    """Kepler's density pi/(3 sqrt 2) = 0.740480 (Hales 2005); 0.64 +- 0.02 (Berryman 1983)."""
    assert pytest.approx(0.740480, abs=5e-7) == HEXAGONAL_PACKING
    assert pytest.approx(0.64, abs=0.02) == RANDOM_PACKING
    # A face-centred cubic cell holds 4 spheres of radius a sqrt(2)/4.
    assert pytest.approx(4 * 4 / 3 * math.pi * (math.sqrt(2) / 4) ** 3) == HEXAGONAL_PACKING


def test_notices_come_at_each_mark_and_are_worded_as_notices():
    assert packing_notice(0.63) == ""
    assert "0.64" in packing_notice(0.65)
    assert "0.74" in packing_notice(0.745)
    for phi in (0.66, 0.8):
        assert "for information" in packing_notice(phi).lower()


def test_what_is_no_fraction_is_refused():
    with pytest.raises(OutOfRangeError):
        volume_fraction(1.2, 900.0, 980.0)
    with pytest.raises(OutOfRangeError):
        volume_fraction(0.5, 0.0, 980.0)
