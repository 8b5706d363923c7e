"""Shares of rows, and warnings at their place in the form."""

import pytest

from logger.batch.form.sums import shares_of, warned
from logger.model.quantity import number_in
from logger.model.recipe.checked import checked_sheet

HEAD = '[sheet]\nname = "x"\n'


def row(name: str, phase: str, amount: str) -> str:
    return f'[[ingredient]]\nname = "{name}"\nphase = "{phase}"\namount = "{amount}"\n'


def test_a_share_is_of_the_phase_and_of_what_is_eaten():
    text = HEAD + row("oil", "fat", "50 g") + row("stock", "water", "90 g")
    text += row("salt", "water", "10 % of phase") + row("salt bath", "bath", "15 g")
    text += row("thyme", "water", "to taste")
    found = shares_of(checked_sheet(text, "s").written)
    assert [one.mass_g for one in found] == pytest.approx([50.0, 90.0, 10.0, 15.0, None])
    assert [one.of_phase_percent for one in found[:4]] == pytest.approx([100.0, 90.0, 10.0, 100.0])
    eaten = [one.of_batch_percent for one in found]
    assert eaten[:3] == pytest.approx([100 / 3, 60.0, 20 / 3])
    assert eaten[3:] == [None, None]
    assert number_in("10 %", "percent") == 10.0


def test_amounts_that_cannot_be_told_have_no_shares():
    text = HEAD + row("salt", "water", "10 % of phase")
    assert shares_of(checked_sheet(text, "s").written) == ()


def test_one_of_a_list_that_is_wrong_marks_the_field_of_all():
    text = HEAD + row("oil", "fat", "5 g") + 'allergens = ["milk", "gluten"]\n'
    (found,) = warned(checked_sheet(text, "s").wrongs, "s")
    assert (found.table, found.place, found.path) == ("ingredient", 0, ("allergens",))
    assert "did you mean 'cereals containing gluten'" in str(found.wrong)


def test_a_warning_is_at_its_row_or_field():
    text = (
        HEAD + row("oil", "fat", "5,5") + '[[stage]]\nid = "a"\nkind = "work"\ntime = { low = 3 }\n'
    )
    found = [(w.table, w.place, w.path) for w in warned(checked_sheet(text, "s").wrongs, "s")]
    assert found == [("ingredient", 0, ("amount",)), ("stage", 0, ("time",))]
    (broken,) = warned(checked_sheet("[sheet\n", "s").wrongs, "s")
    assert (broken.table, broken.path) == ("", ())
