"""Mixing temperature: hand-worked heat balances, latent heat, uncertainty."""

import math
from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat

from logger.model.errors import OutOfRangeError
from logger.science.fats.fatfile import builtin_fats
from logger.science.fats.mixing import Part, mix, mixing_temp_c, needed_temp_c

FAT = Part(name="fat", mass_g=200.0, temp_c=65.0, cp_j_g_k=2.05)
WATER = Part(name="water", mass_g=300.0, temp_c=60.0, cp_j_g_k=4.18)
BOWL = Part(name="bowl", mass_g=250.0, temp_c=22.0, cp_j_g_k=0.84)


def test_two_phases_land_between_by_their_heat():
    """(410 x 65 + 1254 x 60) / 1664 = 61.23197 degC, by hand."""
    assert mixing_temp_c([FAT, WATER]) == pytest.approx(61.23197, abs=1e-5)


def test_a_cold_bowl_takes_more_than_four_kelvin():
    """(410 x 65 + 1254 x 60 + 210 x 22) / 1874 = 56.83565 degC, by hand."""
    assert mixing_temp_c([FAT, WATER, BOWL]) == pytest.approx(56.83565, abs=1e-5)


def test_the_trap_of_cold_water():
    """200 g fat of 45 degC into 300 g water of 20 degC: 26.16 degC, by hand; under cocoa butter's
    range of melting."""
    cold = [replace(FAT, temp_c=45.0), replace(WATER, temp_c=20.0)]
    assert mixing_temp_c(cold) == pytest.approx(26.16, abs=5e-3)


def test_the_uncertainty_agrees_with_a_second_opinion():
    """Against the package uncertainties (first order, as GUM 5.1.2); 0.635 K in all, of which the
    water 0.603 and the fat 0.197."""
    parts = [replace(FAT, u_temp_k=0.8, u_cp_j_g_k=0.06), replace(WATER, u_temp_k=0.8)]
    c_f, t_f, t_w = ufloat(2.05, 0.06), ufloat(65.0, 0.8), ufloat(60.0, 0.8)
    other = (200 * c_f * t_f + 300 * 4.18 * t_w) / (200 * c_f + 300 * 4.18)
    got = mix(parts)
    assert got.u_temp_k == pytest.approx(other.std_dev, rel=1e-3)
    assert got.u_temp_k == pytest.approx(0.635, abs=1e-3)
    assert dict(got.terms)["water, temperature"] == pytest.approx(0.603, abs=1e-3)
    assert dict(got.terms)["fat, temperature"] == pytest.approx(0.197, abs=1e-3)


def test_errors_that_both_probes_share_do_not_average_out():
    """Fully shared: 0.8 K on both shifts the mixture by 0.8 K."""
    parts = [replace(FAT, u_temp_k=0.8), replace(WATER, u_temp_k=0.8)]
    assert mix(parts, correlation=1.0).u_temp_k == pytest.approx(0.8, abs=1e-6)
    assert mix(parts).u_temp_k < 0.65


def test_heat_lost_on_the_way_cools_the_mixture():
    """1664 J less in 1664 J/K: 1 K."""
    assert mixing_temp_c([FAT, WATER], loss_j=1664.0) == pytest.approx(60.23197, abs=1e-5)


def test_set_fat_takes_its_latent_heat():
    """180 g cocoa butter at 30 degC, 45 % set, all of it melts in the warm water:
    180 x 0.45 x 157 = 12717 J off (376.2 x 30 + 1254 x 60) / 1630.2 -> 45.276 degC, by hand."""
    fat = Part(
        name="fat", mass_g=180.0, temp_c=30.0, cp_j_g_k=2.09,
        fat=builtin_fats()["cocoa_butter"], solid_share=0.45,
    )  # fmt: skip
    got = mix([fat, WATER])
    assert got.temp_c == pytest.approx(45.2760, abs=1e-3)
    assert got.solid_share == 0.0


