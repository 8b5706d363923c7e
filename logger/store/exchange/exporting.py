"""A run as CSV, Parquet or JSON; an export that is restored gives the same run.

Reads through ``view`` only. CSV and Parquet are a folder (``run.json``, ``readings``, ``events``,
``raw``), JSON is one file; each has its digests (``digests``). Values are as stored; corrected ones
stand beside them when asked for and are not read back.
"""

import base64
import csv
import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import InputError, StoreError
from logger.store.exchange.bundle import Bundle, bundle_of, head_of, photo_name
from logger.store.exchange.cells import guarded, time_text
from logger.store.exchange.digests import digests_of, write_json
from logger.store.run.errors import DamagedError
from logger.store.run.records import Series, event_row, plain
from logger.store.run.view import RunView
from logger.words.digits import exported

Floats = NDArray[np.float64]
Correct = Callable[[str, Series], tuple[Floats, Floats, Floats, str]]
"""Channel id and series to corrected values, their standard uncertainties, the values without the
probe's lag (nan where that does not pay), and the unit of all."""
Kind = Literal["csv", "parquet", "json"]

READING_COLUMNS = ("time_s", "channel", "value", "unit", "flags", "cold_junction_c")
CORRECTED_COLUMNS = ("corrected", "u", "without_lag", "corrected_unit")
EVENT_COLUMNS = (
    "time_s",
    "event",
    "text",
    "seq",
    "source",
    "channel",
    "port",
    "stage",
    "data",
)
RAW_COLUMNS = ("time_s", "instrument", "kind", "bytes")


def export(view: RunView, to: Kind, target: str | Path, corrected: Correct | None = None) -> Path:
    """Write a run out whole, or leave nothing.

    Parameters
    ----------
    view : RunView
    to : str
        ``csv``, ``parquet`` (both make a folder) or ``json`` (makes a file).
    target : str or Path
        Must not exist yet.
    corrected : callable or None
        Gives the corrected values of a channel; None leaves them out.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    InputError
        If the target exists or the kind is unknown.
    StoreError
        If it cannot be written.
    DamagedError
        If a part of the run is damaged: an export is whole or none.
    """
    target = Path(target)
    makers = {"csv": _to_csv, "parquet": _to_parquet, "json": _to_json}
    if to not in makers:
        raise InputError("--to", repr(to), f"expected one of {', '.join(makers)}")
    if target.exists():
        raise InputError(str(target), "already exists", "give another name")
    damage = view.damage()
    if damage:
        raise DamagedError(view.path, damage)
    bundle = bundle_of(view)
    unborn = target.with_name(target.name + ".new")
    try:
        _clear(unborn)
        makers[to](bundle, unborn, corrected)
        unborn.rename(target)
    except OSError as cause:
        _clear(unborn)
        raise StoreError(f"{target}: cannot be written ({cause})") from cause
    except BaseException:
        _clear(unborn)
        raise
    return target


