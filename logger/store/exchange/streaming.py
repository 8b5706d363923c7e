"""A large CSV file to a run, without holding it: looked at whole first, then read again in pieces.

Its times must go forward, because nothing is sorted here. Used by ``importing`` for files above a
size; writes nothing itself.
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from logger.model.event import Event
from logger.store.exchange.columns import Column, Offsets, read_table
from logger.store.exchange.plainrows import Floats, Ints
from logger.store.exchange.table import Progress, Table, table_at
from logger.store.run.format import whole_us
from logger.store.run.records import StoredReading

LARGE_BYTES = 8_000_000
"""A file above this is read in pieces [bytes]."""
PIECE = 50_000
"""Readings handed over at a time."""
Take = Callable[[list[StoredReading]], None]


class _Course:
    """How the times of one channel go: forward; a time that stands twice counts once."""

    def __init__(self, table: Table, channel: str) -> None:
        self.table = table
        self.channel = channel
        self.first_ns: int | None = None
        self.last_ns: int | None = None
        self.twice = 0

    def takes(self, row: int, t_ns: int) -> bool:
        """Whether a reading counts.

        Parameters
        ----------
        row : int
            Of the file.
        t_ns : int
            Its time [ns].

        Raises
        ------
        InputError
            If its time lies before the one above it.
        """
        t_ns = whole_us(t_ns)
        if self.first_ns is None:
            self.first_ns = t_ns
        elif self.last_ns is not None and t_ns <= self.last_ns:
            if t_ns < self.last_ns:
                wanted = "a file of this size is not sorted here; sort its rows by time"
                raise self.table.bad(row, 0, f"times of {self.channel} go back", wanted)
            self.twice += 1
            return False
        self.last_ns = t_ns
        return True

    def follow(self, t_us: Ints) -> bool:
        """Return whether times [us] all count, each once."""
        if not len(t_us):
            return True
        begins_ns = int(t_us[0]) * 1000
        later = self.last_ns is None or begins_ns > self.last_ns
        return later and bool((np.diff(t_us) > 0).all())

    def went(self, t_us: Ints) -> None:
        """Note times [us] that `follow` said count."""
        if len(t_us):
            if self.first_ns is None:
                self.first_ns = int(t_us[0]) * 1000
            self.last_ns = int(t_us[-1]) * 1000


class _Looked(Column):
    """A column that is looked at and not kept."""

    takes_many = True

    def __init__(self, unit: str, base: str, course: _Course) -> None:
        super().__init__(unit, base)
        self.course = course

    def add(
        self, row: int, t_ns: int, value: float, flags: int = 0, cold: float | None = None
    ) -> None:
        """Look at one reading: its time [ns]; value, flags and cold junction are not kept."""
        self.course.takes(row, t_ns)

    def follows(self, t_us: Ints) -> bool:
        """Return whether all of some times [us] count."""
        return self.course.follow(t_us)

    def add_many(self, t_us: Ints, value: Floats) -> None:
        """Look at many readings: times [us]; values, in the column's unit, are not kept."""
        self.course.went(t_us)


class _Handed(_Looked):
    """A column that is handed over in pieces."""

    def __init__(self, unit: str, base: str, course: _Course, start_ns: int, take: Take) -> None:
        super().__init__(unit, base, course)
        self._start_ns, self._take = start_ns, take

    def add(
        self, row: int, t_ns: int, value: float, flags: int = 0, cold: float | None = None
    ) -> None:
        """Keep one reading: time [ns], value in the column's unit; hand a full piece over."""
        if self.course.takes(row, t_ns):
            Column.add(self, row, t_ns, value, flags, cold)
            if len(self.rows) >= PIECE:
                self.hand_over()

    def add_many(self, t_us: Ints, value: Floats) -> None:
        """Keep many readings: times [us], values in the column's unit; hand over when full."""
        self.course.went(t_us)
        self.rows += [0] * len(t_us)
        self.t_ns += (t_us * 1000).tolist()
        self.value += value.tolist()
        self.flags += [0] * len(t_us)
        self.cold += [None] * len(t_us)
        if len(self.rows) >= PIECE:
            self.hand_over()

    def hand_over(self) -> None:
        """Hand over what is kept."""
        start_ns, channel = self._start_ns, self.course.channel
        times = [(t - start_ns) // 1000 * 1000 for t in self.t_ns]  # as whole_us does
        values = [None if v != v else v for v in self.values()]
        rows = zip(itertools.repeat(channel), times, values, self.flags, self.cold)
        self._take(list(map(StoredReading._make, rows)))
        self.clear()


@dataclass(frozen=True, slots=True, kw_only=True)
class LargeRun:
    """What a large file says; its readings are read again when they are handed over.

    Attributes
    ----------
    path : Path
        The file.
    name, units, events, started_utc_ns, zone, report
        As in ``importing.ImportedRun``.
    start_ns : int
        Time of the file at axis time 0 [ns].
    last_ns : int
        Time of the last reading on the axis [ns].
    progress : callable or None
        Told the share of the file that was read.
    """

    path: Path
    name: str
    units: dict[str, str]
    events: list[Event]
    started_utc_ns: int
    zone: str
    start_ns: int
    last_ns: int
    progress: Progress | None = None
    report: list[str] = field(default_factory=list)

    @property
    def duration_ns(self) -> int:
        """Time of the last reading or event on the axis [ns]."""
        return max(0, self.last_ns, *(event.t_ns for event in self.events[-1:]))

    def hand_over(self, take: Take) -> None:
        """Give the readings in pieces, each of one channel and in time order.

        Raises
        ------
        InputError
            If the file has changed since it was looked at.
        """
        made: list[_Handed] = []
        courses: dict[str, _Course] = {}
        with table_at(self.path, self.progress) as table:

            def part(channel: str, unit: str, base: str) -> Column:
                course = courses.setdefault(channel, _Course(table, channel))
                made.append(_Handed(unit, base, course, self.start_ns, take))
                return made[-1]

            read_table(table, part)
        for column in made:
            column.hand_over()


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a first reading found.

    Attributes
    ----------
    units : dict
        Base unit by channel id.
    offsets : Offsets
        Offsets to UTC.
    first_ns, last_ns : int
        Of all readings [ns], as the file counts.
    twice : dict
        How many times stand twice, by channel.
    """

    units: dict[str, str]
    offsets: Offsets
    first_ns: int
    last_ns: int
    twice: dict[str, int]


def look(table: Table) -> Look:
    """Read a table whole and keep nothing of it.

    Raises
    ------
    InputError
        With row and column, if anything in it is wrong.
    """
    courses: dict[str, _Course] = {}

    def part(channel: str, unit: str, base: str) -> Column:
        return _Looked(unit, base, courses.setdefault(channel, _Course(table, channel)))

    columns, offsets = read_table(table, part)
    firsts = [c.first_ns for c in courses.values() if c.first_ns is not None]
    lasts = [c.last_ns for c in courses.values() if c.last_ns is not None]
    if not firsts:
        raise table.nothing()
    return Look(
        units={channel: parts[0].base for channel, parts in columns.items()},
        offsets=offsets,
        first_ns=min(firsts),
        last_ns=max(lasts),
        twice={channel: c.twice for channel, c in courses.items() if c.twice},
    )
