"""What waits in memory while it cannot be saved: bounded, oldest out first, losses counted.

Pure. The recorder puts a batch in when ``RunWriter.write`` says the disk is full, and writes them
out oldest first when there is room again.
"""

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from logger.store.run.records import WriteBatch

MIN_HORIZON_NS = 600_000_000_000
"""Ten minutes."""

_READING_BYTES = 160
_EVENT_BYTES = 600
_CHUNK_BYTES = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsaved:
    """Readings of one channel that are in no file.

    Attributes
    ----------
    channel : str
        Channel id.
    count : int
        How many.
    first_ns, last_ns : int
        Of the first and the last of them, on the run's axis [ns].
    """

    channel: str
    count: int
    first_ns: int
    last_ns: int


def unsaved_of(batches: Iterable[WriteBatch]) -> list[Unsaved]:
    """Return what batches hold of each channel, in the order of their first readings."""
    times: dict[str, list[int]] = {}
    for batch in batches:
        for reading in batch.readings:
            times.setdefault(reading.channel, []).append(reading.t_ns)
    return [
        Unsaved(channel=channel, count=len(t_ns), first_ns=min(t_ns), last_ns=max(t_ns))
        for channel, t_ns in times.items()
    ]


class Ring:
    """Batches that wait, oldest first.

    Parameters
    ----------
    horizon_ns : int
        Readings older than this behind the newest batch may be dropped [ns]; at least 10 min.
    max_bytes : int
        Estimated memory above which the oldest are dropped though they are younger.

    Attributes
    ----------
    dropped_readings, dropped_chunks : int
        Lost since the start. Events, anchors and counters are never dropped.
    """

    def __init__(
        self, horizon_ns: int = 2 * MIN_HORIZON_NS, max_bytes: int = 256 * 1024 * 1024
    ) -> None:
        if horizon_ns < MIN_HORIZON_NS:
            raise ValueError(f"horizon_ns: found {horizon_ns}, wanted at least {MIN_HORIZON_NS}")
        self._horizon_ns = horizon_ns
        self._max_bytes = max_bytes
        self._waiting: deque[tuple[int, int, WriteBatch]] = deque()
        self._kept = WriteBatch()
        """Events, anchors and counters of dropped batches."""
        self._bytes = 0
        self.dropped_readings = 0
        self.dropped_chunks = 0

    def __len__(self) -> int:
        return len(self._waiting) + bool(self._kept)

    @property
    def span_s(self) -> float:
        """From the oldest to the newest batch that waits [s]."""
        return (self._waiting[-1][0] - self._waiting[0][0]) / 1e9 if self._waiting else 0.0

    @property
    def dropped(self) -> int:
        """Readings lost since the start."""
        return self.dropped_readings

    def add(self, batch: WriteBatch) -> None:
        """Add a batch, which is the newest; drop the oldest where there is no room."""
        if not batch:
            return
        size = _size(batch)
        times = [row.t_ns for rows in (batch.readings, batch.chunks, batch.events) for row in rows]
        before = self._waiting[-1][0] if self._waiting else 0
        self._waiting.append((max(times, default=before), size, batch))
        self._bytes += size
        while len(self._waiting) > 1 and (
            self.span_s * 1e9 > self._horizon_ns or self._bytes > self._max_bytes
        ):
            self._drop()

    def _drop(self) -> None:
        _, size, batch = self._waiting.popleft()
        self._bytes -= size
        self.dropped_readings += len(batch.readings)
        self.dropped_chunks += len(batch.chunks)
        self._kept.events += batch.events
        self._kept.anchors += batch.anchors
        self._kept.counters.update(batch.counters)

    def waiting(self) -> Iterator[WriteBatch]:
        """Yield all that waits, oldest first."""
        if self._kept:
            yield self._kept
        yield from (batch for _, _, batch in self._waiting)

    def oldest(self) -> WriteBatch | None:
        """Return the batch to write next, or None; `done` takes it out once it is saved."""
        if self._kept:
            return self._kept
        return self._waiting[0][2] if self._waiting else None

    def done(self) -> None:
        """Take out what `oldest` gave."""
        if self._kept:
            self._kept = WriteBatch()
        elif self._waiting:
            self._bytes -= self._waiting.popleft()[1]

    def keep(self, left: WriteBatch) -> None:
        """Put what is left of the batch that `oldest` gave in its place."""
        if self._kept:
            self._kept = left
        elif self._waiting:
            t_ns, size, _ = self._waiting[0]
            self._waiting[0] = t_ns, _size(left), left
            self._bytes += _size(left) - size


def _size(batch: WriteBatch) -> int:
    chunks = sum(_CHUNK_BYTES + len(chunk.data) for chunk in batch.chunks)
    return chunks + _READING_BYTES * len(batch.readings) + _EVENT_BYTES * len(batch.events)
