"""Run headers, batches and writers in the invented scenario of the smoked beet and barley roll."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from logger.model.files import bench_from_text, sheet_from_text
from logger.store.run.runfile import ChannelRecord, RunHeader, RunWriter

SHEET = """
[sheet]
name = "Smoked beet and barley roll"
revision = 4
product = "beet roll"

[[ingredient]]
name = "cocoa butter"
phase = "fat"
fat = "cocoa_butter"
mass = "180 g"
tolerance = "1 %"
lot = "CB-0412"
price = "14.20 EUR/kg"

[[ingredient]]
name = "calcium chloride"
phase = "bath"
salt = "calcium_chloride_dihydrate"
mass = "28 g"

[[stage]]
id = "warm"
kind = "heat"
fat = { low = "44 degC", high = "58 degC" }

[[stage]]
id = "skin"
kind = "set"
bath = { low = "14 degC", high = "24 degC" }
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

[[instrument]]
id = "scale"
port = "/dev/ttyUSB1"
shape = "flag-first comma weight"

[[channel]]
id = "fat"
instrument = "probes"
field = "t1"
role = "fat"
sensor = { kind = "thermocouple", type = "T", class = 1 }
correction = { offset = "-0.2 K", checked = 2026-11-02, by = "ice point" }

[[channel]]
id = "bath"
instrument = "probes"
field = "t2"
role = "bath"

[[channel]]
id = "bath_scale"
instrument = "scale"
field = "mass"
role = "bath_scale"
"""

CHANNELS = (
    ChannelRecord("fat", "probes", "t1", "fat", "degC"),
    ChannelRecord("bath", "probes", "t2", "bath", "uV"),
    ChannelRecord("bath_scale", "scale", "mass", "bath_scale", "g"),
)
STARTED_UTC_NS = 1_795_594_382_000_000_000
"""2026-11-25 08:13:02 UTC."""


def header(run_id: str = "20261125-0913-a3f2", **changes: object) -> RunHeader:
    """Return the header of a run of the demo sheet."""
    given: dict[str, object] = {
        "run_id": run_id,
        "sheet_json": sheet_from_text(SHEET, "roll.sheet.toml").model_dump_json(),
        "sheet_text": SHEET,
        "bench_json": bench_from_text(BENCH, "bench.toml").model_dump_json(),
        "bench_text": BENCH,
        "shapes_text": "",
        "started_utc_ns": STARTED_UTC_NS,
        "zone": "Europe/Berlin",
        "boot_id": "b00t",
        "version": "0.1.0",
        "channels": CHANNELS,
    }
    return RunHeader(**(given | changes))  # type: ignore[arg-type]  # of mixed kinds


@pytest.fixture(scope="session")
def run_header() -> Callable[..., RunHeader]:
    return header


@pytest.fixture
def run_path(tmp_path: Path) -> Path:
    return tmp_path / "20261125-0913-a3f2.run"


@pytest.fixture
def writer(run_path: Path) -> Iterator[RunWriter]:
    with RunWriter.create(run_path, header()) as made:
        yield made
