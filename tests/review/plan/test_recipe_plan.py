"""What a recipe holds is told as far as it is written, and no further."""

import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from logger.batch.holds import allergens_of, fat_held
from logger.cli.main import group
from logger.model.files import sheet_from_text
from logger.model.recipe.allergens import ALLERGENS, ANNEX_II, allergen
from logger.review.learn.sheets import scaled, template
from logger.review.plan.plan import plan

RECIPES = Path(__file__).parents[2] / "model" / "recipe"


def recipe(name):
    return sheet_from_text((RECIPES / f"{name}.sheet.toml").read_text(encoding="utf-8"), name)


def test_fat_is_a_range_while_nothing_is_written_of_some():
    """Coconut fat 120 g and 1 % of 279.8 g of granules; unknown: binder, gluten, salt, smoke."""
    held = fat_held(recipe("frank"))
    assert held.low == pytest.approx((120.0 + 2.798) / 1000.0 * 100.0)
    assert held.high == pytest.approx((120.0 + 2.798 + 22 + 33 + 15 + 5.2) / 1000.0 * 100.0)
    assert held.untold == ("methylcellulose", "wheat gluten", "salt", "smoke essence")


def test_the_plan_names_allergens_their_ingredients_and_of_whom_nothing_is_written():
    found = plan(recipe("sausage"), None, {})
    (note,) = [t for t in found.troubles if t.source.endswith("Annex II")]
    assert "wheat (rusk)" in note.says
    assert "celery (celery root)" in note.says
    assert "belly of pork" in note.do
    assert "free" not in note.says + note.do
    assert any("marjoram: added to taste" in text for text in found.untold)
    assert any("vegetable stock is made ahead, 181.8 g" in t.says for t in found.troubles)


def test_a_sheet_without_contents_and_allergens_is_told_nothing_of_them():
    sheet = sheet_from_text(template(), "template")
    assert (fat_held(sheet), allergens_of(sheet)) == (None, None)
    assert not {p.name for p in plan(sheet, None, {}).predictions} & {"fat_held_percent", "yield_g"}


def test_a_loss_gives_the_yield():
    assert plan(recipe("frank"), None, {}).value("yield_g") == pytest.approx(940.0)


def test_the_list_of_allergens_has_the_fourteen_points_of_the_regulation():
    """Regulation (EU) No 1169/2011, Annex II: points 1 to 14, from memory."""
    assert len(ANNEX_II) == 14
    assert len(set(ALLERGENS)) == len(ALLERGENS) == 14 + 6 + 8
    assert allergen(" Soybeans") == "soybeans"


def test_another_size_scales_what_is_made_ahead_and_the_batch():
    before, after = recipe("sausage"), scaled(recipe("sausage"), 2.0).sheet
    assert after.sheet.yield_g == 2 * before.sheet.yield_g
    assert after.subrecipe[0].ingredient[0].mass_g == pytest.approx(
        2 * before.subrecipe[0].ingredient[0].mass_g, rel=1e-3
    )


def test_the_command_lists_what_is_weighed_and_what_is_made_first():
    path = str(RECIPES / "sausage.sheet.toml")
    done = CliRunner(env={"COLUMNS": "120"}).invoke(group, ["sheet", "show", path])
    assert done.exit_code == 0, done.output
    lines = [line.split() for line in done.output.splitlines()]
    assert ["rapeseed", "oil", "fat", "282.0", "g", "94.0", "%"] in [line[:7] for line in lines]
    assert "Make first: vegetable stock, comes to 181.8 g" in done.output
    assert '"mass_g": 282.0' in CliRunner().invoke(group, ["sheet", "show", path, "--json"]).output


KEYS = {"batch", "yield", "loss", "author", "why"}


@pytest.mark.parametrize("page", ["DEVELOPERS.md", "logger/review/template.sheet.toml"])
def test_every_key_of_a_recipe_is_documented(page):
    from logger.model.recipe.entry import Alternative, Part, Subrecipe

    text = (Path(__file__).parents[3] / page).read_text(encoding="utf-8")
    names = {
        str(info.alias or name)
        for table in (Alternative, Part, Subrecipe)
        for name, info in table.model_fields.items()
    }
    assert [key for key in sorted(names | KEYS) if key not in text] == []


def test_what_is_past_its_best_before_is_named_from_the_day_after():
    """The pork's day is 4 Dec 2026, the oil's in the oleogel 1 May 2027."""
    sheet = recipe("sausage")

    def named(*day):
        found = plan(sheet, None, {}, today=datetime.date(*day)).troubles
        return [t.says for t in found if t.source == "best_before of the sheet"]

    assert named(2026, 12, 4) == []
    assert named(2026, 12, 5) == ["shoulder of pork was best before 4 Dec 2026"]
    assert len(named(2027, 5, 2)) == 2
    (stock,) = sheet.subrecipe
    old = stock.ingredient[1].model_copy(update={"best_before": datetime.date(2026, 1, 1)})
    aged = sheet.model_copy(update={"subrecipe": [stock.model_copy(update={"ingredient": [old]})]})
    told = plan(aged, None, {}, today=datetime.date(2026, 1, 2)).troubles
    assert "celery root was best before 1 Jan 2026" in [t.says for t in told]
