"""What no kitchen has, and names that cannot be shown, are refused in a sheet at their key."""

import pytest

from logger.model.errors import InputError
from logger.model.files import sheet_from_text

GOOD = """[sheet]
name = "T"
revision = 1
[[stage]]
id = "a"
kind = "heat"
fat = {low = "47 degC"}
"""


@pytest.mark.parametrize(
    ("good", "bad", "says"),
    [
        ("47 degC", "47 K", "stage[1].fat: -226.1 degC is colder than any kitchen; write"),
        ("revision = 1", f"revision = {10**24}", "it must be at most 999999"),
        ('id = "a"', 'id = "a\\u202Eb"', "stage[1].id: a hidden character (U+202E)"),
        ('id = "a"', 'id = "a\\u0000"', "a hidden character (U+0000)"),
        (
            'kind = "heat"\nfat = {low = "47 degC"}',
            'kind = "set"\npieces = 6\npiece_masses = ["60 g", "61 g", "59 g", "60 g", "62 g"]',
            "stage[1].piece_masses: masses of 5 pieces, and there are 6; write one for each piece",
        ),
        ('name = "T"', 'name = "T\\u2067"', "sheet.name: a hidden character (U+2067)"),
    ],
)
def test_it_is_refused(good, bad, says):
    with pytest.raises(InputError) as refused:
        sheet_from_text(GOOD.replace(good, bad), "t.toml")
    assert says in str(refused.value)


def test_kelvin_of_a_kitchen_reads():
    sheet = sheet_from_text(GOOD.replace("47 degC", "320.15 K"), "t.toml")
    assert sheet.stage[0].fat_c.low == pytest.approx(47.0)


def test_a_key_in_the_wrong_table_is_not_answered_with_itself():
    with pytest.raises(InputError, match=r"unknown key; begin it with \[\[stage\]\]"):
        sheet_from_text('[sheet]\nname = "T"\n[[sheet.stage]]\nid = "a"\n', "t.toml")
