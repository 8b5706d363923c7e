"""What the browser draws of a sheet's form, and what is made of what it sends."""

import tomllib
from pathlib import Path

import pytest

from dashboard.measures import Measures
from dashboard.sheets.form import MOST_CHANGES, Asked, Pasted, made
from dashboard.sheets.outlook import MOST_TEXT, look_at
from dashboard.sheets.shown import shown
from dashboard.stores import decode, encode
from logger.batch.form.changes import Change
from logger.review.plan.known import known_fats

FATS = known_fats(None)
ROOT = Path(__file__).parents[3]
ROLL = (ROOT / "logger" / "virtual" / "roll.sheet.toml").read_text("utf-8")
SAUSAGE = (ROOT / "tests" / "model" / "recipe" / "sausage.sheet.toml").read_text("utf-8")


def drawn(text: str, **more):
    return shown(text, look_at(text, FATS, {}), Measures(), **more)


def test_rows_have_their_shares_and_cards_their_predictions():
    found = drawn(ROLL)
    stock = found.rows[1]
    assert (stock.name, stock.amount, stock.of_phase, stock.of_batch) == (
        "smoked beet stock", "330 g", "96.8", "51.5",
    )  # fmt: skip
    assert stock.more == ""
    assert found.entries[1]["substance"] == "water"
    assert [card.title for card in found.cards[:2]] == ["About the sheet", "Weigh in"]
    warm = found.cards[3]
    assert warm.aside.startswith("Fat 47 to 58 °C; Water 44 to 54 °C")
    mixing = [one for one in found.says if "Mixing temperature" in one.text]
    assert [(one.table, one.place, one.tone) for one in mixing] == [("stage", 2, "good")]
    assert found.elsewhere == ""
    assert [(one.table, one.title) for one in found.others if one.table == "vessel"] == [
        ("vessel", one["id"]) for one in tomllib.loads(ROLL)["vessel"]
    ]


def test_sub_recipes_alternatives_and_results_have_cards_with_what_is_wrong_at_them():
    text = SAUSAGE.replace('ratio = "80 %"', 'ratio = "80,5 %"').replace('"3 g"', '"3"', 1)
    found = drawn(text)
    oleogel = next(one for one in found.others if one.title == "oleogel")
    parts = [one for one in found.others if one.table == "subrecipe.ingredient"]
    assert [p.title for p in parts if p.outer == oleogel.place] == ["rapeseed oil", "wax premix"]
    made_by = next(one for one in found.entry if one.label == "Sub-recipe")
    assert made_by.cells[0].choices == ("oleogel", "wax premix", "vegetable stock")
    says = {(one.table, one.place): one for one in found.says if one.tone == "stop"}
    rice = next(one for one in found.others if one.title == "puffed rice")
    wax = next(one for one in parts if one.title == "sunflower wax")
    assert "80.5 %" in says["ingredient.alternative", rice.place].text
    assert says["subrecipe.ingredient", wax.place].path == ("amount",)


def test_what_is_typed_is_predicted_with_before_it_is_in_the_text():
    asked = Asked(changes=(Change(act="set", table="ingredient", path=("amount",), value="200 g"),))
    look = look_at(made(ROLL, asked)[0], FATS, {})
    found = shown(ROLL, look, Measures(), typing=True)
    assert found.rows[0].amount == "180 g"
    assert found.rows[0].of_batch == "30.3"
    assert found.cards is None


def test_a_warning_stands_at_its_row_and_at_its_field():
    bad = ROLL.replace('"5 g"', '"5,5 g"', 1).replace('low = "6 min"', 'low = "6:00"', 1)
    found = drawn(bad)
    assert found.rows[3].wrong == {"amount": "Amount: '5,5 g' has a decimal comma. Write '5.5 g'."}
    row, says = [one for one in found.says if one.tone == "stop"]
    assert (row.table, row.place, row.path) == ("ingredient", 3, ("amount",))
    assert (says.table, says.place, says.path[0]) == ("stage", 1, "time")
    assert "6 min" in says.text


def test_a_text_that_is_no_toml_has_no_form_and_says_what_to_correct():
    assert "At line 1" in drawn("[sheet\n").broken
    assert "too long" in drawn("x" * (MOST_TEXT + 1)).broken


def test_what_can_be_done_is_done_and_the_rest_is_told():
    changes = (
        Change(act="remove", table="stage", place=90),
        Change(act="set", table="sheet", path=("author",), value="M. Tarrow"),
    )
    text, refused = made(ROLL, Asked(changes=changes))
    assert 'author = "M. Tarrow"' in text
    assert refused.startswith("Not changed.")
    text, refused = made(ROLL, Asked(pasted=Pasted(text="")))
    assert text == ROLL
    assert refused.startswith("Not pasted.")
    assert made(ROLL, Asked(changes=changes * MOST_CHANGES))[0] == ROLL


@pytest.mark.parametrize(
    ("row", "column", "text", "amounts"),
    [
        (1, "amount", "300\n7\n", ["180 g", "300 g", "7 g", "5 g"]),
        (8, "lot", "A\nB\n", ["180 g", "330 g", "6 g", "5 g"]),
        (-1, "", "sugar\t12 g", ["180 g", "330 g", "6 g", "5 g"]),
    ],
)
def test_a_column_goes_down_from_its_cell_and_a_list_behind_the_last(row, column, text, amounts):
    after, refused = made(ROLL, Asked(pasted=Pasted(text=text, row=row, column=column)))
    assert refused == ""
    rows = drawn(after).rows
    assert [one.amount for one in rows[:4]] == amounts
    assert len(rows) == 9 + (column != "amount")


@pytest.mark.parametrize(
    "sent",
    [
        {"number": "x"},
        {"changes": [{"act": "delete everything", "table": "sheet"}]},
        {"changes": [{"act": "set", "table": "photo", "path": ["id"]}]},
        [1, 2],
    ],
)
def test_what_no_page_of_ours_sends_is_nothing(sent):
    assert decode(Asked, sent) is None


def test_what_is_drawn_travels_as_json():
    assert encode(drawn(ROLL))["cards"][1]["lines"][0]["cells"][0]["path"] == ["title"]
