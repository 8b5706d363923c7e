"""bainlog's own exports back to a run: CSV or Parquet folder, or JSON file.

The counterpart of ``exporting``. What is wrong is said with file and row; nothing is half restored.
A file that is not as it was exported is refused, unless it was edited on purpose; then a note of
the run says so.
"""

import contextlib
import csv
import dataclasses
import io
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from logger.model.errors import InputError
from logger.model.event import Event
from logger.store.exchange.bundle import (
    Bundle,
    bundle_from,
    keep,
    picture_in,
    picture_of,
    with_photos,
)
from logger.store.exchange.cells import number, time_ns, unguarded
from logger.store.exchange.checked import chunk_from, event_from, series_from
from logger.store.exchange.digests import (
    UNSEALED_VERSION,
    changed_files,
    read_json,
)
from logger.store.exchange.exporting import EVENT_COLUMNS, RAW_COLUMNS, READING_COLUMNS
from logger.store.exchange.jsonexport import MAX_BYTES
from logger.store.exchange.jsonpieces import no_number
from logger.store.exchange.table import lines_of
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.given import TOO_BIG, opened, within_memory
from logger.store.run.records import Chunk, Series

MAX_ROWS = 20_000_000
"""Most readings of an export: a day of a full bench at 10 Hz is 14 million."""
MAX_LINE = 4_000_000
"""Longest line of our own CSV files [characters]: a note, or the bytes of one read in hex."""
MAX_UNPACKED_BYTES = 1_000_000_000
"""Most bytes that a Parquet file may unpack to, by its own account."""
_TABLES = ("readings", "events", "raw")
READING_TYPES = {
    "channel": "dictionary<values=string, indices=int32, ordered=0> or string",
    "t_ns": "int64",
    "value": "double",
    "flags": "int32",
    "cold_junction_c": "double",
}
EVENT_TYPES = {"seq": "int64", "t_ns": "int64"} | dict.fromkeys(
    ("kind", "source", "channel", "port", "stage", "text", "data"), "string"
)
RAW_TYPES = {"t_ns": "int64", "instrument": "string", "kind": "string", "bytes": "binary"}


def export_at(path: str | Path) -> Path | None:
    """Return the folder or file of an export that a path means, or None if it means none.

    Parameters
    ----------
    path : str or Path
        The folder, the JSON file, or a file within the folder.
    """
    path = Path(path)
    if path.is_dir():
        return path if (path / "run.json").is_file() else None
    if path.suffix == ".json" and path.is_file() and path.name != "run.json":
        return path
    if path.name in ("run.json", "readings.csv", "readings.parquet"):
        return path.parent if (path.parent / "run.json").is_file() else None
    return None


class Restored(NamedTuple):
    """A run that was taken in."""

    run_id: str
    remarks: tuple[str, ...]
    """What is to be known of where it came from, in sentences."""


def restore(folder: DataFolder, path: str | Path, *, edited: bool = False) -> Restored:
    """Make a run of an export.

    Parameters
    ----------
    folder : DataFolder
        Where the run goes.
    path : str or Path
        Of the export.
    edited : bool
        Take it though it is not as it was exported.

    Raises
    ------
    InputError
        If there is no export at the path or it is not whole.
    StoreError
        If the run cannot be written.
    """
    with within_memory(Path(path)):
        bundle = read_export(path, edited=edited)
    return Restored(keep(bundle, folder), bundle.remarks)


def read_export(path: str | Path, *, edited: bool = False) -> Bundle:
    """Read an export of any kind.

    Parameters
    ----------
    path : str or Path
        Of the export.
    edited : bool
        Take it though it is not as it was exported.

    Raises
    ------
    InputError
        If there is no export at the path or it is not whole; with file and row where one is at
        fault.
    """
    place = export_at(path)
    if place is None:
        raise InputError(str(path), "not an export of a run", "give its folder or its JSON file")
    if place.is_file():
        head, other = read_json(place, edited=edited)
        found = head.get("photos")
        bundle = with_photos(
            _from_json(place, head), lambda sha: picture_of(found, sha), place, edited=edited
        )
        return _with_remarks(bundle, place, head, [place.name] * other)
    head, other = read_json(place / "run.json", edited=edited)
    changed = ["run.json"] * other
    listed = head.get("files")
    if head.get("version") == UNSEALED_VERSION:
        packed = (place / "readings.parquet").is_file()
    else:
        packed = isinstance(listed, dict) and "readings.parquet" in listed
        names = [f"{name}.{'parquet' if packed else 'csv'}" for name in _TABLES]
        changed += changed_files(place, listed, names, edited=edited)
    bundle = (_from_parquet if packed else _from_csv)(place, head)
    bundle = with_photos(bundle, lambda sha256: picture_in(place, sha256), place, edited=edited)
    return _with_remarks(bundle, place, head, changed)


