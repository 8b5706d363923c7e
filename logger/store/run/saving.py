"""Batches to sealed rows, with the numbers of channels, instruments, readings, chunks and events.

Runs on the writer's connection inside a transaction that ``writer`` opened; used by it alone.
"""

import hashlib
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import apsw

from logger.model.errors import BadFileError, InputError, StoreError
from logger.model.event import Event
from logger.model.photos.jpeg import MOST_PHOTOS
from logger.model.reading import Flag
from logger.store.blocks.compaction import Tail
from logger.store.run.records import CHUNK_KINDS, Anchor, Chunk, StoredReading, WriteBatch, plain
from logger.store.seals.digest import TAIL_ROW, Sealer
from logger.store.seals.pieces import read_pieces
from logger.store.seals.tally import COUNTS_DOUBTED, Counts, Tally, read_tally

_KIND_NUMBER = {kind: number for number, kind in enumerate(CHUNK_KINDS)}
_FAULT = int(Flag.FAULT)


def keep_picture(db: apsw.Connection, data: bytes) -> None:
    """Insert the picture of a photo, once.

    Parameters
    ----------
    db : apsw.Connection
        The writer's, in a transaction.
    data : bytes
        JPEG.

    Raises
    ------
    InputError
        If the run has as many as it may have.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    others = db.execute("SELECT count(*) FROM photo WHERE sha256 != ?", (sha256,)).get
    if others >= MOST_PHOTOS:
        wanted = f"a run takes {MOST_PHOTOS}; it is saved without this one"
        raise InputError("photo", "the run has enough photos", wanted)
    db.execute("INSERT OR REPLACE INTO photo VALUES (?, ?)", (sha256, data))


def drop_picture(db: apsw.Connection, sha256: str) -> None:
    """Delete a picture; its bytes are overwritten.

    Parameters
    ----------
    db : apsw.Connection
        The writer's, in a transaction.
    sha256 : str
        Digest of the picture, in hexadecimal.

    Raises
    ------
    InputError
        If the run has no such picture.
    """
    db.pragma("secure_delete", 1)
    db.execute("DELETE FROM photo WHERE sha256 = ?", (sha256,))
    if not db.changes():
        raise InputError("photo", "the run has no such photo", "look at the run's page")


class Saver:
    """Saves batches; knows the numbers of channels, instruments, readings, chunks and events.

    Parameters
    ----------
    db : apsw.Connection
        The writer's.
    path : Path
        The run file, for messages.
    version : int
        ``user_version`` of the file.

    Raises
    ------
    StoreError
        If the file does not say whose it is.
    """

    def __init__(self, db: apsw.Connection, path: Path, version: int) -> None:
        self._db = db
        self._path = path
        self._version = version
        found = read_tally(db)
        if found is None:
            raise BadFileError(f"{path}: its identity is damaged; use a copy of it")
        self._tally: Tally = found
        self.tail = Tail()
        self.channels: dict[str, int] = {}
        self._instruments: dict[str, int] = {}
        self._counters: set[str] = set()
        self._next_seq, self._next_anchor = 1, 1
        self._first_us: dict[int, int] = {}
        self._last_us: dict[int, int] = {}
        """First and last stamp [us] of each channel in the batch being saved."""
        self._look()
        self._before = self._stand()

    @property
    def sealer(self) -> Sealer:
        """What seals the rows of this run."""
        return self._tally.sealer

    def doubt(self, bit: int) -> None:
        """Write down for good that something was missing when the file was opened to write.

        Parameters
        ----------
        bit : int
            `tally.COUNTS_DOUBTED`, `tally.LOG_TORN` or `tally.LOG_GONE`.
        """
        if not self._tally.doubt & bit:
            self._tally.doubt |= bit
            self._tally.write(self._db, self._counts())

    @property
    def is_empty(self) -> bool:
        """Whether nothing was recorded yet."""
        return self._counts().is_empty

    def begin_log(self) -> None:
        """Make the first commit of a log: an empty one looks like one that got lost."""
        self._tally.write(self._db, self._counts())

    def _look(self) -> None:
        """Read where the file stands; what is missing leaves a hole in the numbers."""
        db, tail, counts = self._db, self.tail, self._tally.counts
        if counts is None:
            self._tally.doubt |= COUNTS_DOUBTED
            counts = Counts(version=self._version)
        self.channels = {
            name: no for no, name in db.execute("SELECT number, id FROM channel ORDER BY number")
        }
        self._instruments = {
            name: no for no, name in db.execute("SELECT number, id FROM instrument")
        }
        self._counters = {name for (name,) in db.execute("SELECT instrument FROM counter")}
        self._next_seq = max(counts.events, db.execute("SELECT max(seq) FROM event").get or 0) + 1
        last_anchor = db.execute("SELECT max(id) FROM anchor").get or 0
        self._next_anchor = max(counts.anchors, last_anchor) + 1
        for number in self.channels.values():
            pieces = read_pieces(db, self.sealer, number, None)
            blocks, rows = pieces.blocks, pieces.tail
            here = blocks[-1].end if blocks else 0
            known = counts.readings[number] if number < len(counts.readings) else 0
            tail.next_n[number] = max(int(rows["n"][-1]) + 1 if len(rows) else here, known)
            tail.count[number] = db.execute(
                "SELECT count(*) FROM tail WHERE channel = ?", (number,)
            ).get
            tail.since_us[number] = int(rows["t_us"].min()) if len(rows) else 0
            tail.last_us = max(tail.last_us, pieces.last_us or 0)
        first = db.execute("SELECT coalesce(max(first_n + count), 0) FROM chunk_block").get
        tail.chunks, last, size, since, until = db.execute(
            "SELECT count(*), max(n), coalesce(sum(length(data)), 0), min(t_ns), max(t_ns) "
            "FROM chunk"
        ).get
        tail.next_chunk = max(first if last is None else last + 1, counts.chunks)
        tail.chunk_bytes, tail.chunk_since_ns, tail.chunk_last_ns = size, since or 0, until or 0

    def _stand(self) -> tuple[Any, ...]:
        return (
            dict(self.tail.next_n),
            self.tail.next_chunk,
            dict(self._instruments),
            set(self._counters),
            self._next_seq,
            self._next_anchor,
            bytearray(self._tally.parts),
        )

    def _counts(self) -> Counts:
        next_n = self.tail.next_n
        channels = max(next_n, default=-1) + 1
        return Counts(
            version=self._version,
            chunks=self.tail.next_chunk,
            events=self._next_seq - 1,
            anchors=self._next_anchor - 1,
            counters=len(self._counters),
            instruments=len(self._instruments),
            readings=tuple(next_n.get(number, 0) for number in range(channels)),
        )

    def remember(self) -> None:
        """Note where it stands, for `forget`."""
        self._before = self._stand()

    def save(self, batch: WriteBatch) -> list[int]:
        """Insert a batch and return the numbers of its events; then `commit` or `forget` it."""
        self._insert_chunks(batch.chunks)
        self._insert_readings(batch.readings)
        seqs = [self._insert_event(event) for event in batch.events]
        self._insert_anchors(batch.anchors)
        self._insert_counters(batch.counters)
        self._tally.write(self._db, self._counts())
        return seqs

    def forget(self) -> None:
        """Stand where it stood at `remember`: the transaction was rolled back."""
        (
            self.tail.next_n,
            self.tail.next_chunk,
            self._instruments,
            self._counters,
            self._next_seq,
            self._next_anchor,
            self._tally.parts,
        ) = self._before

    def save_end(self, ended_utc_ns: int | None, *, interrupted: bool) -> None:
        """Write down that the run ended, or that it goes on.

        Parameters
        ----------
        ended_utc_ns : int or None
            [ns since 1970]; None for a run under way.
        interrupted : bool
            It was cut off before.
        """
        end = (None if ended_utc_ns is None else int(ended_utc_ns), int(interrupted))
        self._db.execute("UPDATE run SET ended_utc_ns = ?, interrupted = ?", end)
        self._tally.set_part("end", end)
        self._tally.write(self._db, self._counts())

    def save_results(self, text: str | None) -> None:
        """Write down the results, as JSON; None for a run under way."""
        self._db.execute("UPDATE run SET results = ?", (text,))
        self._tally.set_part("results", (text,))
        self._tally.write(self._db, self._counts())

    def _insert_chunks(self, chunks: list[Chunk]) -> None:
        seal = self.sealer.chunk

        def rows() -> Iterator[tuple[Any, ...]]:
            for instrument, t_ns, kind, data in chunks:
                number = self._instruments.get(instrument)
                if number is None:
                    number = self._new_instrument(instrument)
                row = (self.tail.next_chunk, number, int(t_ns), _KIND_NUMBER[kind], bytes(data))
                yield *row, seal(*row)
                self.tail.next_chunk += 1

        if chunks:
            self._db.executemany("INSERT INTO chunk VALUES (?, ?, ?, ?, ?, ?)", rows())

    def _new_instrument(self, instrument: str) -> int:
        number = len(self._instruments)
        row = (number, instrument)
        self._db.execute(
            "INSERT INTO instrument VALUES (?, ?, ?)", (*row, self.sealer.row("instrument", *row))
        )
        self._instruments[instrument] = number
        return number

    def _insert_readings(self, readings: list[StoredReading]) -> None:
        """Insert rows; the last of each channel seals the batch's group of it."""
        channels, next_n, finite = self.channels, self.tail.next_n, math.isfinite
        pack, nan = TAIL_ROW.pack, math.nan
        firsts: dict[int, int] = {}
        lasts: dict[int, int] = {}
        self._first_us, self._last_us = firsts, lasts
        groups: dict[int, bytearray] = {}
        ends: dict[int, int] = {}
        rows: list[tuple[Any, ...]] = []
        for channel, t_ns, value, flags, cold in readings:
            number = channels.get(channel)
            if number is None:
                raise StoreError(
                    f"{self._path}: no channel {channel!r}; there is {', '.join(channels)}"
                )
            n = next_n[number]
            next_n[number] = n + 1
            flags = int(flags)
            if value is not None:
                value = float(value) + 0.0  # negative zero becomes zero
                if not finite(value):
                    value, flags = None, flags | _FAULT
            if cold is not None:
                cold = float(cold) + 0.0 if finite(cold) else None
            t_us = int(t_ns) // 1000
            lasts[number] = t_us
            packed = pack(
                n, t_us, nan if value is None else value, flags, nan if cold is None else cold
            )
            if number not in firsts:
                firsts[number] = t_us
                groups[number] = bytearray(packed)
            else:
                groups[number] += packed
            ends[number] = len(rows)
            rows.append((number, n, t_us, value, flags, cold, None))
        for number, packed_rows in groups.items():
            at = ends[number]
            rows[at] = (*rows[at][:6], self.sealer.group(number, bytes(packed_rows)))
        if rows:
            self._db.executemany("INSERT INTO tail VALUES (?, ?, ?, ?, ?, ?, ?)", rows)

    def _insert_event(self, event: Event) -> int:
        row = (
            self._next_seq,
            int(event.t_ns),
            event.kind,
            event.source,
            event.channel,
            event.port,
            event.stage,
            event.text,
            json.dumps(plain(event.data)),
        )
        if not all(isinstance(part, str | None) for part in row[2:]):
            raise StoreError(f"{self._path}: an event whose texts are none: {row[2]!r:.60}")
        self._db.execute(
            "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*row, self.sealer.row("event", *row)),
        )
        self._next_seq += 1
        if event.kind == "outcome":
            outcome = (
                event.data.get("outcome"),
                json.dumps(list(event.data.get("defects", []))),
                event.text,
            )
            self._db.execute("UPDATE run SET outcome = ?, defects = ?, outcome_note = ?", outcome)
            self._tally.set_part("outcome", outcome)
        return row[0]

    def _insert_anchors(self, anchors: list[Anchor]) -> None:
        for anchor in anchors:
            boot_id, mono_ns, boottime_ns, utc_ns, zone, t_ns = anchor
            row = (
                self._next_anchor,
                boot_id,
                int(mono_ns),
                int(boottime_ns),
                int(utc_ns),
                zone,
                None if t_ns is None else int(t_ns),
            )
            self._db.execute(
                "INSERT INTO anchor VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (*row, self.sealer.row("anchor", *row)),
            )
            self._next_anchor += 1

    def _insert_counters(self, counters: dict[str, dict[str, int]]) -> None:
        for instrument, counts in counters.items():
            row = (instrument, json.dumps(counts))
            self._db.execute(
                "INSERT OR REPLACE INTO counter VALUES (?, ?, ?)",
                (*row, self.sealer.row("counter", *row)),
            )
            self._counters.add(instrument)

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
        self.remember()
