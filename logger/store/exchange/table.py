"""The cells of a CSV text, with limits, and words for where one stands.

Gets text and gives rows; every complaint names file, row and column as a spreadsheet counts them.
Used by ``columns`` and ``importing``.
"""

import csv
import datetime
import os
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from logger.model.errors import InputError
from logger.store.exchange.cells import number, time_ns, utc_ns
from logger.store.exchange.plainrows import Floats, Ints, LineSource, Look
from logger.store.folder.given import first_bad_row, opened

MAX_BYTES = 16_000_000_000
MAX_CELLS = 2_000_000_000
MAX_COLUMNS = 256
MAX_CELL = 2_000
MAX_LINE = MAX_COLUMNS * (MAX_CELL + 3)
MAX_LINES = 1_000
MAX_EMPTY = 100_000
MAX_AT_ONCE = 100_000
MAX_VALUE = 1e12
"""Limits; a day of a full bench at 10 Hz is 14 million readings, 300 MB. `MAX_LINES`: of one row;
`MAX_AT_ONCE`: rows with the same time one after the other."""
_LIKE_A_HEAD = re.compile(r"[\w ./%°\[\]-]{1,40}")


Progress = Callable[[float], None]
"""Told a share from 0 to 1."""


def lines_of(file: Iterable[str], longest: int) -> Iterator[str]:
    """Yield the lines of an open text file, none of them longer than what is read at all.

    Parameters
    ----------
    file : text file, or any iterable of lines
        Opened with ``newline=""``.
    longest : int
        Most characters of a line.

    Raises
    ------
    csv.Error
        At a longer line.
    """
    read = getattr(file, "readline", None)
    lines = file if read is None else iter(lambda: str(read(longest + 1)), "")
    for line in lines:
        if len(line) > longest:
            raise csv.Error(f"more than {longest} characters in one line")
        yield line


@contextmanager
def table_at(path: Path, progress: Progress | None = None) -> Iterator["Table"]:
    """Open a CSV file and read its head.

    Parameters
    ----------
    path : Path
        The file.
    progress : callable or None
        Told the share of the file that was read, now and then.

    Raises
    ------
    InputError
        If it cannot be read, is too large, is not UTF-8, or has no such head; within, too.
    """
    with opened(path, MAX_BYTES) as raw:
        size = max(1, os.fstat(raw.fileno()).st_size)
        told = None if progress is None else lambda read: progress(min(1.0, read / size))
        source = LineSource(raw, MAX_LINE, told)
        try:
            yield Table(path.name, source, source)
        except UnicodeDecodeError as cause:
            row = first_bad_row(path)
            raise InputError(
                f"{path.name}: row {row}", "text that is not UTF-8", "save the file as UTF-8"
            ) from cause


def _cells(number: int) -> str:
    return "1 cell" if number == 1 else f"{number} cells"


