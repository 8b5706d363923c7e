"""Results written back into files that people write: only the place concerned changes."""

import pytest

from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.recorder.own_files import save_correction, save_fat, save_role
from logger.science.fats import builtin_fats, fat_as_toml, fats_from_toml

BENCH = """# my bench
[bench]
name = "Table 2"

[[instrument]]
id = "probes"
port = "/dev/ttyUSB0"
shape = "comma list of probes"

[[channel]]   # the fat
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
correction = { offset = "-0.2 K", checked = 2026-05-02, by = "ice point" }

[[channel]]
id = "water"
instrument = "probes"
field = "t2"
role = "water"
"""
NEW = '{ offset = "0.31 K", checked = 2026-11-25, by = "boiling point 99.61 degC", u = 0.2 }'


@pytest.mark.parametrize("channel", ["fat", "water"])
def test_a_correction_goes_into_its_channel_and_nowhere_else(tmp_path, channel):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    save_correction(path, channel, NEW)
    before, after = bench_from_text(BENCH, "b"), bench_from_text(path.read_text(), "b")
    for old, new in zip(before.channel, after.channel, strict=True):
        if old.id == channel:
            assert new.correction.offset_k == 0.31
        else:
            assert new == old
    assert path.read_text().startswith("# my bench\n")
    assert "# the fat" in path.read_text()


def test_a_correction_that_does_not_read_leaves_the_file_alone(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    with pytest.raises(InputError):
        save_correction(path, "fat", '{ offset = "0.3 kg", checked = 2026-11-25 }')
    assert path.read_text() == BENCH


def test_a_channel_that_is_not_there_gets_the_line_to_write_by_hand(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    with pytest.raises(InputError, match="write it by hand"):
        save_correction(path, "core", NEW)


def test_a_measured_fat_replaces_the_earlier_one_and_keeps_the_others(tmp_path):
    path = tmp_path / "fats.toml"
    table = fat_as_toml(builtin_fats()["cocoa_butter"])
    path.write_text("# mine\n\n" + table.replace("[cocoa_butter]", "[house_fat]"))
    for _ in range(2):
        save_fat(path, "cocoa_butter", table)
    text = path.read_text()
    assert text.count("[cocoa_butter]") == 1
    assert text.startswith("# mine\n")
    assert {"house_fat", "cocoa_butter"} <= fats_from_toml(text, "fats.toml", {}).keys()


def test_a_role_goes_to_the_channel_that_moved_and_the_two_change_places(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    assert save_role(path, "water", "fat") == "fat"
    text = path.read_text()
    roles = {c.id: c.role for c in bench_from_text(text, "b").channel}
    assert roles == {"fat": "water", "water": "fat"}
    changed = set(text.splitlines()) ^ set(BENCH.splitlines())
    assert changed == set()  # the two role lines changed places, every other line stands
    assert text.index("# the fat") < text.index('role = "water"') < text.index('role = "fat"')


def test_a_role_nobody_had_is_written_alone(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    assert save_role(path, "water", "core") is None
    roles = {c.id: c.role for c in bench_from_text(path.read_text(), "b").channel}
    assert roles == {"fat": "fat", "water": "core"}


@pytest.mark.parametrize(
    ("channel", "role", "says"),
    [
        ("water", "bath_scale", "is a probe"),
        ("water", "fryer", "roles are"),
        ("core", "fat", "no channel 'core'"),
    ],
)
def test_a_role_that_does_not_fit_leaves_the_file_alone(tmp_path, channel, role, says):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    with pytest.raises(InputError, match=says):
        save_role(path, channel, role)
    assert path.read_text() == BENCH
