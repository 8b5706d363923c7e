"""Days and clock times of the wall, as a person reads them.

Pure text out of ISO 8601; the same in every country's settings. A text that is no time is returned
as it is.
"""

import datetime
from collections.abc import Callable

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def moment_text(iso: str) -> str:
    """Write a moment: ``"3 Sep 2025, 09:14"`` for ``2025-09-03T09:14:00+02:00``."""
    return _written(iso, lambda at: f"{_date(at)} {at.year}, {at:%H:%M}")


def day_text(iso: str) -> str:
    """Write the day of a moment for a list of one year: ``"Wed 3 Sep"``."""
    return _written(iso, lambda at: f"{_DAYS[at.weekday()]} {_date(at)}")


def date_text(iso: str) -> str:
    """Write the day of a moment in full: ``"3 Sep 2025"``."""
    return _written(iso, lambda at: f"{_date(at)} {at.year}")


def time_text(iso: str) -> str:
    """Write the clock time of a moment: ``"09:14"``."""
    return _written(iso, lambda at: f"{at:%H:%M}")


def _date(at: datetime.datetime) -> str:
    return f"{at.day} {_MONTHS[at.month - 1]}"


def _written(iso: str, write: Callable[[datetime.datetime], str]) -> str:
    try:
        return write(datetime.datetime.fromisoformat(iso))
    except ValueError:
        return iso
