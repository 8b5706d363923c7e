"""Which line a message is about, and that all that is wrong with a sheet is told."""

import pytest

from logger.model.files import sheet_from_text
from logger.model.lines import line_of
from logger.model.recipe.checked import sheet_wrongs

TEXT = """[sheet]
name = "Smoked beet and barley roll"
defects = [
  "greasy",
]

[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 kg" }

[[stage]]
id = "skin"
kind = "set"
dwel = { low = "6 min" }
pieces = "many"
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("sheet.name", 2),
        ("sheet.revision", 1),
        ("stage[1].fat.high", 10),
        ("stage[2].dwel", 15),
        ("stage[2].pieces", 16),
        ("stage[2].bath", 12),
        ("stage[3].id", None),
        ("vessel", None),
        ("this is not TOML: Invalid value (at line 4, column 3)", 4),
        ("", None),
    ],
)
def test_a_message_names_its_line(path, line):
    assert line_of(TEXT, path) == line


def test_everything_that_is_wrong_is_told_the_unknown_key_first():
    found = sheet_wrongs(TEXT, "s")
    assert found[0].where == "s: stage[2].dwel"
    assert "dwell" in found[0].wanted
    assert {w.where for w in found[1:]} == {"s: stage[1].fat", "s: stage[2].pieces"}


@pytest.mark.parametrize("cut", range(0, len(TEXT), 29))
def test_a_half_typed_sheet_is_told_and_never_breaks(cut):
    text = TEXT[:cut]
    for wrong in sheet_wrongs(text, "s"):
        where = wrong.where.removeprefix("s: ")
        line = line_of(text, where)
        assert line is None or 1 <= line <= len(text.splitlines())


def test_a_sheet_that_reads_has_nothing_wrong():
    good = TEXT.replace("58 kg", "58 degC").replace("dwel ", "dwell ").replace('"many"', "6")
    sheet_from_text(good, "s")
    assert sheet_wrongs(good, "s") == []
