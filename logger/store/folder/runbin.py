"""Runs that were removed: moved into ``bin`` in the data folder, until somebody empties it by hand.

Thin I/O beside ``datafolder``, whose pattern checks the names. The run being recorded is never
moved: its file is locked.
"""

import contextlib
from collections.abc import Iterator
from pathlib import Path

from logger.model.errors import BainlogError, BusyError, InputError, StoreError
from logger.store.folder.datafolder import RUN_ID, DataFolder
from logger.store.folder.entries import RunEntry, describe, unreadable
from logger.store.folder.lock import FileLock, lock_path
from logger.store.run.format import SUFFIX
from logger.store.run.schema import journal_path, log_path, open_writer, told
from logger.store.run.tidying import fold_log
from logger.store.run.view import RunView

ROOM = "bin"
"""Folder in the data folder."""


class RunBin:
    """The bin of a data folder.

    Parameters
    ----------
    folder : DataFolder
        Whose runs go in and come back.
    """

    def __init__(self, folder: DataFolder) -> None:
        self._folder = folder
        self.path = folder.path / ROOM

    def run_ids(self) -> list[str]:
        """Return the ids of the runs in it, oldest first."""
        names = (path.stem for path in self.path.glob(f"*{SUFFIX}"))
        return sorted(name for name in names if RUN_ID.fullmatch(name))

    def entries(self) -> list[RunEntry]:
        """Return what is known of each run in it, oldest first."""
        return [self._entry(run_id) for run_id in self.run_ids()]

    def size(self, run_id: str) -> int:
        """Return the size of a run in it [bytes]."""
        return sum(path.stat().st_size for path in self._files(self._path(run_id)))

    def put(self, run_id: str) -> None:
        """Move a run into it.

        Parameters
        ----------
        run_id : str
            Of the data folder.

        Raises
        ------
        InputError
            If the run is being recorded or changed, or one of its id is in the bin.
        StoreError
            If it cannot be moved.
        """
        path, place = self._folder.run_path(run_id), self._path(run_id)
        if place.exists():
            raise InputError(f"run {run_id}", "is already in the bin", "empty the bin first")
        with self._held(path, run_id):
            _make_one(path)
            self._move(path, place)

    def put_back(self, text: str) -> str:
        """Move a run back to the others; return its id.

        Parameters
        ----------
        text : str
            Its id, or the beginning or end of it that fits one run in the bin.

        Raises
        ------
        InputError
            If no run or more than one fits, or a run of its id is among the others.
        StoreError
            If it cannot be moved.
        """
        run_id = self._find(text)
        path, place = self._path(run_id), self._folder.run_path(run_id)
        if place.exists():
            raise InputError(f"run {run_id}", "is already among the runs", "remove that one first")
        with self._held(place, run_id):
            self._move(path, place)
        return run_id

    def empty(self, run_ids: list[str]) -> None:
        """Delete runs in it for good.

        Parameters
        ----------
        run_ids : list of str
            Those that were named to the person before.

        Raises
        ------
        StoreError
            If one cannot be deleted.
        """
        for run_id in run_ids:
            for path in reversed(self._files(self._path(run_id))):
                try:
                    path.unlink(missing_ok=True)
                except OSError as cause:
                    raise StoreError(f"{path}: cannot be deleted ({cause.strerror})") from cause

    def _path(self, run_id: str) -> Path:
        return self.path / self._folder.run_path(run_id).name

    def _find(self, text: str) -> str:
        ids = self.run_ids()
        fitting = [i for i in ids if text and (i.startswith(text) or i.endswith(text))]
        if text in fitting or len(fitting) == 1:
            return text if text in fitting else fitting[0]
        if fitting:
            raise InputError(
                f"{text!r}",
                f"{len(fitting)} runs in the bin have it in their id",
                "give one whole id",
            )
        there = f"it holds {', '.join(ids[-3:])}" if ids else "it is empty"
        raise InputError(f"{text!r}", "there is no such run in the bin", there)

    def _entry(self, run_id: str) -> RunEntry:
        try:
            view = RunView(self._path(run_id))
            with view.together():
                return describe(view, run_id)
        except (BainlogError, ValueError) as cause:
            return unreadable(self._path(run_id), run_id, str(cause))

    @contextlib.contextmanager
    def _held(self, path: Path, run_id: str) -> Iterator[None]:
        """Hold the lock of a run among the others."""
        try:
            lock = FileLock(lock_path(path), f"run {run_id}")
        except BusyError as cause:
            raise InputError(
                f"run {run_id}", "is being recorded or changed", "end it first, then remove it"
            ) from cause
        with lock:
            yield

    def _move(self, path: Path, place: Path) -> None:
        try:
            self.path.mkdir(mode=0o700, exist_ok=True)
            for source in self._files(path):
                source.rename(place.with_name(place.name + source.name.removeprefix(path.name)))
        except OSError as cause:
            raise StoreError(f"{path}: cannot be moved ({cause.strerror})") from cause

    @staticmethod
    def _files(path: Path) -> list[Path]:
        """Return a run file and what lies beside one that could not be made one file."""
        return [p for p in (log_path(path), journal_path(path), path) if p.exists()]


def _make_one(path: Path) -> None:
    """Fold a log that a kill left beside a run into it; one that is damaged stays as it is."""
    if not (log_path(path).exists() or journal_path(path).exists()):
        return
    with contextlib.suppress(StoreError, BusyError):
        db = None
        try:
            with told(path):
                db = open_writer(path)
                fold_log(db, path)
        finally:
            if db is not None:
                db.close()
