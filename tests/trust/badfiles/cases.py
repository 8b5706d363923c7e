"""How each bad file is made, and which command is given it."""

import contextlib
import gzip
import io
import json
import os
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.trust.badfiles.trial import ROOT, Made

SHEET = (ROOT / "logger" / "virtual" / "roll.sheet.toml").read_text("utf-8")
RUN_ID = "20261125-0913-a3f2"
MB = 1_000_000


def _csv(data: bytes | Callable[[io.BufferedWriter], None], name: str = "x.csv") -> Made:
    def make(folder: Path) -> list[str]:
        return ["import", str(_written(folder / name, data)), "--sheet", _sheet(folder)]

    return make


def _written(path: Path, data: bytes | Callable[[io.BufferedWriter], None]) -> Path:
    with path.open("wb") as file:
        if isinstance(data, bytes):
            file.write(data)
        else:
            data(file)
    return path


def _sheet(folder: Path) -> str:
    path = folder / "good.sheet.toml"
    path.write_text(SHEET, "utf-8")
    return str(path)


def _repeated(piece: bytes, bytes_: int, head: bytes = b"", tail: bytes = b"") -> Any:
    def write(file: io.BufferedWriter) -> None:
        file.write(head)
        block = piece * max(1, MB // len(piece))
        for _ in range(max(1, bytes_ // len(block))):
            file.write(block)
        file.write(tail)

    return write


def _given(option: str, data: bytes | str | None, path: str = "") -> Made:
    """A file given to ``import --bench`` or ``--events`` or ``--sheet``."""

    def make(folder: Path) -> list[str]:
        good = _written(folder / "good.csv", b"time_s,fat [degC]\n0,45\n1,44\n")
        file = path or str(folder / "given")
        if data is not None:
            _written(folder / "given", data if isinstance(data, bytes) else data.encode())
        words = ["import", str(good), option, file]
        return words if option == "--sheet" else [*words, "--sheet", _sheet(folder)]

    return make


def _checked(text: bytes | Callable[[io.BufferedWriter], None]) -> Made:
    def make(folder: Path) -> list[str]:
        return ["sheet", "check", str(_written(folder / "x.sheet.toml", text))]

    return make


def _special(kind: str) -> Made:
    def make(folder: Path) -> list[str]:
        path = folder / "x.csv"
        if kind == "fifo":
            os.mkfifo(path)
        elif kind == "folder":
            path.mkdir()
        else:
            return ["import", kind, "--sheet", _sheet(folder)]
        return ["import", str(path), "--sheet", _sheet(folder)]

    return make


def exported() -> dict[str, Any]:
    """Return a small good export as JSON values."""
    import tempfile

    from logger.store.exchange.exporting import export
    from logger.store.run.runfile import RunView

    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / f"{RUN_ID}.run"
        packed = ROOT / "fixtures" / "runs" / "format-1.run.gz"
        path.write_bytes(gzip.decompress(packed.read_bytes()))
        with RunView.open(path) as view:
            made = export(view, "json", Path(scratch) / "x.json")
        found: dict[str, Any] = json.loads(made.read_text("utf-8"))
    return found


def _json(change: Callable[[dict[str, Any]], object]) -> Made:
    def make(folder: Path) -> list[str]:
        data = exported()
        change(data)
        text = json.dumps(data)
        return ["import", "--edited", str(_written(folder / "x.json", text.encode()))]

    return make


def _raw_json(data: bytes | Callable[[io.BufferedWriter], None]) -> Made:
    def make(folder: Path) -> list[str]:
        return ["import", "--edited", str(_written(folder / "x.json", data))]

    return make


def _set(*keys: str, to: object) -> Made:
    def change(data: dict[str, Any]) -> None:
        here: Any = data
        for key in keys[:-1]:
            here = here[int(key) if isinstance(here, list) else key]
        here[keys[-1]] = to

    return _json(change)


def _parquet(write: Callable[[Path, dict[str, Any]], object]) -> Made:
    def make(folder: Path) -> list[str]:
        import pyarrow as pa
        import pyarrow.parquet as pq

        data, place = exported(), folder / "x"
        place.mkdir()
        head = {k: v for k, v in data.items() if k not in ("readings", "events", "raw")}
        (place / "run.json").write_text(json.dumps(head))
        rows = [e | {"data": json.dumps(e["data"])} for e in data["events"]]
        about = ("kind", "source", "channel", "port", "stage", "text", "data")
        fields = [("seq", pa.int64()), ("t_ns", pa.int64()), *((n, pa.string()) for n in about)]
        pq.write_table(pa.Table.from_pylist(rows, pa.schema(fields)), place / "events.parquet")
        raw = {"t_ns": pa.array([], pa.int64()), "instrument": pa.array([], pa.string()),
               "kind": pa.array([], pa.string()), "bytes": pa.array([], pa.binary())}  # fmt: skip
        pq.write_table(pa.table(raw), place / "raw.parquet")
        write(place, data)
        return ["import", "--edited", str(place)]

    return make


def _rows(count: int, **other: Any) -> Callable[[Path, dict[str, Any]], None]:
    """Write so many readings that are all the same: they pack to next to nothing."""

    def write(place: Path, data: dict[str, Any]) -> None:
        import numpy as np
        import pyarrow as pa
        import pyarrow.parquet as pq

        channel = data["channels"][0]["id"]
        names = pa.dictionary(pa.int32(), pa.string())
        piece = 1_000_000
        columns = {
            "channel": pa.DictionaryArray.from_arrays(
                pa.array(np.zeros(piece, np.int32)), [channel]
            ).cast(names),
            "t_ns": pa.array(np.zeros(piece, np.int64)),
            "value": pa.array(np.zeros(piece)),
            "flags": pa.array(np.zeros(piece, np.int32)),
            "cold_junction_c": pa.array(np.zeros(piece)),
        } | {k: v(piece) for k, v in other.items()}
        table = pa.table(columns)
        with pq.ParquetWriter(place / "readings.parquet", table.schema, compression="zstd") as out:
            for _ in range(max(1, count // piece)):
                out.write_table(table)

    return write


def _zstd_bomb(place: Path, data: dict[str, Any]) -> None:
    """One event whose text unpacks to 2 GB: a hundred pages of the same 20 MB."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    _rows(1)(place, data)
    about = ("kind", "source", "channel", "port", "stage", "text", "data")
    fields = [("seq", pa.int64()), ("t_ns", pa.int64()), *((n, pa.string()) for n in about)]
    row = {"seq": 1, "t_ns": 0, "kind": "note", "source": "operator", "text": "a" * 20 * MB,
           "data": "{}"}  # fmt: skip
    table = pa.Table.from_pylist([row], pa.schema(fields))
    path = place / "events.parquet"
    with pq.ParquetWriter(path, table.schema, compression="zstd", use_dictionary=False) as out:
        for _ in range(100):
            out.write_table(table)


def _run(change: Callable[[sqlite3.Connection], object]) -> Made:
    """A run file in the data folder, changed; ``show`` looks at it."""

    def make(folder: Path) -> list[str]:
        runs = folder / "data" / "runs"
        runs.mkdir(parents=True, exist_ok=True)
        path = runs / f"{RUN_ID}.run"
        packed = ROOT / "fixtures" / "runs" / "format-1.run.gz"
        path.write_bytes(gzip.decompress(packed.read_bytes()))
        db = sqlite3.connect(path, isolation_level=None)
        with contextlib.closing(db):
            change(db)
        return ["show", RUN_ID, "--json"]

    return make


def _run_bytes(data: bytes) -> Made:
    def make(folder: Path) -> list[str]:
        runs = folder / "data" / "runs"
        runs.mkdir(parents=True, exist_ok=True)
        _written(runs / f"{RUN_ID}.run", data)
        return ["show", RUN_ID]

    return make


def _swapped(table: str, view: str) -> Callable[[sqlite3.Connection], object]:
    """Put a view in place of a table."""

    def change(db: sqlite3.Connection) -> None:
        columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
        db.execute(f"ALTER TABLE {table} RENAME TO was_{table}")
        shown = ", ".join(f"x AS {c}" for c in columns)
        db.execute(f"CREATE VIEW {table} AS {view.format(shown=shown)}")

    return change


def _blob(kind: str) -> Callable[[sqlite3.Connection], object]:
    """Put a zstd frame of 2 GB, or a block with 2,000 million rows, where readings lie."""

    def change(db: sqlite3.Connection) -> None:
        import struct
        import zlib

        import zstandard

        if kind == "zstd":
            packer = zstandard.ZstdCompressor(level=3).compressobj()
            parts = [packer.compress(bytes(20 * MB)) for _ in range(100)]
            body = b"\x05" + b"".join(parts) + packer.flush()
            columns = [body] * 5
            rows = 4096
        else:
            columns = [b"\x00" + struct.pack("<q", 7)] * 5
            rows = 2_000_000_000
        joined = b"".join(struct.pack("<I", len(c)) + c for c in columns)
        made = struct.pack("<II", rows | 1 << 31, zlib.crc32(joined)) + joined
        db.execute("UPDATE blob SET data = ?", (made,))

    return change


def _replayed(made: Made) -> Made:
    def make(folder: Path) -> list[str]:
        made(folder)
        return ["replay", RUN_ID, "--json"]

    return make


def _given_in(name: str, words: list[str], data: bytes) -> Made:
    """A file of the data folder that a command reads by itself."""

    def make(folder: Path) -> list[str]:
        (folder / "data").mkdir(exist_ok=True)
        _written(folder / "data" / name, data)
        return [*words, _sheet(folder)]

    return make


ENDLESS = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT {shown} FROM n"
HEAD = b"time_s,fat [degC]\n"
DEEP = b"[" * 200_000 + b"]" * 200_000

CASES: dict[str, Made] = {
    "empty CSV": _csv(b""),
    "CSV of NUL bytes": _csv(bytes(10_000)),
    "CSV in UTF-16": _csv("time_s,fat [degC]\n0,45\n".encode("utf-16")),
    "CSV in gzip": _csv(gzip.compress(HEAD + b"0,45\n")),
    "CSV with a lone surrogate": _csv(HEAD + b"0,\xed\xa0\x80\n"),
    "CSV with rows at -10^9 and 10^9 s": _csv(HEAD + b"-1000000000,45\n1000000000,44\n"),
    "CSV with rows a year apart": _csv(HEAD + b"0,45\n31536000,44\n"),
    "CSV with dates a century apart": _csv(
        b"time,fat [degC]\n1950-01-01T00:00:00Z,45\n2049-01-01T00:00:00Z,44\n"
    ),
    "CSV of 50 MB of commas": _csv(_repeated(b",", 50 * MB, HEAD)),
    "CSV of a cell of 50 MB": _csv(_repeated(b"1", 50 * MB, HEAD + b"0,")),
    "CSV of a quoted cell of 50 MB": _csv(_repeated(b"1", 50 * MB, HEAD + b'0,"')),
    "CSV of quoted line breaks, 50 MB": _csv(_repeated(b'"\n",', 50 * MB, HEAD)),
    "CSV of line breaks, 50 MB": _csv(_repeated(b"\n", 50 * MB, HEAD, b"x\n")),
    "CSV of a unit of powers": _csv(b"time_s,fat [g**9**9**9]\n0,45\n"),
    "CSV with a role in another unit": _csv(b"time_s,bath_scale [degC]\n0,45\n1,44\n"),
    "CSV with a probe in grams": _csv(b"time_s,fat [g]\n0,45\n1,44\n"),
    "/dev/zero": _special("/dev/zero"),
    "/dev/urandom": _special("/dev/urandom"),
    "a pipe": _special("fifo"),
    "a folder": _special("folder"),
    "/etc/passwd as CSV": _special("/etc/passwd"),
    "/etc/passwd as bench": _given("--bench", None, "/etc/passwd"),
    "/etc/passwd as sheet": _given("--sheet", None, "/etc/passwd"),
    "/etc/passwd as events": _given("--events", None, "/etc/passwd"),
    "/dev/zero as bench": _given("--bench", None, "/dev/zero"),
    "/dev/zero as sheet": _given("--sheet", None, "/dev/zero"),
    "/dev/zero as events": _given("--events", None, "/dev/zero"),
    "events with deep JSON": _given(
        "--events", b'time_s,event,data\n0,mark,"' + b"[" * 1900 + b'"\n'
    ),
    "events with a piece that is no number": _given(
        "--events", b'time_s,event,data\n0,piece_in,"{""piece"": ""x""}"\n'
    ),
    "events of 50 MB": _given("--events", b"time_s,event\n" + b"0,mark\n" * 7_000_000),
    "bench in UTF-16": _given("--bench", "[bench]\nname = 'x'\n".encode("utf-16")),
    "bench with deep arrays": _given("--bench", b"x = " + DEEP),
    "bench of 18,000 instruments": _given(
        "--bench",
        b"".join(b'[[instrument]]\nid="a%d"\nport="x"\nshape="y"\n' % n for n in range(18_000)),
    ),
    "sheet, empty": _checked(b""),
    "sheet of NUL bytes": _checked(bytes(1000)),
    "sheet of 18,000 ingredients": _checked(
        b'[sheet]\nname = "x"\n' + b'[[ingredient]]\nname="a"\nphase="fat"\nmass="1 g"\n' * 18_000
    ),
    "sheet of 18,000 wrong ingredients": _checked(
        b'[sheet]\nname = "x"\n' + b'[[ingredient]]\nnme="a"\nmass="1"\n' * 18_000
    ),
    "sheet of 60,000 unknown keys": _checked(
        b"[sheet]\n" + b"".join(b"k%d=1\n" % n for n in range(60_000))
    ),
    "sheet with a mass of powers": _checked(
        b'[sheet]\nname = "x"\n[[ingredient]]\nname="a"\nphase="fat"\nmass="1 g**9**9**9"\n'
    ),
    "sheet with an endless number": _checked(
        b'[sheet]\nname = "x"\nrevision = ' + b"9" * 100_000 + b"\n"
    ),
    "sheet with nested tables": _checked(b"x = " + b"{a=" * 5_000 + b"1" + b"}" * 5_000),
    "sheet of 900,000 dots": _checked(b"a" + b".a" * 450_000 + b" = 1\n"),
    "sheet of 50 MB": _checked(_repeated(b"# x\n", 50 * MB)),
    "sheet in gzip": _checked(gzip.compress(SHEET.encode())),
    "fats with deep arrays": _given_in("fats.toml", ["sheet", "check"], b"x = " + DEEP),
    "knowledge of 50 MB": _given_in("fats.toml", ["sheet", "check"], b"#" * 50 * MB),
    "JSON, empty": _raw_json(b""),
    "JSON, deep": _raw_json(DEEP),
    "JSON, deep in events": _raw_json(
        b'{"format":"bainlog run","version":1,"events":' + DEEP + b"}"
    ),
    "JSON, 50 MB of empty lists": _raw_json(_repeated(b"[],", 50 * MB, b'{"format":[', b"0]}")),
    "JSON, 50 MB of numbers": _raw_json(_repeated(b"1.5,", 50 * MB, b'{"format":[', b"0]}")),
    "JSON, 50 MB of keys": _raw_json(
        lambda file: file.write(b"{" + b",".join(b'"%x":0' % n for n in range(4_500_000)) + b"}")
    ),
    "JSON, 50 MB of numbers as readings": _raw_json(
        _repeated(b"0,", 50 * MB, b'{"format":"bainlog run","readings":{"fat":{"t_ns":[', b"0]}}}")
    ),
    "JSON, 50 MB of numbers as raw bytes": _raw_json(
        _repeated(b"0,", 50 * MB, b'{"format":"bainlog run","raw":[', b"0]}")
    ),
    "JSON in gzip": _raw_json(gzip.compress(b"{}")),
    "JSON in UTF-16": _raw_json("{}".encode("utf-16")),
    "JSON, start is text": _set("run", "started_utc_ns", to="x"),
    "JSON, start at 10^40": _set("run", "started_utc_ns", to=10**40),
    "JSON, end is a list": _set("run", "ended_utc_ns", to=[]),
    "JSON, clock speed 0": _set("run", "clock_speed", to=0),
    "JSON, run id is a path": _set("run", "run_id", to="../../x"),
    "JSON, lone surrogate in the note": _set("run", "outcome_note", to="\ud800"),
    "JSON, lone surrogate in the zone": _set("run", "zone", to="\udfff"),
    "JSON, sheet is no sheet": _set("run", "sheet_json", to="{}"),
    "JSON, bench is no bench": _set("run", "bench_json", to="[]"),
    "JSON, results are a number": _set("results", to=3),
    "JSON, results of wrong kinds": _set("results", to={"stages": [{"id": 3}]}),
    "JSON, a counter is text": _set("counters", to={"scale": {"lines": "x"}}),
    "JSON, readings are text": _json(
        lambda d: d["readings"][d["channels"][0]["id"]].update(value=["1"] * 3)
    ),
    "JSON, readings of another channel": _json(
        lambda d: d["readings"].update(nut=d["readings"][d["channels"][0]["id"]])
    ),
    "JSON, a reading at 10^9 s": _json(
        lambda d: d["readings"][d["channels"][0]["id"]]["t_ns"].__setitem__(-1, 10**18)
    ),
    "JSON, an event that is a list": _json(lambda d: d["events"].append([])),
    "JSON, an outcome that is a table": _json(
        lambda d: d["events"].append(
            {"seq": 10**6, "t_ns": 0, "kind": "outcome", "source": "operator", "channel": None,
             "port": None, "stage": None, "text": "", "data": {"outcome": {}}}
        )
    ),
    "JSON, raw bytes that are none": _json(lambda d: d["raw"].append([0, "x", "data", "***"])),
    "JSON, NaN": _raw_json(b'{"format": NaN}'),
    "Parquet that is none": _parquet(lambda p, _: (p / "readings.parquet").write_bytes(b"PAR1")),
    "Parquet of 60 million rows": _parquet(_rows(60_000_000)),
    "Parquet with text as values": _parquet(
        _rows(1, value=lambda n: __import__("pyarrow").array(["x"] * n))
    ),
    "Parquet, zstd bomb of 2 GB": _parquet(_zstd_bomb),
    "run file, empty": _run_bytes(b""),
    "run file of noise": _run_bytes(os.urandom(100_000)),
    "run file of zeros": _run_bytes(bytes(50 * MB)),
    "run file, endless view of events": _run(_swapped("event", ENDLESS)),
    "run file, endless view of readings": _replayed(_run(_swapped("tail", ENDLESS))),
    "run file, endless view as head": _run(_swapped("channel", ENDLESS)),
    "run file with a trigger": _run(
        lambda db: db.execute(
            "CREATE TRIGGER t AFTER INSERT ON event BEGIN DELETE FROM block; END"
        )
    ),
    "run file, a zstd bomb as readings": _replayed(_run(_blob("zstd"))),
    "run file, a block of 2 billion rows": _replayed(_run(_blob("rows"))),
    "run file, start is text": _run(lambda db: db.execute("UPDATE run SET started_utc_ns = 'x'")),
    "run file, a reading at 10^9 s": _replayed(
        _run(lambda db: db.execute("INSERT INTO tail VALUES (0, 100000, 1e15, 1, 0, NULL)"))
    ),
    "run file, deep JSON as results": _run(
        lambda db: db.execute("UPDATE run SET results = ?", ("[" * 200_000,))
    ),
}  # fmt: skip
"""By what the table calls them."""

HUGE: dict[str, Made] = {
    "CSV of 150 MB of commas": _csv(_repeated(b",", 150 * MB, HEAD)),
    "CSV of a cell of 500 MB": _csv(_repeated(b"1", 500 * MB, HEAD + b"0,")),
    "CSV of 60 million rows": _csv(_repeated(b"0,1\n", 240 * MB, HEAD)),
    "JSON of 150 MB of lists": _raw_json(_repeated(b"[],", 150 * MB, b'{"format":[', b"0]}")),
    "JSON of 150 MB of commas": _raw_json(_repeated(b",", 150 * MB, b'{"format":[', b"0]}")),
    "JSON of 150 MB of lists as readings": _raw_json(
        _repeated(
            b"[],", 150 * MB, b'{"format":"bainlog run","readings":{"fat":{"t_ns":[', b"0]}}}"
        )
    ),
    "JSON of 150 MB of numbers as readings": _raw_json(
        _repeated(b"0,", 150 * MB, b'{"format":"bainlog run","readings":{"fat":{"t_ns":[', b"0]}}}")
    ),
}
"""Above 50 MB; only by command."""

STORED = frozenset(name for name in CASES if name.startswith("run file"))
"""These lie in the data folder: the tool says that a file of its own does not read, exit 1."""
