"""Everything that can be wrong with a batch sheet: one line with file, key, found and expected."""

import csv
import re
import sys
from pathlib import Path

import pytest

from logger.batch.names import known_sheet, wrong_names
from logger.cli.main import group
from logger.model.bench import bench_of_roles
from logger.model.errors import BainlogError, InputError
from logger.model.files import sheet_from_text
from logger.model.sheet import Sheet
from logger.science.fats.fatfile import builtin_fats
from tests.cli.inside import inside

BAINLOG = Path(sys.executable).parent / "bainlog"
FATS = builtin_fats()
BENCH = bench_of_roles(["fat", "water"])
NAME = "roll.sheet.toml"
LINE = re.compile(r"at line \d+: (?=[a-z]+(\[\d+\])?([.:]|$))")
"""Ahead of the key, where the key has a line of its own."""

GOOD = """
[sheet]
name = "Roll"
revision = 2
decision_rule = "guarded"
defects = ["greasy"]

[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
tolerance = "1 %"
price = "14.20 EUR/kg"

[[ingredient]]
name = "beet stock"
phase = "water"
substance = "water"
mass = "330 g"

[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_dihydrate"
mass = "28 g"

[[vessel]]
id = "bowl"
holds = "water"
mass = "412 g"
material = "glass"

[[stage]]
id = "in"
kind = "weigh"
ingredients = ["cocoa butter", "beet stock"]

[[stage]]
id = "soak"
kind = "hydrate"
ingredient = "beet stock"
time = { low = "10 min" }
channel = "water"

[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }
fat_above_water = { low = "-1 K", high = "6 K" }

[[stage]]
id = "combine"
kind = "emulsify"
pour = "fat"
rate = { low = "60 g/min", high = "150 g/min" }
fat_fraction = { low = "32 %", high = "37 %" }

[[stage]]
id = "skin"
kind = "set"
dwell = { low = "6 min", high = "12 min" }
pieces = 2
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
piece_masses = ["81 g", "82 g"]
expected_coat = "0.6 mm"

[[stage]]
id = "fridge"
kind = "chill"
core = { high = "5 degC" }
rule_set = "food_code_cooked"

[[stage]]
id = "pan"
kind = "cook"
core = { low = "63 degC" }
hold = "15 s"
lethality = "fsis_1999_beef_6_5_log"
log_reduction = 6.5

[[stage]]
id = "pass"
kind = "hold"
rule_set = "food_code_cold"
"""


def cases():
    """What is put in place of what, and the words of the one line; a line break is written \\n."""
    with Path(__file__).with_name("bad_sheets.csv").open(newline="", encoding="utf-8") as file:
        return [[cell.replace("\\n", "\n") for cell in row] for row in csv.reader(file)][1:]


CASES = cases()


def check(text):
    return known_sheet(text, NAME, FATS, BENCH)


def test_the_sheet_that_is_spoiled_below_is_good():
    assert len(check(GOOD).stage) == 8


@pytest.mark.parametrize(("old", "new", "key", "found", "wanted"), CASES)
def test_each_bad_sheet_gives_one_line_with_file_key_found_and_expected(
    old, new, key, found, wanted
):
    assert old in GOOD
    with pytest.raises(InputError) as caught:
        check(GOOD.replace(old, new, 1))
    line = str(caught.value)
    assert "\n" not in line
    assert LINE.sub("", caught.value.where) == (f"{NAME}: {key}" if key else NAME)
    assert found in caught.value.found
    assert wanted in caught.value.wanted
    assert "pydantic" not in line
    assert "Input should" not in line


def test_every_wrong_name_is_told_not_only_the_first():
    text = GOOD.replace("food_code_cooked", "none").replace('"cocoa_butter"', '"lard"')
    wrongs = wrong_names(sheet_from_text(text, NAME), NAME, FATS)
    assert [w.where for w in wrongs] == [
        f"{NAME}: ingredient[1].fat", f"{NAME}: stage[6].rule_set",
    ]  # fmt: skip


def test_channels_are_looked_up_only_where_a_bench_is_given():
    sheet = sheet_from_text(GOOD.replace('channel = "water"', 'channel = "soup"'), NAME)
    assert wrong_names(sheet, NAME, FATS) == []


def test_a_frozen_copy_with_plain_numbers_still_reads():
    """Run files keep the sheet as numbers without units."""
    sheet = check(GOOD)
    assert Sheet.model_validate_json(sheet.model_dump_json(by_alias=True)) == sheet
    assert '"mass":180.0' in sheet.model_dump_json(by_alias=True)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"food_code_cooked"', '"food_code"', "stage[6].rule_set: no cooling rule set 'food_code'"),
        ('"180 g"', '"180 ml"', "ingredient[1].mass: '180 ml' is a volume; weigh it"),
    ],
)
def test_the_command_ends_with_two_and_that_line_alone(tmp_path, old, new, says):
    (tmp_path / NAME).write_text(GOOD.replace(old, new, 1))
    done = inside(tmp_path, "sheet", "check", NAME, "--data", "data")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert f"{NAME}: {says}" in LINE.sub("", done.stderr)


@pytest.mark.parametrize(
    "words",
    [
        ["plan", NAME],
        ["start", "--sheet", NAME, "--no-browser"],
        ["record", "--sheet", NAME, "--bench", "b.toml"],
        ["import", "bath.csv", "--sheet", NAME],
    ],
    ids=lambda words: words[0],
)
def test_no_command_takes_up_a_sheet_that_names_what_is_not_there(tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    (tmp_path / NAME).write_text(GOOD.replace('"food_code_cooked"', '"food_code"', 1))
    (tmp_path / "b.toml").write_text("")
    (tmp_path / "bath.csv").write_text("time_s,bath_scale [g]\n0,5000\n1,5001\n2,5000\n")
    with pytest.raises(BainlogError, match=r"rule_set: no cooling rule set 'food_code'") as caught:
        group.main([*words, "--data", "data"], standalone_mode=False)
    assert f"{NAME}: stage[6]" in str(caught.value)
    assert not list(tmp_path.glob("data/runs/*.run"))
