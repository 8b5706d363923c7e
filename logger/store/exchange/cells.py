"""What stands in one cell of a CSV file: numbers, times, and text that no spreadsheet runs.

Pure functions of text; used by ``exporting``, ``importing`` and ``restoring``.
"""

import datetime
import math
import re
from decimal import Decimal

_NUMBER = re.compile(r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?", re.ASCII)
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d)", re.ASCII)
_PLAIN_TIME = re.compile(r"(-?)(\d{1,10})(?:\.(\d{0,9})\d*)?", re.ASCII)
_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_LONGEST_NUMBER = 64
MAX_TIME_S = 10**9
"""Longest time on a run's axis that is believed [s]: some thirty years."""
_EPOCH = datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)


def guarded(text: str) -> str:
    """Return text for a cell, with an apostrophe ahead where a spreadsheet might run it.

    Notes
    -----
    A text that begins with an apostrophe gets one more, so `unguarded` gives every text back.
    Characters: OWASP, "CSV Injection", and their full-width forms.
    """
    return "'" + text if text.startswith((*_RUNS, "'")) else text


def unguarded(cell: str) -> str:
    """Return the text that `guarded` was given."""
    return cell[1:] if cell.startswith("'") else cell


def is_formula(cell: str) -> bool:
    """Return whether a cell that should hold a number holds a formula."""
    return cell.lstrip().startswith(_RUNS) and _NUMBER.fullmatch(cell.strip()) is None


def number(cell: str) -> float:
    """Read a plain decimal number.

    Raises
    ------
    ValueError
        With what would do, in words.
    """
    text = cell.strip()
    if len(text) <= _LONGEST_NUMBER and _NUMBER.fullmatch(text):
        found = float(text)
        if math.isfinite(found):
            return found + 0.0
    if is_formula(cell):
        raise ValueError("that is a formula; save the file with values only")
    if re.fullmatch(r"[-+]?\d+,\d+", text, re.ASCII):
        raise ValueError(f"write {text.replace(',', '.')}, with a point")
    raise ValueError("that is not a number; leave the cell empty where there is no value")


def time_ns(cell: str) -> int:
    """Read seconds as exact nanoseconds; further digits are dropped.

    Raises
    ------
    ValueError
        With what would do, in words.
    """
    match = _PLAIN_TIME.fullmatch(cell)
    if match is not None:
        whole, part = int(match[2]), (match[3] or "").ljust(9, "0")
        if whole <= MAX_TIME_S:
            found = whole * 1_000_000_000 + int(part)
            return -found if match[1] else found
    if clock := _CLOCK.fullmatch(cell.strip()):
        hours, minutes, rest = (int(part or 0) for part in clock.groups())
        raise ValueError(f"write seconds: {3600 * hours + 60 * minutes + rest}")
    seconds = number(cell)
    if abs(seconds) > MAX_TIME_S:
        raise ValueError(f"times are seconds from the start of the run, up to {MAX_TIME_S}")
    return int(Decimal(cell.strip()) * 1_000_000_000)


def utc_ns(cell: str) -> tuple[int, datetime.timedelta | None]:
    """Read an ISO 8601 time as nanoseconds since 1970, and its offset to UTC if it has one.

    A time without offset is taken as UTC.

    Raises
    ------
    ValueError
        With what would do, in words.
    """
    try:
        found = datetime.datetime.fromisoformat(cell.strip())
    except ValueError as cause:
        raise ValueError(
            "that is not an ISO 8601 time such as 2026-11-25T09:13:02.5+01:00"
        ) from cause
    offset = found.utcoffset()
    since = found.replace(tzinfo=found.tzinfo or datetime.UTC) - _EPOCH
    whole = (since.days * 86_400 + since.seconds) * 1_000_000 + since.microseconds
    return whole * 1000, offset


def time_text(t_ns: int, digits: int) -> str:
    """Return a time in seconds with 6 or 9 decimals, exactly."""
    sign, t_ns = ("-", -t_ns) if t_ns < 0 else ("", t_ns)
    whole, part = divmod(t_ns, 1_000_000_000)
    return f"{sign}{whole}.{f'{part:09d}'[:digits]}"
