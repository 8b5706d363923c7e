"""Lists as cooks have them become rows, and nothing in them is guessed."""

import pytest

from logger.batch.form.changes import changed
from logger.batch.form.pasted import MOST_PASTED, added, pasted_changes, rows_of
from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.model.recipe.checked import sheet_wrongs


def told(text: str) -> list[tuple[str, str, str]]:
    return [(row.name, row.phase, row.amount) for row in rows_of(text)]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        (
            "Ingredient\tAmount (g)\tPhase\nbutter\t180\tfat\nsalt\t5,5\tWater phase\n",
            [("butter", "fat", "180 g"), ("salt", "water", "5.5 g")],
        ),
        ("Name;kg\nflour;1.2\n", [("flour", "", "1.2 kg")]),
        ("name,grams\nflour,120\nsalt,3\n", [("flour", "", "120 g"), ("salt", "", "3 g")]),
        ("eggs\t3\nmilk\t0.5\n", [("eggs 3", "", ""), ("milk 0.5", "", "")]),
        ("butter\t180\tg\nsalt\t5\tg\n", [("butter", "", "180 g"), ("salt", "", "5 g")]),
        (
            "Fat phase:\n180 g cocoa butter\nWater:\n- 5 to 6 g of salt\nthyme to taste\n",
            [
                ("cocoa butter", "fat", "180 g"),
                ("salt", "water", "5 to 6 g"),
                ("thyme", "water", "to taste"),
            ],
        ),
        ("Zutat\tMenge (g)\tPhase\nButter\t180,5\tFettphase\n", [("Butter", "fat", "180.5 g")]),
        ("Ingrédient;Quantité (kg)\nbeurre;0,25\n", [("beurre", "", "0.25 kg")]),
        ("Ingrediente\tCantidad\nsal\tal gusto\n", [("sal", "", "to taste")]),
        ("Ingredienti\tPeso (g)\nburro\t1,500\n", [("burro", "", "1,500 g")]),
        ("1 1/2 lb beef\n1½ lb lamb\n¾ oz salt", [
            ("beef", "", "1.5 lb"), ("lamb", "", "1.5 lb"), ("salt", "", "0.75 oz"),
        ]),
        ("minus -5 g salt\n- 5 g pepper\n-3 g mace", [
            ("salt", "", "minus -5 g"), ("pepper", "", "5 g"), ("mace", "", "-3 g"),
        ]),
        ("Zutat;Menge\nFett;0,25 kg\nEis;1.250 g\nSalz;1.012,5 g\nSumme;2.512,5 g", [
            ("Fett", "", "0.25 kg"), ("Eis", "", "1250 g"), ("Salz", "", "1012.5 g"),
        ]),
        ("Zutat\tMenge\tEinheit\nFett\t1,5\tkg\nWasser\t750\tGramm", [
            ("Fett", "", "1.5 kg"), ("Wasser", "", "750 g"),
        ]),
        ("1 lb 2 oz mince\n2 lbs and 8 oz lard", [
            ("mince", "", "1.125 lb"), ("lard", "", "2.5 lb"),
        ]),
        ("1 kg 30 g sachets", [("1 kg 30 g sachets", "", "")]),
        ("butter\t1.250 g\nTotal\t1.250 g", [("butter", "", "1.250 g")]),
        ("butter\t180 g\ntotal mix\t20 g", [("butter", "", "180 g"), ("total mix", "", "20 g")]),
        ("0,125 kg butter\n1.250 g salt", [("butter", "", "0.125 kg"), ("salt", "", "1250 g")]),
        ("gold\t1e9 kg\nsalt\t-5 g", [("gold", "", "1e9 kg"), ("salt", "", "-5 g")]),
        ("3 eggs\n2 cloves garlic", [("3 eggs", "", ""), ("garlic", "", "2 cloves")]),
        ("1.5 % of phase starch\nsugar 5\nsalt\n", [
            ("starch", "", "1.5 % of phase"), ("sugar 5", "", ""), ("salt", "", ""),
        ]),
    ],
)  # fmt: skip
def test_a_list_becomes_rows(text, rows):
    assert told(text) == rows


def test_a_last_cell_in_percent_is_the_tolerance():
    (row,) = rows_of("flour\t250 g\t1 %")
    assert (row.amount, row.tolerance) == ("250 g", "1 %")


def test_only_an_amount_is_read_as_a_fraction():
    """A lot, a date and a name keep what stands in them."""
    (row,) = rows_of("Ingredient\tAmount\tLot\tPrice\nhalf-1/2 stock\t1 1/2 lb\t11/26\t3/4")
    assert (row.name, row.amount, row.lot, row.price) == (
        "half-1/2 stock",
        "1.5 lb",
        "11/26",
        "3/4",
    )
    assert told("stock 1/2 salted 5 g\nbeef 1 1/2 lb") == [
        ("stock 1/2 salted", "", "5 g"), ("beef", "", "1.5 lb"),
    ]  # fmt: skip
    text = changed('[sheet]\nname = "x"\n', "s", added(rows_of("180 g a"), -1))
    for column, value in (("lot", "11/26"), ("amount", "0.5 kg")):
        (one,) = pasted_changes(text, "11/26" if column == "lot" else "1/2 kg", 0, column)
        assert one.value == value


def test_what_is_missing_is_asked_at_its_field_and_what_is_whole_reads():
    text = changed('[sheet]\nname = "x"\n', "s", added(rows_of("butter\t180 g\nsalt\t1,500 g"), -1))
    wrongs = [(w.where, w.wanted) for w in sheet_wrongs(text, "s")]
    assert [where for where, _ in wrongs] == [
        "s: ingredient[1].phase", "s: ingredient[2].phase", "s: ingredient[2].amount",
    ]  # fmt: skip
    assert wrongs[2][1] == "write '1.5 g' or '1500 g'"
    whole = changed('[sheet]\nname = "x"\n', "s", added(rows_of("Fat:\n180 g a\n5 g b"), -1))
    assert [one.mass_g for one in sheet_from_text(whole, "s").ingredient] == [180.0, 5.0]


def test_all_that_is_wrong_is_told_at_once_each_at_its_row():
    rows = rows_of("Fat:\ngold\t1e9 kg\nminus -5 g salt\n3 eggs\n1,500 g lard")
    text = changed('[sheet]\nname = "x"\n', "s", added(rows, -1))
    wrongs = {w.where.removeprefix("s: "): w.found for w in sheet_wrongs(text, "s")}
    assert wrongs == {
        "ingredient[1].mass": "1e+09 kg is more than a kitchen weighs",
        "ingredient[2].amount": "'minus -5 g' is not a number with a unit",
        "ingredient[3].mass": "missing",
        "ingredient[4].amount": "'1,500 g' has a decimal comma",
    }
    rows = rows_of("Fat:\n3 eggs\n5 g salt\n2 eggs")
    text = changed('[sheet]\nname = "x"\n', "s", added(rows, -1))
    assert [w.where for w in sheet_wrongs(text, "s")] == [
        "s: ingredient[1].mass", "s: ingredient[3].mass",
    ]  # fmt: skip


@pytest.mark.parametrize("text", ["", " \n\t\n", "x" * (MOST_PASTED + 1), "1 g a\n" * 201])
def test_what_is_no_list_or_too_long_is_refused(text):
    with pytest.raises(InputError):
        rows_of(text)
