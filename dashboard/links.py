"""What a page may reach: the recorder through its control line, run files and catalog, read only.

One object an app, handed to each page's ``register``. A run is asked for by its id, which the data
folder checks against a pattern; no text of a request becomes a path. The store is imported at
first use: the live page must open, and say so, where there is no run file yet.
"""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from logger.control.client import Client, GoneError, RefusedError

TryOut = Callable[..., dict[str, Any]]


class Links:
    """Recorder and data folder of one screen.

    Parameters
    ----------
    data_dir : Path
        The data folder.
    client : Client or None
        Another way to the recorder, for tests.
    try_out : callable or None
        ``try_out(begin=...)`` starts the virtual bench beside this screen and says how it stands:
        ``{"url", "busy", "failed"}``. None where it can't be started from here.
    """

    def __init__(
        self, data_dir: Path, client: Any = None, *, try_out: TryOut | None = None
    ) -> None:
        self.try_out = try_out
        self.data_dir = data_dir
        self._client = client if client is not None else Client(data_dir)
        self._lock = threading.Lock()
        self._folder: Any = None

    def state(self) -> dict[str, Any] | None:
        """Return the recorder's state as JSON values, or None when no recorder answers."""
        try:
            return dict(self._client.state())
        except (GoneError, RefusedError):
            return None

    def send(self, kind: str, data: dict[str, Any]) -> dict[str, Any]:
        """Send a command; see ``logger.control.client.Client.send`` for what it raises."""
        return dict(self._client.send(kind, **data))

    def ask(self, what: str, data: dict[str, Any] | None = None) -> Any:
        """Ask the recorder something that is no event of a run; None when it does not answer."""
        try:
            return self._client.ask(what, **(data or {}))
        except (GoneError, RefusedError):
            return None

    def is_new(self) -> bool:
        """Whether nothing was ever set up or recorded in this data folder."""
        folder = self.folder()
        return not (folder.path / "bench.toml").exists() and not folder.run_ids()

    def folder(self) -> Any:
        """Return the data folder, opened at first use."""
        with self._lock:
            if self._folder is None:
                from logger.store.folder.datafolder import DataFolder

                self._folder = DataFolder(self.data_dir)
            return self._folder

    def open_run(self, run_id: str) -> Any:
        """Open a run's file for reading; the folder checks that the text is a run id.

        Raises
        ------
        InputError
            If it is no run id.
        StoreError
            If there is no such run, or its file does not read.
        """
        from logger.store.run.runfile import RunView

        return RunView.open(self.folder().run_path(run_id))

    def catalog(self) -> Any:
        """Return the list of runs."""
        from logger.store.folder.catalog import Catalog

        return Catalog(self.folder())

    def sheets(self) -> list[str]:
        """Return the names of the sheets that a batch can be started with."""
        return list(self.folder().sheet_names())
