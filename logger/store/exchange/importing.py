"""CSV files from elsewhere, of readings and of events, to a run; checked cell by cell.

Reads text, and files only to get it; writes nothing, so a file that is refused leaves no trace. An
event whose word is none of ours is kept as a note. bainlog's own exports are read without loss (see
``restoring``, which makes them a run again).
"""

import datetime
import io
import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from logger.model.errors import InputError
from logger.model.event import Event
from logger.store.exchange.bundle import Bundle, pieces_of
from logger.store.exchange.columns import Column, Offsets, read_table
from logger.store.exchange.restoring import export_at, read_export
from logger.store.exchange.streaming import LARGE_BYTES, PIECE, LargeRun, look
from logger.store.exchange.table import Progress, Table, table_at
from logger.store.exchange.told_events import Check, read_events
from logger.store.run.format import whole_us
from logger.store.run.records import StoredReading
from logger.words.digits import fixed
from logger.words.values import with_unit

_NO_DATE = "the file has no date; the time of its last change is used"
MAX_RUN_S = 7 * 86_400
"""Longest run that is taken in and judged [s]: a week."""
_Said = tuple[str | Path | None, Check | None]
"""Where the events are, and what checks them."""
_SET_BACK_NS = (3_300_000_000_000, 3_600_000_000_000)
"""How far a time goes back where a clock is set back an hour between two rows [ns]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedRun:
    """What a file says, ready to be kept as a run.

    Attributes
    ----------
    name : str
        File name for messages.
    units : dict
        Base unit (``degC``, ``g`` or ``uV``) by channel id, in the order of the file.
    readings : list of StoredReading
        In time order; stamps in whole microseconds.
    events : list of Event
        In time order, without those that an engine worked out.
    started_utc_ns : int
        UTC at axis time 0; where the file has no date, when it was last changed (0 for mere text).
    zone : str
        IANA name.
    report : list of str
        What was sorted out, in words.
    """

    name: str
    units: dict[str, str]
    readings: list[StoredReading]
    events: list[Event]
    started_utc_ns: int
    zone: str = "UTC"
    report: list[str] = field(default_factory=list)

    @property
    def duration_ns(self) -> int:
        """Time of the last reading or event on the axis [ns]; 0 without any."""
        last = [rows[-1].t_ns for rows in (self.readings, self.events) if rows]
        return max([0, *last])

    def hand_over(self, take: Callable[[list[StoredReading]], None]) -> None:
        """Give the readings in pieces, in time order."""
        for start in range(0, len(self.readings), PIECE):
            take(self.readings[start : start + PIECE])


def read_csv(
    text_or_path: str | Path,
    events_path: str | Path | None = None,
    progress: Progress | None = None,
    *,
    edited: bool = False,
    check: Check | None = None,
) -> ImportedRun | LargeRun:
    """Read a CSV file of readings, and one of events.

    Parameters
    ----------
    text_or_path : str or Path
        A file, the folder of an export, or the text itself (which has a line break).
    events_path : str, Path or None
        File with ``time_s, event, text`` (or ``time`` where the readings have it).
    progress : callable or None
        Told the share of a large file that was read.
    edited : bool
        Take an export though it is not as it was exported.
    check : callable or None
        Given each event in time order; returns it as it is kept, or refuses it.

    Returns
    -------
    ImportedRun or LargeRun
        The latter for a large file: its readings are not held.

    Raises
    ------
    InputError
        With file, row and column, what was found and what to do.
    """
    if isinstance(text_or_path, Path) or "\n" not in text_or_path:
        path = Path(text_or_path)
        place = export_at(path)
        if place is not None:
            return _from_export(read_export(place, edited=edited), path.name)
        large = path.is_file() and path.stat().st_size > LARGE_BYTES
        with table_at(path, progress if large else None) as table:
            changed_ns = path.stat().st_mtime_ns
            if large:
                return _large(path, table, (events_path, check), changed_ns, progress)
            return _imported(table, (events_path, check), changed_ns)
    lines = io.StringIO(text_or_path.removeprefix("\ufeff"), newline="")
    return _imported(Table("CSV text", lines), (events_path, check), 0)


def _from_export(bundle: Bundle, name: str) -> ImportedRun:
    readings = [
        reading
        for channel, series in bundle.readings.items()
        for piece in pieces_of(channel, series)
        for reading in piece
    ]
    return ImportedRun(
        name=name,
        units={c.id: c.unit for c in bundle.header.channels},
        readings=sorted(readings, key=lambda r: r.t_ns),
        events=sorted((e for e in bundle.events if e.source != "engine"), key=lambda e: e.t_ns),
        started_utc_ns=bundle.header.started_utc_ns,
        zone=bundle.header.zone,
        report=[f"an export of run {bundle.header.run_id}", *bundle.remarks],
    )


def _imported(table: Table, said: _Said, changed_ns: int) -> ImportedRun:
    columns, offsets = read_table(table)
    report: list[str] = []
    start_ns, zone = 0, "UTC"
    if table.dated:
        zone = _zone(table, offsets, report)
        if None in offsets:
            _require_one_clock(table, columns)
        start_ns = min((t for parts in columns.values() for p in parts for t in p.t_ns), default=0)
    elif changed_ns:
        report.append(_NO_DATE)
    units: dict[str, str] = {}
    readings: list[StoredReading] = []
    for channel, parts in columns.items():
        units[channel] = parts[0].base
        readings += _sorted_out(channel, parts, start_ns, report)
    if not readings:
        raise table.nothing()
    readings.sort(key=lambda r: r.t_ns)
    found = _events_at(said, table, start_ns, report)
    _require_span(table, *(row.t_ns for rows in (readings, found) for row in rows[:1] + rows[-1:]))
    return ImportedRun(
        name=table.name,
        units=units,
        readings=readings,
        events=found,
        started_utc_ns=start_ns if table.dated else changed_ns,
        zone=zone,
        report=report,
    )


def _large(
    path: Path,
    table: Table,
    said: _Said,
    changed_ns: int,
    progress: Progress | None,
) -> LargeRun:
    found = look(table)
    report = [f"{c}: {n} times occur twice; the first was kept" for c, n in found.twice.items()]
    start_ns = found.first_ns if table.dated else 0
    zone = _zone(table, found.offsets, report) if table.dated else "UTC"
    if not table.dated:
        report.append(_NO_DATE)
    events = _events_at(said, table, start_ns, report)
    ends_ns = (found.first_ns - start_ns, found.last_ns - start_ns)
    _require_span(table, *ends_ns, *(event.t_ns for event in events[:1] + events[-1:]))
    return LargeRun(
        path=path,
        name=table.name,
        units=found.units,
        events=events,
        started_utc_ns=start_ns if table.dated else changed_ns,
        zone=zone,
        start_ns=start_ns,
        last_ns=ends_ns[1],
        progress=progress,
        report=report,
    )


def _events_at(said: _Said, readings: Table, start_ns: int, report: list[str]) -> list[Event]:
    path, check = said
    if path is None:
        return []
    with table_at(Path(path)) as table:
        return read_events(table, readings.dated, start_ns, report, check)


def _require_span(table: Table, *times_ns: int) -> None:
    """Refuse a run that lasts for longer than any: it would be judged for as long."""
    for t_ns in times_ns:
        if abs(t_ns) > MAX_RUN_S * 1_000_000_000:
            wanted = f"a run lasts {MAX_RUN_S} s at most; split the file"
            raise InputError(
                table.name, f"a time {with_unit(fixed(t_ns / 1e9, 0), 's')} from the start", wanted
            )


def _require_one_clock(table: Table, columns: dict[str, list[Column]]) -> None:
    """Refuse local times that go back by an hour once, as clocks do when summer time ends."""
    for parts in columns.values():
        for part in parts:
            steps = itertools.pairwise(zip(part.rows, part.t_ns, strict=True))
            back = [(row, before - t) for (_, before), (row, t) in steps if t < before]
            if len(back) == 1 and _SET_BACK_NS[0] <= back[0][1] <= _SET_BACK_NS[1]:
                raise table.bad(
                    back[0][0],
                    0,
                    "a time about an hour before the row above, as where summer time ends",
                    "write each time with its offset, such as 2026-10-25T02:00:01+01:00",
                )


def _zone(table: Table, offsets: Offsets, report: list[str]) -> str:
    """Return a zone that shows times as the file does."""
    if None in offsets and len(offsets) > 1:
        first = max(offsets.values())
        raise table.bad(first, 0, "times with and without an offset to UTC", "give all the same")
    if None in offsets:
        report.append("the times have no offset to UTC; they are taken as UTC")
    first_offset = min(offsets, key=lambda o: offsets[o], default=None)
    hours, rest = divmod(first_offset or datetime.timedelta(), datetime.timedelta(hours=1))
    if hours == 0 or rest or not -14 <= -hours <= 12:
        return "UTC"
    # POSIX signs: Etc/GMT-1 lies one hour east of Greenwich.
    return f"Etc/GMT{-hours:+d}"


def _sorted_out(
    channel: str, parts: list[Column], start_ns: int, report: list[str]
) -> list[StoredReading]:
    """Return a channel's readings in time order, each time once; say what was changed."""
    rows = [
        (row, whole_us(t - start_ns), v, f, c)
        for p in parts
        for row, t, v, f, c in zip(p.rows, p.t_ns, p.values(), p.flags, p.cold, strict=True)
    ]
    if len(parts) > 1:
        rows.sort(key=lambda r: r[0])
    late = [b for a, b in itertools.pairwise(rows) if b[1] < a[1]]
    if late:
        rows.sort(key=lambda r: r[1])
        times = "once" if len(late) == 1 else f"{len(late)} times, first"
        report.append(f"{channel}: times went back {times} at row {late[0][0]}; sorted")
    kept: list[StoredReading] = []
    twice: list[int] = []
    other = 0
    for row, t_ns, value, flags, cold in rows:
        reading = StoredReading(channel, t_ns, None if value != value else value, flags, cold)
        if kept and kept[-1].t_ns == t_ns:
            twice.append(row)
            other += kept[-1].value != reading.value
        else:
            kept.append(reading)
    if twice:
        report.append(
            f"{channel}: {len(twice)} times occur twice, first at row {min(twice)}; the first "
            f"value was kept ({other} of the others differ)"
        )
    return kept
