"""One transaction a turn; while the disk takes nothing, what was to be written waits in memory.

Used by the writer thread alone. A full disk is tried again each second: the data folder's ballast
is removed, and what waited is written oldest first. A run that ends meanwhile waits in the same
way.
"""

import logging
import time
from collections.abc import Callable

from logger.model.errors import InputError, StoreError
from logger.recorder.live.turn import Ending, Turn
from logger.recorder.replay.beside import derived_at_end
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import WriteBatch
from logger.store.run.ring import Ring
from logger.store.run.runfile import RunWriter

log = logging.getLogger(__name__)

COMPACT_S = 5.0
RETRY_S = 1.0


class Commits:
    """Writes what is handed over, and remembers what could not be written.

    Parameters
    ----------
    ballast : DataFolder
        Whose ballast is removed when the disk is full.
    written : callable
        ``written(batch, seqs)``: told of each batch that is on the disk, with the number of each
        event.
    ended : callable
        ``ended(ending)``: told of a run that is saved.
    say : callable
        ``say(kind, text)``: takes an event of the recorder's own.
    """

    def __init__(
        self,
        ballast: DataFolder,
        *,
        written: Callable[[WriteBatch, list[int]], None],
        ended: Callable[[Ending], None],
        say: Callable[[str, str], None],
    ) -> None:
        self._ballast = ballast
        self._written = written
        self._ended = ended
        self._say = say
        self._file: RunWriter | None = None
        self._ending: Ending | None = None
        self.ring = Ring()
        self.disk_full = False
        self._retry_at = 0.0
        self._compacted_at = 0.0

    def commit(self, turn: Turn) -> None:
        """Write a turn's batch in one transaction, or add it to what waits."""
        if turn.file is not None:
            self._file, self._ending = turn.file, turn.ending
        file = self._file
        if file is None:
            return
        unsaved = turn.batch if turn.file is not None else WriteBatch()
        try:
            if self.disk_full:
                self.ring.add(unsaved)
                unsaved = WriteBatch()
                if time.monotonic() < self._retry_at:
                    return
                self._recover(file)
            elif unsaved:
                self._written(unsaved, file.write(unsaved))
            unsaved = WriteBatch()
            if self._ending is not None:
                self._finish(file, self._ending)
            elif time.monotonic() - self._compacted_at > COMPACT_S:
                self._compacted_at = time.monotonic()
                file.compact()
        except StoreError as trouble:
            # A disk that fails is treated like a full one: what it did not take waits in memory.
            if not self.disk_full:
                log.error("%s", trouble)
                self.disk_full = True
                self._say("disk_full", str(trouble))
                self._ballast.drop_ballast()
            self.ring.add(unsaved)
            self._retry_at = time.monotonic() + RETRY_S

    def give_up(self) -> None:
        """Try once more; a run that cannot be ended stays open for the next start of a recorder."""
        self._retry_at = 0.0
        self.commit(Turn(file=None, batch=WriteBatch()))
        if self._ending is not None:
            self._ending.command.answer.set_exception(
                InputError("run_end", "the disk is full", "the run is taken up at the next start")
            )

    def _recover(self, file: RunWriter) -> None:
        """Write what waited in memory, oldest first; raises while there is no room."""
        while (batch := self.ring.oldest()) is not None:
            seqs = file.write(batch)
            self.ring.done()
            self._written(batch, seqs)
        if self._ending is not None:
            self._finish(file, self._ending)
        self.disk_full = False
        self._ballast.keep_ballast()
        lost = self.ring.dropped
        what = f"{lost} readings were lost" if lost else "nothing was lost"
        self._say("disk_ok", f"there is room on the disk again; {what}")

    def _finish(self, file: RunWriter, ending: Ending) -> None:
        """End the run, all of which is on the disk."""
        try:
            ending.results.derived = derived_at_end(file.path)
            file.finish(ending.results, ending.ended_utc_ns)
        except StoreError:
            raise
        except Exception as cause:  # a bug: the run stays open for the next start of a recorder
            self._file = self._ending = None
            file.close()
            ending.command.answer.set_exception(cause)
            raise
        self._file = self._ending = None
        self._ended(ending)
