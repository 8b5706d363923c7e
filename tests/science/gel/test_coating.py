import math

import numpy as np
import pytest

from logger.model.errors import OutOfRangeError
from logger.science.gel.coating import (
    Body,
    coat_mass_g,
    coat_thickness_mm,
    coat_volume_mm3,
    spread,
    surface_mm2,
    u_coat_thickness_mm,
    volume_mm3,
)

ROLL = Body(shape="cylinder", diameter_mm=25.0, length_mm=120.0)
BALL = Body(shape="sphere", diameter_mm=30.0)
PATTY = Body(shape="patty", diameter_mm=90.0, length_mm=15.0)
BODIES = [ROLL, BALL, PATTY]


def test_surfaces_are_those_of_elementary_geometry():
    """2 pi R L; 4 pi R**2; 2 pi R (R + t), in cm2."""
    assert [surface_mm2(b) / 100 for b in BODIES] == pytest.approx([94.25, 28.27, 169.65], abs=0.01)


@pytest.mark.parametrize(
    ("body", "thickness_mm"),
    [
        (ROLL, [0.3105, 0.5125, 1.0016]),
        (BALL, [0.9845, 1.5789, 2.9035]),
        (PATTY, [0.1742, 0.2894, 0.5740]),
    ],
)
def test_thickness_of_3_5_and_10_g_coats(body, thickness_mm):
    """Worked with the volume difference of the bodies themselves, density 1010 kg/m3; 0.1 %."""
    found = [coat_thickness_mm(mass, body, 1010.0) for mass in (3.0, 5.0, 10.0)]
    assert found == pytest.approx(thickness_mm, rel=1e-3)


@pytest.mark.parametrize("body", [ROLL, BALL])
def test_a_coated_roll_or_ball_is_a_larger_roll_or_ball(body):
    """The parallel body of a capsule or a sphere is one again: no Steiner needed."""
    h = 1.3
    larger = Body(
        shape=body.shape,
        diameter_mm=body.diameter_mm + 2 * h,
        length_mm=body.length_mm + 2 * h,
    )
    assert coat_volume_mm3(h, body) == pytest.approx(volume_mm3(larger) - volume_mm3(body))


def test_the_coat_of_a_patty_agrees_with_counting_points():
    """Monte Carlo over the distance to the disc: independent of Steiner's formula, 0.5 %."""
    h, radius, half = 2.0, PATTY.radius_mm, PATTY.length_mm / 2
    rng = np.random.default_rng(7)
    points = rng.uniform(-1, 1, (400_000, 3)) * np.array([radius + h, radius + h, half + h])
    aside = np.maximum(np.hypot(points[:, 0], points[:, 1]) - radius, 0)
    above = np.maximum(np.abs(points[:, 2]) - half, 0)
    distance = np.hypot(aside, above)
    box = 8 * (radius + h) ** 2 * (half + h)
    counted = box * np.mean((distance > 0) & (distance <= h))
    assert coat_volume_mm3(h, PATTY) == pytest.approx(counted, rel=0.01)


@pytest.mark.parametrize("body", BODIES)
def test_mass_and_thickness_are_inverses(body):
    for h in (0.05, 0.5, 3.0):
        assert coat_thickness_mm(coat_mass_g(h, body, 1009.0), body, 1009.0) == pytest.approx(h)


def test_a_thin_coat_is_its_mass_over_density_and_surface():
    flat = 0.01e-3 / (1010 * surface_mm2(ROLL) * 1e-6) * 1e3
    assert coat_thickness_mm(0.01, ROLL, 1010.0) == pytest.approx(flat, rel=1e-3)


def test_uncertainty_of_thickness_follows_the_slope():
    step = (coat_thickness_mm(5.01, ROLL, 1010.0) - coat_thickness_mm(4.99, ROLL, 1010.0)) / 0.02
    assert u_coat_thickness_mm(5.0, 0.3, ROLL, 1010.0) == pytest.approx(0.3 * step, rel=1e-4)


@pytest.mark.parametrize("mass_g", [0.0, -2.0, 5000.0, math.nan])
def test_a_coat_that_cannot_be_is_refused(mass_g):
    with pytest.raises(OutOfRangeError):
        coat_thickness_mm(mass_g, ROLL, 1010.0)


@pytest.mark.parametrize(
    ("shape", "diameter_mm", "length_mm"),
    [("cylinder", 30.0, 20.0), ("sphere", 0.0, 0.0), ("patty", 90.0, 0.0)],
)
def test_a_body_that_cannot_be_is_refused(shape, diameter_mm, length_mm):
    with pytest.raises(OutOfRangeError):
        Body(shape=shape, diameter_mm=diameter_mm, length_mm=length_mm)


def test_spread_of_a_batch():
    found = spread([4.8, 5.0, 5.2])
    assert (found.count, found.mean, found.sd) == (3, pytest.approx(5.0), pytest.approx(0.2))
    assert (found.low, found.high, found.relative) == (4.8, 5.2, pytest.approx(0.04))
    assert spread([5.0]).relative is None
