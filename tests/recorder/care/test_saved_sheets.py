"""Sheets changed on the screen: revisions count up, the old one stays, nothing is half saved."""

import pytest

from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.recorder.care.saved_sheets import save_sheet, with_revision
from logger.store.folder import earlier
from logger.store.folder.datafolder import DataFolder

SHEET = """# my roll
[sheet]
name = "Smoked beet and barley roll"
revision = 4   # counts up by itself
defects = [
  "greasy",
]

[[stage]]
id = "skin"
kind = "set"
dwell = { low = "6 min", high = "12 min" }
"""


@pytest.fixture
def folder(tmp_path) -> DataFolder:
    return DataFolder(tmp_path)


def test_a_new_sheet_is_saved_as_it_was_typed(folder):
    saved = save_sheet(folder, "beet roll", SHEET, None)
    assert (saved.revision, saved.changed) == (4, True)
    assert folder.sheet_text("beet roll") == SHEET
    assert earlier.revisions(folder, "beet roll") == []


def test_a_changed_sheet_gets_the_next_revision_and_the_old_one_stays(folder):
    save_sheet(folder, "beet roll", SHEET, None)
    saved = save_sheet(folder, "beet roll", SHEET.replace("12 min", "10 min"), 4)
    assert saved.revision == 5
    text = folder.sheet_text("beet roll")
    assert text == saved.text
    assert sheet_from_text(text, "s").sheet.revision == 5
    assert "# counts up by itself" in text
    assert earlier.revisions(folder, "beet roll") == [4]
    assert earlier.text_of(folder, "beet roll", 4) == SHEET
    assert folder.sheet_names() == ["beet roll"]


def test_a_sheet_that_was_not_changed_keeps_its_revision(folder):
    save_sheet(folder, "beet roll", SHEET, None)
    assert not save_sheet(folder, "beet roll", SHEET, 4).changed
    assert earlier.revisions(folder, "beet roll") == []


def test_what_was_saved_meanwhile_is_not_overwritten(folder):
    save_sheet(folder, "beet roll", SHEET, None)
    save_sheet(folder, "beet roll", SHEET.replace("12 min", "10 min"), 4)
    with pytest.raises(InputError, match="revision 5 was saved in the meantime"):
        save_sheet(folder, "beet roll", SHEET.replace("12 min", "9 min"), 4)
    assert "10 min" in folder.sheet_text("beet roll")


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("../bench", SHEET, "use letters"),
        ("a/b", SHEET, "use letters"),
        ("beet roll", SHEET, "there is one already"),
        ("other", SHEET.replace("12 min", "12 kg"), "dwell"),
        ("other", "no toml", "at line 1"),
    ],
)
def test_what_cannot_be_saved_leaves_everything_as_it_was(folder, tmp_path, name, text, says):
    save_sheet(folder, "beet roll", SHEET, None)
    before = sorted(p for p in tmp_path.rglob("*") if p.is_file())
    with pytest.raises(InputError, match=says):
        save_sheet(folder, name, text, None)
    assert sorted(p for p in tmp_path.rglob("*") if p.is_file()) == before
    assert folder.sheet_text("beet roll") == SHEET


def test_a_saved_sheet_that_does_not_read_can_be_mended(folder):
    folder.save_sheet("beet roll", "broken")
    assert save_sheet(folder, "beet roll", SHEET, 0).revision == 4
    assert earlier.text_of(folder, "beet roll", 0) == "broken"


def test_a_revision_is_added_where_none_stands():
    text = with_revision(SHEET.replace("revision = 4   # counts up by itself\n", ""), 2)
    assert sheet_from_text(text, "s").sheet.revision == 2


def test_a_revision_that_was_not_kept_is_told_by_what_was(folder):
    save_sheet(folder, "beet roll", SHEET, None)
    with pytest.raises(InputError, match="kept: none"):
        earlier.text_of(folder, "beet roll", 3)