def _with_remarks(
    bundle: Bundle, place: Path, head: dict[str, Any], changed: Sequence[str]
) -> Bundle:
    """Return a bundle that says what is to be known of where it came from.

    Parameters
    ----------
    bundle : Bundle
        As it was read.
    place : Path
        The export.
    head : dict
        Of the export.
    changed : sequence of str
        Files that are others than were exported; a note of the run names them.
    """
    if head.get("version") == UNSEALED_VERSION:
        said = f"{place.name}: exported by an earlier version, without digests: can't be checked"
        return dataclasses.replace(bundle, remarks=(said,))
    if not changed:
        return bundle
    said = f"Imported from an export that was changed after it was made: {', '.join(changed)}"
    times = [int(series.t_ns[-1]) for series in bundle.readings.values() if len(series)]
    times += [event.t_ns for event in bundle.events]
    note = Event(
        t_ns=max(times, default=0),
        kind="note",
        source="recorder",
        text=said,
        seq=max((event.seq for event in bundle.events), default=0) + 1,
    )
    return dataclasses.replace(bundle, events=[*bundle.events, note], remarks=(said,))


def _from_json(path: Path, data: dict[str, Any]) -> Bundle:
    try:
        readings = {
            channel: series_from(
                columns["t_ns"], columns["value"], columns["flags"], columns["cold_junction_c"]
            )
            for channel, columns in data["readings"].items()
        }
        events, chunks = list(data["events"]), list(data["raw"])
    except (KeyError, TypeError, ValueError, AttributeError) as cause:
        raise InputError(
            str(path), f"not a whole export ({_named(cause)})", "export the run again"
        ) from cause
    return bundle_from(data, readings, events, chunks, str(path))


def _named(cause: Exception) -> str:
    """Return what broke; never a value of the file, which is not the user's own line."""
    if isinstance(cause, KeyError):
        return f"{cause.args[0]!r} is missing"[:80]
    if isinstance(cause, OverflowError):
        return "a number too large"
    return "a value of the wrong kind"


def _from_parquet(folder: Path, head: Any) -> Bundle:
    import pyarrow as pa

    try:
        ids = [channel["id"] for channel in head["channels"]]
        readings = _parquet_readings(folder / "readings.parquet", ids)
        events = [
            event_from(row | {"data": json.loads(row["data"])}, f"{folder}: event {n}")
            for n, row in enumerate(_parquet_rows(folder / "events.parquet", EVENT_TYPES), 1)
        ]
        chunks = [
            chunk_from(row["instrument"], row["t_ns"], row["kind"], row["bytes"])
            for row in _parquet_rows(folder / "raw.parquet", RAW_TYPES)
        ]
    except InputError:
        raise
    except MemoryError as cause:  # Arrow's own is one, too
        raise InputError(str(folder), TOO_BIG, "export the run again") from cause
    except (
        OSError,
        pa.ArrowException,
        KeyError,
        TypeError,
        ValueError,
        OverflowError,
        RecursionError,
    ) as cause:
        raise InputError(
            str(folder), f"not a whole export ({_named(cause)})", "export the run again"
        ) from cause
    return bundle_from(head, readings, events, chunks, str(folder))


@contextlib.contextmanager
def _parquet_file(path: Path, types: dict[str, str]) -> Iterator[Any]:
    """Open a Parquet file and look at its head only: columns, rows, size when unpacked.

    Raises
    ------
    InputError
        If a column is missing or of another type, or it is larger than any export.
    """
    import pyarrow.parquet as pq

    with opened(path, MAX_BYTES) as raw, pq.ParquetFile(raw) as file:
        _require_export(file, path, types)
        yield file


def _require_export(file: Any, path: Path, types: dict[str, str]) -> None:
    found = {f.name: str(f.type) for f in file.schema_arrow}
    for name, wanted in types.items():
        if (is_now := found.get(name, "missing")) not in wanted.split(" or "):
            raise InputError(f"{path}: column {name}", is_now, f"expected {wanted}")
    rows = file.metadata.num_rows
    if rows > MAX_ROWS:
        raise InputError(str(path), f"{rows} rows", f"at most {MAX_ROWS} are read")
    groups = range(file.metadata.num_row_groups)
    size = sum(file.metadata.row_group(n).total_byte_size for n in groups)
    if size > MAX_UNPACKED_BYTES:
        wanted = f"at most {MAX_UNPACKED_BYTES} are read"
        raise InputError(str(path), f"{size} bytes when unpacked", wanted)


def _parquet_rows(path: Path, types: dict[str, str]) -> Iterator[dict[str, Any]]:
    with _parquet_file(path, types) as file:
        for batch in file.iter_batches(batch_size=10_000, columns=list(types)):
            yield from batch.to_pylist()


