"""What a batch costs, from prices and what was weighed."""

import pytest

from logger.batch.cost import cost_of, currencies
from logger.model.files import sheet_from_text

SHEET = """
[sheet]
name = "Roll"
[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
price = "14.20 EUR/kg"
[[ingredient]]
name = "beet stock"
phase = "water"
substance = "water"
mass = "320 g"
price = "3.00 EUR/kg"
[[ingredient]]
name = "binder"
phase = "water"
substance = "binder"
mass = "6 g"
[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_dihydrate"
mass = "20 g"
price = "9.80 EUR/kg"
"""


def test_batch_piece_and_kg_by_hand():
    """0.2 kg x 14.20 + 0.3 kg x 3.00 + 0.02 kg x 9.80 = 2.84 + 0.90 + 0.196 = 3.936 EUR."""
    masses = {"cocoa butter": 200.0, "beet stock": 300.0, "calcium chloride": 20.0}
    cost = cost_of(sheet_from_text(SHEET, "s"), masses, 6)
    assert cost.currency == "EUR"
    assert cost.batch == pytest.approx(3.936)
    assert cost.piece == pytest.approx(0.656)
    assert cost.kg == pytest.approx(3.936 / 0.5)
    assert cost.without == ()
    assert cost.says() == (
        "Cost: 3.94 EUR for the batch, 0.66 EUR a piece, 7.87 EUR a kg of filling"
    )


def test_what_has_no_price_is_named_and_what_was_not_weighed_is_not():
    cost = cost_of(sheet_from_text(SHEET, "s"), {"binder": 6.0, "cocoa butter": 180.0}, None)
    assert cost.without == ("binder",)
    assert cost.piece is None
    assert cost.says().endswith("binder without a price")


def test_what_some_ingredients_cost_is_not_told_as_the_batch():
    """0.18 kg x 14.20 = 2.556 EUR, of three ingredients that have a price."""
    masses = {"cocoa butter": 180.0}
    cost = cost_of(sheet_from_text(SHEET, "s"), masses, 6)
    assert (cost.batch, cost.piece, cost.kg) == (pytest.approx(2.556), None, None)
    assert cost.says() == "Cost so far: 2.56 EUR for 1 of 3 ingredients with a price"
    masses |= {"beet stock": 320.0, "calcium chloride": 20.0}
    assert cost_of(sheet_from_text(SHEET, "s"), masses, 6).says().startswith("Cost: ")


def test_two_currencies_give_no_cost():
    sheet = sheet_from_text(SHEET.replace("9.80 EUR", "9.80 CHF"), "s")
    assert currencies(sheet) == ["CHF", "EUR"]
    assert cost_of(sheet, {"cocoa butter": 180.0}, None) is None


def test_without_a_price_or_a_mass_there_is_none():
    assert cost_of(sheet_from_text(SHEET, "s"), {}, 6) is None


STOCK = """
[sheet]
name = "Soup"
[[ingredient]]
name = "stock"
phase = "water"
subrecipe = "stock"
mass = "350 g"
[[subrecipe]]
name = "stock"
yield = "700 g"
[[subrecipe.ingredient]]
name = "water"
substance = "water"
mass = "1 kg"
[[subrecipe.ingredient]]
name = "celery root"
mass = "200 g"
price = "2.10 EUR/kg"
[[subrecipe.ingredient]]
name = "bay leaf"
amount = "to taste"
"""


def test_what_is_made_ahead_costs_what_goes_into_it():
    """Half of 700 g: 100 g of celery root at 2.10 EUR/kg are 0.21 EUR; water costs nothing."""
    sheet = sheet_from_text(STOCK, "s")
    cost = cost_of(sheet, {"stock": 350.0}, None)
    assert (cost.currency, cost.without) == ("EUR", ())
    assert cost.batch == pytest.approx(0.21)
    assert cost_of(sheet, {"stock": 700.0}, None).batch == pytest.approx(0.42)


def test_what_is_made_ahead_of_something_without_a_price_has_none():
    text = STOCK + '[[subrecipe.ingredient]]\nname = "leek"\nmass = "50 g"\n'
    assert cost_of(sheet_from_text(text, "s"), {"stock": 350.0}, None) is None
    own = text.replace('mass = "350 g"', 'mass = "350 g"\nprice = "1.00 EUR/kg"')
    assert cost_of(sheet_from_text(own, "s"), {"stock": 350.0}, None).batch == pytest.approx(0.35)
