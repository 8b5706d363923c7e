"""Bench and sheet files: what reads, and the one clear line for what does not."""

import pytest

from logger.model.bench import Bench, bench_of_roles
from logger.model.errors import InputError
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.kinds.record.stage import COMMON_PRACTICE
from logger.model.quantity import number_in, price_per_kg
from logger.model.sheet import Sheet

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
revision = 4

[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
tolerance = "1 %"
lot = "CB-0412"
price = "14.20 EUR/kg"

[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }

[[stage]]
id = "skin"
kind = "set"
dwell = { low = "6 min", high = "12 min" }
pieces = 6
piece = { body = "cylinder", diameter = "26 mm", length = "115 mm" }
"""

BENCH = """
[bench]
name = "Table 2"

[[instrument]]
id = "probes"
port = "usb:vid=0403,pid=6001,serial=A9"
shape = "comma list of probes"

[[channel]]
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
sensor = { kind = "thermocouple", type = "T", class = 1 }
correction = { offset = "-0.2 K", checked = 2026-11-02, by = "ice point" }
"""


def test_a_sheet_reads_with_its_units():
    sheet = sheet_from_text(SHEET, "roll.sheet.toml")
    assert sheet.ingredient[0].mass_g == 180.0
    assert sheet.ingredient[0].price.per_kg == 14.2
    assert sheet.stage[0].fat_c.low == 44.0
    assert sheet.stage[1].dwell_s.high == 720.0


def test_a_missing_band_has_the_habit_of_the_trade_and_says_so():
    """The fat a little warmer at most: common practice, no source."""
    band = sheet_from_text(SHEET, "roll.sheet.toml").stage[0].fat_above_water_k
    assert band.source == COMMON_PRACTICE


def test_sheet_and_bench_survive_their_frozen_copies():
    sheet, bench = sheet_from_text(SHEET, "s"), bench_from_text(BENCH, "b")
    assert Sheet.model_validate_json(sheet.model_dump_json(by_alias=True)) == sheet
    assert Bench.model_validate_json(bench.model_dump_json(by_alias=True)) == bench


@pytest.mark.parametrize(
    ("old", "new", "wanted"),
    [
        ("lot =", "lott =", r"ingredient\[1\]\.lott: unknown key; did you mean 'lot'"),
        ('"44 degC"', '"44 kg"', r"stage\[1\]\.fat: '44 kg' is not in a unit that fits"),
        ('"180 g"', '"180"', r"ingredient\[1\]\.mass: '180' has no unit"),
        ('"6 min"', '"60 min"', r"stage\[2\]\.dwell: low \(3600 s\) is above high \(720 s\)"),
        ('"set"', '"sett"', r"stage\[2\]: kind 'sett'; did you mean 'set'"),
        ('id = "skin"', 'id = "warm"', r"stage\[2\]\.id: 'warm' is used twice"),
        ('name = "Smoked beet and barley roll"', "", r"sheet\.name: missing"),
        (', length = "115 mm"', "", "a cylinder needs a length"),
        ("[sheet]", "[sheet", r"at line \d+: \[sheet; write \[sheet\]"),
    ],
)
def test_a_bad_sheet_gives_one_line_with_file_key_found_and_wanted(old, new, wanted):
    with pytest.raises(InputError, match=wanted) as caught:
        sheet_from_text(SHEET.replace(old, new, 1), "roll.sheet.toml")
    assert str(caught.value).startswith("roll.sheet.toml: ")
    assert "\n" not in str(caught.value)


def test_a_channel_of_an_unknown_instrument_is_refused():
    with pytest.raises(InputError, match="names instrument 'scale'; write one of probes"):
        bench_from_text(
            BENCH.replace('instrument = "probes"', 'instrument = "scale"'), "bench.toml"
        )


def test_a_huge_file_is_refused_by_size():
    with pytest.raises(InputError, match="characters"):
        sheet_from_text("#" * 1_000_001, "big.sheet.toml")


@pytest.mark.parametrize(
    ("text", "unit", "number"),
    [
        ("42 degC", "degC", 42.0),
        ("107.6 °F", "degC", 42.0),
        ("6 K", "delta_degC", 6.0),
        ("9 degF", "delta_degC", 5.0),
        ("8 min", "s", 480.0),
        ("1.5 %", "percent", 1.5),
        ("1 oz", "g", 28.349523125),  # NIST Handbook 44 (2024), Appendix C: 28.349523125 g, exact
        ("90 g/min", "g/min", 90.0),
        ("-2e-1 K", "delta_degC", -0.2),
    ],
)
def test_quantities_read_in_the_unit_the_code_uses(text, unit, number):
    assert number_in(text, unit) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize("text", ["", "g", "12 g; import os", "1e400 g/g", "1 parsec", "__class__"])
def test_what_is_no_mass_is_refused(text):
    with pytest.raises(ValueError, match="180 g"):
        number_in(text, "g")


def test_a_price_per_pound_becomes_one_per_kilogram():
    """1 lb = 0.45359237 kg, exact: NIST Handbook 44 (2024), Appendix C."""
    assert price_per_kg("4.00 EUR/lb") == (pytest.approx(4.0 / 0.45359237), "EUR")


def test_an_imported_file_may_name_channels_by_role_only():
    assert bench_of_roles(["fat", "bath_scale"]).channel_of("bath_scale").unit == "g"
    with pytest.raises(ValueError, match="is not a role"):
        bench_of_roles(["frying"])
