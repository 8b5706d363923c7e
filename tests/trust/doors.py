"""Anything at all, at every door: an error of ours or nothing.

A target takes bytes and returns; whatever it raises beyond `BainlogError` is a find. ``fuzz`` looks
for inputs that reach new code; ``test_fuzz.py`` runs the same targets on drawn inputs in CI.
"""

import atexit
import contextlib
import functools
import gzip
import json
import math
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal
from unittest import mock

from logger.control.door import request_of
from logger.control.messages import decode, request_from
from logger.model.bench import PortSettings
from logger.model.errors import BainlogError
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.quantity import convert, number_in, price_per_kg
from logger.science.fats.fatfile import builtin_fats, fats_from_toml
from logger.science.gel.slabs import slabs_from_toml
from logger.store.exchange import importing, plainrows
from logger.store.exchange.exporting import export as write
from logger.store.exchange.importing import read_csv
from logger.store.exchange.restoring import read_export
from logger.store.run.runfile import RunView
from logger.wire.reader import LineReader
from logger.wire.recognise import best
from logger.wire.shapes.shape import builtin_shapes, shapes_from_text

ROOT = Path(__file__).resolve().parents[2]
FOLDER_RUN = (ROOT / "fixtures" / "runs" / "format-1.run.gz").read_bytes()
SHAPES = builtin_shapes()
NAMES = sorted(SHAPES)

Target = Callable[[bytes], None]


def text(data: bytes) -> str:
    """Return bytes as the text that a file of them would be."""
    return data.decode("utf-8", "replace")


def framing(data: bytes) -> None:
    """Any bytes on the wire: counted to the last one, bounded."""
    if not data:
        return
    shape = SHAPES[NAMES[data[0] % len(NAMES)]]
    reader = LineReader(shape, settings=PortSettings(), delay_s=0.0)
    reader.reset(-1_000_000_000)
    step = 1 + (data[1] if len(data) > 1 else 0)
    for place in range(2, len(data), step):
        reader.feed(data[place : place + step], place * 1_000_000)
    counted = reader.counters
    assert counted.bytes == counted.line_bytes + counted.dropped_bytes + counted.waiting
    best(data, SHAPES)


def csv(data: bytes) -> None:
    """A CSV text; one without a line break would be the name of a file."""
    read_csv("time_s" + text(data) + "\n" if data[:1] in b"," else text(data) + "\n")


def large_csv(data: bytes) -> None:
    """A CSV file that is read in pieces, as a large one is."""
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "x.csv"
        path.write_bytes(data)
        with (
            mock.patch.object(importing, "LARGE_BYTES", 0),
            mock.patch.object(plainrows, "FIRST_BYTES", 40),
            mock.patch.object(plainrows, "PIECE_BYTES", 200),
        ):
            importing.read_csv(path).hand_over(len)


def control(data: bytes) -> None:
    """A line to the recorder."""
    _, do, found = request_from(decode(data))
    request_of(do, found)


def export(data: bytes) -> None:
    """An export that somebody wrote by hand."""
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "run-export.json"
        path.write_bytes(data)
        read_export(path, edited=True)


FOLDERS = {
    "csv": ("run.json", "readings.csv", "events.csv", "raw.csv"),
    "parquet": ("run.json", "readings.parquet", "events.parquet", "raw.parquet"),
}


@functools.cache
def good_folder(kind: Literal["csv", "parquet"]) -> Path:
    """Return a good export as a folder; it is gone when the process ends."""
    scratch = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, scratch, ignore_errors=True)
    with kept_run(FOLDER_RUN) as view:
        return write(view, kind, scratch / "x")


def folder_of(kind: Literal["csv", "parquet"], data: bytes) -> None:
    """An export in a folder, one file of which somebody wrote by hand: the first byte says which.

    Taken in as it is: else every change would end at its digest.
    """
    if not data:
        return
    place = good_folder(kind)
    path = place / FOLDERS[kind][data[0] % len(FOLDERS[kind])]
    good = path.read_bytes()
    try:
        path.write_bytes(data[1:])
        read_export(place, edited=True)
    finally:
        path.write_bytes(good)


@contextlib.contextmanager
def kept_run(packed: bytes) -> Iterator[RunView]:
    """Open a run file that is kept in gzip."""
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "20261125-0913-a3f2.run"
        path.write_bytes(gzip.decompress(packed))
        with RunView.open(path) as view:
            yield view


