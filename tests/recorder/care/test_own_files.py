"""Results written back into files that people write: only the place concerned changes."""

import datetime

import numpy as np
import pytest

from logger.model.errors import InputError
from logger.model.files import bench_from_text
from logger.recorder.care.own_files import save_correction, save_fat, save_lag, save_role
from logger.recorder.care.sensor_check import plunged
from logger.science.fats.fatfile import builtin_fats, fat_as_toml, fats_from_toml

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
        ("water", "fryer", "no role .fryer."),
        ("core", "fat", "no channel 'core'"),
    ],
)
def test_a_role_that_does_not_fit_leaves_the_file_alone(tmp_path, channel, role, says):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    with pytest.raises(InputError, match=says):
        save_role(path, channel, role)
    assert path.read_text() == BENCH


def test_a_time_constant_is_kept_dated_beside_the_correction_and_replaces_an_earlier_one(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(BENCH)
    t = np.arange(0.0, 30.0, 0.1)
    for tau_s in (5.0, 3.5):
        shown = 60.0 - 40.0 * np.exp(-np.maximum(t - 4.0, 0.0) / tau_s)
        fat = bench_from_text(path.read_text(), "b").channel[0]
        found = plunged(fat, t, shown, datetime.date(2026, 11, 25))
        save_lag(path, "fat", found.lag)
    assert "time constant 3.5 " in found.says
    fat, water = bench_from_text(path.read_text(), "b").channel
    assert fat.lag.time_constant_s == pytest.approx(3.5, abs=0.01)
    assert (fat.lag.checked, fat.lag.by) == (
        datetime.date(2026, 11, 25), "plunge into stirred water"
    )  # fmt: skip
    assert 0.0 <= fat.lag.u_s < 0.1
    assert fat.correction.offset_k == -0.2
    assert path.read_text().count("lag =") == 1
    assert water.lag is None


def test_a_scale_has_no_time_constant(tmp_path):
    scale = bench_from_text(BENCH.replace('role = "fat"', 'role = "bowl_scale"').replace(
        "offset = \"-0.2 K\"", "offset_mass = \"1 g\""), "b").channel[0]  # fmt: skip
    with pytest.raises(InputError, match="is a scale"):
        plunged(scale, np.arange(9.0), np.arange(9.0), datetime.date(2026, 11, 25))


def test_a_measured_time_constant_goes_before_the_stated_one():
    stated = BENCH + 'sensor = { kind = "rtd", time_constant = "6 s" }\n'
    measured = stated + 'lag = { time_constant = "3.5 s", checked = 2026-11-25 }\n'
    found = [bench_from_text(t, "b").channel[1].time_constant_s for t in (BENCH, stated, measured)]
    assert found == [None, 6.0, 3.5]


def test_a_time_constant_of_nothing_is_refused():
    with pytest.raises(InputError):
        bench_from_text(BENCH + 'lag = { time_constant = "0 s", checked = 2026-11-25 }\n', "b")
