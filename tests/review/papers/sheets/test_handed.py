"""A recipe to hand on: measures of an amount agree, and what may vary was seen or is not known."""

import io
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from logger.model.files import sheet_from_text
from logger.review.learn.sheets import template
from logger.review.papers.sheets.handed import UNSEEN, recipe_of
from logger.review.papers.sheets.household import (
    CUP_ML,
    TABLESPOON_ML,
    TEASPOON_ML,
    household_text,
)
from logger.review.papers.sheets.seen import seen_in
from logger.review.papers.sheets.sheet_pages import write_sheet
from logger.words.twofold import band_twofold, ounces_text
from tests.model.recipe.texts import FRANK, SAUSAGE

EIGHTHS = {"⅛": 1, "¼": 2, "⅜": 3, "½": 4, "⅝": 5, "¾": 6, "⅞": 7}
SPOONS = {"cup": CUP_ML, "cups": CUP_ML, "tbsp": TABLESPOON_ML, "tsp": TEASPOON_ML}


def volume_ml(text):
    """Read cups and spoons back."""
    total_ml = 0.0
    for part in text.split(" + "):
        number, spoon = part.split()
        digits = number.rstrip("".join(EIGHTHS))
        eighths = EIGHTHS.get(number[len(digits) :], 0)
        total_ml += float(int(digits or 0) + Fraction(eighths, 8)) * SPOONS[spoon]
    return total_ml


def test_a_household_has_the_cup_and_spoons_of_food_labels():
    """21 CFR 101.9(b)(5)(viii): 240 ml, 15 ml and 5 ml (from memory)."""
    assert (CUP_ML, TABLESPOON_ML, TEASPOON_ML) == (240.0, 15.0, 5.0)
    assert [household_text(ml) for ml in (240.0, 15.0, 5.0, 1.25, 330.0, 0.2)] == [
        "1 cup", "1 tbsp", "1 tsp", "¼ tsp", "1¼ cups + 2 tbsp", "under ⅛ tsp",
    ]  # fmt: skip


@given(st.floats(1.25, 5000.0))
def test_cups_and_spoons_read_back_are_the_volume_but_for_a_quarter_at_most(volume):
    """An eighth of a teaspoon to either side of the smallest, an eighth of a cup of the largest."""
    off = abs(volume_ml(household_text(volume)) - volume)
    step = next(
        (s for below, s in ((7.5, 0.625), (60.0, 1.25), (960.0, 15.0)) if volume < below), 60
    )
    assert off <= step / 2 + 1e-9


def test_ounces_and_pounds_are_avoirdupois():
    """28.349523125 g and 453.59237 g: NIST Handbook 44 (2024), Appendix C."""
    assert ounces_text(28.349523125) == "1.00 oz"
    assert ounces_text(2 * 453.59237 + 12 * 28.349523125) == "2 lb 12 oz"
    assert [ounces_text(g) for g in (453.59, 453.0, 0.1)] == ["1 lb", "1 lb", "under 0.01 oz"]


def test_targets_stand_in_both_systems():
    """Water boils at 212 degF and freezes at 32 degF: by definition of the scale."""
    assert band_twofold(0.0, 100.0, "degC") == "0 to 100 °C (32 to 212 °F)"
    assert band_twofold(-1.0, 5.0, "K") == "−1 to 5 K (−2 to 9 F°)"
    assert band_twofold(None, 100.0, "degC") == "at most 100 °C (at most 212 °F)"
    assert band_twofold(360.0, 720.0, "s") == "6:00 to 12:00"


@pytest.mark.parametrize("text", [FRANK, SAUSAGE, template()], ids=["frank", "sausage", "roll"])
def test_the_measures_of_each_ingredient_agree(text):
    sheet = sheet_from_text(text, "t.toml")
    recipe = recipe_of(sheet, (), ())
    food = [g for g in recipe.groups if g.of == "of the batch"]
    shares = [float(line.share.split()[0]) for g in food for line in g.lines if line.share]
    assert sum(shares) == pytest.approx(100.0, abs=0.3)
    of = {one.name: one for one in sheet.ingredient}
    for line in (line for group in recipe.groups for line in group.lines if line.name in of):
        one = of[line.name]
        assert float(line.mass.split()[0]) == pytest.approx(one.mass_g, rel=5e-4)
        known = one.density_g_ml is not None or one.substance == "water"
        assert bool(line.household) == known
        assert bool(line.varies) == (one.tolerance_percent is not None)
    for work, stage in zip(recipe.works, sheet.stage, strict=True):
        assert work.title
        assert stage.text.strip() in " ".join(work.says)


def test_without_a_good_batch_it_says_that_how_far_it_may_vary_is_not_known():
    recipe = recipe_of(sheet_from_text(FRANK, "t.toml"), (), ())
    assert (recipe.seen, recipe.seen_says) == ([], UNSEEN)
    assert "°F" in " ".join(said for work in recipe.works for said in work.says)


def test_what_good_batches_measured_is_lowest_to_highest_and_never_a_limit_of_hygiene(good_runs):
    sheet = good_runs[0].sheet
    rows = {row.name: row for row in seen_in(sheet, good_runs)}
    values = [run.features["fat_at_pour_c"].value for run in good_runs]
    row = rows["fat temperature at the pour"]
    assert row.batches == len(good_runs)
    assert row.seen.startswith(f"{min(values):.1f} to {max(values):.1f} °C (")
    assert "highest core temperature" not in rows
    recipe = recipe_of(sheet, good_runs, ())
    assert "8 good batches" in recipe.seen_says
    assert "local codes" in recipe.seen_says


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_on_paper_stands_all_of_it_in_order(good_runs, paper):
    recipe = recipe_of(good_runs[0].sheet, good_runs, ("Hot fat burns.",))
    file = io.BytesIO()
    write_sheet(recipe, file, "pdf", paper)
    text = "".join(page.extract_text() for page in PdfReader(file).pages)
    text, at = re.sub(r"[\s\u200b]+", "", text), 0
    lines = [line for group in recipe.groups for line in group.lines]
    for part in (
        *(part for one in lines for part in (one.name, one.share, one.mass, one.household)),
        *(part for work in recipe.works for part in (f"{work.number}{work.title}", work.targets)),
        *(part for row in recipe.seen for part in (row.name, row.seen)),
        *recipe.cautions,
    ):
        bare = re.sub(r"\s+", "", part)
        assert bare in text[at:], part
        at = text.index(bare, at) + len(bare)
