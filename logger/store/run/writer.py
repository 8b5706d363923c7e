"""Makes and writes one run file: the only connection that writes and checkpoints it.

Belongs to one thread of the recorder (or to the importer). A new file appears under its name only
when it is whole. What ``write`` has returned for is on the disk and survives a kill and a power
cut. Takes all times from its arguments.
"""

import contextlib
import json
import logging
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from types import TracebackType
from typing import Any

import apsw

from logger.model.errors import BadFileError, BusyError, StoreError
from logger.model.event import PHOTO, REMOVE_PHOTO, Event
from logger.model.finding import Results
from logger.model.photos.row import photo_data
from logger.model.plainly import results_as_json
from logger.model.rows import ResultRow
from logger.store.blocks.compaction import compact
from logger.store.folder.lock import FileLock, lock_path
from logger.store.run.birth import make_run_file
from logger.store.run.errors import DiskFullError
from logger.store.run.records import RunHeader, WriteBatch, plain
from logger.store.run.saving import Saver, drop_picture, keep_picture
from logger.store.run.schema import copy_pages, log_path, open_writer, told, transaction
from logger.store.run.tidying import close_without_log, fold_log, see_log_gone, shrink
from logger.store.seals.cut import is_log_gone
from logger.store.seals.tally import LOG_GONE, LOG_TORN
from logger.store.seals.torn import is_torn

log = logging.getLogger(__name__)


