"""A file of fats: a person's own lie on top, what is written is read back, slips are refused."""

import pytest

from logger.model.errors import InputError
from logger.science.fats.fatfile import builtin_fats, fat_as_toml, fats_from_toml
from logger.science.fats.fats import UNVERIFIED, Datum, with_measured_limits

OWN = """
[bench_blend]
name = "bench blend"
all_melted_above_c = { value = 34.0, u = 1.0, source = "own cooling run" }
sets_below_c = { value = 22.5, u = 0.8, source = "own cooling run" }
"""


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
    assert again.all_melted_above_c.source.startswith(UNVERIFIED)


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
