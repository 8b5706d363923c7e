"""Where the run's axis stands against the machine's clocks, and what day it is here.

One of the few places that read clocks.
"""

import datetime
import os
import time
from pathlib import Path

from logger.ports.clock import Clock
from logger.store.run.records import Anchor


def read_clocks(clock: Clock, t_ns: int) -> Anchor:
    """Return the clocks at axis time `t_ns`; boottime is 0 where the system has none."""
    boottime = getattr(time, "CLOCK_BOOTTIME", None)
    return Anchor(
        clock.boot_id(),
        time.monotonic_ns(),
        time.clock_gettime_ns(boottime) if boottime is not None else 0,
        time.time_ns(),
        zone_name(),
        t_ns,
    )


def zone_name() -> str:
    """Return the IANA name of the local time zone, or UTC where the system does not tell."""
    named = os.environ.get("TZ", "").lstrip(":")
    if "/" in named:
        return named
    try:
        target = str(Path("/etc/localtime").resolve())
    except OSError:
        return "UTC"
    _, found, name = target.partition("/zoneinfo/")
    return name if found else "UTC"


def today() -> datetime.date:
    """Return the local day."""
    return datetime.datetime.now().astimezone().date()
