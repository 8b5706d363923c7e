"""A sensor check through a real tty: the offset, its uncertainty, the line in the bench file."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from logger.model.files import bench_from_text

BAINLOG = Path(sys.executable).parent / "bainlog"

BENCH = """
[[instrument]]
id = "probes"
port = "{port}"
shape = "comma list of probes"

[[channel]]
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
resolution = 0.01
sensor = {{ kind = "thermocouple", type = "T", class = 1, converter = "0.3 K" }}
correction = {{ offset = "5 K", checked = 2026-01-02, by = "a guess" }}
"""


@pytest.mark.slow
def test_an_ice_point_check_replaces_the_old_correction(tmp_path, icy_probe):
    bench = tmp_path / "bench.toml"
    bench.write_text(BENCH.format(port=icy_probe))
    done = subprocess.run(
        [BAINLOG, "sensor-check", "fat", "--ice", "--for", "31 s", "--bench", bench, "--write",
         "--json", "--data", tmp_path / "data"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["offset"] == pytest.approx(-0.36, abs=0.002)
    assert found["u"] >= 0.1
    (channel,) = bench_from_text(bench.read_text(), "bench.toml").channel
    assert channel.correction.offset_k == pytest.approx(-0.36, abs=0.005)
    assert channel.correction.by == "ice point"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "0 ways given"),
        (["--ice", "--plunge"], "2 ways given"),
        (["--boil"], "no pressure"),
        (["--weight", "2"], "'2' has no unit"),
        (["--ice", "--for", "5 s"], "at least 30 s"),
    ],
)
def test_a_check_that_makes_no_sense_is_refused(tmp_path, words, says):
    done = subprocess.run(
        [BAINLOG, "sensor-check", "fat", *words, "--data", tmp_path],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert says in done.stderr
