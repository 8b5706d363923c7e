"""A slab test goes into the user's file; what else is written there stays."""

import datetime

import pytest

from logger.model.errors import InputError
from logger.recorder.care.own_slabs import save_slab
from logger.science.gel.slabs import slab_as_toml, slab_test, slabs_from_toml

TIMES_S = [60.0, 120.0, 300.0, 600.0]
THICK_MM = [0.38, 0.54, 0.86, 1.2]


def save(path, alginate, day, thick_mm=THICK_MM):
    test, _ = slab_test(
        alginate, datetime.date.fromisoformat(day), TIMES_S, thick_mm, stefan=1.8, temp_c=20.0
    )
    save_slab(path, test, slab_as_toml(test, TIMES_S, thick_mm, temp_c=20.0))
    return test


def test_tests_of_other_days_and_alginates_stay_and_the_same_day_is_replaced(tmp_path):
    path = tmp_path / "slabs.toml"
    save(path, "medium", "2026-03-01")
    path.write_text("# my tests\n" + path.read_text() + "# a note of mine\n")
    save(path, "low", "2026-11-20")
    save(path, "medium", "2026-11-20")
    again = save(path, "Medium", "2026-11-20", [0.34, 0.49, 0.78, 1.1])
    text = path.read_text()
    assert text.count("[[slab]]") == 3
    assert "# my tests" in text
    assert "# a note of mine" in text
    assert slabs_from_toml(text, "slabs.toml")["medium"] == again
    assert not list(tmp_path.glob(".slabs*"))


def test_a_file_that_does_not_read_is_left_alone(tmp_path):
    path = tmp_path / "slabs.toml"
    path.write_text("[[slab]]\nalginate = 3\n")
    with pytest.raises(InputError, match=r"slabs.toml: slab 1.alginate"):
        save(path, "medium", "2026-11-20")
    assert path.read_text() == "[[slab]]\nalginate = 3\n"
