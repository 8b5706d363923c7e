"""One transaction a turn; while the disk takes nothing, what was to be written waits in memory.

Used by the writer thread. A full disk is tried again each second: the data folder's ballast goes
overboard, and what waited is written oldest first.
"""

import logging
import time
from collections.abc import Callable

from logger.model.errors import StoreError
from logger.ports.clock import Clock
from logger.recorder.live.current import Current
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import WriteBatch
from logger.store.run.ring import Ring

log = logging.getLogger(__name__)

COMPACT_S = 5.0
RETRY_S = 1.0


class Commits:
    """Writes what is pending, and remembers what could not be written.

    Parameters
    ----------
    clock : Clock
        The recorder's clock.
    ballast : DataFolder
        Whose ballast goes overboard when the disk is full.
    written : callable
        ``written(batch, seqs)``: told of each batch that is on the disk, with the number of each
        event.
    """

    def __init__(
        self, clock: Clock, ballast: DataFolder, written: Callable[[WriteBatch, list[int]], None]
    ) -> None:
        self._clock = clock
        self._ballast = ballast
        self._written = written
        self.ring = Ring()
        self.disk_full = False
        self._retry_at = 0.0
        self._compacted_at = 0.0

    def commit(self, current: Current) -> None:
        """Write what is pending in one transaction, or put it to what waits."""
        file = current.file
        batch = current.take_pending()
        if file is None:
            return
        unsaved: WriteBatch | None = batch
        try:
            if self.disk_full:
                self.ring.add(batch)
                unsaved = None
                if time.monotonic() < self._retry_at:
                    return
                self._recover(current)
            elif batch:
                self._written(batch, file.write(batch))
            unsaved = None
            if time.monotonic() - self._compacted_at > COMPACT_S and not self.disk_full:
                self._compacted_at = time.monotonic()
                file.compact()
        except StoreError as trouble:
            # A disk that fails is treated like a full one: what it did not take waits in memory.
            if not self.disk_full:
                log.error("%s", trouble)
                self.disk_full = True
                current.say(current.axis_ns(self._clock), "disk_full", str(trouble))
                self._ballast.drop_ballast()
                if unsaved is not None:
                    self.ring.add(unsaved)
            self._retry_at = time.monotonic() + RETRY_S

    def _recover(self, current: Current) -> None:
        """Write what waited in memory, oldest first; raises while there is no room."""
        file = current.file
        while file is not None and (batch := self.ring.oldest()) is not None:
            seqs = file.write(batch)
            self.ring.done()
            self._written(batch, seqs)
        self.disk_full = False
        self._ballast.keep_ballast()
        lost = self.ring.dropped
        current.say(
            current.axis_ns(self._clock), "disk_ok",
            f"there is room on the disk again; {lost} readings were lost" if lost
            else "there is room on the disk again; nothing was lost",
        )  # fmt: skip
