"""Files that a person names: opened only when they are files, and read no further than a limit.

A pipe would be waited for, a device never ends, a folder is none. Used by every room that reads a
file from outside; what is in it is judged by others.
"""

import codecs
import contextlib
import io
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from logger.model.errors import InputError

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

TOO_BIG = "needs more memory than a file of its size may"
_ROOM_BYTES = 400_000_000
_FREE_BYTES = 50_000_000
_ROOM_A_BYTE = 12
_ONLY_LOOK = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_KINDS = {
    stat.S_IFDIR: "a folder",
    stat.S_IFIFO: "a pipe",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFSOCK: "a socket",
}


class _Given(io.FileIO):
    """A file whose reading fails in words that name it, as from a stick that breaks."""

    def __init__(self, handle: int, path: Path) -> None:
        super().__init__(handle, "rb")
        self._path = path

    def readinto(self, buffer: "WriteableBuffer", /) -> int | None:
        try:
            return super().readinto(buffer)
        except OSError as cause:
            raise _unreadable(self._path, cause) from cause

    def readall(self) -> bytes:
        try:
            return super().readall()
        except OSError as cause:
            raise _unreadable(self._path, cause) from cause


def opened(path: Path, most_bytes: int) -> BinaryIO:
    """Open a file for reading bytes.

    Parameters
    ----------
    path : Path
        As it was given.
    most_bytes : int
        Largest size that is read [bytes].

    Raises
    ------
    InputError
        If there is none, it is not an ordinary file, too large, or cannot be read; also when it is
        read later on.
    """
    try:
        handle = os.open(path, _ONLY_LOOK)
    except FileNotFoundError as cause:
        raise InputError(str(path), "no such file", "give the path of an existing file") from cause
    except ValueError as cause:
        raise InputError(
            repr(str(path))[:80], "not the name of a file", "give another path"
        ) from cause
    except OSError as cause:
        raise _unreadable(path, cause) from cause
    try:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            kind = _KINDS.get(stat.S_IFMT(found.st_mode), "not an ordinary file")
            raise InputError(str(path), kind, "give a file")
        if found.st_size > most_bytes:
            wanted = f"give a file of at most {most_bytes}"
            raise InputError(str(path), f"{found.st_size} bytes", wanted)
    except BaseException:
        os.close(handle)
        raise
    return io.BufferedReader(_Given(handle, path))


def bytes_of(path: Path, most_bytes: int) -> bytearray:
    """Return all bytes of a file.

    Parameters
    ----------
    path : Path
        As it was given.
    most_bytes : int
        Largest size that is read [bytes].

    Raises
    ------
    InputError
        As `opened` does, or if the file turns out to be longer.
    """
    with opened(path, most_bytes) as file:
        try:
            data = bytearray()  # by pieces: a whole read takes the room of the limit at once
            while len(data) <= most_bytes and (piece := file.read(1 << 20)):
                data += piece
        except OSError as cause:
            raise _unreadable(path, cause) from cause
    if len(data) > most_bytes:
        wanted = f"give a file of at most {most_bytes}"
        raise InputError(str(path), f"more than {most_bytes} bytes", wanted)
    return data


def text_of(path: Path, most_bytes: int) -> str:
    """Return the text of a file, without a byte order mark.

    Parameters
    ----------
    path : Path
        As it was given.
    most_bytes : int
        Largest size that is read [bytes].

    Raises
    ------
    InputError
        If it cannot be read, or is no UTF-8: with the row where that begins.
    """
    data = bytes_of(path, most_bytes)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        row = data.count(b"\n", 0, cause.start) + 1
        raise InputError(
            f"{path.name}: row {row}", "text that is not UTF-8", "save the file as UTF-8"
        ) from cause


def first_bad_row(path: Path) -> int:
    """Return the row at which a file stops to be UTF-8.

    Parameters
    ----------
    path : Path
        A file that was read before.
    """
    decoder, row = codecs.getincrementaldecoder("utf-8")(), 1
    with path.open("rb") as raw:
        while piece := raw.read(1 << 16):
            try:
                row += decoder.decode(piece).count("\n")
            except UnicodeDecodeError as cause:
                return row + bytes(cause.object).count(b"\n", 0, cause.start)
    return row


def _unreadable(path: Path, cause: OSError) -> InputError:
    return InputError(str(path), f"cannot be read ({cause.strerror})", "check it")


@contextlib.contextmanager
def within_memory(path: Path) -> Iterator[None]:
    """Let what reads a file take 400 MB, and 12 bytes for each byte of it beyond 50 MB.

    A file of a few kilobytes can unpack to gigabytes, wherever its format lets it. For a process
    that does nothing else; without effect where the system keeps no such account.

    Parameters
    ----------
    path : Path
        File or folder that is read.

    Raises
    ------
    InputError
        If it needs more.
    """
    before = _lowered(_size(path))
    try:
        yield
    except MemoryError as cause:
        raise InputError(str(path), TOO_BIG, "split it, or export the run again") from cause
    finally:
        if before is not None:
            _set_data_limit(before)


def _size(path: Path) -> int:
    try:
        parts = path.iterdir() if path.is_dir() else [path]
        return sum(part.stat().st_size for part in parts)
    except (OSError, ValueError):
        return 0


def _lowered(size: int) -> tuple[int, int] | None:
    """Lower the limit of this process's data; return the one before, None where there is none."""
    try:
        import resource

        with open("/proc/self/status", encoding="ascii") as status:
            now = next(int(line.split()[1]) * 1024 for line in status if line[:7] == "VmData:")
        before = resource.getrlimit(resource.RLIMIT_DATA)
    except (ImportError, OSError, StopIteration, ValueError):
        return None
    most = now + _ROOM_BYTES + _ROOM_A_BYTE * max(0, size - _FREE_BYTES)
    soft = before[0]
    _set_data_limit((most if soft == resource.RLIM_INFINITY else min(soft, most), before[1]))
    return before


def _set_data_limit(limits: tuple[int, int]) -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_DATA, limits)
