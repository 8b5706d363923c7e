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
from logger.store.run.facts import RunFacts
from logger.store.run.overview import overview_of
from logger.store.run.records import CHUNK_KINDS, Chunk, Envelope, Series
from logger.store.run.schema import rows_of

_EVER = 1 << 62
_CHUNKS_A_READ = 20_000


class RunView(RunFacts):
    """One run file, open for reading. Use `open`."""

    def _number(self, channel: str) -> int:
        for number, record in enumerate(self.header.channels):
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
            If the channel is unknown or the file is damaged.
        """
        number = self._number(channel)
        low, high = _bounds_us(from_ns, to_ns)
        with self._look() as db:
            blobs = rows_of(
                db,
                "SELECT data FROM block JOIN blob ON blob.id = block.columns "
                "WHERE channel = ? AND t_max_us >= ? AND t_min_us <= ? ORDER BY first_n",
                (number, low, high),
            )
            rows = rows_of(
                db,
                "SELECT t_us, value, flags, cold_junction_c FROM tail "
                "WHERE channel = ? AND t_us BETWEEN ? AND ? ORDER BY n",
                (number, low, high),
            )
        with self._decoding():
            columns = merge([*(decode(blob) for (blob,) in blobs), columns_of(rows)])
        return _series(columns, low, high)

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
        with self._look() as db, self._decoding():
            return overview_of(db, number, low, high, points)

    def count(self, channel: str) -> int:
        """Return how many readings a channel has."""
        number = self._number(channel)
        with self._look() as db:
            found: int = db.execute(
                "SELECT coalesce((SELECT sum(count) FROM block WHERE channel = ?1), 0) + "
                "(SELECT count(*) FROM tail WHERE channel = ?1)",
                (number,),
            ).get
        return found

    def last(self, channel: str) -> tuple[int, float | None, int] | None:
        """Return time [ns], value and flags of the reading stored last, or None."""
        number = self._number(channel)
        with self._look() as db:
            row = db.execute(
                "SELECT t_us, value, flags FROM tail WHERE channel = ? ORDER BY n DESC LIMIT 1",
                (number,),
            ).fetchone()
            blob = db.execute(
                "SELECT data FROM block JOIN blob ON blob.id = block.columns "
                "WHERE channel = ? ORDER BY first_n DESC LIMIT 1",
                (number,),
            ).get
        if row is not None:
            return row[0] * 1000, row[1], row[2]
        if blob is None:
            return None
        with self._decoding():
            columns = decode(blob)
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
        """
        low = -_EVER if from_ns is None else from_ns
        high = _EVER if to_ns is None else to_ns
        after = -1
        while True:
            names, rows, after, more = self._chunks_after(after)
            for number, t_ns, kind, data in rows:
                name = names[number]
                if low <= t_ns <= high and instrument in (None, name):
                    yield Chunk(name, t_ns, CHUNK_KINDS[kind], data)
            if not more:
                return

    def _chunks_after(
        self, after: int
    ) -> tuple[dict[int, str], list[tuple[int, int, int, bytes]], int, bool]:
        """Return instrument names, the next rows behind chunk `after`, the last number, and
        whether there may be more."""
        with self._look() as db:
            names: dict[int, str] = dict(rows_of(db, "SELECT number, id FROM instrument"))
            block = db.execute(
                "SELECT first_n, count, data FROM chunk_block WHERE first_n + count - 1 > ? "
                "ORDER BY first_n LIMIT 1",
                (after,),
            ).fetchone()
            loose: list[tuple[Any, ...]] = []
            if block is None:
                loose = rows_of(
                    db,
                    "SELECT n, instrument, t_ns, kind, data FROM chunk WHERE n > ? "
                    "ORDER BY n LIMIT ?",
                    (after, _CHUNKS_A_READ),
                )
        if block is None:
            last = loose[-1][0] if loose else after
            found = [(no, t_ns, kind, data) for _, no, t_ns, kind, data in loose]
            return names, found, last, len(loose) == _CHUNKS_A_READ
        first_n, count, data = block
        with self._decoding():
            found = decode_chunks(data)
        # What was read from the loose rows before is in the block by now: skip it.
        return names, found[max(after + 1 - first_n, 0) :], first_n + count - 1, True

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

    def check(self) -> str:
        """Return ``"ok"``, or what SQLite's integrity check and the numbering find wrong."""
        with self._look() as db:
            found = str(db.execute("PRAGMA integrity_check").get)
            if found != "ok":
                return found
            for number, record in enumerate(self.header.channels):
                here = 0
                for first_n, count in [
                    *db.execute(
                        "SELECT first_n, count FROM block WHERE channel = ? ORDER BY first_n",
                        (number,),
                    ),
                    *db.execute("SELECT n, 1 FROM tail WHERE channel = ? ORDER BY n", (number,)),
                ]:
                    if first_n != here:
                        return f"channel {record.id}: reading {here} is missing"
                    here = first_n + count
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
