"""An alternative of the sheet takes the place of an ingredient in one batch."""

import pytest

from logger.batch.standins import with_instead
from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.model.sheet import Sheet
from tests.model.recipe.texts import FRANK, SAUSAGE


def test_an_alternative_has_its_mass_its_own_facts_and_the_place_of_what_it_replaces():
    """90 % of 120 g; what is not written of shea stearin is unknown, whatever the fat had."""
    sheet = sheet_from_text(FRANK, "t.toml")
    taken = with_instead(sheet, {"coconut fat": "shea stearin"})
    first, before = taken.ingredient[0], sheet.ingredient[0]
    assert (first.name, first.phase, first.mass_g) == ("shea stearin", "fat", pytest.approx(108.0))
    assert (first.lot, first.price, first.best_before, first.grade) == ("", None, None, "")
    assert (first.fat_content_percent, first.allergens) == (None, [])
    assert (before.lot, before.fat_content_percent) == ("CF-0904", 100.0)
    assert taken.stage[0].ingredients[0] == "shea stearin"
    assert taken.ingredient[1:] == sheet.ingredient[1:]
    assert Sheet.model_validate_json(taken.model_dump_json(by_alias=True)) == taken


def test_no_alternative_leaves_the_sheet_as_it_is():
    sheet = sheet_from_text(FRANK, "t.toml")
    assert with_instead(sheet, {}) is sheet


@pytest.mark.parametrize(
    ("instead", "says"),
    [
        ({"lard": "shea stearin"}, "no ingredient 'lard'; by the sheet rusk may be replaced"),
        ({"rusk": "oats"}, "'oats' for 'rusk'; the sheet has puffed rice"),
        ({"belly of pork": "x"}, "'x' for 'belly of pork'; the sheet has no alternative"),
    ],
)
def test_what_the_sheet_does_not_name_is_refused_with_what_it_does(instead, says):
    with pytest.raises(InputError) as cause:
        with_instead(sheet_from_text(SAUSAGE, "t.toml"), instead)
    assert says in str(cause.value)


def test_a_name_that_is_on_the_list_already_is_not_there_twice():
    text = SAUSAGE.replace("puffed rice", "rapeseed oil", 1)
    with pytest.raises(InputError, match="has it already"):
        with_instead(sheet_from_text(text, "t.toml"), {"rusk": "rapeseed oil"})
