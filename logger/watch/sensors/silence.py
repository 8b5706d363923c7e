"""Why a channel has no value, and the time without values once it has ended.

Pure; used by logger.watch.sensors.pulse for each channel and by logger.watch.sensors.health, which
tells of it.
"""

from dataclasses import dataclass

from logger.model.reading import Flag

OUT = "out"
"""Of a core probe: out of the food, by what it reads."""
_NO_VALUE_STATUS = (
    (Flag.OPEN, "open"),
    (Flag.FAULT, "fault"),
    (Flag.OVER, "over"),
    (Flag.UNDER, "under"),
    (Flag.UNTRUSTED, "untrusted"),
    (Flag.OUT_OF_RANGE, "untrusted"),
    (Flag.IMPLAUSIBLE, OUT),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A time without values that has ended."""

    from_ns: int
    to_ns: int
    why: str


def no_value_status(flags: int) -> str:
    """Return why a reading has no value: open, fault, over, under, untrusted or out."""
    return next((word for flag, word in _NO_VALUE_STATUS if flags & flag), "fault")