def _sort_in(batch: Any, parts: dict[str, list[Any]], path: Path) -> None:
    """Add the columns of a batch to the parts of the channels."""
    import pyarrow as pa
    import pyarrow.compute as pc

    table, taken = pa.Table.from_batches([batch]), 0
    if any(table.column(name).null_count for name in ("channel", "t_ns", "flags")):
        raise ValueError("a cell without a value")
    for channel, found in parts.items():
        cut = table.filter(pc.equal(table.column("channel"), channel))
        if len(cut):
            found.append([cut.column(name).to_numpy() for name in tuple(READING_TYPES)[1:]])
            taken += len(cut)
    if taken != len(table):
        raise InputError(str(path), "a channel that is not in run.json", "export it again")


def _parquet_readings(path: Path, ids: list[str]) -> dict[str, Series]:
    parts: dict[str, list[Any]] = {channel: [] for channel in ids}
    with _parquet_file(path, READING_TYPES) as file:
        for batch in file.iter_batches(batch_size=200_000, columns=list(READING_TYPES)):
            _sort_in(batch, parts, path)
    return {
        channel: series_from(*(np.concatenate(c) for c in zip(*found, strict=True)))
        if found
        else series_from([], [], [], None)
        for channel, found in parts.items()
    }


def _rows(path: Path, columns: tuple[str, ...]) -> Iterator[tuple[int, list[str]]]:
    """Yield row number and cells of one of our own CSV files."""
    try:
        with opened(path, MAX_BYTES) as raw, io.TextIOWrapper(raw, "utf-8", newline="") as file:
            reader = csv.reader(lines_of(file, MAX_LINE), strict=True)
            found = next(reader, [])
            if tuple(found[: len(columns)]) != columns:
                wanted = f"expected the columns {', '.join(columns)}"
                raise InputError(f"{path}: row 1", "other columns", wanted)
            for row, cells in enumerate(reader, 2):
                if len(cells) != len(found):
                    raise InputError(
                        f"{path}: row {row}", f"{len(cells)} cells", f"expected {len(found)}"
                    )
                yield row, cells
    except (OSError, ValueError, csv.Error) as cause:
        raise InputError(str(path), f"can't be read ({cause})", "export the run again") from cause


def _from_csv(folder: Path, head: Any) -> Bundle:
    try:
        ids = [channel["id"] for channel in head["channels"]]
    except (KeyError, TypeError) as cause:
        raise InputError(str(folder / "run.json"), "no channels", "export it again") from cause
    return bundle_from(
        head,
        _csv_readings(folder / "readings.csv", ids),
        list(_csv_events(folder / "events.csv")),
        list(_csv_chunks(folder / "raw.csv")),
        str(folder),
    )


def _csv_readings(path: Path, ids: list[str]) -> dict[str, Series]:
    columns: dict[str, tuple[list[int], list[float], list[int], list[float]]] = {
        channel: ([], [], [], []) for channel in ids
    }
    nan = float("nan")
    for row, cells in _rows(path, READING_COLUMNS):
        time, channel, value, _, flags, cold = cells[:6]
        place = columns.get(unguarded(channel))
        if place is None:
            raise InputError(
                f"{path}: row {row}", f"channel {channel[:60]!r}", "it is not in run.json"
            )
        try:
            place[0].append(time_ns(time))
            place[1].append(number(value) if value else nan)
            place[2].append(int(flags))
            place[3].append(number(cold) if cold else nan)
        except ValueError as cause:
            raise InputError(f"{path}: row {row}", "can't be read", str(cause)) from cause
    return {channel: series_from(*place) for channel, place in columns.items()}


def _csv_events(path: Path) -> Iterator[Event]:
    for row, cells in _rows(path, EVENT_COLUMNS):
        time, kind, text, seq, *about, data = cells
        source, channel, port, stage = (unguarded(cell) if cell else None for cell in about)
        try:
            values = {
                "t_ns": time_ns(time),
                "kind": unguarded(kind),
                "text": unguarded(text),
                "seq": int(seq),
                "source": source,
                "channel": channel,
                "port": port,
                "stage": stage,
                "data": json.loads(data, parse_constant=no_number),
            }
            yield event_from(values, f"{path}: row {row}")
        except InputError:
            raise
        except (ValueError, RecursionError) as cause:
            raise InputError(f"{path}: row {row}", "can't be read", str(cause)[:200]) from cause


def _csv_chunks(path: Path) -> Iterator[Chunk]:
    for row, (time, instrument, kind, data) in _rows(path, RAW_COLUMNS):
        try:
            sent = bytes.fromhex(data.removeprefix("0x"))
            yield chunk_from(unguarded(instrument), time_ns(time), kind, sent)
        except ValueError as cause:
            raise InputError(f"{path}: row {row}", "can't be read", str(cause)) from cause