class Table:
    """The cells of a CSV text, with limits, and words for where one stands."""

    def __init__(self, name: str, lines: Iterable[str], source: LineSource | None = None) -> None:
        self.name, self._source = name, source
        self._lines_taken = self._at_once = self._before_ns = 0
        self._row = self._cells_read = self._empty = 0
        self._reader = csv.reader(self._bounded(lines), strict=True)
        head = next(self.rows(), (1, []))[1]
        self.head = [cell.strip() for cell in head]
        if len(self.head) == 1 and ";" in self.head[0]:
            raise self.bad(1, None, "semicolons between the cells", "save it with commas")
        if not self.head or self.head[0].lower() not in ("time_s", "time"):
            # A file that is no table at all is not shown.
            shown = [cell for cell in self.head[:1] if _LIKE_A_HEAD.fullmatch(cell)]
            found = repr(shown[0]) if shown else "no table" if self.head else "an empty file"
            raise self.bad(1, 0, found, "name the first column time_s (seconds) or time (ISO 8601)")
        if len(self.head) > MAX_COLUMNS:
            raise self.bad(1, None, f"{len(self.head)} columns", f"at most {MAX_COLUMNS} are read")
        self.dated = self.head[0].lower() == "time"

    def _bounded(self, lines: Iterable[str]) -> Iterator[str]:
        for line in lines_of(lines, MAX_LINE):
            self._lines_taken += 1
            if self._lines_taken > MAX_LINES:
                raise csv.Error(f"quotes that are not closed within {MAX_LINES} lines")
            yield line

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Yield number and cells of each row that has any, as a spreadsheet counts them.

        Raises
        ------
        InputError
            If a row cannot be read, or a limit is passed.
        """
        while True:
            try:
                self._lines_taken = 0
                cells = next(self._reader, None)
            except csv.Error as cause:
                wanted = "correct the quotes of that row"
                raise self.bad(self._row + 1, None, str(cause), wanted) from cause
            if cells is None:
                return
            self._row += 1
            row = self._row
            if len(cells) > MAX_COLUMNS + 1:
                raise self.bad(row, None, f"{len(cells)} cells", f"at most {MAX_COLUMNS} are read")
            self._cells_read += len(cells)
            if self._cells_read > MAX_CELLS:
                raise self.bad(row, None, f"more than {MAX_CELLS} cells", "split the file")
            if any(len(cell) > MAX_CELL for cell in cells):
                raise self.bad(row, None, "a very long cell", f"at most {MAX_CELL} characters")
            if any(cell.strip() for cell in cells):
                self._empty = 0
                yield row, cells
                continue
            self._empty += 1
            if self._empty > MAX_EMPTY:
                raise self.bad(row, None, f"more than {MAX_EMPTY} empty rows", "take them out")

    def offer(self, look: Look) -> None:
        """Offer rows of plain numbers many at a time, where the table is in a file.

        What `look` takes is not yielded; what it leaves is, and so is every row in which anything
        is wrong.

        Parameters
        ----------
        look : callable
            Given times [ns], which go forward, and values by column; takes all or none.
        """
        width = len(self.head)

        def taken(t_ns: Ints, values: Sequence[Floats]) -> bool:
            cells = width * len(t_ns)
            if (
                self._lines_taken  # within a row, which goes on over lines
                or self._cells_read + cells > MAX_CELLS
                or int(t_ns[0]) <= self._before_ns
                or (np.diff(t_ns) <= 0).any()
                or any((np.abs(one) > MAX_VALUE).any() for one in values)
                or not look(t_ns, values)
            ):
                return False
            self._row += len(t_ns)
            self._cells_read += cells
            self._before_ns, self._at_once, self._empty = int(t_ns[-1]), 0, 0
            return True

        if self._source is not None and not self.dated:
            self._source.offer(width - 1, taken)

    def body(self) -> Iterator[tuple[int, list[str]]]:
        """Yield the rows below the head, each as wide as it.

        Raises
        ------
        InputError
            If a row is cut off, or is wider than the head.
        """
        width = len(self.head)
        for row, cells in self.rows():
            if len(cells) != width and any(cell.strip() for cell in cells[width:]):
                raise self.bad(
                    row,
                    None,
                    f"{len(cells)} cells",
                    f"the head has {width}; write decimals with a point",
                )
            if len(cells) < width:
                raise self.bad(
                    row, None, f"{_cells(len(cells))} of {width}", "the row is cut off; complete it"
                )
            yield row, cells

    def bad(self, row: int, column: int | None, found: str, wanted: str) -> InputError:
        """Return the error for a cell (column from 0) or a row.

        Parameters
        ----------
        row : int
            As a spreadsheet counts, from 1.
        column : int or None
            From 0; None for a whole row.
        found, wanted : str
            What is there, and what should be.
        """
        where = f"{self.name}: row {row}"
        if column is not None:
            head = self.head[column] if hasattr(self, "head") and row > 1 else ""
            where += f", column {column + 1}" + (f" ({head})" if head else "")
        return InputError(where, found, wanted)

    def nothing(self) -> InputError:
        """Return the error for a file without a reading."""
        return InputError(self.name, "no readings", "give a file with values")

    def time(self, row: int, cell: str) -> tuple[int, datetime.timedelta | None]:
        """Return the time of a row [ns], on the axis or since 1970, and its offset to UTC.

        Raises
        ------
        InputError
            If the cell holds no time.
        """
        try:
            found = utc_ns(cell) if self.dated else (time_ns(cell), None)
        except ValueError as cause:
            raise self.bad(row, 0, repr(cell[:60]), str(cause)) from cause
        self._at_once = self._at_once + 1 if found[0] == self._before_ns else 0
        self._before_ns = found[0]
        if self._at_once > MAX_AT_ONCE:
            raise self.bad(row, 0, f"more than {MAX_AT_ONCE} rows of one time", "correct the times")
        return found

    def number(self, row: int, place: int, cell: str) -> float:
        """Return the number in a cell.

        Parameters
        ----------
        row : int
            As a spreadsheet counts, from 1.
        place : int
            Column, from 0.
        cell : str
            Its text.

        Raises
        ------
        InputError
            If the cell holds no number, or one beyond any reading.
        """
        try:
            found = number(cell)
        except ValueError as cause:
            raise self.bad(row, place, repr(cell[:60]), str(cause)) from cause
        if abs(found) > MAX_VALUE:
            wanted = "that is not a reading; leave the cell empty where there is no value"
            raise self.bad(row, place, repr(cell[:60]), wanted)
        return found
