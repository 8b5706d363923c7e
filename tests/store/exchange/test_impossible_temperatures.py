"""A temperature below absolute zero is refused at its cell, in any unit and any way of reading."""

import pytest

from logger.model.errors import InputError
from logger.store.exchange import importing
from logger.store.exchange.importing import read_csv


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("time_s,core [degC]\n0,-300\n1,20\n", "row 2, column 2"),
        ("time_s,core [degF]\n0,70\n1,-460\n", "row 3, column 2"),
        ("time_s,core [K]\n0,290\n1,-0.1\n", "row 3, column 2"),
        ("time_s,channel,value,unit\n0,core,-300,degC\n", "row 2, column 3"),
    ],
)
def test_a_temperature_below_absolute_zero_is_refused(text, where):
    with pytest.raises(InputError, match=f"{where}.*below absolute zero"):
        read_csv(text)


def test_a_large_file_is_held_to_it_too(tmp_path, monkeypatch):
    monkeypatch.setattr(importing, "LARGE_BYTES", 0)
    path = tmp_path / "x.csv"
    rows = "".join(f"{n},20\n" for n in range(99))
    path.write_text(f"time_s,core [degC]\n{rows}99,-300\n")
    with pytest.raises(InputError, match=r"row 101, column 2.*below absolute zero"):
        read_csv(path)


def test_absolute_zero_itself_and_a_mass_below_zero_are_readings():
    found = read_csv("time_s,core [K],bath_scale [g]\n0,0,-500\n")
    assert [round(r.value, 2) for r in found.readings] == [-273.15, -500.0]
