"""The world keeps its books of mass, heat and calcium, and agrees with known solutions."""

import math

import numpy as np
import pytest
from scipy.special import erf, j0, j1, jn_zeros

from logger.virtual.bodies.gelling_coat import (
    ACTIVATION_J_MOL,
    DIFFUSIVITY_25_M2_S,
    FILM_M_S,
    Coats,
)
from logger.virtual.bodies.physics import World
from logger.virtual.bodies.roll import CONDUCTIVITY_W_M_K, HEAT_J_M3_K, RollCore
from logger.virtual.bodies.vessels import FAT_J_PER_G_K, WATER_J_PER_G_K


def _finished(seed: int, *, short: bool) -> World:
    world = World(seed, short=short)
    while world.time_s < world.script.end_s:
        world.step()
    return world


@pytest.mark.parametrize("short", [True, False])
def test_fat_and_water_are_neither_made_nor_lost(short):
    world = _finished(3, short=short)
    assert world.fat.fat_g + world.bowl.fat_g == pytest.approx(world.batch.fat_g, abs=1e-9)
    kept_g = world.bowl.water_g + world.evaporated_g
    assert kept_g == pytest.approx(world.batch.water_g, abs=1e-9)
    assert world.poured_g == pytest.approx(world.script.pour.mass_g[-1], abs=1e-9)


def test_calcium_that_leaves_the_bath_is_in_the_coats_or_on_the_pieces():
    world = World(4, short=True)
    before = world.bath_calcium_mol
    dragged = 0.0
    while world.time_s < world.script.end_s:
        per_g = world.bath_calcium_mol / world.bath.mass_g
        seen = set(world.facts.pieces)
        world.step()
        for number in set(world.facts.pieces) - seen:
            dragged += per_g * world.facts.pieces[number]["drag_g"]
    assert dragged > 0.0
    left = before - world.bath_calcium_mol - world.coats.calcium_mol()
    assert left == pytest.approx(dragged, rel=0.02)


def test_heat_given_by_the_hotplate_is_found_again_in_a_perfectly_lagged_bench():
    """With no loss to the air the heat must be in liquids, walls and the latent heat taken back."""
    world = World(2, short=False)
    for vessel in (world.fat, world.bowl):
        object.__setattr__(vessel.spec, "loss_w_per_k", 0.0)
        object.__setattr__(vessel.spec, "open_cm2", 0.0)
    start_c = world.batch.room_c
    solid_g = world.fat.solid * world.fat.fat_g
    pour = world.script.pour
    while world.time_s < pour.start_s - 1.0:
        world.step()
    fat, bowl = world.fat, world.bowl
    found_j = (
        fat.fat_g * FAT_J_PER_G_K * (fat.temp_c - start_c)
        + bowl.water_g * WATER_J_PER_G_K * (bowl.temp_c - start_c)
        + fat.spec.wall_j_per_k * (fat.wall_c - start_c)
        + bowl.spec.wall_j_per_k * (bowl.wall_c - start_c)
        + solid_g * fat.spec.fat.latent_j_per_g
    )
    assert fat.solid == 0.0
    assert found_j == pytest.approx(world.facts.heat_in_j, rel=0.01)


def test_pouring_keeps_the_heat_of_both_phases():
    """Enthalpy of what is poured: the mixed temperature lies at the weighted mean of the liquids.

    Within 1.5 K: the bowl's wall and the air take their part during the pour.
    """
    world = World(6, short=True)
    while world.time_s < world.script.pour.end_s + 1.0:
        world.step()
    facts = world.facts
    fat_j = world.poured_g * FAT_J_PER_G_K
    water_j = world.bowl.water_g * WATER_J_PER_G_K
    mean_c = (fat_j * facts.fat_at_pour_c + water_j * facts.water_at_pour_c) / (fat_j + water_j)
    assert mean_c - 2.5 < facts.mixed_c < mean_c


def test_the_core_follows_the_series_of_a_cylinder():
    """Infinite cylinder with convection: Carslaw and Jaeger, Conduction of Heat in Solids, 7.7.

    Held against the series with the roots of x J1(x) = Bi J0(x), found by bisection here.
    """
    radius_m, h = 0.013, 220.0
    biot = h * radius_m / CONDUCTIVITY_W_M_K
    diffusivity = CONDUCTIVITY_W_M_K / HEAT_J_M3_K
    roots = []
    for low, high in zip([0.0, *jn_zeros(1, 7)], jn_zeros(1, 8), strict=True):
        a, b = low + 1e-9, high - 1e-9
        for _ in range(80):
            middle = 0.5 * (a + b)
            if (a * j1(a) - biot * j0(a)) * (middle * j1(middle) - biot * j0(middle)) <= 0:
                b = middle
            else:
                a = middle
        roots.append(0.5 * (a + b))
    core = RollCore(13.0, 40.0)
    for t_s in range(1, 421):
        core.step(1.0, -2.0, h)
        if t_s in (120, 240, 420):
            fourier = diffusivity * t_s / radius_m**2
            share = sum(
                2.0 * biot * math.exp(-x * x * fourier) / ((biot**2 + x * x) * j0(x)) for x in roots
            )
            assert core.core_c == pytest.approx(-2.0 + 42.0 * share, abs=0.6)


def test_a_deep_coat_takes_up_calcium_as_neumanns_solution_says():
    """One-phase Stefan problem (Crank, Free and Moving Boundary Problems, 1984, section 1.3).

    Bound share = 2 L sqrt(D t)/h, with sqrt(pi) L exp(L^2) erf(L) = c0/B; the film and the finite
    strength of binding make the model a little slower: within 12 %.
    """
    c0, capacity, thickness_mm = 57.0, 38.16, 1.2
    low, high = 1e-6, 3.0
    for _ in range(80):
        root = 0.5 * (low + high)
        if math.sqrt(math.pi) * root * math.exp(root * root) * erf(root) > c0 / capacity:
            high = root
        else:
            low = root
    coats = Coats(np.asarray([thickness_mm]), np.asarray([100.0]), capacity)
    for _ in range(500):
        coats.step(1.0, np.asarray([True]), c0, 25.0)
    film_s = 1e-3 * thickness_mm * 0.75 / FILM_M_S * (capacity / c0 + 1.0 / 3.0)
    front_mm = 2e3 * root * math.sqrt(DIFFUSIVITY_25_M2_S * (500.0 - film_s))
    assert coats.set_share()[0] == pytest.approx(front_mm / thickness_mm, rel=0.12)


def test_calcium_moves_a_quarter_faster_ten_degrees_warmer():
    """Diffusion of salts in water from 25 to 35 degC: factor about 1.25 (fluidity of water)."""
    factor = math.exp(ACTIVATION_J_MOL / 8.314 * (1.0 / 298.15 - 1.0 / 308.15))
    assert factor == pytest.approx(1.25, abs=0.03)


def test_a_coat_outside_the_bath_takes_nothing():
    coats = Coats(np.asarray([0.8, 0.8]), np.asarray([100.0, 100.0]), 38.0)
    taken = sum(coats.step(1.0, np.asarray([True, False]), 57.0, 20.0) for _ in range(60))
    assert taken == pytest.approx(coats.calcium_mol(), rel=1e-9)
    assert coats.set_share()[1] == 0.0