def run_file(data: bytes) -> None:
    """A run file, whatever is in it: everything is asked of it."""
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "20261125-0913-a3f2.run"
        path.write_bytes(data)
        with RunView.open(path) as view:
            for ask in (
                view.sheet, view.bench, view.events, view.results, view.outcome, view.anchors,
                view.counters, view.check, lambda: list(view.chunks()), lambda: view.duration_ns,
                *(lambda c=c: view.readings(c.id) for c in view.channels()),
                *(lambda c=c: view.overview(c.id, points=40) for c in view.channels()),
            ):  # fmt: skip
                with contextlib.suppress(BainlogError):
                    ask()


SLABS = b"""[[slab]]
alginate = "alginate, medium"
tested = 2026-11-20
d25_m2_s = 9.1e-10
d25_low_m2_s = 8.2e-10
d25_high_m2_s = 1.0e-9
calcium_over_capacity = 1.8
bath_c = 20.0
time_s = [60.0, 120.0, 300.0]
thickness_mm = [0.3, 0.43, 0.68]
"""

UNITS = ["g", "degC", "delta_degC", "s", "percent", "mm", "g/min", "kPa", "J/K", "dimensionless"]


def quantity(data: bytes) -> None:
    """A typed quantity or price; the first byte says which unit is wanted."""
    if not data:
        return
    typed = text(data[1:])
    for read in (
        lambda: number_in(typed, UNITS[data[0] % len(UNITS)]),
        lambda: price_per_kg(typed)[0],
        lambda: convert(1.0, typed, "g"),
    ):
        with contextlib.suppress(ValueError):
            assert math.isfinite(read())


TARGETS: dict[str, Target] = {
    "quantity": quantity,
    "framing": framing,
    "shapes": lambda data: shapes_from_text(text(data), "x") and None,
    "bench": lambda data: bench_from_text(text(data), "x") and None,
    "sheet": lambda data: sheet_from_text(text(data), "x") and None,
    "fats": lambda data: fats_from_toml(text(data), "x", builtin_fats()) and None,
    "slabs": lambda data: slabs_from_toml(text(data), "x") and None,
    "csv": csv,
    "large_csv": large_csv,
    "control": control,
    "export": export,
    "csv_folder": functools.partial(folder_of, "csv"),
    "parquet_folder": functools.partial(folder_of, "parquet"),
    "run_file": run_file,
}


def tried(target: str, data: bytes) -> str:
    """Give a target bytes; return what it said, or nothing."""
    try:
        TARGETS[target](data)
    except BainlogError as said:
        return str(said)
    return ""


def seeds() -> dict[str, list[bytes]]:
    """Return good inputs by target, for tearing apart."""
    run = gzip.decompress(FOLDER_RUN)
    sheet = (ROOT / "logger" / "virtual" / "roll.sheet.toml").read_bytes()
    shapes = [p.read_bytes() for p in (ROOT / "logger" / "wire" / "shapes").glob("*.toml")]
    with kept_run(FOLDER_RUN) as view, tempfile.TemporaryDirectory() as scratch:
        exported = write(view, "json", Path(scratch) / "x.json").read_bytes()
        bench = view.header.bench_text.encode()
    request = {"token": "t", "do": "note", "data": {"text": "fat was lumpy"}}
    return {
        "quantity": [b"\x0012.5 mPa s", b"\x0112 W/(m2 K)", b"\x0042 degC", b"\x0014.20 EUR/kg"],
        "framing": [bytes([n, 7]) + b"ST,GS,+   12.3  g\r\n21.5,22.1,,OPEN\r\n" for n in range(20)],
        "shapes": shapes,
        "bench": [bench],
        "sheet": [sheet],
        "fats": [(ROOT / "logger" / "science" / "fats.toml").read_bytes()],
        "slabs": [SLABS],
        "csv": [
            b"time_s,fat [degC],bath_scale [g]\n0,45.2,5000.1\n1,45.1,\n",
            b"time,channel,value,unit\n2026-11-25T09:13:02+01:00,fat,45.2,degC\n",
        ],
        "large_csv": [
            b"time_s,fat [degC],bath_scale [kg]\n"
            + b"".join(
                b"%d.%d,4%d.25,%s\n" % (n, n % 10, n % 9, b"5.125"[: n % 6]) for n in range(60)
            )
        ],
        "control": [json.dumps(request).encode()],
        "export": [exported],
        **{
            f"{kind}_folder": [
                bytes([n]) + (good_folder(kind) / name).read_bytes()
                for n, name in enumerate(FOLDERS[kind])
            ]
            for kind in ("csv", "parquet")
        },
        "run_file": [run],
    }
