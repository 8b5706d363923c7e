"""Reads one run file, also while it is written and compacted.

Each question opens the file read-only, looks at one consistent snapshot and closes it again, so a
reader never holds the writer up and keeps no log alive. Values are given as stored: uncorrected, in
the unit of the channel's record.
"""

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from logger.model.errors import StoreError
from logger.store.blocks.codec import WITHOUT_LAG, Columns, decode, decode_chunks, unpacked
from logger.store.blocks.compaction import columns_of, merge
from logger.store.folder.lock import is_held, lock_path
from logger.store.run.facts import RunFacts
from logger.store.run.overview import overview_of
from logger.store.run.records import CHUNK_KINDS, Chunk, Envelope, Series
from logger.store.run.schema import log_path
from logger.store.seals.cut import is_log_gone
from logger.store.seals.damage import Damage, sentences
from logger.store.seals.pieces import Hole, read_blob
from logger.store.seals.rows import read_rows
from logger.store.seals.scan import scan
from logger.store.seals.survey import picture_of, survey
from logger.store.seals.torn import is_torn

_EVER = 1 << 62
_CHUNKS_A_READ = 20_000


class RunView(RunFacts):
    """One run file, open for reading. Use `open`."""

    def photo(self, sha256: str) -> bytes | None:
        """Return a picture of the run by its digest; None where it is damaged, or there is none."""
        with self._look() as look:
            return picture_of(look, sha256)

    def _number(self, channel: str) -> int:
        for number, record in self._channels.items():
            if record.id == channel:
                return number
        known = ", ".join(c.id for c in self.header.channels)
        raise StoreError(f"{self.path}: no channel {channel!r}; there is {known or 'none'}")

    def readings(
        self, channel: str, from_ns: int | None = None, to_ns: int | None = None
    ) -> Series:
        """Return the readings of a channel, as stored, in time order.

        Parameters
        ----------
        channel : str
            Channel id.
        from_ns, to_ns : int or None
            Bounds on the run's axis, both included [ns].

        Returns
        -------
        Series
            Readings with one stamp keep the order in which they came.

        Raises
        ------
        StoreError
            If the channel is unknown, or some of them are damaged; a tolerant view leaves those
            out.
        """
        number = self._number(channel)
        low, high = _bounds_us(from_ns, to_ns)
        with self._look() as look:
            pieces = look.pieces(number)
            chosen = [b for b in pieces.blocks if b.t_max_us >= low and b.t_min_us <= high]
            blobs = []
            for block in chosen:
                blob = read_blob(look.db, look.sealer, number, block, 0)
                if blob is None:
                    pieces.lose(block)
                else:
                    blobs.append(blob)
            self._refuse_holes(pieces.holes, channel, low, high)
            tail = pieces.tail
        with self._decoding():
            columns = merge([*(decode(blob) for blob in blobs), columns_of(tail)])
        return _series(columns, low, high)

    def _refuse_holes(self, holes: list[Hole], channel: str, low: int, high: int) -> None:
        self._damaged(hole.damage(channel) for hole in holes if hole.touches(low, high))

    def overview(
        self,
        channel: str,
        from_ns: int | None = None,
        to_ns: int | None = None,
        points: int = 1000,
    ) -> Envelope:
        """Return a channel's trace in at most `points` bins (and one more at the edge).

        Parameters
        ----------
        channel : str
        from_ns, to_ns : int or None
            Bounds on the run's axis [ns]; a bin that reaches over a bound may be included.
        points : int
            At least 1.

        Returns
        -------
        Envelope

        Raises
        ------
        ValueError
            If `points` is below 1.
        StoreError
            If the file cannot be read.
        """
        if points < 1:
            raise ValueError(f"points: found {points}, wanted at least 1")
        number = self._number(channel)
        low, high = _bounds_us(from_ns, to_ns)
        with self._look() as look, self._decoding():
            found = overview_of(look, number, low, high, points)
            self._refuse_holes(look.pieces(number).holes, channel, low, high)
        return found

    def count(self, channel: str) -> int:
        """Return how many readings a channel has."""
        number = self._number(channel)
        with self._look() as look:
            pieces = look.pieces(number)
            self._refuse_holes(pieces.holes, channel, -_EVER, _EVER)
            return pieces.count

    def last(self, channel: str) -> tuple[int, float | None, int] | None:
        """Return time [ns], value and flags of the reading stored last, or None."""
        number = self._number(channel)
        with self._look() as look:
            pieces = look.pieces(number)
            columns = columns_of(pieces.tail)
            while not len(columns.t_us) and pieces.blocks:
                block = pieces.blocks[-1]
                blob = read_blob(look.db, look.sealer, number, block, 0)
                if blob is None:
                    pieces.lose(block)
                    continue
                with self._decoding():
                    columns = decode(blob)
            gone = [hole for hole in pieces.holes if hole.first_n >= pieces.end]
            self._damaged(hole.damage(channel) for hole in gone)
        if not len(columns.t_us):
            return None
        value = float(columns.value[-1])
        kept = None if np.isnan(value) else value
        return int(columns.t_us[-1]) * 1000, kept, int(columns.flags[-1])

    def chunks(
        self,
        instrument: str | None = None,
        from_ns: int | None = None,
        to_ns: int | None = None,
    ) -> Iterator[Chunk]:
        """Yield the raw chunks in the order in which they were saved.

        Reads a piece at a time, so a slow taker holds nothing up; a run may grow meanwhile.

        Parameters
        ----------
        instrument : str, optional
            Only of this one.
        from_ns, to_ns : int, optional
            Bounds on the run's axis, both included [ns].

        Raises
        ------
        StoreError
            If some are damaged; a tolerant view leaves those out.
        """
        low = -_EVER if from_ns is None else from_ns
        high = _EVER if to_ns is None else to_ns
        after, block = -1, -1
        more, walk = True, False
        while more:
            names, rows, found, more, expected = self._chunks_after(after, block, walk=walk)
            whole = all(row[0] == n for n, row in enumerate(rows, after + 1))
            if not walk and (not whole or (not rows and after + 1 < expected)):
                # On a damaged page a search loses its way to rows that a walk still finds.
                more = walk = True
                continue
            block, walk = found, False
            for n, number, t_ns, kind, data in rows:
                if n != after + 1:
                    self._damaged([Damage(part="raw bytes", first=after + 1, last=n - 1)])
                after = n
                name = names.get(number)
                if name is None:
                    self._damaged([Damage(part="raw bytes", first=n, last=n)])
                elif low <= t_ns <= high and instrument in (None, name):
                    yield Chunk(name, t_ns, CHUNK_KINDS[kind], data)
        if after + 1 < expected:
            self._damaged([Damage(part="raw bytes", first=after + 1, last=expected - 1)])

    def _chunks_after(
        self, after: int, block: int, *, walk: bool
    ) -> tuple[dict[int, str], list[tuple[Any, ...]], int, bool, int]:
        """Return instrument names, the next rows behind chunk `after` and block `block`, the block
        that was read, whether there may be more, and how many chunks there must be.

        A walk goes over whole tables instead of searching in them.
        """
        first_n, number = ("+first_n", "+n") if walk else ("first_n", "n")
        with self._look() as look, self._decoding():
            db, sealer = look.db, look.sealer
            names = dict(read_rows(db, sealer, "instrument"))
            expected = 0 if look.counts is None else look.counts.chunks
            ahead = scan(
                db, f"SELECT first_n FROM chunk_block WHERE {first_n} > ?", "first_n", (block,)
            )
            # On a damaged page what is found may lie before, or far behind, and in any order.
            behind = min((first for (first,) in ahead if first > block), default=None)
            if behind is not None:
                block = behind
                found: list[tuple[Any, ...]] = []
                for begins, *_, data in read_rows(
                    db, sealer, "chunk_block", f"WHERE {first_n} = ?", (block,)
                ):
                    rows = decode_chunks(data)
                    # What was read from the loose rows before is in the block by now: skip it.
                    found += [(n, *row) for n, row in enumerate(rows, begins) if n > after]
                return names, found, block, True, expected
            # A hole may be wider than what is read at once: go on where the next row is.
            loose: list[tuple[Any, ...]] = []
            begin, further = after, [after]
            while further and not loose:
                until = begin + _CHUNKS_A_READ
                loose = read_rows(
                    db, sealer, "chunk", f"WHERE {number} > ? AND {number} <= ?", (begin, until)
                )
                left = scan(db, f"SELECT n FROM chunk WHERE {number} > ?", "n", (until,))
                further = [row[0] for row in left if row[0] > until]
                begin = min(further, default=until) - 1
        return names, loose, block, bool(further), expected

    def without_lag(self, channel: str) -> NDArray[np.float64] | None:
        """Return the values without the probe's lag that were stored when the run ended.

        Returns
        -------
        ndarray or None
            One a reading of the channel [degC], in the order of `readings`, NaN for none; None
            where nothing was stored: the lag is not known, or taking it off does not pay.
        """
        results = self.results()
        for row in results.derived if results is not None else ():
            if row.channel == channel and row.kind == WITHOUT_LAG:
                with self._decoding("a derived series"):
                    return unpacked(row.block, row.readings)
        return None

    def damage(self) -> list[Damage]:
        """Return all that is damaged in the file; reads the whole of it.

        A file of a version without seals has none to name: its check sums are compared when it is
        read.
        """
        with self._look() as look:
            names = {number: record.id for number, record in self._channels.items()}
            found = survey(look, names)
            end, counts = look.part("end"), look.counts
        log, lock = log_path(self.path), lock_path(self.path)
        if is_held(lock):
            return found
        # A lock file that nobody holds is left by a kill, and a new run may have no log yet.
        killed_at_birth = lock.exists() and counts is not None and counts.is_empty
        if is_torn(log):
            found.append(Damage(part="log"))
        elif end is not None and end[0] is None and not killed_at_birth:
            found += [Damage(part="no log")] * is_log_gone(self.path, log)
        return found

    def check(self) -> str:
        """Return ``"ok"``, or what seals, numbering and SQLite's integrity check find wrong."""
        damage = self.damage()
        if damage:
            return " ".join(sentences(damage))
        with self._look() as look:
            found = str(look.db.execute("PRAGMA integrity_check").get)
            if found != "ok":
                return " ".join(found.split())
            for number, record in self._channels.items():
                holes = look.pieces(number).holes
                if holes:
                    return f"channel {record.id}: reading {holes[0].first_n} is missing"
        return "ok"


def _bounds_us(from_ns: int | None, to_ns: int | None) -> tuple[int, int]:
    low = -_EVER if from_ns is None else -(-from_ns // 1000)
    high = _EVER if to_ns is None else to_ns // 1000
    return low, high


def _series(columns: Columns, low: int, high: int) -> Series:
    keep = (columns.t_us >= low) & (columns.t_us <= high)
    t_us = columns.t_us[keep]
    order = np.argsort(t_us, kind="stable") if (np.diff(t_us) < 0).any() else slice(None)
    cold = columns.cold_junction
    return Series(
        t_ns=t_us[order] * 1000,
        value=columns.value[keep][order],
        flags=columns.flags[keep][order].astype(np.int32),
        cold_junction=None if cold is None else cold[keep][order],
    )
