"""What goes into a run file and what comes out: plain values, no I/O.

Filled by the recorder and the importer, read by everyone. Times are nanoseconds on the run's axis
unless the name says UTC.
"""

import datetime
import math
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from logger.model.event import Event

ChunkKind = Literal["open", "data", "close"]
CHUNK_KINDS: tuple[ChunkKind, ...] = ("open", "data", "close")
Status = Literal["recording", "ended", "interrupted"]


class ChannelRecord(NamedTuple):
    """A channel as it is stored."""

    id: str
    instrument: str
    field: str
    role: str
    unit: str
    """Unit of the stored value: ``degC``, ``g`` or ``uV``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunHeader:
    """What is known of a run when it begins.

    Attributes
    ----------
    run_id : str
        As made by ``DataFolder.new_run_id``.
    sheet_json, bench_json : str
        The validated sheet and bench (``model_dump_json()``).
    sheet_text, bench_text, shapes_text : str
        The TOML as it was read.
    started_utc_ns : int
        UTC at axis time 0 [ns since 1970].
    zone : str
        IANA name, for display.
    boot_id : str
        Of the machine at the start; empty where there is none.
    clock_speed : float
        Axis seconds per wall second: 1 but for a fast virtual bench.
    version : str
        Of bainlog.
    channels : tuple of ChannelRecord
    """

    run_id: str
    sheet_json: str
    sheet_text: str
    bench_json: str
    bench_text: str
    shapes_text: str = ""
    started_utc_ns: int
    zone: str = "UTC"
    boot_id: str = ""
    clock_speed: float = 1.0
    origin: Literal["live", "import"] = "live"
    version: str = ""
    channels: tuple[ChannelRecord, ...]

    def unit_of(self, channel_id: str) -> str:
        """Return the unit in which a channel is stored.

        Raises
        ------
        KeyError
            If there is no such channel.
        """
        return {c.id: c.unit for c in self.channels}[channel_id]

    @property
    def started_date(self) -> datetime.date:
        """The day the run began, where it began; UTC's where the zone is not known."""
        try:
            zone: datetime.tzinfo = ZoneInfo(self.zone)
        except (KeyError, ValueError, OSError):
            zone = datetime.UTC
        return datetime.datetime.fromtimestamp(self.started_utc_ns / 1e9, zone).date()


class Chunk(NamedTuple):
    """Bytes of one instrument as they came in one read."""

    instrument: str
    t_ns: int
    kind: ChunkKind
    data: bytes = b""


class StoredReading(NamedTuple):
    """One reading as sent, in the unit of its channel's record; not corrected."""

    channel: str
    t_ns: int
    value: float | None
    flags: int = 0
    cold_junction_c: float | None = None


class Anchor(NamedTuple):
    """Where the run's axis stood against the machine's clocks."""

    boot_id: str
    mono_ns: int
    boottime_ns: int
    utc_ns: int
    zone: str
    t_ns: int | None = None
    """The run's axis at that moment."""


@dataclass(slots=True, kw_only=True)
class WriteBatch:
    """What one transaction saves."""

    chunks: list[Chunk] = field(default_factory=list)
    readings: list[StoredReading] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    anchors: list[Anchor] = field(default_factory=list)
    counters: dict[str, dict[str, int]] = field(default_factory=dict)
    """Cumulative counts by instrument; the latest replaces the one before."""

    def __bool__(self) -> bool:
        return bool(self.chunks or self.readings or self.events or self.anchors or self.counters)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """Readings of one channel in time order; all arrays have one length.

    Attributes
    ----------
    t_ns : int64 array
    value : float64 array
        In the channel's stored unit; nan where there is none.
    flags : int32 array
    cold_junction : float64 array or None
        [degC], nan where there is none; None when the channel never had one in this range.
    """

    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]
    flags: NDArray[np.int32]
    cold_junction: NDArray[np.float64] | None = None

    def __len__(self) -> int:
        return len(self.t_ns)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Envelope:
    """A trace thinned out for drawing; nothing between low and high is lost.

    Attributes
    ----------
    t_ns : int64 array
        Time of the first reading of each bin.
    low, high, mean : float64 array
        Of the readings with a value; nan in a bin without any.
    n, n_bad : int64 array
        Readings with and without a value.
    exact : bool
        True when each bin is one reading.
    """

    t_ns: NDArray[np.int64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    mean: NDArray[np.float64]
    n: NDArray[np.int64]
    n_bad: NDArray[np.int64]
    exact: bool

    def __len__(self) -> int:
        return len(self.t_ns)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the user says came out."""

    outcome: str | None
    defects: tuple[str, ...] = ()
    note: str = ""


def event_row(event: Event) -> dict[str, Any]:
    """Return an event as plain JSON values."""
    return {
        "seq": event.seq,
        "t_ns": event.t_ns,
        "kind": event.kind,
        "source": event.source,
        "channel": event.channel,
        "port": event.port,
        "stage": event.stage,
        "text": event.text,
        "data": event.data,
    }


def plain(value: Any) -> Any:
    """Return JSON values with None for every number that is not finite: JSON has no word for it."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    return value
