"""All that is wrong with a sheet is told at once, each at its key, and nothing that follows."""

import pytest

from logger.model.recipe.checked import checked_sheet
from logger.review.plan.known import checked, known_fats

FATS = known_fats(None)
SHEET = """[sheet]
name = "x"
[[ingredient]]
name = "shea"
phase = "fat"
amount = "60 % of phase"
fat = "no such fat"
[[ingredient]]
name = "lard"
phase = "fat"
amount = "30 % of phase"
[[ingredient]]
name = "water"
phase = "water"
amount = "180 g"
price = "2 EUR/kg"
[[ingredient]]
name = "stock"
phase = "water"
amount = "5 g"
subrecipe = "stock"
[[subrecipe]]
name = "stock"
[[subrecipe.ingredient]]
name = "premix"
subrecipe = "premix"
amount = "40 % of subrecipe"
[[subrecipe.ingredient]]
name = "broth"
amount = "50 % of subrecipe"
[[subrecipe]]
name = "premix"
[[subrecipe.ingredient]]
name = "stock"
subrecipe = "stock"
amount = "5 g"
fat = "nor this one"
[[stage]]
id = "w"
kind = "weigh"
"""
ALWAYS = {
    "subrecipe[2].ingredient[1].subrecipe": "a circle: stock → premix → stock",
    "subrecipe[1].ingredient[2].amount": "the percents of the sub-recipe sum to 90 %",
    "ingredient[2].amount": "the percents of the fat phase sum to 90 %",
    "ingredient[1].fat": "no fat 'no such fat'",
    "subrecipe[2].ingredient[1].fat": "no fat 'nor this one'",
}


def wrongs_of(text):
    return {w.where.removeprefix("s: "): w.found for w in checked(text, "s", FATS).wrongs}


@pytest.mark.parametrize(
    ("was", "now", "more", "less"),
    [
        ("", "", {}, ()),
        ("180 g", "1,500 g", {"ingredient[3].amount": "'1,500 g' has a decimal comma"}, ()),
        ("2 EUR/kg", "2", {"ingredient[3].price": "'2' is not a price per mass"}, ()),
        ('kind = "weigh"', 'kind = "w"', {"stage[1]": "kind 'w'"}, ()),
        ('"60 % of phase"', '"60 %"', {"ingredient[1].amount": "'60 %' does not say of what"},
         ("ingredient[2].amount",)),
        ('phase = "water"\namount = "180 g"', 'amount = "180 g"',
         {"ingredient[3].phase": "missing"}, ("ingredient[2].amount",)),
        ('name = "x"', "", {"sheet.name": "missing"}, ()),
        ('name = "premix"\nsubrecipe', "subrecipe", {"subrecipe[1].ingredient[1].name": "missing"},
         ()),
    ],
)  # fmt: skip
def test_circles_sums_and_unknown_fats_are_told_with_whatever_else_is_wrong(was, now, more, less):
    found = wrongs_of(SHEET.replace(was, now, 1))
    assert found == {key: says for key, says in {**ALWAYS, **more}.items() if key not in less}


def test_every_circle_has_its_names_and_its_place():
    made = "".join(
        f'[[subrecipe]]\nname = "{name}"\n[[subrecipe.ingredient]]\nname = "{needs}"\n'
        f'subrecipe = "{needs}"\namount = "5 g"\n'
        for name, needs in (("a", "b"), ("b", "a"), ("c", "c"), ("d", "a"))
    )
    found = wrongs_of(f'[sheet]\nname = "x"\n{made}')
    assert found == {
        "subrecipe[2].ingredient[1].subrecipe": "a circle: a → b → a",
        "subrecipe[3].ingredient[1].subrecipe": "a circle: c → c",
    }


def test_what_is_wrong_with_tables_that_are_none_is_told_alone():
    for text in ("sheet = 3\n", '[sheet]\nname = "x"\ningredient = 5\n', "[[ingredient]]\n"):
        found = checked_sheet(text, "s")
        assert found.wrongs
        assert found.sheet is found.written is None
