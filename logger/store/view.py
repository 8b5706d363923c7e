"""Reads one run file, also while it is written and compacted.

Each question opens the file read-only, looks at one consistent snapshot and closes it again, so a
reader never holds the writer up and keeps no log alive. Values are given as stored: uncorrected, in
the unit of the channel's record.
"""

import json
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Any

import apsw
import numpy as np
import zstandard
from numpy.typing import NDArray

from logger.model.bench import Bench
from logger.model.errors import BainlogError, StoreError
from logger.model.event import Event
from logger.model.files import bench_from_text, sheet_from_text
from logger.model.finding import Finding, Results
from logger.model.sheet import Sheet
from logger.store.beside import WITHOUT_LAG, unpacked
from logger.store.codec import Columns, decode, decode_chunks
from logger.store.compaction import columns_of, merge
from logger.store.lock import is_held, lock_path
from logger.store.overview import overview_of
from logger.store.records import (
    CHUNK_KINDS,
    Anchor,
    ChannelRecord,
    Chunk,
    Envelope,
    Outcome,
    RunHeader,
    Series,
    Status,
)
from logger.store.schema import reading, rows_of

_EVER = 1 << 62
_CHUNKS_A_READ = 20_000


class RunView:
    """One run file, open for reading. Use `open`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._held: apsw.Connection | None = None

    @classmethod
    def open(cls, path: str | Path) -> "RunView":
        """Open a run file for reading.

        Raises
        ------
        StoreError
            If there is no such run file, it is damaged, or written by a later bainlog.
        """
        view = cls(Path(path))
        _ = view.header
        return view

    @contextmanager
    def together(self) -> Iterator["RunView"]:
        """Answer all questions within from one snapshot: faster for many, and consistent.

        Keep it short while the run is written: the log cannot shrink meanwhile. One thread only.
        """
        with reading(self.path) as db:
            self._held = db
            try:
                yield self
            finally:
                self._held = None

    @contextmanager
    def _look(self) -> Iterator[apsw.Connection]:
        with self._decoding():
            if self._held is not None:
                yield self._held
                return
            with reading(self.path) as db:
                yield db

    def close(self) -> None:
        """Nothing is held between questions; here for symmetry."""

    def __enter__(self) -> "RunView":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @cached_property
    def header(self) -> RunHeader:
        """What was known of the run when it began."""
        with self._look() as db:
            row = db.execute(
                "SELECT run_id, sheet_json, sheet_text, bench_json, bench_text, shapes_text, "
                "started_utc_ns, zone, boot_id, clock_speed, origin, version FROM run"
            ).fetchone()
            channels = rows_of(
                db, "SELECT id, instrument, field, role, unit FROM channel ORDER BY number"
            )
        if row is None:
            raise StoreError(f"{self.path}: holds no run")
        names = (
            "run_id", "sheet_json", "sheet_text", "bench_json", "bench_text", "shapes_text",
            "started_utc_ns", "zone", "boot_id", "clock_speed", "origin", "version",
        )  # fmt: skip
        with self._decoding("the header"):
            _require_text(
                *row[:6], row[7], row[8], *row[10:], *(part for c in channels for part in c)
            )
            return RunHeader(
                **dict(zip(names, row, strict=True)),
                channels=tuple(ChannelRecord(*c) for c in channels),
            )

    def sheet(self) -> Sheet:
        """Return the batch sheet as it was when the run began."""
        if self.header.sheet_json:
            with self._decoding("the sheet"):
                return Sheet.model_validate_json(self.header.sheet_json)
        return sheet_from_text(self.header.sheet_text, self.path.name)

    def bench(self) -> Bench:
        """Return the bench as it was when the run began."""
        return self._bench

    @cached_property
    def _bench(self) -> Bench:
        if self.header.bench_json:
            with self._decoding("the bench"):
                return Bench.model_validate_json(self.header.bench_json)
        return bench_from_text(self.header.bench_text, self.path.name)

    def channels(self) -> tuple[ChannelRecord, ...]:
        """Return the channels, in the order of the bench."""
        return self.header.channels

    def _number(self, channel: str) -> int:
        for number, record in enumerate(self.header.channels):
            if record.id == channel:
                return number
        known = ", ".join(c.id for c in self.header.channels)
        raise StoreError(f"{self.path}: no channel {channel!r}; there is {known or 'none'}")

    def readings(
        self, channel: str, from_ns: int | None = None, to_ns: int | None = None
    ) -> Series:
        """Return the readings of a channel, as stored, in time order.

        Parameters
        ----------
        channel : str
            Channel id.
        from_ns, to_ns : int or None
            Bounds on the run's axis, both included [ns].

        Returns
        -------
        Series
            Readings with one stamp keep the order in which they came.

        Raises
        ------
        StoreError
            If the channel is unknown or the file is damaged.
        """
        number = self._number(channel)
        low, high = _bounds_us(from_ns, to_ns)
        with self._look() as db:
            blobs = rows_of(
                db,
                "SELECT data FROM block JOIN blob ON blob.id = block.columns "
                "WHERE channel = ? AND t_max_us >= ? AND t_min_us <= ? ORDER BY first_n",
                (number, low, high),
            )
            rows = rows_of(
                db,
                "SELECT t_us, value, flags, cold_junction_c FROM tail "
                "WHERE channel = ? AND t_us BETWEEN ? AND ? ORDER BY n",
                (number, low, high),
            )
        with self._decoding():
            columns = merge([*(decode(blob) for (blob,) in blobs), columns_of(rows)])
        return _series(columns, low, high)

    def overview(
        self,
        channel: str,
        from_ns: int | None = None,
        to_ns: int | None = None,
        points: int = 1000,
    ) -> Envelope:
        """Return a channel's trace in at most `points` bins (and one more at the edge).

        Parameters
        ----------
        channel : str
        from_ns, to_ns : int or None
            Bounds on the run's axis [ns]; a bin that reaches over a bound may be included.
        points : int
            At least 1.

        Returns
        -------
        Envelope
        """
        if points < 1:
            raise ValueError(f"points: found {points}, wanted at least 1")
        number = self._number(channel)
        low, high = _bounds_us(from_ns, to_ns)
        with self._look() as db, self._decoding():
            return overview_of(db, number, low, high, points)

    def count(self, channel: str) -> int:
        """Return how many readings a channel has."""
        number = self._number(channel)
        with self._look() as db:
            found: int = db.execute(
                "SELECT coalesce((SELECT sum(count) FROM block WHERE channel = ?1), 0) + "
                "(SELECT count(*) FROM tail WHERE channel = ?1)",
                (number,),
            ).get
        return found

    def last(self, channel: str) -> tuple[int, float | None, int] | None:
        """Return time [ns], value and flags of the reading stored last, or None."""
        number = self._number(channel)
        with self._look() as db:
            row = db.execute(
                "SELECT t_us, value, flags FROM tail WHERE channel = ? ORDER BY n DESC LIMIT 1",
                (number,),
            ).fetchone()
            blob = db.execute(
                "SELECT data FROM block JOIN blob ON blob.id = block.columns "
                "WHERE channel = ? ORDER BY first_n DESC LIMIT 1",
                (number,),
            ).get
        if row is not None:
            return row[0] * 1000, row[1], row[2]
        if blob is None:
            return None
        with self._decoding():
            columns = decode(blob)
        value = float(columns.value[-1])
        kept = None if np.isnan(value) else value
        return int(columns.t_us[-1]) * 1000, kept, int(columns.flags[-1])

    def chunks(
        self,
        instrument: str | None = None,
        from_ns: int | None = None,
        to_ns: int | None = None,
    ) -> Iterator[Chunk]:
        """Yield the raw chunks in the order in which they were saved.

        Reads a piece at a time, so a slow taker holds nothing up; a run may grow meanwhile.
        """
        low = -_EVER if from_ns is None else from_ns
        high = _EVER if to_ns is None else to_ns
        after = -1
        while True:
            names, rows, after, more = self._chunks_after(after)
            for number, t_ns, kind, data in rows:
                name = names[number]
                if low <= t_ns <= high and instrument in (None, name):
                    yield Chunk(name, t_ns, CHUNK_KINDS[kind], data)
            if not more:
                return

    def _chunks_after(
        self, after: int
    ) -> tuple[dict[int, str], list[tuple[int, int, int, bytes]], int, bool]:
        """Return instrument names, the next rows behind chunk `after`, the last number, and
        whether there may be more."""
        with self._look() as db:
            names: dict[int, str] = dict(rows_of(db, "SELECT number, id FROM instrument"))
            block = db.execute(
                "SELECT first_n, count, data FROM chunk_block WHERE first_n + count - 1 > ? "
                "ORDER BY first_n LIMIT 1",
                (after,),
            ).fetchone()
            loose: list[tuple[Any, ...]] = []
            if block is None:
                loose = rows_of(
                    db,
                    "SELECT n, instrument, t_ns, kind, data FROM chunk WHERE n > ? "
                    "ORDER BY n LIMIT ?",
                    (after, _CHUNKS_A_READ),
                )
        if block is None:
            last = loose[-1][0] if loose else after
            found = [(no, t_ns, kind, data) for _, no, t_ns, kind, data in loose]
            return names, found, last, len(loose) == _CHUNKS_A_READ
        first_n, count, data = block
        with self._decoding():
            found = decode_chunks(data)
        # What was read from the loose rows before is in the block by now: skip it.
        return names, found[max(after + 1 - first_n, 0) :], first_n + count - 1, True

    def events(self, after_seq: int = 0) -> list[Event]:
        """Return the events with a number above `after_seq`, in the order of their numbers."""
        with self._look() as db:
            rows = rows_of(
                db,
                "SELECT t_ns, kind, source, channel, port, stage, text, data, seq FROM event "
                "WHERE seq > ? ORDER BY seq",
                (after_seq,),
            )
        with self._decoding("an event"):
            _require_text(*(part for row in rows for part in (row[1], row[2], *row[6:8])))
            return [
                Event(
                    t_ns=t_ns, kind=kind, source=source, channel=channel, port=port, stage=stage,
                    text=text, data=json.loads(data), seq=seq,
                )
                for t_ns, kind, source, channel, port, stage, text, data, seq in rows
            ]  # fmt: skip

    def results(self) -> Results | None:
        """Return what the engine worked out when the run ended, or None."""
        text = self._get("SELECT results FROM run")
        with self._decoding("the results"):
            return None if text is None else results_from(json.loads(text))

    def without_lag(self, channel: str) -> NDArray[np.float64] | None:
        """Return the values without the probe's lag that were stored when the run ended.

        Returns
        -------
        ndarray or None
            One a reading of the channel [degC], in the order of `readings`, NaN for none; None
            where nothing was stored: the lag is not known, or taking it off does not pay.
        """
        results = self.results()
        for row in results.derived if results is not None else ():
            if row.get("channel") == channel and row.get("kind") == WITHOUT_LAG:
                with self._decoding("a derived series"):
                    return unpacked(row)
        return None

    def outcome(self) -> Outcome:
        """Return what the user said came out."""
        with self._look() as db:
            outcome, defects, note = db.execute(
                "SELECT outcome, defects, outcome_note FROM run"
            ).fetchone() or (None, "[]", "")
        with self._decoding("the outcome"):
            return Outcome(outcome=outcome, defects=tuple(json.loads(defects)), note=note)

    def anchors(self) -> list[Anchor]:
        """Return where the axis stood against the clocks, in the order stored."""
        with self._look() as db:
            rows = rows_of(
                db,
                "SELECT boot_id, mono_ns, boottime_ns, utc_ns, zone, t_ns FROM anchor ORDER BY id",
            )
        return [Anchor(*row) for row in rows]

    def counters(self) -> dict[str, dict[str, int]]:
        """Return the latest counts of each instrument."""
        with self._look() as db:
            rows = rows_of(db, "SELECT instrument, counts FROM counter")
        with self._decoding("a counter"):
            return {instrument: json.loads(counts) for instrument, counts in rows}

    @property
    def last_seq(self) -> int:
        """Number of the last event; 0 without any."""
        found: int = self._get("SELECT coalesce(max(seq), 0) FROM event")
        return found

    @property
    def ended_utc_ns(self) -> int | None:
        """When the run was ended [ns since 1970], or None."""
        found: int | None = self._get("SELECT ended_utc_ns FROM run")
        return found

    @property
    def duration_ns(self) -> int:
        """Time of the last reading or event on the run's axis [ns]; 0 for an empty run."""
        found: int = self._get(
            "SELECT max(0, coalesce((SELECT max(t_max_us) FROM block), 0) * 1000, "
            "coalesce((SELECT max(t_us) FROM tail), 0) * 1000, "
            "coalesce((SELECT max(t_ns) FROM event), 0))"
        )
        return found

    @property
    def status(self) -> Status:
        """``recording``: a living process writes it; ``interrupted``: cut off."""
        ended, interrupted = self._row("SELECT ended_utc_ns, interrupted FROM run")
        if ended is not None:
            return "interrupted" if interrupted else "ended"
        return "recording" if is_held(lock_path(self.path)) else "interrupted"

    def check(self) -> str:
        """Return ``"ok"``, or what SQLite's integrity check and the numbering find wrong."""
        with self._look() as db:
            found = str(db.execute("PRAGMA integrity_check").get)
            if found != "ok":
                return found
            for number, record in enumerate(self.header.channels):
                here = 0
                for first_n, count in [
                    *db.execute(
                        "SELECT first_n, count FROM block WHERE channel = ? ORDER BY first_n",
                        (number,),
                    ),
                    *db.execute("SELECT n, 1 FROM tail WHERE channel = ? ORDER BY n", (number,)),
                ]:
                    if first_n != here:
                        return f"channel {record.id}: reading {here} is missing"
                    here = first_n + count
        return "ok"

    def _get(self, sql: str) -> Any:
        with self._look() as db:
            return db.execute(sql).get

    def _row(self, sql: str) -> tuple[Any, ...]:
        with self._look() as db:
            row: tuple[Any, ...] | None = db.execute(sql).fetchone()
        if row is None:
            raise StoreError(f"{self.path}: holds no run")
        return row

    @contextmanager
    def _decoding(self, what: str = "a block") -> Iterator[None]:
        """Say that a part of the file is damaged, whatever its damage breaks."""
        try:
            yield
        except BainlogError:
            raise
        except (zstandard.ZstdError, struct.error, ValueError, LookupError, TypeError) as cause:
            first = (str(cause).splitlines() or [""])[0][:200]
            raise StoreError(f"{self.path}: {what} is damaged ({first})") from cause


