"""One value of one channel at one time: as an instrument sent it, and corrected.

Named tuples, because a bench makes hundreds a second and an import makes millions. Times are
nanoseconds on the run's axis (monotonic since run start), never local time.
"""

from enum import IntFlag
from typing import NamedTuple


class Flag(IntFlag):
    """What is known about one reading beyond its value. Stored with it."""

    NONE = 0
    STABLE = 1
    """The scale itself called the value stable."""
    UNSTABLE = 2
    """The scale itself called the value not stable."""
    NET = 4
    """The scale shows a net weight: it has been tared."""
    OVER = 8
    """Over the instrument's range: no value."""
    UNDER = 16
    """Under the instrument's range: no value."""
    OPEN = 32
    """Open probe: no value."""
    FAULT = 64
    """The instrument reports a fault (short, cold junction, error reply): no value."""
    OUT_OF_RANGE = 128
    """A value outside the range declared for the channel: kept, never judged."""
    LATE = 256
    """Arrived after the engine had gone past its time: stored, not judged."""
    UNTRUSTED = 512
    """From a port whose lines mostly do not read (wrong baud rate or wrong device)."""
    IMPLAUSIBLE = 1024
    """Of a core probe: no core of food can have come there so fast. Set by the engine and not
    stored."""


class RawReading(NamedTuple):
    """What one line said about one field of an instrument, in the field's own unit."""

    field: str
    """Name of the field in the line shape, for example ``"t1"`` or ``"mass"``."""
    t_ns: int
    """Sample time on the run's axis [ns]."""
    value: float | None
    """In `unit`; None with one of the flags OVER, UNDER, OPEN, FAULT, which say why."""
    unit: str
    """``"degC"``, ``"g"`` or ``"uV"``: converted from the unit the line showed."""
    flags: int = 0
    cold_junction_c: float | None = None
    """Cold junction temperature sent with an emf [degC]."""


class Notice(NamedTuple):
    """What a line said that is not a value: overload, open probe, tare, an unread line..."""

    kind: str
    """overload | underload | open | fault | error | busy | refused | tare | mark | unit_change |
    bad_line | too_long | banner"""
    t_ns: int
    field: str | None
    text: str


class Reading(NamedTuple):
    """One corrected reading of a channel: what the engine sees."""

    channel: str
    """Channel id of the bench file."""
    t_ns: int
    """Sample time on the run's axis [ns]."""
    value: float | None
    """In degC or g; None where there is no value."""
    u: float
    """Standard uncertainty in the same unit; nan when unknown."""
    flags: int = 0

    def __deepcopy__(self, memo: object) -> "Reading":
        """Return itself: nothing in it can change."""
        return self
