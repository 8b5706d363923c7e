"""Tolerance classes of thermocouple wire against reproductions of the standards' tables."""

import csv
from pathlib import Path

import numpy as np
import pytest

from logger.model.errors import InputError, OutOfRangeError
from logger.science.metrology.tolerance import ASTM_E230, IEC_60584_2, classes_of, wire_tolerance_k

PUBLISHED = Path(__file__).parents[3] / "fixtures" / "published" / "thermocouple_tolerances.csv"

with PUBLISHED.open(encoding="utf-8") as lines:
    ROWS = list(csv.DictReader(line for line in lines if not line.startswith("#")))


def wire_class(text: str) -> int | str:
    return int(text) if text.isdigit() else text


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['type']}-{r['class']}-{r['low_c']}")
def test_a_class_is_as_wide_as_its_table_says(row: dict[str, str]):
    """IEC 60584-2:1993, JIS C1602-1995, ASTM E230 table 1, at both ends and the middle."""
    low, high = float(row["low_c"]), float(row["high_c"])
    for temp in (low, (low + high) / 2.0, high):
        wanted = float(row["fixed_k"]) if row["fixed_k"] else float(row["share"]) * abs(temp)
        got = wire_tolerance_k(row["type"], wire_class(row["class"]), temp, row["standard"])
        assert got == pytest.approx(wanted, rel=1e-12)
        as_array = wire_tolerance_k(
            row["type"], wire_class(row["class"]), np.array([temp]), row["standard"]
        )
        assert as_array[0] == got


@pytest.mark.parametrize("tc_type", ["R", "S"])
def test_noble_class_1_grows_from_1100_degc(tc_type: str):
    """IEC 60584-2:1993: 1 + 0.003 (t - 1100) K."""
    assert wire_tolerance_k(tc_type, 1, 1100.0) == 1.0
    assert wire_tolerance_k(tc_type, 1, 1500.0) == pytest.approx(2.2)


def test_every_class_in_the_tables_is_checked():
    checked = {(r["standard"], r["type"], wire_class(r["class"])) for r in ROWS}
    held = {("IEC 60584-2", *k) for k in IEC_60584_2} | {("ASTM E230", *k) for k in ASTM_E230}
    assert checked == held


@pytest.mark.parametrize(
    ("tc_type", "wire", "standard", "temp", "wanted"),
    [
        ("K", 1, "IEC 60584-2", 60.0, 1.5),
        ("K", 2, "IEC 60584-2", 60.0, 2.5),
        ("K", 1, "IEC 60584-2", 400.0, 1.6),
        ("K", 2, "IEC 60584-2", 400.0, 3.0),
        ("T", 1, "IEC 60584-2", 60.0, 0.5),
        ("T", 2, "IEC 60584-2", 60.0, 1.0),
        ("T", 1, "IEC 60584-2", 200.0, 0.8),
        ("T", 2, "IEC 60584-2", 200.0, 1.5),
        ("K", "standard", "ASTM E230", 60.0, 2.2),
        ("K", "special", "ASTM E230", 60.0, 1.1),
    ],
)
def test_kitchen_temperatures(
    tc_type: str, wire: int | str, standard: str, temp: float, wanted: float
):
    """IEC 60584-2 and ASTM E230, worked by hand."""
    assert wire_tolerance_k(tc_type, wire, temp, standard) == pytest.approx(wanted, rel=1e-12)


def test_the_wider_tolerance_holds_at_a_joint():
    assert wire_tolerance_k("K", "standard", 0.0, "ASTM E230") == 2.2


def test_outside_its_range_a_class_says_nothing():
    with pytest.raises(OutOfRangeError, match="says nothing outside"):
        wire_tolerance_k("T", 1, -50.0)
    got = wire_tolerance_k("T", 1, np.array([-50.0, 20.0, np.nan]))
    assert np.isnan(got).tolist() == [True, False, True]


def test_a_class_the_standard_does_not_define_is_refused():
    assert classes_of("J", "IEC 60584-2") == (1, 2)
    with pytest.raises(InputError, match="defines 1, 2"):
        wire_tolerance_k("J", 3, 20.0)
    with pytest.raises(InputError, match="tolerance class"):
        wire_tolerance_k("K", "special", 20.0)
    with pytest.raises(InputError, match="tolerance standard"):
        wire_tolerance_k("K", 1, 20.0, "DIN 43710")
