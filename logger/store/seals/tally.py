"""The tally: one row that says what must be in the file, and holds the seals of the run's parts.

It is written in each transaction, so whatever vanishes from the file afterwards is missed. The
parts of the ``run`` row are sealed one by one: a damaged sheet leaves the results readable. Runs on
connections that others opened.
"""

import struct
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import apsw

from logger.store.seals.damage import DamagedPart
from logger.store.seals.digest import SEAL_BYTES, Sealer
from logger.store.seals.scan import BROKEN

PARTS: dict[DamagedPart, tuple[str, ...]] = {
    "header": (
        "run_id",
        "version",
        "origin",
        "started_utc_ns",
        "zone",
        "boot_id",
        "clock_speed",
    ),
    "sheet": ("sheet_json",),
    "sheet text": ("sheet_text",),
    "bench": ("bench_json",),
    "bench text": ("bench_text",),
    "line formats": ("shapes_text",),
    "end": ("ended_utc_ns", "interrupted"),
    "outcome": ("outcome", "defects", "outcome_note"),
    "results": ("results",),
}
"""Columns of ``run`` by the part that they make; the order is that of their seals in the tally."""
_NAMES = tuple(PARTS)
_NUMBERS = {"started_utc_ns", "clock_speed", "ended_utc_ns", "interrupted"}
"""Columns of ``run`` that are numbers; all others are text."""

COUNTS_DOUBTED, LOG_TORN, LOG_GONE = 1, 2, 4
"""Bits of ``doubt``: found when the file was opened again to write, and not forgotten since."""

SCHEMA = """
CREATE TABLE tally (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    run_id TEXT NOT NULL,
    doubt INTEGER NOT NULL,
    parts BLOB NOT NULL,
    counts BLOB NOT NULL,
    seal BLOB NOT NULL
)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """What must be in the file.

    Attributes
    ----------
    version : int
        ``user_version`` of the file.
    chunks, events, anchors, counters, instruments : int
        How many; chunks are numbered from 0, events and anchors from 1, without holes.
    readings : tuple of int
        Of each channel by number.
    """

    version: int
    chunks: int = 0
    events: int = 0
    anchors: int = 0
    counters: int = 0
    instruments: int = 0
    readings: tuple[int, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether nothing was recorded yet."""
        return not (self.chunks or self.events or any(self.readings))

    def packed(self) -> bytes:
        """Return the counts as they are stored: little-endian i64, readings last."""
        numbers = (
            self.version,
            self.chunks,
            self.events,
            self.anchors,
            self.counters,
            self.instruments,
            *self.readings,
        )
        return struct.pack(f"<{len(numbers)}q", *numbers)

    @classmethod
    def unpacked(cls, data: bytes) -> "Counts":
        """Return the counts of `packed`.

        Raises
        ------
        struct.error
            If the bytes are none.
        """
        version, chunks, events, anchors, counters, instruments, *readings = struct.unpack(
            f"<{len(data) // 8}q", data
        )
        return cls(
            version=version,
            chunks=chunks,
            events=events,
            anchors=anchors,
            counters=counters,
            instruments=instruments,
            readings=tuple(readings),
        )


@dataclass(slots=True, kw_only=True)
class Tally:
    """The row as it was read.

    Attributes
    ----------
    counts : Counts or None
        None where the row is damaged.
    parts : bytes
        Seals of the parts; each holds by itself.
    doubt : int
        Bits `COUNTS_DOUBTED`, `LOG_TORN` and `LOG_GONE`.
    """

    sealer: Sealer
    counts: Counts | None
    parts: bytearray = field(default_factory=bytearray)
    doubt: int = 0

    def seal_of(self, part: DamagedPart) -> bytes:
        """Return the stored seal of a part."""
        at = _NAMES.index(part) * SEAL_BYTES
        return bytes(self.parts[at : at + SEAL_BYTES])

    def set_part(self, part: DamagedPart, values: tuple[Any, ...]) -> None:
        """Seal a part that is being written; `write` then saves it.

        Parameters
        ----------
        part : str
            One of `PARTS`.
        values : tuple
            Of its columns.
        """
        at = _NAMES.index(part) * SEAL_BYTES
        self.parts[at : at + SEAL_BYTES] = self.sealer.row(f"run {part}", *values)

    def write(self, db: apsw.Connection, counts: Counts) -> None:
        """Save the row with new counts, within the transaction that changes them.

        Parameters
        ----------
        db : apsw.Connection
            The writer's.
        counts : Counts
            What is in the file when the transaction ends.
        """
        packed, parts, run_id = counts.packed(), bytes(self.parts), self.sealer.run_id
        seal = self.sealer.row("tally", run_id, self.doubt, parts, packed)
        db.execute(
            "INSERT OR REPLACE INTO tally VALUES (1, ?, ?, ?, ?, ?)",
            (run_id, self.doubt, parts, packed, seal),
        )


