"""What a page may reach: the recorder through its control line, run files and catalog, read only.

One object an app, handed to each page's ``register``. A run is asked for by its id, which the data
folder checks against a pattern; no text of a request becomes a path. The store is imported at
first use: the live page must open, and say so, where there is no run file yet.
"""

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from dashboard.answers import Described
from dashboard.stores import decode
from dashboard.tryout import TryOut
from logger.control.client import Client, GoneError, RefusedError
from logger.model.bench import Bench
from logger.model.state import State

if TYPE_CHECKING:
    from logger.store.folder.catalog import Catalog
    from logger.store.folder.datafolder import DataFolder
    from logger.store.run.view import RunView

Answer = TypeVar("Answer")


class Links:
    """Recorder and data folder of one screen.

    Parameters
    ----------
    data_dir : Path
        The data folder.
    client : Client or None
        Another way to the recorder, for tests.
    try_out : TryOut or None
        Starts the virtual bench beside this screen; None where it can't be started from here.
    instead : mapping
        Alternatives that the start dialog has chosen already, by ingredient of the sheet that the
        recorder was started with.
    """

    def __init__(
        self,
        data_dir: Path,
        client: Client | None = None,
        *,
        try_out: TryOut | None = None,
        instead: Mapping[str, str] | None = None,
    ) -> None:
        self.try_out = try_out
        self.instead = dict(instead or {})
        self.data_dir = data_dir
        self._client = client if client is not None else Client(data_dir)
        # What is only looked at must not wait behind a command that takes long.
        self._watching = client if client is not None else Client(data_dir)
        self._lock = threading.Lock()
        self._folder: DataFolder | None = None
        self._looking = threading.RLock()
        self._kept: tuple[tuple[str, int], RunView] | None = None

    def state(self) -> State | None:
        """Return the recorder's state, or None when no recorder answers."""
        try:
            return self._watching.state()
        except (GoneError, RefusedError):
            return None

    def send(self, do: str, about: Mapping[str, object], answer: type[Answer]) -> Answer:
        """Send a command and return what the recorder answers once it is done.

        Parameters
        ----------
        do : str
            The command.
        about : mapping
            What it is about.
        answer : type
            Record of ``dashboard.answers`` that the answer is.

        Raises
        ------
        RefusedError
            If the recorder refuses it, or answers something else.
        GoneError
            If no recorder answers.
        """
        found = decode(answer, self._client.send(do, **about))
        if found is None:
            raise RefusedError("the recorder is of another version than this screen")
        return found

    def bench(self) -> Bench | None:
        """Return the bench that the recorder works with, or None when no recorder answers."""
        try:
            found = decode(Described, self._watching.ask("describe"))
        except (GoneError, RefusedError):
            return None
        return found.bench if found is not None else None

    def own_sheet(self) -> str | None:
        """Return the text of the sheet that the recorder was started with, or None."""
        try:
            found = decode(Described, self._watching.ask("describe"))
        except (GoneError, RefusedError):
            return None
        return found.sheet if found is not None else None

    def is_kept(self) -> bool:
        """Whether a command looks after the recorder: one that ended is replaced by it."""
        from logger.store.folder.datafolder import KEEPER_LOCK
        from logger.store.folder.lock import is_held

        return is_held(self.data_dir / KEEPER_LOCK)

    def is_new(self) -> bool:
        """Whether nothing was ever set up or recorded in this data folder."""
        folder = self.folder()
        return not (folder.path / "bench.toml").exists() and not folder.run_ids()

    def folder(self) -> "DataFolder":
        """Return the data folder, opened at first use."""
        with self._lock:
            if self._folder is None:
                from logger.store.folder.datafolder import DataFolder

                self._folder = DataFolder(self.data_dir)
            return self._folder

    def open_run(self, run_id: str, *, tolerant: bool = False) -> "RunView":
        """Open a run's file for reading; the folder checks that the text is a run id.

        Parameters
        ----------
        run_id : str
            The run.
        tolerant : bool
            Leave out what is damaged; for pages that say so.

        Raises
        ------
        InputError
            If it is no run id.
        StoreError
            If there is no such run, or its file does not read.
        """
        from logger.store.run.view import RunView

        return RunView.open(self.folder().run_path(run_id), tolerant=tolerant)

    @contextmanager
    def look_closer(self, run_id: str) -> "Iterator[RunView]":
        """Look at a run's file as one that is zoomed into: tolerant, from one snapshot.

        The view of the run that was looked at last is kept: what was found whole in its file is not
        compared with its seals again. It holds no file between two looks.

        Parameters
        ----------
        run_id : str
            The run.

        Raises
        ------
        InputError
            If it is no run id.
        StoreError
            If there is no such run, or its file does not read.
        """
        with self._looking:
            path = self.folder().run_path(run_id)
            mark = run_id, path.stat().st_ino if path.exists() else 0
            if self._kept is None or self._kept[0] != mark:
                self._kept = None
                self._kept = mark, self.open_run(run_id, tolerant=True)
            view = self._kept[1]
            with view.together():
                yield view

    def catalog(self) -> "Catalog":
        """Return the list of runs."""
        from logger.store.folder.catalog import Catalog

        return Catalog(self.folder())

    def sheets(self) -> list[str]:
        """Return the names of the sheets that a batch can be started with."""
        return list(self.folder().sheet_names())
