"""Folders for the time of one task, and the sweeping of those that a kill left behind.

Thin I/O. A folder that a living process uses has a held lock file beside it, so one whose lock
nobody holds belongs to nobody. Used for copies of a data folder and for a demo's terminals.
"""

import contextlib
import os
import re
import secrets
import shutil
from collections.abc import Iterator
from pathlib import Path

from logger.model.errors import BusyError, StoreError
from logger.store.folder.lock import FileLock, lock_path

_DIGITS = "[0-9a-f]{12}"


@contextlib.contextmanager
def scratch_folder(parent: Path, prefix: str, suffix: str = "") -> Iterator[Path]:
    """Give a new folder; it is removed at the end, unless it was moved away.

    Parameters
    ----------
    parent : Path
        Where it is made.
    prefix, suffix : str
        What its name begins and ends with.

    Raises
    ------
    StoreError
        If it cannot be made.
    """
    place = parent / f"{prefix}{secrets.token_hex(6)}{suffix}"
    with FileLock(lock_path(place), f"the folder {place}"):
        try:
            place.mkdir(mode=0o700)
        except OSError as cause:
            raise StoreError(f"{place}: cannot be made ({cause.strerror})") from cause
        try:
            yield place
        finally:
            shutil.rmtree(place, ignore_errors=True)


def sweep(parent: Path, prefix: str, suffix: str = "") -> list[Path]:
    """Remove the folders whose process was killed; return them.

    Only what this user made by `scratch_folder` and what no process holds is touched.

    Parameters
    ----------
    parent : Path
        Where to look.
    prefix, suffix : str
        As they were given to `scratch_folder`; a longer prefix is swept, too.
    """
    name = re.compile(rf"{re.escape(prefix)}.*{_DIGITS}{re.escape(suffix)}\.lock", re.DOTALL)
    swept: list[Path] = []
    try:
        locks = [path for path in parent.iterdir() if name.fullmatch(path.name)]
    except OSError:
        return swept
    for path in sorted(locks):
        place = path.with_name(path.name.removesuffix(".lock"))
        if not _is_own_file(path):
            continue
        with contextlib.suppress(BusyError, StoreError), FileLock(path, f"the folder {place}"):
            if place.is_dir() and not place.is_symlink():
                shutil.rmtree(place, ignore_errors=True)
                swept.append(place)
    return swept


def _is_own_file(path: Path) -> bool:
    """Whether a path is an ordinary file of this user, and no link to one."""
    try:
        about = path.lstat()
    except OSError:
        return False
    mine = about.st_uid == getattr(os, "geteuid", lambda: about.st_uid)()
    return mine and path.is_file() and not path.is_symlink()
