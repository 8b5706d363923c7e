"""A run file that was cut short, or copied without its log.

Looks at the head of a SQLite file only (sqlite.org/fileformat2.html, section 1.3): how many pages
there must be, and whether a log belongs to it. Only reads; for files that nobody is writing.
"""

import struct
from pathlib import Path

_HEAD_BYTES = 100
_MAGIC = b"SQLite format 3\x00"
_PAGE_BYTES = struct.Struct(">16xH")
_READ_VERSION = 18
_LOGGED = 2
"""The write and read version of a file whose last commits stand in a log."""
_COUNTS = struct.Struct(">24xII60xI")
"""Change counter, pages, and the change counter for which those pages hold."""


def bytes_short(path: Path) -> tuple[int, int] | None:
    """Return size and stated size of a file that is shorter than its head says [bytes].

    None for one that is long enough, or does not say. A kill while the log is being folded in may
    leave a file short that its log makes whole: ask only when a file does not read.
    """
    head = _head(path)
    if len(head) < _HEAD_BYTES:
        return None
    (page,) = _PAGE_BYTES.unpack_from(head)
    changes, pages, of_changes = _COUNTS.unpack_from(head)
    if changes != of_changes:
        return None
    size, stated = path.stat().st_size, pages * (65_536 if page == 1 else page)
    return (size, stated) if size < stated else None


def is_log_gone(path: Path, log: Path) -> bool:
    """Return whether a file needs a log that is not beside it, or is empty.

    A writer that lets go of a run, ended or not, folds the log in and says so in the head;
    a log without a byte is what a reader makes where there was none.
    """
    try:
        if log.stat().st_size > 0:
            return False
    except OSError:
        pass
    head = _head(path)
    return len(head) == _HEAD_BYTES and head[_READ_VERSION] == _LOGGED


def _head(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except OSError:
        return b""
    return head if head.startswith(_MAGIC) else b""
