"""A port's records read again, as a replay does it."""

from collections.abc import Iterable, Iterator

from logger.model.reading import Notice, RawReading
from logger.wire.reader import LineReader


def read_again(
    reader: LineReader, records: Iterable[tuple[str, int, bytes]]
) -> Iterator[tuple[int, list[RawReading | Notice]]]:
    """Yield the time of each chunk [ns] and what a fresh reader makes of it."""
    for kind, t_ns, data in records:
        if kind == "open":
            reader.reset(t_ns)
        elif kind == "data":
            yield t_ns, reader.feed(data, t_ns)
