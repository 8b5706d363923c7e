"""What waits for compaction: the account of it, and what of it is due.

Pure. Kept by ``saving`` as batches are saved; ``writer`` asks it what to compact.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from logger.store.run.format import BLOCK_READINGS, CHUNK_BLOCK_BYTES, TAIL_NS


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """What is to be compacted: rows of each channel by number, and whether the raw chunks are."""

    rows: Mapping[int, int]
    chunks: bool


class Tail:
    """What waits for compaction."""

    def __init__(self) -> None:
        self.count: dict[int, int] = {}
        """Tail rows by channel number."""
        self.since_us: dict[int, int] = {}
        """Time of the first of them."""
        self.next_n: dict[int, int] = {}
        self.last_us = 0
        self.next_chunk = 0
        self.chunks = 0
        self.chunk_bytes = 0
        self.chunk_since_ns = 0
        self.chunk_last_ns = 0

    def due(self, *, force: bool = False) -> Due | None:
        """Return what has waited long enough, all with `force`; None when there is nothing."""
        rows: dict[int, int] = {}
        for number, count in self.count.items():
            old = self.last_us - self.since_us[number] >= TAIL_NS // 1000
            take = count if force or old else count // BLOCK_READINGS * BLOCK_READINGS
            if take:
                rows[number] = take
        waited_ns = self.chunk_last_ns - self.chunk_since_ns
        due = force or self.chunk_bytes >= CHUNK_BLOCK_BYTES or waited_ns >= TAIL_NS
        chunks = self.chunks > 0 and due
        return Due(rows=rows, chunks=chunks) if rows or chunks else None

    def compacted(self, due: Due, since_us: Mapping[int, int]) -> None:
        """Take off what was compacted; `since_us` is where the rows of a channel now begin."""
        for number, first_us in since_us.items():
            self.count[number] -= due.rows[number]
            self.since_us[number] = first_us
        if due.chunks:
            self.chunks = self.chunk_bytes = 0
