"""Another size is written into the sheet's own text, and nothing else of it changes."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.batch.text_edits import Edit, edited
from logger.model.errors import InputError
from logger.model.files import sheet_from_text
from logger.review.learn.scaled_text import scaled_text
from logger.virtual.batch.scenario import plain_sheet

RECIPES = Path(__file__).parents[2] / "model" / "recipe"
TEXTS = {
    "frank": (RECIPES / "frank.sheet.toml").read_text(encoding="utf-8"),
    "coil": (RECIPES / "sausage.sheet.toml").read_text(encoding="utf-8"),
    "roll": plain_sheet(False),
}


def changed_lines(before, after):
    old, new = before.splitlines(), after.splitlines()
    return {(a, b) for a, b in zip(old, new, strict=True) if a != b}


def test_only_masses_revision_and_change_are_other_lines():
    found, _ = scaled_text(TEXTS["frank"], "frank", 1.5)
    assert changed_lines(TEXTS["frank"], found) == {
        ('revision = 2', 'revision = 3'),
        ('change = "a little more methylcellulose"', 'change = "scaled by 1.5 from revision 2"'),
        ('batch = "1 kg"            # fat, water and filling together',
         'batch = "1.5 kg"            # fat, water and filling together'),
        ('amount = "5 ml"', 'amount = "7.5 ml"'),
    }  # fmt: skip


@settings(max_examples=12, deadline=None)
@given(which=st.sampled_from(sorted(TEXTS)), factor=st.floats(0.2, 20.0))
def test_the_text_reads_as_the_scaled_sheet(which, factor):
    text, found = scaled_text(TEXTS[which], which, factor)
    again = sheet_from_text(text, which)
    assert [i.name for i in again.ingredient] == [i.name for i in found.sheet.ingredient]
    for one, other in zip(again.ingredient, found.sheet.ingredient, strict=True):
        assert one.mass_g == pytest.approx(other.mass_g, rel=3e-3)
    assert [getattr(s, "pieces", None) for s in again.stage] == [
        getattr(s, "pieces", None) for s in found.sheet.stage
    ]
    comments = [line for line in TEXTS[which].splitlines() if line.startswith("#")]
    assert [line for line in text.splitlines() if line.startswith("#")] == comments


def test_a_new_key_goes_to_the_end_of_its_table_and_one_is_taken_out():
    text = '[sheet]\nname = "T"   # of ours\n\n[[ingredient]]\nname = "a"\nlot = "1"\n'
    edits = [
        Edit(path=("sheet", "why"), value="x"),
        Edit(path=("ingredient", 0, "lot"), value=None),
    ]
    assert edited(text, "t", edits) == (
        '[sheet]\nname = "T"   # of ours\nwhy = "x"\n\n[[ingredient]]\nname = "a"\n'
    )
    with pytest.raises(InputError, match=r"ingredient\.3\.lot: no place to write it"):
        edited(text, "t", [Edit(path=("ingredient", 3, "lot"), value="x")])