def results_from(data: dict[str, Any]) -> Results:
    """Return results from their JSON values; keys that this version does not know are left out."""
    known = {f.name for f in fields(Results)}
    finding = {f.name for f in fields(Finding)}
    kept = {key: value for key, value in data.items() if key in known}
    kept["findings"] = [
        Finding(**{key: value for key, value in row.items() if key in finding})
        for row in data.get("findings", [])
    ]
    return Results(**kept)


def _require_text(*parts: Any) -> None:
    """Refuse bytes and numbers where text was stored: a damaged row holds them."""
    if not all(isinstance(part, str) for part in parts):
        raise TypeError("text was stored there, something else is read")


def _bounds_us(from_ns: int | None, to_ns: int | None) -> tuple[int, int]:
    low = -_EVER if from_ns is None else -(-from_ns // 1000)
    high = _EVER if to_ns is None else to_ns // 1000
    return low, high


def _series(columns: Columns, low: int, high: int) -> Series:
    keep = (columns.t_us >= low) & (columns.t_us <= high)
    t_us = columns.t_us[keep]
    order = np.argsort(t_us, kind="stable") if (np.diff(t_us) < 0).any() else slice(None)
    cold = columns.cold_junction
    return Series(
        t_ns=t_us[order] * 1000,
        value=columns.value[keep][order],
        flags=columns.flags[keep][order].astype(np.int32),
        cold_junction=None if cold is None else cold[keep][order],
    )
