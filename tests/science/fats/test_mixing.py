"""Mixing temperature: hand-worked heat balances, latent heat, uncertainty."""

import math
from dataclasses import replace

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
