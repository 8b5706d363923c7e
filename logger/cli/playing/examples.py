"""Finished runs to look back at, for a data folder that has none.

Batches of the virtual bench, good ones and one of each root cause, made by ``python -m
tests.examples`` and shipped packed.
"""

import contextlib
import tarfile
import threading
from collections.abc import Callable
from importlib import resources
from pathlib import PurePath

from logger.model.errors import BainlogError, StoreError
from logger.store.folder.datafolder import DataFolder
from logger.store.run.format import SUFFIX
from logger.store.run.writer import RunWriter

NAME = "examples.tar.xz"


def put_examples(
    folder: DataFolder, told: Callable[[str], None] = lambda text: None, *, is_new: bool = False
) -> int:
    """Put the finished runs into a data folder that has no run yet; return how many.

    Parameters
    ----------
    folder : DataFolder
        The data folder.
    told : callable
        Told how far it is, in words.
    is_new : bool
        Whether it was seen already that the folder has no run; one may have begun since.

    Raises
    ------
    StoreError
        If they cannot be written.
    """
    if not is_new and folder.run_ids():
        return 0
    try:
        return _unpack(folder, told)
    except OSError as cause:
        raise StoreError(
            f"{folder.runs}: the example runs cannot be written ({cause.strerror}); "
            "make room, or give another --data"
        ) from cause


def _unpack(folder: DataFolder, told: Callable[[str], None]) -> int:
    count = 0
    pack = resources.files("logger.cli").joinpath(NAME)
    with pack.open("rb") as file, tarfile.open(fileobj=file, mode="r:xz") as tar:
        for member in tar:
            name = PurePath(member.name)
            content = tar.extractfile(member) if name.suffix == SUFFIX else None
            if content is None:
                continue
            path = folder.run_path(name.stem)
            unborn = path.with_name(path.name + ".new")
            with contextlib.closing(content):
                unborn.write_bytes(content.read())
            # The pack is older than the seals: opening a file to write it puts them on.
            RunWriter.reopen(unborn).close()
            unborn.rename(path)
            count += 1
            told(f"Unpacking example runs: {count}")
    return count


class Examples(threading.Thread):
    """Puts the finished runs into an empty data folder while the bench and the recorder start.

    Parameters
    ----------
    folder : DataFolder
        The data folder; one that has a run already gets none.
    told : callable
        Told how far it is, in words.

    Attributes
    ----------
    count : int
        How many there are now.
    """

    def __init__(self, folder: DataFolder, told: Callable[[str], None]) -> None:
        super().__init__(name="examples", daemon=True)
        self.count = 0
        self._folder, self._told = folder, told
        self._failure: BainlogError | None = None
        if not folder.run_ids():  # the first run of the demo itself must not count
            self.start()

    def run(self) -> None:
        """Unpack them; a failure is kept for who waits."""
        try:
            self.count = put_examples(self._folder, self._told, is_new=True)
        except BainlogError as cause:
            self._failure = cause

    def wait(self) -> int:
        """Wait until all are there; return how many.

        Raises
        ------
        StoreError
            If they cannot be written.
        """
        if self.ident is not None:
            self.join()
        if self._failure is not None:
            failure, self._failure = self._failure, None
            raise failure
        return self.count
