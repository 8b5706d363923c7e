"""bainlog's own exports back to a run: CSV or Parquet folder, or JSON file.

The counterpart of ``exporting``. What is wrong is said with file and row; nothing is half restored.
"""

import base64
import csv
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from logger.model.errors import InputError
from logger.model.event import Event
from logger.store.exchange.bundle import Bundle, bundle_from, keep
from logger.store.exchange.cells import number, time_ns, unguarded
from logger.store.exchange.exporting import EVENT_COLUMNS, RAW_COLUMNS, READING_COLUMNS
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import CHUNK_KINDS, Chunk, Series

MAX_BYTES = 2_000_000_000
"""Largest file of an export that is read."""


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


def restore(folder: DataFolder, path: str | Path) -> str:
    """Make a run of an export and return its id.

    Raises
    ------
    InputError
        If there is no export at the path or it is not whole.
    StoreError
        If the run cannot be written.
    """
    return keep(read_export(path), folder)


def read_export(path: str | Path) -> Bundle:
    """Read an export of any kind.

    Raises
    ------
    InputError
        If there is no export at the path or it is not whole; with file and row where one is at
        fault.
    """
    place = export_at(path)
    if place is None:
        raise InputError(str(path), "no export of a run", "give its folder or its JSON file")
    if place.is_file():
        return _from_json(place)
    head = _json(place / "run.json")
    if (place / "readings.parquet").is_file():
        return _from_parquet(place, head)
    return _from_csv(place, head)


def _json(path: Path) -> Any:
    try:
        if path.stat().st_size > MAX_BYTES:
            raise InputError(str(path), "too large", f"at most {MAX_BYTES} bytes are read")
        return json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError) as cause:
        raise InputError(str(path), f"does not read ({cause})", "export the run again") from cause


def _from_json(path: Path) -> Bundle:
    data = _json(path)
    try:
        readings = {
            channel: series_from(
                columns["t_ns"], columns["value"], columns["flags"], columns["cold_junction_c"]
            )
            for channel, columns in data["readings"].items()
        }
        events = [Event(**row) for row in data["events"]]
        chunks = [
            Chunk(instrument, t_ns, kind, base64.b64decode(text, validate=True))
            for t_ns, instrument, kind, text in data["raw"]
        ]
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as cause:
        raise InputError(
            str(path), f"not a whole export ({cause!r})", "export the run again"
        ) from cause
    return bundle_from(data, readings, events, chunks, str(path))


def series_from(t_ns: Any, value: Any, flags: Any, cold: Any) -> Series:
    """Return columns with None for no value as a series.

    Parameters
    ----------
    t_ns : list of int
        Times on the run's axis [ns].
    value : list of float or None
        Readings.
    flags : list of int
        Of `Flag`.
    cold : list of float or None, or None
        Cold junctions sent with emfs [degC]; None without any.

    Raises
    ------
    ValueError, TypeError
        If they differ in length or are no numbers.
    """
    colds = None if cold is None else np.array(cold, dtype=np.float64)
    if colds is not None and np.isnan(colds).all():
        colds = None
    series = Series(
        t_ns=np.array(t_ns, dtype=np.int64),
        value=np.array(value, dtype=np.float64),
        flags=np.array(flags, dtype=np.int32),
        cold_junction=colds,
    )
    lengths = {len(series.t_ns), len(series.value), len(series.flags)}
    if len(lengths | ({len(colds)} if colds is not None else set())) > 1:
        raise ValueError("columns differ in length")
    return series


def _from_parquet(folder: Path, head: Any) -> Bundle:
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        table = pq.read_table(folder / "readings.parquet")
        names = table.column("channel").to_pandas().to_numpy(dtype=object)
        columns = {
            name: table.column(name).to_numpy()
            for name in ("t_ns", "value", "flags", "cold_junction_c")
        }
        readings = {}
        for channel in head["channels"]:
            at = names == channel["id"]
            readings[channel["id"]] = series_from(*(column[at] for column in columns.values()))
        events = [
            Event(**(row | {"data": json.loads(row["data"])}))
            for row in pq.read_table(folder / "events.parquet").to_pylist()
        ]
        chunks = [
            Chunk(row["instrument"], row["t_ns"], row["kind"], row["bytes"])
            for row in pq.read_table(folder / "raw.parquet").to_pylist()
        ]
    except (OSError, pa.ArrowException, KeyError, TypeError, ValueError) as cause:
        raise InputError(
            str(folder), f"not a whole export ({cause})", "export the run again"
        ) from cause
    return bundle_from(head, readings, events, chunks, str(folder))


def _rows(path: Path, columns: tuple[str, ...]) -> Iterator[tuple[int, list[str]]]:
    """Yield row number and cells of one of our own CSV files."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            reader = csv.reader(file, strict=True)
            found = next(reader, [])
            if tuple(found[: len(columns)]) != columns:
                raise InputError(f"{path}: row 1", repr(",".join(found)), f"wanted {columns}")
            for row, cells in enumerate(reader, 2):
                if len(cells) != len(found):
                    raise InputError(
                        f"{path}: row {row}", f"{len(cells)} cells", f"wanted {len(found)}"
                    )
                yield row, cells
    except (OSError, UnicodeDecodeError, csv.Error) as cause:
        raise InputError(str(path), f"does not read ({cause})", "export the run again") from cause


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
            raise InputError(f"{path}: row {row}", f"channel {channel!r}", "it is not in run.json")
        try:
            place[0].append(time_ns(time))
            place[1].append(number(value) if value else nan)
            place[2].append(int(flags))
            place[3].append(number(cold) if cold else nan)
        except ValueError as cause:
            raise InputError(f"{path}: row {row}", repr(cells), str(cause)) from cause
    return {channel: series_from(*place) for channel, place in columns.items()}


def _csv_events(path: Path) -> Iterator[Event]:
    for row, cells in _rows(path, EVENT_COLUMNS):
        time, kind, text, seq, *about, data = cells
        source, channel, port, stage = (unguarded(cell) if cell else None for cell in about)
        try:
            yield Event(
                t_ns=time_ns(time),
                kind=unguarded(kind),
                text=unguarded(text),
                seq=int(seq),
                source=source,  # type: ignore[arg-type]  # as the file has it
                channel=channel,
                port=port,
                stage=stage,
                data=json.loads(data),
            )
        except ValueError as cause:
            raise InputError(f"{path}: row {row}", repr(cells), str(cause)) from cause


def _csv_chunks(path: Path) -> Iterator[Chunk]:
    for row, (time, instrument, kind, data) in _rows(path, RAW_COLUMNS):
        try:
            if kind not in CHUNK_KINDS:
                raise ValueError(f"kind is one of {', '.join(CHUNK_KINDS)}")
            yield Chunk(
                unguarded(instrument), time_ns(time), kind, bytes.fromhex(data.removeprefix("0x"))
            )
        except ValueError as cause:
            raise InputError(f"{path}: row {row}", f"{kind} {data[:40]!r}", str(cause)) from cause