def test_set_fat_in_cool_water_melts_only_in_part_and_heat_still_balances():
    fat = Part(
        name="fat", mass_g=300.0, temp_c=28.0, cp_j_g_k=2.09,
        fat=builtin_fats()["cocoa_butter"], solid_share=0.6,
    )  # fmt: skip
    water = replace(WATER, mass_g=150.0, temp_c=48.0)
    got = mix([fat, water])
    assert 0.0 < got.solid_share < 0.6
    melted_j = 300.0 * (0.6 - got.solid_share) * 157.0
    gained = 300.0 * 2.09 * (got.temp_c - 28.0) + melted_j
    assert gained == pytest.approx(150.0 * 4.18 * (48.0 - got.temp_c), rel=1e-6)


def test_melted_fat_is_not_taken_to_set_while_it_is_combined():
    """It supercools; its heat of setting would come later."""
    fat = Part(
        name="fat", mass_g=200.0, temp_c=45.0, cp_j_g_k=2.05, fat=builtin_fats()["cocoa_butter"]
    )
    cold = replace(WATER, temp_c=10.0)
    assert mixing_temp_c([fat, cold]) == mixing_temp_c([replace(fat, fat=None), cold])


def test_the_needed_water_temperature_brings_the_mixture_where_it_is_wanted():
    parts = [FAT, replace(WATER, temp_c=20.0), BOWL]
    needed = needed_temp_c(parts, "water", 52.0)
    assert mixing_temp_c([FAT, replace(WATER, temp_c=needed), BOWL]) == pytest.approx(52.0)
    set_fat = Part(
        name="fat", mass_g=180.0, temp_c=30.0, cp_j_g_k=2.09,
        fat=builtin_fats()["cocoa_butter"], solid_share=0.45,
    )  # fmt: skip
    assert needed_temp_c([set_fat, WATER], "water", 45.2760) == pytest.approx(60.0, abs=1e-3)


def test_water_that_would_have_to_boil_is_refused():
    with pytest.raises(OutOfRangeError, match="needed temperature of the water"):
        needed_temp_c([replace(FAT, temp_c=20.0), replace(WATER, mass_g=20.0)], "water", 60.0)


@pytest.mark.parametrize(
    "part",
    [replace(WATER, mass_g=0.0), replace(WATER, temp_c=180.0), replace(WATER, cp_j_g_k=math.nan)],
)
def test_what_cannot_be_is_refused(part):
    with pytest.raises(OutOfRangeError, match="water"):
        mixing_temp_c([FAT, part])
    with pytest.raises(OutOfRangeError):
        mixing_temp_c([])


@pytest.mark.parametrize("place", [0, 1])
@pytest.mark.parametrize("field", ["u_temp_k", "u_mass_g", "u_cp_j_g_k"])
@pytest.mark.parametrize("solid", [0.0, 0.6])
def test_one_unknown_uncertainty_leaves_that_of_the_mixture_unknown(place, field, solid):
    fat = builtin_fats()["cocoa_butter"]
    parts = [
        Part(
            name="fat",
            mass_g=200.0,
            temp_c=50.0,
            cp_j_g_k=2.0,
            u_temp_k=0.3,
            fat=fat,
            solid_share=solid,
        ),
        Part(name="water", mass_g=300.0, temp_c=45.0, cp_j_g_k=4.18, u_temp_k=0.3),
    ]
    known = mix(parts, correlation=0.5)
    parts[place] = replace(parts[place], **{field: math.nan})
    found = mix(parts, correlation=0.5)
    assert math.isfinite(known.u_temp_k)
    assert math.isnan(found.u_temp_k)
    assert found.temp_c == known.temp_c
    assert math.isnan(found.terms[0][1])


