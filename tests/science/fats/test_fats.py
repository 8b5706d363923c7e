"""Fats as data: every number has a source, and what follows from it is right."""

import pytest

from logger.science.fats.fatfile import builtin_fats
from logger.science.fats.fats import (
    UNVERIFIED,
    Datum,
    generic_cp_j_g_k,
    generic_density_kg_m3,
    with_measured_limits,
)


def test_every_built_in_number_has_a_source_and_an_uncertainty():
    fats = builtin_fats()
    assert {"coconut_oil", "cocoa_butter", "shea_butter", "palm_stearin", "butterfat"} <= set(fats)
    for fat in fats.values():
        for datum in (
            fat.all_melted_above_c, fat.sets_below_c, fat.cp_liquid_j_g_k, fat.latent_j_g,
            fat.density_kg_m3,
        ):  # fmt: skip
            assert datum.source
            assert datum.u > 0.0
        assert fat.solid_source
        assert fat.sets_below_c.value < fat.all_melted_above_c.value


def test_cocoa_butter_melts_where_the_handbook_says():
    """Belitz, Grosch, Schieberle, Food Chemistry, table 14.9: 28 to 36 degC; latent heat 157 J/g,
    handbook excerpt."""
    fat = builtin_fats()["cocoa_butter"]
    assert fat.all_melted_above_c.value == 36.0
    assert fat.latent_j_g.value == 157.0
    assert not fat.all_melted_above_c.source.startswith(UNVERIFIED)
    assert fat.sets_below_c.source.startswith(UNVERIFIED)


def test_coconut_oil_has_the_density_of_the_standard():
    """Codex CXS 210: relative density 0.908 to 0.921 at 40 degC, water at 20 degC (998.2)."""
    at_40 = builtin_fats()["coconut_oil"].density_at(40.0)
    assert 0.908 * 998.2 <= at_40 <= 0.921 * 998.2


def test_solid_fat_content_is_drawn_between_the_points_and_is_none_above_melting():
    fat = builtin_fats()["coconut_oil"]
    assert fat.solid_share(22.5) == pytest.approx(0.18)
    assert fat.solid_share(60.0) == 0.0
    assert builtin_fats()["palm_stearin"].solid_share(54.0) == 0.0
    assert fat.solid_share(0.0) == pytest.approx(0.78)


def test_the_generic_fat_follows_choi_and_okos():
    """Choi and Okos (1986), coefficients from memory, evaluated by hand at 60 degC."""
    assert generic_density_kg_m3(60.0) == pytest.approx(900.536, abs=5e-4)
    assert generic_cp_j_g_k(60.0) == pytest.approx(2.0553, abs=5e-5)


def test_a_measured_limit_keeps_what_else_is_known():
    cocoa = builtin_fats()["cocoa_butter"]
    measured = Datum(value=23.2, u=0.9, source="measured 2026-11-25")
    fat = with_measured_limits(
        cocoa, key="lot_412", name="lot 412", sets_below_c=measured, melted_above_c=None
    )
    assert (fat.key, fat.sets_below_c, fat.latent_j_g) == ("lot_412", measured, cocoa.latent_j_g)
