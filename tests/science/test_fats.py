"""Fats as data: every number has a source, and a person's own fats lie on top."""

import pytest

from logger.model.errors import InputError
from logger.science.fats import (
    UNVERIFIED,
    Datum,
    builtin_fats,
    fat_as_toml,
    fats_from_toml,
    generic_cp_j_g_k,
    generic_density_kg_m3,
    with_measured_limits,
)

OWN = """
[bench_blend]
name = "bench blend"
all_melted_above_c = { value = 34.0, u = 1.0, source = "own cooling run" }
sets_below_c = { value = 22.5, u = 0.8, source = "own cooling run" }
"""


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
    assert not fat.all_melted_above_c.unverified
    assert fat.sets_below_c.unverified


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


def test_an_own_fat_needs_only_its_two_limits_and_says_that_the_rest_is_a_guess():
    fat = fats_from_toml(OWN, "fats.toml", builtin_fats())["bench_blend"]
    assert fat.sets_below_c.value == 22.5
    assert fat.latent_j_g.source.startswith(UNVERIFIED)
    assert fat.solid_share(22.5) > fat.solid_share(30.0) > fat.solid_share(34.0) == 0.0


def test_an_own_value_lies_on_top_and_leaves_the_rest():
    own = '[cocoa_butter]\nsets_below_c = { value = 24.1, u = 0.4, source = "own run" }\n'
    base = builtin_fats()
    fat = fats_from_toml(own, "fats.toml", base)["cocoa_butter"]
    assert fat.sets_below_c == Datum(value=24.1, u=0.4, source="own run")
    assert fat.latent_j_g == base["cocoa_butter"].latent_j_g
    assert base["cocoa_butter"].sets_below_c.value == 25.0


@pytest.mark.parametrize("key", sorted(builtin_fats()))
def test_what_is_written_is_read_back(key):
    fat = builtin_fats()[key]
    assert fats_from_toml(fat_as_toml(fat), "own")[key] == fat


def test_a_source_with_quotes_survives_writing():
    fat = with_measured_limits(
        None, key="blend", name='my "best" fat',
        sets_below_c=Datum(value=21.0, u=1.0, source='run 7, "cold" room\\shelf'),
        melted_above_c=None,
    )  # fmt: skip
    again = fats_from_toml(fat_as_toml(fat), "own")["blend"]
    assert again == fat
    assert again.all_melted_above_c.unverified


def test_a_measured_limit_keeps_what_else_is_known():
    cocoa = builtin_fats()["cocoa_butter"]
    measured = Datum(value=23.2, u=0.9, source="measured 2026-11-25")
    fat = with_measured_limits(
        cocoa, key="lot_412", name="lot 412", sets_below_c=measured, melted_above_c=None
    )
    assert (fat.key, fat.sets_below_c, fat.latent_j_g) == ("lot_412", measured, cocoa.latent_j_g)


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("[a]\nname = 'a'\n", "a.all_melted_above_c"),
        (OWN + "colour = 'white'\n", "bench_blend.colour"),
        (OWN.replace("22.5", "'low'"), "bench_blend.sets_below_c"),
        (OWN.replace("22.5", "44.0"), "bench_blend.sets_below_c"),
        (OWN.replace("u = 0.8, ", ""), "bench_blend.sets_below_c.u"),
        (OWN.replace('source = "own cooling run"', 'source = ""'), "all_melted_above_c.source"),
        (OWN + "solid_at_c = [10.0, 20.0]\n", "bench_blend.solid_percent"),
        ("oops", "fats.toml"),
        ("a = 3\n", "fats.toml: a"),
    ],
)
def test_a_wrong_entry_is_refused_with_its_place(text, where):
    with pytest.raises(InputError, match=where):
        fats_from_toml(text, "fats.toml")


def test_solid_fat_that_rises_with_temperature_is_refused():
    text = OWN + (
        "solid_at_c = [10.0, 20.0]\n"
        'solid_percent = { value = [10.0, 20.0], u = 5.0, source = "x" }\n'
    )
    with pytest.raises(InputError, match="falling"):
        fats_from_toml(text, "fats.toml")