def part_sql(part: DamagedPart) -> str:
    """Return the question for a part of the run's row; text comes as its bytes."""
    return f"SELECT {', '.join(map(_column, PARTS[part]))} FROM run"


def _column(name: str) -> str:
    return name if name in _NUMBERS else f"CAST({name} AS BLOB)"


def read_part(
    db: apsw.Connection, tally: Tally | None, part: DamagedPart
) -> tuple[Any, ...] | None:
    """Return the values of a part of the run's row, or None where it is damaged.

    Parameters
    ----------
    db : apsw.Connection
        What is asked.
    tally : Tally or None
        With the seals; None for a file that is not bound, whose values are taken as they are.
    part : str
        One of `PARTS`.
    """
    if tally is None:
        plain: tuple[Any, ...] | None = db.execute(
            f"SELECT {', '.join(PARTS[part])} FROM run"
        ).fetchone()
        return plain
    row = _row(db, part_sql(part))
    if row is None or tally.sealer.row(f"run {part}", *row) != tally.seal_of(part):
        return None
    return tuple(value.decode() if isinstance(value, bytes) else value for value in row)


def read_tally(db: apsw.Connection) -> Tally | None:
    """Return the tally of a bound file; None where neither it nor the run says whose file it is.

    A flipped bit in one of the two places that name the run is found by the other.
    """
    row = _row(db, "SELECT CAST(run_id AS BLOB), doubt, parts, counts, seal FROM tally")
    parts = bytearray(row[2]) if row is not None and isinstance(row[2], bytes) else bytearray()
    tally = _named(row, parts)
    if row is not None and tally is not None and tally.sealer.row("tally", *row[:4]) == row[4]:
        tally.counts, tally.doubt = Counts.unpacked(row[3]), row[1]
        return tally
    head = _row(db, part_sql("header"))
    if head is not None:
        for one in (tally, _named(head, parts)):
            seal = None if one is None else one.sealer.row("run header", *head)
            if one is not None and seal == one.seal_of("header"):
                return one
    return None


def _named(row: tuple[Any, ...] | None, parts: bytearray) -> Tally | None:
    """Return a tally for the run that a row names first."""
    try:
        return Tally(sealer=Sealer(row[0].decode()), counts=None, parts=parts) if row else None
    except (UnicodeDecodeError, AttributeError):
        return None


def _row(db: apsw.Connection, sql: str) -> tuple[Any, ...] | None:
    try:
        row: tuple[Any, ...] | None = db.execute(sql).fetchone()
    except BROKEN:
        return None
    return row


def seal_parts(tally: Tally, values: Mapping[str, Any]) -> None:
    """Seal all parts of a run's row that is made.

    Parameters
    ----------
    tally : Tally
        What takes the seals.
    values : mapping
        By column of ``run``.
    """
    tally.parts[:] = bytes(len(PARTS) * SEAL_BYTES)
    for part, columns in PARTS.items():
        tally.set_part(part, tuple(values[column] for column in columns))


def is_bound(db: apsw.Connection) -> bool:
    """Return whether a file's rows are sealed; older files are not until they are written."""
    return bool(db.execute("SELECT count(*) FROM sqlite_schema WHERE name = 'tally'").get)