def _clear(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _write_head(bundle: Bundle, folder: Path) -> None:
    """Write photos, then what is not in the tables, with the digests of all; the last of them."""
    for sha256, picture in bundle.photos.items():
        (folder / photo_name(sha256)).write_bytes(picture)
    tables = sorted(path.name for path in folder.iterdir())
    write_json(
        folder / "run.json", head_of(bundle) | {"files": digests_of(folder, tables)}, indent=1
    )


def _units(bundle: Bundle) -> dict[str, str]:
    return {channel.id: channel.unit for channel in bundle.header.channels}


def _to_csv(bundle: Bundle, folder: Path, corrected: Correct | None) -> None:
    folder.mkdir(parents=True)
    columns = READING_COLUMNS + (CORRECTED_COLUMNS if corrected else ())
    _write_csv(folder / "readings.csv", columns, _reading_rows(bundle, corrected))
    _write_csv(folder / "events.csv", EVENT_COLUMNS, _event_rows(bundle))
    _write_csv(
        folder / "raw.csv",
        RAW_COLUMNS,
        (
            (time_text(c.t_ns, 9), guarded(c.instrument), c.kind, "0x" + c.data.hex())
            for c in bundle.chunks
        ),
    )
    _write_head(bundle, folder)


def _write_csv(path: Path, columns: tuple[str, ...], rows: Iterator[tuple[Any, ...]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(columns)
        writer.writerows(rows)


def _shown(value: float) -> str:
    return "" if value != value else repr(value)


def _computed(value: float) -> str:
    return _shown(exported(value))


def _reading_rows(bundle: Bundle, corrected: Correct | None) -> Iterator[tuple[Any, ...]]:
    units = _units(bundle)
    for channel, series in bundle.readings.items():
        name, unit = guarded(channel), guarded(units[channel])
        cold = series.cold_junction
        colds = [np.nan] * len(series) if cold is None else cold.tolist()
        more: Iterator[tuple[str, ...]] = iter([()] * len(series))
        if corrected is not None:
            value, u, lagless, shown = corrected(channel, series)
            u = np.broadcast_to(u, value.shape)
            rows = zip(value.tolist(), u.tolist(), lagless.tolist(), strict=True)
            more = ((_computed(v), _computed(w), _computed(x), shown) for v, w, x in rows)
        for t_ns, value_here, flags, c, extra in zip(
            series.t_ns.tolist(),
            series.value.tolist(),
            series.flags.tolist(),
            colds,
            more,
            strict=True,
        ):
            yield time_text(t_ns, 6), name, _shown(value_here), unit, flags, _shown(c), *extra


def _event_rows(bundle: Bundle) -> Iterator[tuple[Any, ...]]:
    for event in bundle.events:
        texts = (event.kind, event.text)
        about = (event.source, event.channel, event.port, event.stage)
        yield (
            time_text(event.t_ns, 9),
            *(guarded(text) for text in texts),
            event.seq,
            *("" if text is None else guarded(text) or "'" for text in about),
            json.dumps(plain(event.data), ensure_ascii=False, allow_nan=False),
        )


def _to_json(bundle: Bundle, path: Path, corrected: Correct | None) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    data = head_of(bundle)
    data["readings"] = {
        channel: _series_json(channel, series, corrected)
        for channel, series in bundle.readings.items()
    }
    data["events"] = [plain(event_row(event)) for event in bundle.events]
    data["raw"] = [
        [c.t_ns, c.instrument, c.kind, base64.b64encode(c.data).decode()] for c in bundle.chunks
    ]
    data["photos"] = {
        sha256: base64.b64encode(picture).decode() for sha256, picture in bundle.photos.items()
    }
    write_json(path, data)


def _series_json(channel: str, series: Series, corrected: Correct | None) -> dict[str, Any]:
    cold = series.cold_junction
    found = {
        "t_ns": series.t_ns.tolist(),
        "value": plain(series.value.tolist()),
        "flags": series.flags.tolist(),
        "cold_junction_c": None if cold is None else plain(cold.tolist()),
    }
    if corrected is not None:
        value, u, lagless, unit = corrected(channel, series)
        found |= {
            "corrected": plain(value.tolist()),
            "u": plain(np.broadcast_to(u, value.shape).tolist()),
            "without_lag": plain(lagless.tolist()),
            "corrected_unit": unit,
        }
    return found


def _to_parquet(bundle: Bundle, folder: Path, corrected: Correct | None) -> None:
    folder.mkdir(parents=True)
    _parquet_readings(bundle, folder / "readings.parquet", corrected)
    _parquet_events(bundle, folder / "events.parquet")
    _parquet_chunks(bundle, folder / "raw.parquet")
    _write_head(bundle, folder)


def _parquet_readings(bundle: Bundle, path: Path, corrected: Correct | None) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    names = pa.dictionary(pa.int32(), pa.string())
    fields = [
        ("channel", names),
        ("t_ns", pa.int64()),
        ("value", pa.float64()),
        ("unit", names),
        ("flags", pa.int32()),
        ("cold_junction_c", pa.float64()),
    ]
    packed = {"t_ns": "DELTA_BINARY_PACKED", "value": "BYTE_STREAM_SPLIT"}
    if corrected is not None:
        fields += [("corrected", pa.float64()), ("u", pa.float64())]
        fields += [("without_lag", pa.float64()), ("corrected_unit", names)]
    schema, units = pa.schema(fields), _units(bundle)
    with pq.ParquetWriter(
        path,
        schema,
        compression="zstd",
        column_encoding=packed,
        use_dictionary=["channel", "unit", "corrected_unit", "flags", "cold_junction_c"],
    ) as writer:
        for channel, series in bundle.readings.items():
            count, cold = len(series), series.cold_junction
            columns: list[Any] = [
                pa.array([channel] * count, names),
                pa.array(series.t_ns),
                pa.array(series.value, from_pandas=True),
                pa.array([units[channel]] * count, names),
                pa.array(series.flags),
                pa.nulls(count, pa.float64()) if cold is None else pa.array(cold, from_pandas=True),
            ]
            if corrected is not None:
                value, u, lagless, unit = corrected(channel, series)
                columns += [
                    pa.array(np.asarray(value, dtype=np.float64), from_pandas=True),
                    pa.array(np.broadcast_to(u, value.shape).astype(np.float64), from_pandas=True),
                    pa.array(np.asarray(lagless, dtype=np.float64), from_pandas=True),
                    pa.array([unit] * count, names),
                ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))


def _parquet_events(bundle: Bundle, path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    rows = [event_row(e) | {"data": json.dumps(plain(e.data))} for e in bundle.events]
    event_fields = [
        ("seq", pa.int64()),
        ("t_ns", pa.int64()),
        *((n, pa.string()) for n in ("kind", "source", "channel", "port", "stage", "text", "data")),
    ]
    events = pa.Table.from_pylist(rows, pa.schema(event_fields))
    pq.write_table(events, path, compression="zstd")


def _parquet_chunks(bundle: Bundle, path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    raw = {
        "t_ns": pa.array([c.t_ns for c in bundle.chunks], pa.int64()),
        "instrument": pa.array([c.instrument for c in bundle.chunks], pa.string()),
        "kind": pa.array([c.kind for c in bundle.chunks], pa.string()),
        "bytes": pa.array([c.data for c in bundle.chunks], pa.binary()),
    }
    pq.write_table(pa.table(raw), path, compression="zstd")
