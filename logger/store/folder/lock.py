"""A lock that the operating system frees when its holder dies, with the holder's name in it.

Used for a data folder (one recorder) and for a run file (one writer). Thin I/O; the time a lock was
taken is the file's own modification time.
"""

import datetime
import json
import os
import socket
import time
from pathlib import Path
from types import TracebackType

from logger.model.errors import BusyError, StoreError

_FAR = 1 << 30
"""Byte that is locked on Windows, where a locked byte cannot be read: past the text."""


_TRIES = 5
_PAUSE_S = 0.01


def lock_path(path: Path) -> Path:
    """Return the lock file of a run file."""
    return path.with_name(path.name + ".lock")


class FileLock:
    """Holds a lock file until it is released or the process ends.

    Parameters
    ----------
    path : Path
        The lock file; made if missing, removed on release.
    what : str
        What it guards, for the message.

    Raises
    ------
    BusyError
        If another holds it; the message has its process, host and since when.
    """

    def __init__(self, path: Path, what: str) -> None:
        self.path = path
        for _ in range(50):
            handle = _open(path)
            if not _insist(handle):
                os.close(handle)
                raise BusyError(f"{what} is held by {holder(path)}; end that one first")
            if _is_still(handle, path):
                break
            os.close(handle)  # removed by the holder before between open and lock
        else:
            raise BusyError(f"{what} is changing hands too fast; try again")
        self._handle: int | None = handle
        text = json.dumps({"pid": os.getpid(), "host": socket.gethostname()}).encode()
        try:
            os.ftruncate(handle, 0)
            os.pwrite(handle, text, 0) if hasattr(os, "pwrite") else os.write(handle, text)
        except OSError:
            # A full disk may leave the name out; the lock holds all the same.
            pass

    def is_there(self) -> bool:
        """Whether the lock file is still the one that is held: its folder was not removed."""
        try:
            return self._handle is not None and _is_still(self._handle, self.path)
        except OSError:
            return False

    def release(self) -> None:
        """Let go and remove the file; twice does no harm."""
        if self._handle is None:
            return
        handle, self._handle = self._handle, None
        if os.name == "nt":  # an open file cannot be removed there
            os.close(handle)
            self.path.unlink(missing_ok=True)
        else:
            self.path.unlink(missing_ok=True)
            os.close(handle)

    def __enter__(self) -> "FileLock":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.release()


def is_held(path: Path) -> bool:
    """Return whether a living process holds the lock file."""
    try:
        handle = os.open(path, os.O_RDWR)
    except FileNotFoundError:
        return False
    except OSError:
        return True
    try:
        return not _try_lock(handle, shared=True)
    finally:
        os.close(handle)


def holder(path: Path) -> str:
    """Return who holds a lock file, in words."""
    try:
        text, stamp = path.read_text("utf-8"), path.stat().st_mtime
        found = json.loads(text)
        since = datetime.datetime.fromtimestamp(stamp).astimezone().strftime("%Y-%m-%d %H:%M:%S")
        return f"process {found['pid']} on {found['host']} since {since}"
    except (OSError, ValueError, KeyError, TypeError):
        return "another process"


def _open(path: Path) -> int:
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as cause:
        raise StoreError(f"{path}: cannot be locked ({cause.strerror})") from cause


def _insist(handle: int) -> bool:
    """Try for a moment: another program's look may be in the way."""
    for _ in range(_TRIES):
        if _try_lock(handle):
            return True
        time.sleep(_PAUSE_S)
    return False


def _is_still(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except FileNotFoundError:
        return False


if os.name == "nt":
    import msvcrt

    def _try_lock(handle: int, *, shared: bool = False) -> bool:
        del shared
        os.lseek(handle, _FAR, os.SEEK_SET)
        try:
            # known to mypy on Windows only
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        except OSError:
            return False
        finally:
            os.lseek(handle, 0, os.SEEK_SET)
        return True

else:
    import fcntl

    def _try_lock(handle: int, *, shared: bool = False) -> bool:
        """Take the lock or return False; a look (`shared`) may collide with a taker, not with a
        look."""
        try:
            fcntl.flock(handle, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
