"""The readings of one channel as whole pieces: sealed blocks and tail rows, and the holes between.

A piece counts only if its seal fits. What is damaged or has vanished is a hole, known by the
numbers of its readings and, as far as its neighbours tell, by its time. Runs on connections that
others opened; a file that is not bound yet has no seals, and all its pieces count.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import apsw
import numpy as np
from numpy.typing import NDArray

from logger.store.seals.damage import Damage
from logger.store.seals.digest import TAIL_TYPE, Sealer, digest, packed_rows
from logger.store.seals.scan import BROKEN, scan

_BLOCK = (
    "SELECT first_n, count, t_first_us, t_min_us, t_max_us, n_bad, low, high, mean, columns, fine"
)


class Block(NamedTuple):
    """A row of ``block`` without its 1/256 level."""

    first_n: int
    rows: int
    t_first_us: int
    t_min_us: int
    t_max_us: int
    n_bad: int
    low: float | None
    high: float | None
    mean: float | None
    columns: int
    fine: int
    mark: bytes = b""
    """Digest of the 1/256 level; empty in a file that is not bound."""
    seal: bytes = b""

    @property
    def end(self) -> int:
        """Number of the reading behind its last."""
        return self.first_n + self.rows


class Hole(NamedTuple):
    """Readings that are not there as they were written."""

    first_n: int
    last_n: int | None
    from_us: int | None
    to_us: int | None

    def touches(self, low_us: int, high_us: int) -> bool:
        """Return whether it may lie within bounds [us]."""
        return (self.to_us is None or self.to_us >= low_us) and (
            self.from_us is None or self.from_us <= high_us
        )

    def damage(self, channel: str) -> Damage:
        """Return what is damaged of a channel."""
        return Damage(
            part="readings",
            channel=channel,
            from_s=None if self.from_us is None else self.from_us / 1e6,
            to_s=None if self.to_us is None else self.to_us / 1e6,
            first=self.first_n,
            last=self.last_n,
        )


def hole_of(block: Block) -> Hole:
    """Return the hole where a block was."""
    return Hole(block.first_n, block.end - 1, block.t_min_us, block.t_max_us)


@dataclass(slots=True, kw_only=True)
class Pieces:
    """What is whole of a channel, and what is not.

    Attributes
    ----------
    blocks : list of Block
        In the order of their numbers.
    tail : structured array
        Whole tail rows as `digest.TAIL_TYPE`, in the order of their numbers.
    holes : list of Hole
    """

    blocks: list[Block]
    tail: NDArray[Any]
    holes: list[Hole] = field(default_factory=list)

    @property
    def count(self) -> int:
        """How many readings are whole."""
        return sum(block.rows for block in self.blocks) + len(self.tail)

    @property
    def end(self) -> int:
        """Number of the reading behind the last whole one."""
        if len(self.tail):
            return int(self.tail["n"][-1]) + 1
        return self.blocks[-1].end if self.blocks else 0

    @property
    def last_us(self) -> int | None:
        """Greatest time of them [us]; None without any."""
        times = [block.t_max_us for block in self.blocks]
        if len(self.tail):
            times.append(int(self.tail["t_us"].max()))
        return max(times, default=None)

    def lose(self, block: Block) -> None:
        """Take out a block whose columns turned out to be damaged."""
        self.blocks.remove(block)
        self.holes.append(hole_of(block))


@dataclass(slots=True)
class Known:
    """What was found whole in earlier looks at a file, and need not be compared again.

    Attributes
    ----------
    blocks : dict of tuple
        By channel number: rows as they were read, and the whole blocks among them.
    tails : dict of structured array
        Tail rows by channel number; those behind the last one are read.
    """

    blocks: dict[int, tuple[list[tuple[Any, ...]], list[Block]]] = field(default_factory=dict)
    tails: dict[int, NDArray[Any]] = field(default_factory=dict)


def block_fields(channel: int, block: Block) -> tuple[Any, ...]:
    """Return what the seal of a block covers: not the ids of its blobs, which have their own seals.

    Parameters
    ----------
    channel : int
        Number of the channel.
    block : Block
        The row.
    """
    return (channel, *block[:9], block.mark)


def read_pieces(
    db: apsw.Connection,
    sealer: Sealer | None,
    channel: int,
    expected: int | None,
    known: Known | None = None,
) -> Pieces:
    """Return what is whole of a channel.

    Parameters
    ----------
    db : apsw.Connection
        What is asked.
    sealer : Sealer or None
        None for a file that is not bound.
    channel : int
        Number of the channel.
    expected : int or None
        How many readings there must be; None where that is not known.
    known : Known, optional
        What was found whole before; takes more.
    """
    known = Known() if known is None else known
    blocks = _blocks(db, sealer, channel, known)
    end = blocks[-1].end if blocks else 0
    tail = _tail(db, sealer, channel, end, known)
    return Pieces(blocks=blocks, tail=tail, holes=list(_holes(blocks, tail, expected)))


def _blocks(db: apsw.Connection, sealer: Sealer | None, channel: int, known: Known) -> list[Block]:
    select = f"{_BLOCK}{', mark, seal' if sealer else ''} FROM block WHERE channel = ?"
    rows = scan(db, select, "first_n", (channel,))
    if sealer is None:
        return [Block(*row) for row in rows]
    seen, before = known.blocks.get(channel, ([], []))
    if rows[: len(seen)] != seen:
        seen, before = [], []
    whole = list(before)
    end = whole[-1].end if whole else 0
    for row in rows[len(seen) :]:
        block = Block(*row)
        fits = sealer.row("block", *block_fields(channel, block)) == block.seal
        if fits and block.first_n >= end:
            whole.append(block)
            end = block.end
    known.blocks[channel] = rows, list(whole)
    return whole


def _tail(
    db: apsw.Connection, sealer: Sealer | None, channel: int, end: int, known: Known
) -> NDArray[Any]:
    select = "SELECT n, t_us, value, flags, cold_junction_c"
    if sealer is None:
        return packed_rows(scan(db, f"{select} FROM tail WHERE channel = ?", "n", (channel,)))
    before = known.tails.get(channel)
    if before is None:
        before = packed_rows([])
    after = int(before["n"][-1]) if len(before) else -1
    sealed = f"{select}, seal FROM tail WHERE channel = ? AND n > ?"
    new = whole_rows(sealer, channel, scan(db, sealed, "n", (channel, after)))
    tail = np.concatenate([before, new]) if len(before) else new
    n = tail["n"]
    if len(n) and n[0] < end:
        tail = tail[n >= end]
    known.tails[channel] = tail
    return tail


def whole_rows(sealer: Sealer, channel: int, rows: list[tuple[Any, ...]]) -> NDArray[Any]:
    """Return the tail rows of those groups whose seal fits.

    Parameters
    ----------
    sealer : Sealer
        Of the run.
    channel : int
        Number of the channel.
    rows : list of tuple
        n, t_us, value, flags, cold junction, seal; the last row of each group has the seal.
    """
    ends = [at + 1 for at, row in enumerate(rows) if row[5] is not None]
    starts = [0, *ends][: len(ends)]
    try:
        packed = packed_rows(rows)
    except (TypeError, ValueError, OverflowError):
        return _row_by_row(sealer, channel, rows, zip(starts, ends, strict=True))
    data, width = memoryview(packed.tobytes()), TAIL_TYPE.itemsize
    keep = np.zeros(len(rows), dtype=np.bool_)
    for start, end in zip(starts, ends, strict=True):
        seal = sealer.group(channel, data[start * width : end * width])
        keep[start:end] = seal == rows[end - 1][5]
    return packed if keep.all() else packed[keep]


def _row_by_row(
    sealer: Sealer, channel: int, rows: list[tuple[Any, ...]], groups: Iterable[tuple[int, int]]
) -> NDArray[Any]:
    """Leave out the groups in which a row is not even of the right kind."""
    found = [packed_rows([])]
    for start, end in groups:
        try:
            packed = packed_rows(rows[start:end])
        except (TypeError, ValueError, OverflowError):
            continue
        if sealer.group(channel, packed.tobytes()) == rows[end - 1][5]:
            found.append(packed)
    return np.concatenate(found)


def _holes(blocks: list[Block], tail: NDArray[Any], expected: int | None) -> Iterator[Hole]:
    here, last_us = 0, None
    for first_n, count, t_min_us, t_max_us in (*_spans(blocks), *_tail_spans(tail)):
        if first_n > here:
            yield _hole(here, first_n - 1, last_us, t_min_us)
        here, last_us = first_n + count, t_max_us
    if expected is not None and here < expected:
        yield Hole(here, expected - 1, last_us, None)


def _hole(first_n: int, last_n: int, from_us: int | None, to_us: int) -> Hole:
    start = from_us if from_us is None else min(from_us, to_us)
    return Hole(first_n, last_n, start, to_us if from_us is None else max(from_us, to_us))


def _spans(blocks: list[Block]) -> Iterator[tuple[int, int, int, int]]:
    return ((b.first_n, b.rows, b.t_min_us, b.t_max_us) for b in blocks)


def _tail_spans(tail: NDArray[Any]) -> Iterator[tuple[int, int, int, int]]:
    """Yield number, count and time span of each run of tail rows without a hole."""
    if not len(tail):
        return
    edges = np.flatnonzero(np.diff(tail["n"]) != 1) + 1
    for part in np.split(tail, edges):
        t_us = part["t_us"]
        yield int(part["n"][0]), len(part), int(t_us.min()), int(t_us.max())


def blob_seal(sealer: Sealer, channel: int, first_n: int, place: int, data: bytes) -> bytes:
    """Return the seal of a blob: it says whose it is.

    Parameters
    ----------
    sealer : Sealer
        Of the run.
    channel : int
        Number of the channel.
    first_n : int
        First reading of its block.
    place : int
        Columns (0) or 1/16 level (1).
    data : bytes
        What it holds.
    """
    return sealer.row("blob", channel, first_n, place, data)


def read_blob(
    db: apsw.Connection, sealer: Sealer | None, channel: int, block: Block, place: int
) -> bytes | None:
    """Return columns (0) or 1/16 level (1) of a block; None where they are damaged or gone.

    Parameters
    ----------
    db : apsw.Connection
        What is asked.
    sealer : Sealer or None
        None for a file that is not bound.
    channel : int
        Number of the channel.
    block : Block
        Whose.
    place : int
        Which of its two blobs.
    """
    select = f"SELECT data{', seal' if sealer else ''} FROM blob WHERE id = ?"
    try:
        row = db.execute(select, (block[9 + place],)).fetchone()
    except BROKEN:
        return None
    if row is None or not isinstance(row[0], bytes):
        return None
    data: bytes = row[0]
    if sealer is not None and blob_seal(sealer, channel, block.first_n, place, data) != row[1]:
        return None
    return data


def is_marked(block: Block, coarse: Any) -> bool:
    """Return whether bytes are the 1/256 level of a block; any are in a file that is not bound."""
    return isinstance(coarse, bytes) and block.mark in (b"", digest(coarse))
