"""Batches that wait in memory while the disk is full."""

import pytest

from logger.model.event import Event
from logger.store.run.records import Chunk, StoredReading, WriteBatch
from logger.store.run.ring import Ring

S = 1_000_000_000


def batch(second: int, *, note: bool = False) -> WriteBatch:
    events = [Event(t_ns=second * S, kind="note", source="operator")] if note else []
    return WriteBatch(
        readings=[StoredReading("fat", second * S, 50.0)],
        chunks=[Chunk("probes", second * S, "data", b"50.00\r\n")],
        events=events,
    )


def test_ten_minutes_are_kept_whole_and_come_out_in_order():
    ring = Ring()
    for second in range(601):
        ring.add(batch(second))
    assert ring.span_s == 600
    assert ring.dropped == 0
    seen = []
    while (oldest := ring.oldest()) is not None:
        seen.append(oldest.readings[0].t_ns // S)
        ring.done()
    assert seen == list(range(601))
    assert len(ring) == 0


def test_beyond_the_horizon_the_oldest_go_and_are_counted_but_events_stay():
    ring = Ring(horizon_ns=600 * S)
    for second in range(700):
        ring.add(batch(second, note=second == 3))
    assert (ring.dropped_readings, ring.dropped_chunks) == (99, 99)
    first = ring.oldest()
    assert first is not None
    assert [e.t_ns for e in first.events] == [3 * S]
    assert first.readings == []
    ring.done()
    second_batch = ring.oldest()
    assert second_batch is not None
    assert second_batch.readings[0].t_ns == 99 * S


def test_memory_is_bounded():
    ring = Ring(max_bytes=10_000)
    for second in range(100):
        ring.add(batch(second))
    assert ring.dropped_readings + len(ring) == 100
    assert len(ring) < 40


def test_oldest_stays_until_it_is_done():
    ring = Ring()
    ring.add(batch(1))
    assert ring.oldest() is ring.oldest()
    ring.done()
    ring.done()
    assert ring.oldest() is None


def test_a_horizon_under_ten_minutes_is_refused():
    with pytest.raises(ValueError, match="at least 600000000000"):
        Ring(horizon_ns=S)
