"""Rows that are sealed one by one: channels, instruments, raw bytes, events, clocks, counters.

Runs on connections that others opened. Only whole rows are given; what is missing shows in their
numbers.
"""

from collections.abc import Sequence
from typing import Any

import apsw

from logger.store.seals.digest import Sealer
from logger.store.seals.scan import scan

COLUMNS = {
    "channel": ("number", "id", "instrument", "field", "role", "unit"),
    "instrument": ("number", "id"),
    "chunk": ("n", "instrument", "t_ns", "kind", "data"),
    "chunk_block": ("first_n", "count", "t_min_ns", "t_max_ns", "bytes", "data"),
    "event": ("seq", "t_ns", "kind", "source", "channel", "port", "stage", "text", "data"),
    "anchor": ("id", "boot_id", "mono_ns", "boottime_ns", "utc_ns", "zone", "t_ns"),
    "counter": ("instrument", "counts"),
}
"""Columns by table, in the order of its seal; the first is the key."""

_TEXT = {
    "channel": {"id", "instrument", "field", "role", "unit"},
    "instrument": {"id"},
    "event": {"kind", "source", "channel", "port", "stage", "text", "data"},
    "anchor": {"boot_id", "zone"},
    "counter": {"instrument", "counts"},
}
_BYTES = {"chunk": {"data"}, "chunk_block": {"data"}}


def read_rows(
    db: apsw.Connection,
    sealer: Sealer | None,
    table: str,
    where: str = "",
    values: Sequence[Any] = (),
) -> list[tuple[Any, ...]]:
    """Return the whole rows of a table in the order of their key.

    Parameters
    ----------
    db : apsw.Connection
        What is asked.
    sealer : Sealer or None
        None for a file that is not bound: all rows are given.
    table : str
        One of `COLUMNS`.
    where : str
        ``WHERE`` and a condition; empty for all.
    values : sequence
        For its question marks.

    Raises
    ------
    TypeError
        In a file that is not bound, if something else is read where text was stored.
    """
    columns, text = COLUMNS[table], _TEXT.get(table, set())
    if sealer is None:
        rows = scan(db, f"SELECT {', '.join(columns)} FROM {table} {where}", columns[0], values)
        return [_plain(columns, text, row) for row in rows]
    # Text comes as bytes: a row of damaged text must not hide the rows behind it. So do bytes: a
    # flipped type makes text of them, and text and its UTF-8 have one seal.
    raw = text | _BYTES.get(table, set())
    names = [f"CAST({name} AS BLOB)" if name in raw else name for name in columns]
    rows = scan(db, f"SELECT {', '.join(names)}, seal FROM {table} {where}", columns[0], values)
    return [
        tuple(
            value.decode() if name in text and value is not None else value
            for name, value in zip(columns, row[:-1], strict=True)
        )
        for row in rows
        if sealer.row(table, *row[:-1]) == row[-1]
    ]


def _plain(columns: tuple[str, ...], text: set[str], row: tuple[Any, ...]) -> tuple[Any, ...]:
    for name, value in zip(columns, row, strict=True):
        if name in text and not isinstance(value, str | None):
            raise TypeError("text was stored there, but something else was read")
    return row


def gaps_in(numbers: Sequence[int], first: int, last: int) -> list[tuple[int, int]]:
    """Return the stretches of numbers from `first` to `last` that are not there.

    Parameters
    ----------
    numbers : sequence of int
        Those that are, in order.
    first, last : int
        The first and last that must be.
    """
    found, here = [], first
    for number in numbers:
        if number > here:
            found.append((here, number - 1))
        here = max(here, number + 1)
    if here <= last:
        found.append((here, last))
    return found
