"""Batches to rows, with the numbers of channels, instruments, readings and chunks.

Runs on the writer's connection inside a transaction that ``writer`` opened; used by it alone.
"""

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import apsw

from logger.model.errors import StoreError
from logger.model.event import Event
from logger.model.reading import Flag
from logger.store.blocks.compaction import Tail
from logger.store.run.records import CHUNK_KINDS, Anchor, Chunk, StoredReading, WriteBatch, plain

_KIND_NUMBER = {kind: number for number, kind in enumerate(CHUNK_KINDS)}
_FAULT = int(Flag.FAULT)


class Saver:
    """Saves batches; knows the numbers of channels, instruments, readings and chunks.

    Parameters
    ----------
    db : apsw.Connection
        The writer's.
    path : Path
        The run file, for messages.
    """

    def __init__(self, db: apsw.Connection, path: Path) -> None:
        self._db = db
        self._path = path
        self.tail = Tail()
        self.channels: dict[str, int] = {}
        self._instruments: dict[str, int] = {}
        self._first_us: dict[int, int] = {}
        self._last_us: dict[int, int] = {}
        """First and last stamp [us] of each channel in the batch being saved."""
        self._before: tuple[dict[int, int], int, dict[str, int]] = ({}, 0, {})
        self._look()

    def _look(self) -> None:
        """Read where the file stands."""
        db, tail = self._db, self.tail
        self.channels = {
            name: no for no, name in db.execute("SELECT number, id FROM channel ORDER BY number")
        }
        self._instruments = {
            name: no for no, name in db.execute("SELECT number, id FROM instrument")
        }
        for number in self.channels.values():
            first = db.execute(
                "SELECT coalesce(max(first_n + count), 0) FROM block WHERE channel = ?", (number,)
            ).get
            count, last, since = db.execute(
                "SELECT count(*), max(n), min(t_us) FROM tail WHERE channel = ?", (number,)
            ).get
            tail.next_n[number] = first if last is None else last + 1
            tail.count[number] = count
            tail.since_us[number] = since or 0
        last_us = db.execute(
            "SELECT max(coalesce((SELECT max(t_max_us) FROM block), 0), "
            "coalesce((SELECT max(t_us) FROM tail), 0))"
        ).get
        tail.last_us = last_us
        first = db.execute("SELECT coalesce(max(first_n + count), 0) FROM chunk_block").get
        tail.chunks, last, size, since, until = db.execute(
            "SELECT count(*), max(n), coalesce(sum(length(data)), 0), min(t_ns), max(t_ns) "
            "FROM chunk"
        ).get
        tail.next_chunk = first if last is None else last + 1
        tail.chunk_bytes, tail.chunk_since_ns, tail.chunk_last_ns = size, since or 0, until or 0
        self._remember()

    def _remember(self) -> None:
        """Note where it stands, to go back to when a batch is refused."""
        self._before = (dict(self.tail.next_n), self.tail.next_chunk, dict(self._instruments))

    def save(self, batch: WriteBatch) -> list[int]:
        """Insert a batch and return the numbers of its events; then `commit` or `forget` it."""
        self._remember()
        self._insert_chunks(batch.chunks)
        self._insert_readings(batch.readings)
        seqs = [self._insert_event(event) for event in batch.events]
        self._insert_anchors(batch.anchors)
        self._insert_counters(batch.counters)
        return seqs

    def forget(self) -> None:
        """Stand where it stood before `save`: the transaction was rolled back."""
        self.tail.next_n, self.tail.next_chunk, self._instruments = self._before

    def _insert_chunks(self, chunks: list[Chunk]) -> None:
        def rows() -> Iterator[tuple[Any, ...]]:
            for instrument, t_ns, kind, data in chunks:
                number = self._instruments.get(instrument)
                if number is None:
                    number = self._new_instrument(instrument)
                yield self.tail.next_chunk, number, t_ns, _KIND_NUMBER[kind], data
                self.tail.next_chunk += 1

        if chunks:
            self._db.executemany("INSERT INTO chunk VALUES (?, ?, ?, ?, ?)", rows())

    def _new_instrument(self, instrument: str) -> int:
        number = len(self._instruments)
        self._db.execute("INSERT INTO instrument VALUES (?, ?)", (number, instrument))
        self._instruments[instrument] = number
        return number

    def _insert_readings(self, readings: list[StoredReading]) -> None:
        channels, next_n, finite = self.channels, self.tail.next_n, math.isfinite
        firsts: dict[int, int] = {}
        lasts: dict[int, int] = {}
        self._first_us, self._last_us = firsts, lasts

        def rows() -> Iterator[tuple[Any, ...]]:
            for channel, t_ns, value, flags, cold in readings:
                number = channels.get(channel)
                if number is None:
                    raise StoreError(
                        f"{self._path}: no channel {channel!r}; there is {', '.join(channels)}"
                    )
                n = next_n[number]
                next_n[number] = n + 1
                if value is not None:
                    value = float(value) + 0.0  # negative zero becomes zero
                    if not finite(value):
                        value, flags = None, flags | _FAULT
                if cold is not None:
                    cold = float(cold) + 0.0 if finite(cold) else None
                t_us = t_ns // 1000
                lasts[number] = t_us
                if number not in firsts:
                    firsts[number] = t_us
                yield number, n, t_us, value, int(flags), cold

        if readings:
            self._db.executemany("INSERT INTO tail VALUES (?, ?, ?, ?, ?, ?)", rows())

    def _insert_event(self, event: Event) -> int:
        self._db.execute(
            "INSERT INTO event (t_ns, kind, source, channel, port, stage, text, data) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                event.t_ns,
                event.kind,
                event.source,
                event.channel,
                event.port,
                event.stage,
                event.text,
                json.dumps(plain(event.data)),
            ),
        )
        seq = self._db.last_insert_rowid()
        if event.kind == "outcome":
            self._db.execute(
                "UPDATE run SET outcome = ?, defects = ?, outcome_note = ?",
                (
                    event.data.get("outcome"),
                    json.dumps(list(event.data.get("defects", []))),
                    event.text,
                ),
            )
        return seq

    def _insert_anchors(self, anchors: list[Anchor]) -> None:
        if anchors:
            self._db.executemany(
                "INSERT INTO anchor (boot_id, mono_ns, boottime_ns, utc_ns, zone, t_ns) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                anchors,
            )

    def _insert_counters(self, counters: dict[str, dict[str, int]]) -> None:
        for instrument, counts in counters.items():
            self._db.execute(
                "INSERT INTO counter VALUES (?, ?) "
                "ON CONFLICT (instrument) DO UPDATE SET counts = excluded.counts",
                (instrument, json.dumps(counts)),
            )

    def commit(self, batch: WriteBatch) -> None:
        """Keep account of what waits for compaction after a batch is saved."""
        tail, next_n = self.tail, self._before[0]
        for number, last_us in self._last_us.items():
            if tail.count[number] == 0:
                tail.since_us[number] = self._first_us[number]
            tail.count[number] += tail.next_n[number] - next_n[number]
            tail.last_us = max(tail.last_us, last_us)
        for chunk in batch.chunks:
            if tail.chunks == 0:
                tail.chunk_since_ns = chunk.t_ns
            tail.chunks += 1
            tail.chunk_bytes += len(chunk.data)
            tail.chunk_last_ns = chunk.t_ns
        self._remember()
