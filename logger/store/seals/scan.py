"""Rows of a table read around a damaged page: from the front, and what is left from the back.

Runs on connections that others opened; gives rows as they are, sealed or not.
"""

from collections.abc import Sequence
from typing import Any

import apsw

BROKEN = (apsw.CorruptError, UnicodeDecodeError)
"""What a damaged page raises; a row of text that is no UTF-8 does so as well."""


def scan(
    db: apsw.Connection, select: str, key: str, values: Sequence[Any] = ()
) -> list[tuple[Any, ...]]:
    """Return all rows that can be read, in the order of their key.

    Parameters
    ----------
    db : apsw.Connection
        What is asked.
    select : str
        The question without its order; its first column is the key.
    key : str
        Name of the key column, by which the table is kept.
    values : sequence
        For its question marks.
    """
    rows: list[tuple[Any, ...]] = []
    try:
        rows.extend(db.execute(f"{select} ORDER BY {key}", values))
    except BROKEN:
        rows = _as_far(db, f"{select} ORDER BY {key}", values)
        front = {row[0] for row in rows}
        back = _as_far(db, f"{select} ORDER BY {key} DESC", values)
        rows += [row for row in reversed(back) if row[0] not in front]
    return rows


def _as_far(db: apsw.Connection, sql: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
    rows: list[tuple[Any, ...]] = []
    cursor = db.cursor()
    try:
        for row in cursor.execute(sql, values):
            rows.append(row)  # noqa: PERF402  # what came before the damage is kept
    except BROKEN:
        pass
    finally:
        cursor.close(True)
    return rows