class RunWriter:
    """One run file, open for writing. Use `create` or `reopen`."""

    def __init__(self, path: Path, db: apsw.Connection, lock: FileLock) -> None:
        self.path = path
        self._db = db
        self._lock = lock
        self._saver = Saver(db, path, db.pragma("user_version"))
        self._open = True
        self.ended = db.execute("SELECT ended_utc_ns IS NOT NULL FROM run").get == 1

    @classmethod
    def create(cls, path: str | Path, header: RunHeader) -> "RunWriter":
        """Make a run file; it appears under its name only when it is whole.

        Raises
        ------
        StoreError
            If the file exists or cannot be made.
        BusyError
            If another process writes it.
        DiskFullError
            If there is no room.
        """
        path = Path(path)
        lock = FileLock(lock_path(path), f"run {header.run_id}")
        try:
            make_run_file(path, header)
            return cls._start(path, lock)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def reopen(cls, path: str | Path) -> "RunWriter":
        """Open a run file again: to go on after a kill, or to add a note to an ended run.

        Raises
        ------
        BadFileError
            If there is no such run file, or it cannot be read.
        BusyError
            If another process writes it.
        """
        path = Path(path)
        if not path.is_file():
            raise BadFileError(f"{path}: no such run file")
        killed = lock_path(path).exists()
        lock = FileLock(lock_path(path), f"run {path.stem}")
        try:
            return cls._start(path, lock, killed=killed)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def _start(cls, path: Path, lock: FileLock, *, killed: bool = False) -> "RunWriter":
        log_file = log_path(path)
        torn, gone = is_torn(log_file), is_log_gone(path, log_file)
        with told(path):
            db = open_writer(path)
            try:
                writer = cls(path, db, lock)
                if writer.ended or (killed and writer._saver.is_empty):  # killed at its birth
                    gone = False
                for seen, bit in ((torn, LOG_TORN), (gone, LOG_GONE)):
                    if seen:
                        with writer._change():
                            writer._saver.doubt(bit)
                if not writer.ended:
                    db.pragma("journal_mode", "wal")
                    with contextlib.suppress(DiskFullError), writer._change():
                        writer._saver.begin_log()
            except BaseException:
                db.close()
                raise
        return writer

    def write(self, batch: WriteBatch) -> list[int]:
        """Save a batch whole or not at all, on the disk; return the numbers of its events.

        Parameters
        ----------
        batch : WriteBatch
            Readings of known channels. A stamp is rounded down to a whole microsecond; a value that
            is not finite is stored as no value with the flag FAULT.

        Raises
        ------
        DiskFullError
            If there is no room; nothing of the batch was saved, ``error.batch`` is the batch.
        StoreError
            If a channel is unknown, the run has ended, or the disk fails; nothing was saved.
        """
        self._require_open()
        if self.ended and (batch.readings or batch.chunks):
            raise StoreError(f"{self.path}: the run has ended; it takes notes but no more readings")
        try:
            with self._change():
                seqs = self._saver.save(batch)
        except DiskFullError as error:
            error.batch = batch
            raise
        self._saver.commit(batch)
        return seqs

    @contextlib.contextmanager
    def _change(self) -> Iterator[None]:
        """One transaction; where it is rolled back, the saver stands where it stood."""
        self._saver.remember()
        try:
            with told(self.path, self._db), transaction(self._db):
                yield
        except BaseException:
            self._saver.forget()
            raise

    def compact(self, *, force: bool = False) -> None:
        """Turn what has waited long enough into compressed blocks.

        Cheap when there is nothing to do: call it after each write or once a second. A channel is
        due with 4096 readings, or when its first has waited 60 s on the run's axis.

        Parameters
        ----------
        force : bool
            Take all, due or not.

        Raises
        ------
        DiskFullError, StoreError
            As `write`; what was saved stays as it was.
        """
        self._require_open()
        tail = self._saver.tail
        due = tail.due(force=force)
        if due is None:
            return
        with told(self.path, self._db), transaction(self._db):
            since_us = compact(self._db, self._saver.sealer, due)
        tail.compacted(due, since_us)

    def finish(
        self, results: Results | None, ended_utc_ns: int, *, interrupted: bool = False
    ) -> None:
        """End the run: results saved, file compacted, and left as one file where possible.

        Only the results and the end are needed for an ended run; if the disk has no room for the
        rest, or a reader holds the file, the file is whole all the same and a later `reopen` and
        `tidy` does it.

        Parameters
        ----------
        results : Results or None
            What the engine worked out; None keeps what is there.
        ended_utc_ns : int
            [ns since 1970].
        interrupted : bool
            The run had been cut off and is only closed now.

        Raises
        ------
        DiskFullError, StoreError
            If the end itself cannot be saved; the run goes on being a run under way.
        """
        self._require_open()
        with self._change():
            self._saver.save_end(ended_utc_ns, interrupted=interrupted)
            if results is not None:
                self._saver.save_results(json.dumps(plain(results_as_json(results))))
        self.ended = True
        try:
            self.tidy()
        except (StoreError, BusyError) as cause:
            log.warning("%s: saved, but not made smaller: %s", self.path.name, cause)
        else:
            self._db.close()
            see_log_gone(self.path)
        self.close()

    def tidy(self) -> None:
        """Compact all, merge short blocks, give free pages back, and fold the log into the file.

        Raises
        ------
        DiskFullError, StoreError, BusyError
            The file is whole in any case.
        """
        try:
            self.compact(force=True)
            with told(self.path, self._db):
                shrink(self._db, self._saver.sealer, self._saver.channels.values())
        finally:
            if self.ended:
                with told(self.path, self._db):
                    fold_log(self._db, self.path)

    def set_results(self, results: Results, *why: Event) -> list[int]:
        """Save what the engine worked out, with the corrections behind it; return their numbers."""
        self._require_open()
        with self._change():
            seqs = self._saver.save(WriteBatch(events=list(why)))
            self._saver.save_results(json.dumps(plain(results_as_json(results))))
        self._saver.commit(WriteBatch())
        return seqs

    def go_on(self) -> None:
        """Let an ended run be one under way again; what it came to is worked out anew."""
        self._require_open()
        with self._change():
            self._saver.save_end(None, interrupted=False)
            self._saver.save_results(None)
        self.ended = False
        with told(self.path):
            self._db.pragma("journal_mode", "wal")

    def set_outcome(
        self,
        outcome: str | None,
        defects: list[str] | tuple[str, ...] = (),
        note: str = "",
        *,
        new_defects: Sequence[str] = (),
        pieces: Mapping[int, Sequence[str]] | None = None,
        results: Sequence[ResultRow] = (),
        because: str | None = None,
        t_ns: int | None = None,
    ) -> int:
        """Record what came out; return the number of its event. A later outcome replaces it.

        Parameters
        ----------
        outcome : str or None
            ``accepted`` or ``rejected``; None takes it back.
        defects : sequence of str
        note : str
        new_defects : sequence of str
            Those among all defects here that the sheet does not list.
        pieces : mapping or None
            Defects by number of the piece; None leaves what was said of the pieces.
        results : sequence of ResultRow
            What was measured; others stay as they were said.
        because : str or None
            Cause that was found; empty takes it back, None leaves what was said of it.
        t_ns : int or None
            None is the end of what is recorded.

        Raises
        ------
        ValueError
            If the outcome is another word.
        """
        if outcome not in (None, "accepted", "rejected"):
            raise ValueError(f"outcome {outcome!r}: found neither 'accepted' nor 'rejected'")
        new = {"new_defects": list(new_defects)} if new_defects else {}
        why = {} if because is None else {"because": because}
        data: dict[str, Any] = {"outcome": outcome, "defects": list(defects), **new, **why}
        if pieces is not None:
            data["pieces"] = [{"piece": n, "defects": list(d)} for n, d in pieces.items()]
        if results:
            data["results"] = [asdict(row) for row in results]
        return self._say("outcome", note, data, t_ns)

    def add_note(self, text: str, *, t_ns: int | None = None) -> int:
        """Record a note, also after the end; return the number of its event."""
        return self._say("note", text, {}, t_ns)

    def add_photo(self, data: bytes, *, text: str = "", piece: int | None = None) -> int:
        """Add a photo, also after the end; return the number of its event.

        Parameters
        ----------
        data : bytes
            As `require_kept_form` takes it.
        text : str
            What it shows.
        piece : int or None
            Which piece; None for the batch.

        Raises
        ------
        InputError
            If the picture has another form, or the run has enough of them.
        """
        self.keep_picture(data)
        return self._say(PHOTO, text, photo_data(data, piece), None)

    def keep_picture(self, data: bytes) -> None:
        """Save a picture ahead of its event, which the run under way numbers.

        Raises
        ------
        InputError
            If it has another form than `require_kept_form` takes, or the run has enough of them.
        """
        self._require_open()
        photo_data(data)
        with self._change():
            keep_picture(self._db, data)

    def remove_photo(self, sha256: str, *, with_event: bool = True) -> int:
        """Remove a photo, also after the end; return the number of its event, 0 without one.

        Raises
        ------
        InputError
            If the run has no such photo.
        """
        self._require_open()
        with self._change():
            drop_picture(self._db, sha256)
        return self._say(REMOVE_PHOTO, "", {"sha256": sha256}, None) if with_event else 0

    def _say(self, kind: str, text: str, data: dict[str, Any], t_ns: int | None) -> int:
        at = self._saver.tail.last_us * 1000 if t_ns is None else t_ns
        event = Event(t_ns=at, kind=kind, source="operator", text=text, data=data)
        return self.write(WriteBatch(events=[event]))[0]

    def copy_to(self, path: Path) -> None:
        """Copy all that is saved to a new file; works also when this one's name was removed.

        Raises
        ------
        StoreError
            If the new file exists already or cannot be written; nothing of it is left then.
        """
        self._require_open()
        if path.exists():
            raise StoreError(f"{path}: already exists; a run is never overwritten")
        unborn = path.with_name(path.name + ".new")
        try:
            copy_pages(self._db, unborn)
            unborn.rename(path)
        except BaseException:
            unborn.unlink(missing_ok=True)
            raise

    def close(self) -> None:
        """Close without ending the run; twice does no harm."""
        if not self._open:
            return
        self._open = False
        try:
            close_without_log(self._db, self.path, under_way=not self.ended)
        finally:
            self._lock.release()

    def __enter__(self) -> "RunWriter":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _require_open(self) -> None:
        if not self._open:
            raise StoreError(f"{self.path}: closed; open it again to write")
