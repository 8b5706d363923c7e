"""How fast a core can change, against the exact series of conduction."""

import math

import pytest

from logger.science.gel.coating import Body
from logger.science.heat.corerate import (
    DIFFUSIVITY_M2_S,
    MARGIN,
    THINNEST,
    fastest_per_s,
    time_constant_s,
)


def sphere_centre(fourier):
    """Centre of a sphere whose surface steps from 1 to 0 (Carslaw and Jaeger 1959, 9.3 (5))."""
    terms = ((-1) ** (n + 1) * math.exp(-((n * math.pi) ** 2) * fourier) for n in range(1, 200))
    return 2.0 * sum(terms)


def slab_centre(fourier):
    """Centre of a slab whose faces step from 1 to 0 (Carslaw and Jaeger 1959, 3.3 (8))."""
    orders = ((n, (2 * n + 1) * math.pi / 2) for n in range(200))
    return 2.0 * sum((-1) ** n / b * math.exp(-b * b * fourier) for n, b in orders)


@pytest.mark.parametrize(
    ("body", "centre", "half_mm"),
    [
        (Body(shape="sphere", diameter_mm=40.0), sphere_centre, 20.0),
        (Body(shape="patty", diameter_mm=100.0, length_mm=20.0), slab_centre, 10.0),
    ],
)
def test_no_centre_falls_faster_than_the_largest_rate(body, centre, half_mm):
    second_fourier = DIFFUSIVITY_M2_S / (half_mm * 1e-3) ** 2
    for t_s in range(20, 1500):
        now, then = centre(t_s * second_fourier), centre((t_s + 1) * second_fourier)
        assert now - then <= now * fastest_per_s(body)


def test_the_last_of_a_sphere_decays_with_its_time_constant():
    body = Body(shape="sphere", diameter_mm=40.0)
    tau_s = time_constant_s(body)
    second_fourier = DIFFUSIVITY_M2_S / 0.02**2
    ratio = sphere_centre(6.0 * tau_s * second_fourier) / sphere_centre(
        5.0 * tau_s * second_fourier
    )
    assert ratio == pytest.approx(math.exp(-1.0), rel=1e-6)


def test_a_tall_patty_is_a_cylinder_and_none_is_the_thinnest_piece():
    tall = Body(shape="patty", diameter_mm=25.0, length_mm=80.0)
    assert fastest_per_s(tall) == fastest_per_s(None) == MARGIN / time_constant_s(THINNEST)