def monte_carlo_c(fat, water, draws=40_000):
    """Temperatures after combining, of drawn inputs: the heat balance solved by halving.

    JCGM 101:2008, clause 7. The errors of the solid fat content before and after are drawn apart;
    that before follows the fat's temperature along its curve.
    """
    rng = np.random.default_rng(17)
    known = fat.fat

    def share(temp_c):
        table = np.interp(temp_c, known.solid_at_c, known.solid_percent) / 100.0
        return np.where(temp_c >= known.all_melted_above_c.value, 0.0, table)

    fat_c = fat.temp_c + fat.u_temp_k * rng.standard_normal(draws)
    water_c = water.temp_c + water.u_temp_k * rng.standard_normal(draws)
    cp = fat.cp_j_g_k + fat.u_cp_j_g_k * rng.standard_normal(draws)
    latent_j_g = known.latent_j_g.value + known.latent_j_g.u * rng.standard_normal(draws)
    u_share = known.u_solid_percent / 100.0
    before = fat.solid_share - known.solid_share(fat.temp_c) + share(fat_c)
    before = np.clip(before + u_share * rng.standard_normal(draws), 0.0, 1.0)
    off = u_share * rng.standard_normal(draws)
    heat = fat.mass_g * cp * fat_c + water.mass_g * water.cp_j_g_k * water_c
    total = fat.mass_g * cp + water.mass_g * water.cp_j_g_k
    low, high = np.full(draws, -50.0), np.full(draws, 120.0)
    for _ in range(45):
        middle = 0.5 * (low + high)
        rest = np.where(share(middle) > 0.0, np.clip(share(middle) + off, 0.0, 1.0), 0.0)
        melting = fat.mass_g * latent_j_g * np.maximum(before - rest, 0.0)
        warm = total * middle + melting > heat
        low, high = np.where(warm, low, middle), np.where(warm, middle, high)
    return 0.5 * (low + high)


@pytest.mark.parametrize(
    ("key", "fat_g", "fat_c", "water_g", "water_c"),
    [
        ("cocoa_butter", 180.0, 28.0, 300.0, 60.0),  # all of it melts
        ("cocoa_butter", 180.0, 31.0, 300.0, 50.0),  # on the steep part of its curve
        ("coconut_oil", 200.0, 18.0, 300.0, 60.0),
        ("cocoa_butter", 300.0, 24.0, 150.0, 48.0),  # it melts only in part
        ("coconut_oil", 250.0, 15.0, 150.0, 40.0),
    ],
)
def test_the_uncertainty_with_set_fat_agrees_with_drawn_inputs(key, fat_g, fat_c, water_g, water_c):
    """The formula beside JCGM 101:2008; within 12 % though the balance bends."""
    known = builtin_fats()[key]
    fat = Part(
        name="fat",
        mass_g=fat_g,
        temp_c=fat_c,
        u_temp_k=0.4,
        cp_j_g_k=2.05,
        u_cp_j_g_k=0.1,
        fat=known,
        solid_share=known.solid_share(fat_c),
    )
    water = Part(name="water", mass_g=water_g, temp_c=water_c, u_temp_k=0.4, cp_j_g_k=4.18)
    drawn_c = monte_carlo_c(fat, water)
    found = mix([fat, water])
    assert found.temp_c == pytest.approx(float(np.median(drawn_c)), abs=0.4)
    assert found.u_temp_k == pytest.approx(float(drawn_c.std()), rel=0.12)


def test_what_is_not_known_of_the_latent_heat_is_a_term_of_its_own():
    """u(T) = m s u(L) / sum(m c): 180 x 0.45 x 10 / 1630.2 = 0.497 K, by hand."""
    known = builtin_fats()["cocoa_butter"]
    known = replace(known, latent_j_g=replace(known.latent_j_g, u=10.0), u_solid_percent=4.0)
    fat = Part(name="fat", mass_g=180.0, temp_c=30.0, cp_j_g_k=2.09, fat=known, solid_share=0.45)
    terms = dict(mix([fat, WATER]).terms)
    assert terms["fat, latent heat"] == pytest.approx(0.497, abs=1e-3)
    assert terms["fat, solid content"] == pytest.approx(180 * 0.04 * 157 / 1630.2, abs=1e-3)
    unknown = replace(known, latent_j_g=replace(known.latent_j_g, u=math.nan))
    assert math.isnan(mix([replace(fat, fat=unknown), WATER]).u_temp_k)
    melted = mix([replace(fat, fat=unknown, solid_share=0.0), WATER])
    assert melted.u_temp_k == 0.0
