"""Sheets are written so that they read back, scaled by mass, and compared line by line."""

import pytest

from logger.model.errors import OutOfRangeError
from logger.model.files import sheet_from_text
from logger.review.learn.sheet_text import quantity_text, sheet_as_toml
from logger.review.learn.sheets import differences, factor_for, scaled, template
from logger.review.plan.plan import plan
from logger.science.fats.fatfile import builtin_fats


@pytest.fixture
def sheet():
    return sheet_from_text(template(), "template.sheet.toml")


def test_the_first_sheet_reads_and_its_plan_finds_nothing_that_will_not_work(sheet):
    found = plan(sheet, None, builtin_fats())
    assert [t for t in found.troubles if t.weight == "will not work"] == []
    assert found.untold == ()


def test_a_sheet_written_out_reads_back_to_the_same_sheet(sheet):
    text = sheet_as_toml(sheet, head="From a run.\nTwo lines.")
    assert text.startswith("# From a run.\n# Two lines.\n")
    assert sheet_from_text(text, "again") == sheet


def test_names_with_quotes_and_control_characters_read_back(sheet):
    nasty = 'a "b" \\ c\n\t\x7f é ]]'
    head = sheet.sheet.model_copy(update={"notes": nasty})
    again = sheet_from_text(sheet_as_toml(sheet.model_copy(update={"sheet": head})), "again")
    assert again.sheet.notes == nasty


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(420.0, "s", "7 min"), (90.0, "s", "90 s"), (421.0, "s", "421 s"), (0.1 + 0.2, "g",
     "0.30000000000000004 g"), (21.5, "degC", "21.5 degC")],
)  # fmt: skip
def test_a_number_written_out_is_the_number(value, unit, text):
    assert quantity_text(value, unit) == text


def test_half_as_much_again_scales_masses_and_pieces_and_nothing_else(sheet):
    found = scaled(sheet, 1.5)
    assert [i.mass_g for i in found.sheet.ingredient][:3] == [270.0, 495.0, 9.0]
    assert {s.pieces for s in found.sheet.stage if s.kind == "coat"} == {9}
    assert found.sheet.sheet.revision == 2
    where = {c.where for c in differences(sheet, found.sheet)}
    assert where == {f"{i.name}: mass" for i in sheet.ingredient} | {"stage coat: pieces"}
    assert scaled(found.sheet, 1 / 1.5).sheet.ingredient == sheet.ingredient


def test_pieces_that_do_not_come_out_whole_are_told(sheet):
    assert any("6 pieces become 8" in m for m in scaled(sheet, 1.25).mind)


def test_a_factor_for_pieces_and_for_mass(sheet):
    assert factor_for(sheet, pieces=9) == 1.5
    assert factor_for(sheet, mass_g=1032.0) == pytest.approx(2.0)
    with pytest.raises(OutOfRangeError):
        scaled(sheet, 0.0)
    empty = sheet_from_text('[sheet]\nname = "x"\n', "x")
    with pytest.raises(OutOfRangeError):
        factor_for(empty, mass_g=100.0)
    with pytest.raises(OutOfRangeError):
        factor_for(empty, pieces=3)


def test_a_default_written_out_is_no_difference(sheet):
    text = template().replace('kind = "coat"', 'kind = "coat"\nscale_holds = "piece"', 1)
    text = text.replace('name = "cocoa butter"', 'name = "cocoa butter"\npurity = "100 %"', 1)
    text = text.replace('kind = "weigh"', 'kind = "weigh"\nends = "operator"', 1)
    assert text.count("\n") == template().count("\n") + 3
    assert differences(sheet, sheet_from_text(text, "new")) == []


def test_the_same_fat_under_another_name_is_no_difference_but_its_mass_is(sheet):
    text = template().replace('name = "cocoa butter"', 'name = "cacao fat, deodorised"', 1)
    again = sheet_from_text(text, "new")
    assert again != sheet
    assert differences(sheet, again) == []
    more = sheet_from_text(text.replace('mass = "180 g"', 'mass = "190 g"', 1), "more")
    assert [(c.where, c.before, c.after) for c in differences(sheet, more)] == [
        ("cocoa butter: mass", "180 g", "190 g")
    ]


def test_differences_name_the_place_the_old_and_the_new(sheet):
    text = template().replace('lot = ""', 'lot = "CB-9"', 1).replace('"6 min"', '"7 min"', 1)
    found = differences(sheet, sheet_from_text(text, "new"))
    assert [(c.where, c.before, c.after) for c in found] == [
        ("cocoa butter: lot", "", "CB-9"),
        ("stage skin: dwell", "6 to 12 min", "7 to 12 min"),
    ]
    assert differences(sheet, sheet) == []


def test_another_fat_in_place_of_the_first_is_one_change(sheet):
    text = template().replace('name = "cocoa butter"', 'name = "shea fat"', 1)
    text = text.replace('fat = "cocoa_butter"', 'fat = "shea_butter"', 1)
    found = differences(sheet, sheet_from_text(text, "new"))
    assert [(c.where, c.before, c.after) for c in found] == [
        ("fat ingredient", "cocoa butter", "shea fat")
    ]
    less = sheet_from_text(text.replace('mass = "180 g"', 'mass = "170 g"', 1), "new")
    assert ("fat ingredient: mass", "180 g", "170 g") in [
        (c.where, c.before, c.after) for c in differences(sheet, less)
    ]


def test_a_long_list_is_broken_up_and_reads_back():
    masses = ", ".join(f'"{60 + n}.25 g"' for n in range(12))
    text = f'[sheet]\nname = "R"\n[[stage]]\nid = "skin"\nkind = "set"\npiece_masses = [{masses}]\n'
    sheet = sheet_from_text(text, "long")
    written = sheet_as_toml(sheet)
    assert '[\n  "60.25 g",\n  "61.25 g",\n' in written
    assert max(map(len, written.splitlines())) < 30
    assert sheet_from_text(written, "again") == sheet
    short = sheet_from_text(text.replace(masses, '"60 g", "61 g"'), "short")
    assert 'piece_masses = ["60 g", "61 g"]' in sheet_as_toml(short)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(119.0, "s", "119 s"), (120.0, "s", "2 min"), (-120.0, "s", "-2 min"), (120.0, "g", "120 g"),
     (1234567.0, "g", "1234567.0 g"), (0.5, "", "0.5")],
)  # fmt: skip
def test_two_minutes_and_more_are_written_in_minutes_where_they_come_out_even(value, unit, text):
    assert quantity_text(value, unit) == text


def test_another_size_forgets_the_masses_of_single_pieces_and_keeps_at_least_one_piece():
    text = (
        '[sheet]\nname = "R"\nyield = "1 kg"\n[[stage]]\nid = "skin"\nkind = "set"\npieces = 3\n'
        'piece_masses = ["60 g", "61 g", "62 g"]\n[[stage]]\nid = "pour"\nkind = "emulsify"\n'
        'mass = { low = "100 g" }\n'
    )
    found = scaled(sheet_from_text(text, "s"), 0.1).sheet
    skin, pour = found.stage
    assert (skin.piece_masses_g, skin.pieces) == (None, 1)
    assert (pour.mass_g.low, pour.mass_g.high) == (10.0, None)
    assert found.sheet.yield_g == 100.0
    assert found.sheet.change == "scaled by 0.1 from revision 1"
    assert factor_for(sheet_from_text(text, "s"), pieces=6) == 2.0
