"""What a run file says of its run, and how it is looked at: read-only, one snapshot, closed again.

Sheet, bench, events, results, outcome, clocks, status. A reader never holds the writer up and keeps
no log alive; what is damaged is told as such.
"""

import json
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import apsw
import zstandard

from logger.model.bench import Bench
from logger.model.errors import BainlogError, StoreError
from logger.model.event import Event
from logger.model.finding import Results
from logger.model.plainly import results_from
from logger.model.sheet import Sheet
from logger.store.folder.lock import is_held, lock_path
from logger.store.run.records import Anchor, ChannelRecord, Outcome, RunHeader, Status
from logger.store.run.schema import reading, rows_of, todays_results


class Looking:
    """A run file and the way to look at it; what is asked stands in its children."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._held: apsw.Connection | None = None

    @contextmanager
    def together(self) -> Iterator[Self]:
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

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

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


class RunFacts(Looking):
    """Everything of a run but its readings and raw bytes."""

    @classmethod
    def open(cls, path: str | Path) -> Self:
        """Open a run file for reading.

        Raises
        ------
        StoreError
            If there is no such run file, it is damaged, or written by a later bainlog.
        """
        view = cls(Path(path))
        _ = view.header
        return view

    @cached_property
    def header(self) -> RunHeader:
        """What was known of the run when it began.

        Raises
        ------
        StoreError
            If the file holds no run, or its header cannot be read.
        """
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
            "run_id",
            "sheet_json",
            "sheet_text",
            "bench_json",
            "bench_text",
            "shapes_text",
            "started_utc_ns",
            "zone",
            "boot_id",
            "clock_speed",
            "origin",
            "version",
        )
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
        with self._decoding("the sheet"):
            return Sheet.model_validate_json(self.header.sheet_json)

    def bench(self) -> Bench:
        """Return the bench as it was when the run began."""
        return self._bench

    @cached_property
    def _bench(self) -> Bench:
        with self._decoding("the bench"):
            return Bench.model_validate_json(self.header.bench_json)

    def channels(self) -> tuple[ChannelRecord, ...]:
        """Return the channels, in the order of the bench."""
        return self.header.channels

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
                    t_ns=t_ns,
                    kind=kind,
                    source=source,
                    channel=channel,
                    port=port,
                    stage=stage,
                    text=text,
                    data=json.loads(data),
                    seq=seq,
                )
                for t_ns, kind, source, channel, port, stage, text, data, seq in rows
            ]

    def results(self) -> Results | None:
        """Return what the engine worked out when the run ended, or None."""
        with self._look() as db:
            text, version = db.execute("SELECT results FROM run").get, db.pragma("user_version")
        with self._decoding("the results"):
            if text is None:
                return None
            return results_from(todays_results(json.loads(text), version))

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


def _require_text(*parts: Any) -> None:
    """Refuse bytes and numbers where text was stored: a damaged row holds them."""
    if not all(isinstance(part, str) for part in parts):
        raise TypeError("text was stored there, something else is read")
