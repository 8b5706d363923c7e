"""A batch that a run file refuses whole, saved in parts: readings never wait for an event.

Used by the recorder's writer after ``RunWriter.write`` has raised. What the file refuses by itself
while it takes other things is named by an event; when the file takes nothing at all, everything is
left to be tried again.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

import apsw

from logger.model.errors import BusyError, StoreError
from logger.model.event import Event
from logger.store.run.errors import DiskFullError
from logger.store.run.records import Anchor, Chunk, StoredReading, WriteBatch

NAMED = 20
"""Refused parts that are named one by one; the rest is counted."""
LATEST_NS = 2**62
"""A stamp beyond this [ns] is one of the things that can be wrong."""
Part = Chunk | StoredReading | Event | Anchor
Write = Callable[[WriteBatch], list[int]]
Kind = Literal["chunks", "readings", "events", "anchors"]


@dataclass(slots=True, kw_only=True)
class Parts:
    """What became of the parts of a batch.

    Attributes
    ----------
    numbers : list of (Event, int)
        Events that are saved, each with its number.
    refused : list of (object, Exception)
        What the file does not take, and why: a chunk, a reading, an event or an anchor.
    left : WriteBatch
        What is to be tried again.
    """

    numbers: list[tuple[Event, int]] = field(default_factory=list)
    refused: list[tuple[Part, Exception]] = field(default_factory=list)
    left: WriteBatch = field(default_factory=WriteBatch)


def write_in_parts(write: Write, batch: WriteBatch, cause: Exception) -> Parts:
    """Save a batch in parts: bytes and readings first, then the events.

    Parameters
    ----------
    write : callable
        ``RunWriter.write`` of the file.
    batch : WriteBatch
        What it refused whole.
    cause : Exception
        With which it did. A disk that fails is not tried in parts: all is left.
    """
    found = Parts()
    if is_the_disk(cause):
        found.left = batch
        return found
    read = WriteBatch(chunks=batch.chunks, readings=batch.readings, anchors=batch.anchors)
    if not _took(write, read, found):
        _save(write, "chunks", batch.chunks, found)
        _save(write, "readings", batch.readings, found)
        _save(write, "anchors", batch.anchors, found)
    _save(write, "events", batch.events, found)
    takes = _took(write, WriteBatch(counters=batch.counters), found)
    if not found.refused:
        return found
    again, found.refused = found.refused, []
    for part, _ in again:  # the file may have been out of order only while it was asked first
        _save(write, _kind(part), [part], found)
    if found.refused and not (takes and _name(write, batch, found)):
        # It does not even take this: nothing is wrong with the parts.
        for part, _ in found.refused:
            getattr(found.left, _kind(part)).append(part)
        found.refused = []
    return found


def is_the_disk(cause: Exception) -> bool:
    """Whether an error comes from the disk or another program, so that a later try may do."""
    return isinstance(cause, DiskFullError | BusyError) or (
        isinstance(cause, StoreError) and isinstance(cause.__cause__, apsw.Error)
    )


def _took(write: Write, part: WriteBatch, found: Parts) -> bool:
    if not part:
        return True
    try:
        seqs = write(part)
    except Exception:  # noqa: BLE001 - tried again in smaller parts, which say why
        return False
    found.numbers += zip(part.events, seqs, strict=True)
    return True


def _save(write: Write, kind: Kind, items: list[Any], found: Parts) -> None:
    """Save items of one kind, halving what is refused until each refused one stands alone."""
    if not items:
        return
    part = WriteBatch()
    setattr(part, kind, items)
    try:
        seqs = write(part)
    except Exception as cause:  # noqa: BLE001 - named beside the part
        if is_the_disk(cause):
            getattr(found.left, kind).extend(items)
        elif len(items) == 1:
            found.refused.append((items[0], cause))
        else:
            half = len(items) // 2
            _save(write, kind, items[:half], found)
            _save(write, kind, items[half:], found)
        return
    found.numbers += zip(part.events, seqs, strict=True)


def _name(write: Write, batch: WriteBatch, found: Parts) -> bool:
    """Say in the run itself what was refused; return whether the file took that."""
    times = [item.t_ns for items in (batch.readings, batch.events) for item in items]
    t_ns = max((t for t in times if 0 <= t < LATEST_NS), default=0)
    says = [_says(part, cause) for part, cause in found.refused[:NAMED]]
    if len(found.refused) > NAMED:
        says.append(f"{len(found.refused) - NAMED} more could not be saved")
    events = [Event(t_ns=t_ns, kind="not_saved", source="recorder", text=text) for text in says]
    return _took(write, WriteBatch(events=events), Parts())


def _says(part: Part, cause: Exception) -> str:
    match part:
        case Event():
            what = f"event {part.kind!r}"
        case StoredReading():
            what = f"a reading of {part.channel}"
        case Chunk():
            what = f"bytes of {part.instrument}"
        case Anchor():
            what = "a time of day"
    return f"a bug: {what} could not be saved ({type(cause).__name__}: {cause})"[:400]


def _kind(part: Part) -> Kind:
    if isinstance(part, Event):
        return "events"
    if isinstance(part, Anchor):
        return "anchors"
    return "readings" if isinstance(part, StoredReading) else "chunks"
