"""One transaction a turn; while the disk takes nothing, what was to be written waits in memory.

Used by the writer thread alone. A full disk is tried again each second: the data folder's ballast
is removed, and what waited is written oldest first. A run that ends meanwhile waits in the same
way. A batch that is refused whole is saved in parts, so that no event takes readings with it.
"""

import logging
import time
from collections.abc import Callable
from pathlib import Path

from logger.model.errors import BusyError, InputError, StoreError
from logger.model.event import Event
from logger.recorder.live.turn import Ending, Turn
from logger.recorder.replay.beside import derived_at_end
from logger.store.folder.datafolder import DataFolder
from logger.store.run.parts import write_in_parts
from logger.store.run.records import WriteBatch
from logger.store.run.ring import Ring, unsaved_of
from logger.store.run.runfile import RunWriter
from logger.words.counts import count_text
from logger.words.digits import fixed
from logger.words.values import with_unit

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
        ``written(numbers)``: told of the events that are on the disk, each with its number.
    refused : callable
        ``refused(event, cause)``: told of an event that the run file does not take.
    ended : callable
        ``ended(ending)``: told of a run that is saved.
    say : callable
        ``say(kind, text)``: takes an event of the recorder's own.
    number_of : callable
        ``number_of(t_ns, kind)``: number of an operator's event, 0 before it is written.
    """

    def __init__(
        self,
        ballast: DataFolder,
        *,
        written: Callable[[list[tuple[Event, int]]], None],
        refused: Callable[[Event, Exception], None],
        ended: Callable[[Ending], None],
        say: Callable[[str, str], None],
        number_of: Callable[[int, str], int],
    ) -> None:
        self._ballast = ballast
        self._written = written
        self._refused = refused
        self._ended = ended
        self._say = say
        self._number_of = number_of
        self._file: RunWriter | None = None
        self._ending: Ending | None = None
        self.ring = Ring()
        self.disk_full = False
        self._retry_at = 0.0
        self._compacted_at = 0.0
        self._instead: tuple[RunWriter, RunWriter] | None = None
        """A run file whose name was removed, and the copy that is written in its place."""
        self.lost = ""
        """What is in no file once it was given up, in words."""

    def commit(self, turn: Turn) -> None:
        """Write a turn's batch in one transaction, or add it to what waits."""
        if turn.file is not None:
            self._file, self._ending = self._now_for(turn.file), turn.ending
        file = self._file
        if file is None:
            return
        if turn.file is not None and turn.batch:
            self.ring.add(turn.batch)
        if self.disk_full and time.monotonic() < self._retry_at:
            return
        try:
            self._save(file)
            if self.disk_full:
                self._is_well_again()
            if self._ending is not None:
                self._finish(file, self._ending)
            elif time.monotonic() - self._compacted_at > COMPACT_S:
                self._compacted_at = time.monotonic()
                file.compact()
        except (StoreError, BusyError) as trouble:
            # A disk that fails is treated like a full one: what it did not take waits in memory.
            self._wait(str(trouble))

    def _wait(self, trouble: str) -> None:
        if not self.disk_full:
            log.error("%s", trouble)
            self.disk_full = True
            self._say("disk_full", trouble)
            self._ballast.drop_ballast()
        self._retry_at = time.monotonic() + RETRY_S

    def _now_for(self, file: RunWriter) -> RunWriter:
        return self._instead[1] if self._instead and file is self._instead[0] else file

    def go_on_in(self, place: DataFolder) -> Path | None:
        """Copy the run to another folder and write it there from now on.

        Parameters
        ----------
        place : DataFolder
            Of this user, for runs whose own folder was removed.

        Returns
        -------
        Path or None
            The new run file; None where no run is under way.

        Raises
        ------
        StoreError, BusyError
            If it cannot be copied; nothing has changed then.
        """
        file = self._file
        if file is None:
            return None
        path = place.run_path(file.path.stem)
        file.copy_to(path)
        self._instead = file, RunWriter.reopen(path)
        self._file = self._instead[1]
        self._retry_at = 0.0
        self.commit(Turn(file=None, batch=WriteBatch()))
        return path

    def give_up(self) -> None:
        """Try once more; a run that cannot be ended stays open for the next start of a recorder."""
        self._retry_at = 0.0
        self.commit(Turn(file=None, batch=WriteBatch()))
        self.lost = _in_words(self.ring)
        if self._instead is not None:
            self._instead[1].close()
        if self._ending is not None:
            self._ending.command.answer.set_exception(
                InputError("run_end", "the disk is full", "the run continues at the next start")
            )

    def _save(self, file: RunWriter) -> None:
        """Write what waits in memory, oldest first.

        Raises
        ------
        StoreError, BusyError
            If the file takes nothing at the moment; what is left stays in memory.
        """
        while (batch := self.ring.oldest()) is not None:
            try:
                seqs = file.write(batch)
            except Exception as cause:  # noqa: BLE001 - what the file refuses is named in the run
                self._save_in_parts(file, batch, cause)
            else:
                self.ring.done()
                self._written(list(zip(batch.events, seqs, strict=True)))

    def _save_in_parts(self, file: RunWriter, batch: WriteBatch, cause: Exception) -> None:
        """Write what the file takes of a batch; raises when the rest has to wait."""
        parts = write_in_parts(file.write, batch, cause)
        if parts.left:
            self.ring.keep(parts.left)
        else:
            self.ring.done()
        if parts.refused:
            log.error("%d parts of a batch are not saved", len(parts.refused), exc_info=cause)
        self._written(parts.numbers)
        for part, why in parts.refused:
            if isinstance(part, Event):
                self._refused(part, why)
        if parts.left:
            if isinstance(cause, StoreError | BusyError):
                raise cause
            raise StoreError(f"{file.path}: {type(cause).__name__}: {cause}") from cause

    def _is_well_again(self) -> None:
        self.disk_full = False
        self._ballast.keep_ballast()
        lost = self.ring.dropped
        what = f"{lost} readings were lost" if lost else "nothing was lost"
        self._say("disk_ok", f"the disk has room again; {what}")

    def _finish(self, file: RunWriter, ending: Ending) -> None:
        """End the run, all of which is on the disk."""
        try:
            try:
                ending.results.derived = derived_at_end(file.path)
                for act in ending.results.acts:
                    act.event = act.event or self._number_of(act.at_ns, act.kind)
                file.finish(ending.results, ending.ended_utc_ns)
            except (StoreError, BusyError):
                raise
            except Exception:
                log.exception("a bug: the results are not saved; replay the run")
                file.finish(None, ending.ended_utc_ns)
        except (StoreError, BusyError):
            raise
        except Exception as cause:  # a bug: the run stays open for the next start of a recorder
            self._file = self._ending = None
            file.close()
            ending.command.answer.set_exception(cause)
            raise
        self._file = self._ending = None
        self._ended(ending)


def _in_words(ring: Ring) -> str:
    """Say what waits and can be saved no more, exactly: how many, of what, from when to when."""
    parts = [
        f"{count_text(u.count, 'reading')} of {u.channel}"
        f" from {with_unit(fixed(u.first_ns / 1e9, 2), 's')}"
        f" to {with_unit(fixed(u.last_ns / 1e9, 2), 's')} of the run"
        for u in unsaved_of(ring.waiting())
    ]
    events = sum(len(batch.events) for batch in ring.waiting())
    parts += [count_text(events, "event")] if events else []
    before = ring.dropped
    parts += [f"{count_text(before, 'reading')} before these"] if before else []
    return ", ".join(parts)
