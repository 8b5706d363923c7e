"""Whether a device file is a serial port or a pseudo-terminal, told before it is opened.

Opening alone can do harm: a watchdog's file arms it, the multiplexer's makes a new terminal. Thin
I/O: looks at device numbers and the system's table of terminal drivers, opens no device.
"""

import os
import re
from collections.abc import Iterable
from pathlib import Path

DRIVERS = Path("/proc/tty/drivers")
"""Linux' table of terminal drivers; anyone may read it."""
_DRIVER = re.compile(
    r".*\s/dev/\S*\s+(?P<major>[0-9]+)\s+(?P<first>[0-9]+)(?:-(?P<last>[0-9]+))?\s+(?P<kind>\S+)",
    re.ASCII,
)
_TAKEN = ("serial", "pty:slave")
"""Kinds of drivers that are taken; consoles, the own terminal and the multiplexer are others."""
_NAME = re.compile(r"(?:tty|cu).+", re.ASCII)
"""Name of a terminal where the system has no such table; ``tty`` alone is the own one."""


def is_terminal(path: Path) -> bool:
    """Return whether a path is a terminal that an instrument can be on.

    Parameters
    ----------
    path : Path
        A character device; links are followed.

    Raises
    ------
    OSError
        If it cannot be looked at.
    """
    number = path.stat().st_rdev
    try:
        table = DRIVERS.read_text("ascii", "replace").splitlines()
    except OSError:
        return _NAME.fullmatch(path.resolve().name) is not None
    return is_in_table(os.major(number), os.minor(number), table)


def is_in_table(major: int, minor: int, table: Iterable[str]) -> bool:
    """Return whether a device number is one of a driver of serial ports or pseudo-terminals.

    Parameters
    ----------
    major, minor : int
        The device's numbers.
    table : iterable of str
        Lines of the system's table of terminal drivers.
    """
    for line in table:
        found = _DRIVER.fullmatch(line.rstrip())
        if found is None or found["kind"] not in _TAKEN or int(found["major"]) != major:
            continue
        if int(found["first"]) <= minor <= int(found["last"] or found["first"]):
            return True
    return False
