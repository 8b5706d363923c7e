"""An amount that reads in two ways is asked about, and one tap writes either."""

import pytest

from logger.batch.form.changes import changed
from logger.batch.form.meant import meant_by
from logger.model.files import sheet_from_text
from logger.model.recipe.checked import sheet_wrongs

TEXT = """[sheet]
name = "x"
[[ingredient]]
name = "stock"
phase = "water"
amount = "90 g"
subrecipe = "stock"
[[ingredient]]
name = "salt"
phase = "water"
mass = "MASS" # fine
[[subrecipe]]
name = "brine"
[[subrecipe.ingredient]]
name = "salt"
amount = "5 % of subrecipe"
[[subrecipe.ingredient]]
name = "water"
amount = "95 % of subrecipe"
[[subrecipe]]
name = "stock"
[[subrecipe.ingredient]]
name = "beets"
amount = "PART"
"""


@pytest.mark.parametrize(
    ("typed", "forms", "masses_g"),
    [
        ("1,500 g", ["1.5 g", "1500 g"], [1.5, 1500.0]),
        ("1,050", ["1.05 g", "1050 g"], [1.05, 1050.0]),
        ("1,005 kg", ["1.005 kg", "1005 kg"], [1005.0, 1005000.0]),
        ("5,5 g", ["5.5 g"], [5.5]),
        ("5 kgs", [], []),
    ],
)
def test_a_comma_is_either_and_each_is_one_change(typed, forms, masses_g):
    for text, place in (
        (TEXT.replace("MASS", typed).replace("PART", "5 g"), 1),
        (TEXT.replace("MASS", "5 g").replace("PART", typed), 2),
    ):
        (wrong,) = sheet_wrongs(text, "s")
        offers = meant_by(text, "s", wrong)
        assert [one.value for one in offers] == forms
        assert not forms or repr(forms[0]) in wrong.wanted  # said as it is offered
        assert all(one.place == place for one in offers)
        for offer, mass_g in zip(offers, masses_g, strict=True):
            mended = changed(text, "s", [offer])
            assert sheet_wrongs(mended, "s") == []
            assert "# fine" in mended
            if place == 1:
                assert sheet_from_text(mended, "s").ingredient[1].mass_g == pytest.approx(mass_g)


def test_nothing_is_offered_for_another_fault():
    text = TEXT.replace("MASS", "5 g").replace("PART", "5 g").replace(' "water"', ' "broth"', 1)
    assert [meant_by(text, "s", wrong) for wrong in sheet_wrongs(text, "s")] == [[]]
