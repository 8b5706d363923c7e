"""A consistent copy of a data folder, also while it is recorded into, and a folder made from one.

A copy is a folder, or one zip file, with ``backup.json`` in it: each file's size and SHA-256. Runs
are copied in one snapshot each and opened afterwards; the whole appears under its name only when it
is complete. Of a copy that is restored only files of known places are taken, and only those that
the list names and that are as it says.
"""

import contextlib
import hashlib
import json
import re
import shutil
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from logger.model.errors import InputError, StoreError
from logger.store.folder.datafolder import RUN_ID, DataFolder
from logger.store.folder.scratch import scratch_folder, sweep
from logger.store.run.format import SUFFIX
from logger.store.run.schema import copy_pages, journal_path, log_path, reading, require_sqlite
from logger.store.run.tidying import sync_path
from logger.store.run.view import RunView

LIST = "backup.json"
_VERSION = 1
_UNBORN = ".new"
"""What the name of a copy ends in until it is complete."""
_PIECE = 1024 * 1024
_LIST_BYTES = 16_000_000
_RUN = re.compile(rf"(?:runs|bin)/{RUN_ID.pattern}{re.escape(SUFFIX)}", re.ASCII)
_NAME = "[A-Za-z0-9_-][A-Za-z0-9 ._-]{0,99}"
_TEXT = re.compile(rf"(?:sheets/(?:{_NAME}/){{0,2}})?{_NAME}\.toml", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """One file of a copy.

    Attributes
    ----------
    name : str
        Its place in the data folder, with ``/``.
    size : int
        [bytes].
    sha256 : str
        Of the copy.
    problem : str
        What is wrong with a run, here as in the original; empty for nothing.
    """

    name: str
    size: int
    sha256: str
    problem: str = ""

    @property
    def is_run(self) -> bool:
        """Whether it is a run."""
        return _RUN.fullmatch(self.name) is not None


def back_up(folder: DataFolder, target: Path) -> list[Copied]:
    """Copy a data folder, whole or not at all.

    Lock, address, catalog and ballast are left out: a folder makes its own. So is what lies in
    other folders than those of runs, sheets and the bin.

    Parameters
    ----------
    folder : DataFolder
        May be recorded into meanwhile.
    target : Path
        Must not exist yet, and lie outside the data folder. A name that ends in ``.zip`` makes one
        file.

    Raises
    ------
    InputError
        If the target cannot be used.
    StoreError
        If something cannot be read or written; nothing is left behind then.
    """
    target = target.absolute()
    if target.exists():
        raise InputError(str(target), "already exists", "give another name")
    if target.resolve().is_relative_to(folder.path.resolve()):
        raise InputError(str(target), "is in the data folder itself", "copy to another place")
    with _fresh(target) as (scratch, complete):
        if target.suffix == ".zip":
            packed, stage = scratch / target.name, scratch / "stage"
            with zipfile.ZipFile(packed, "x", zipfile.ZIP_STORED) as file:
                copied = []
                for name, source in _parts(folder):
                    copied.append(_copy(name, source, stage / name))
                    file.write(stage / name, name)
                    (stage / name).unlink()
                file.writestr(LIST, _list_text(copied))
            _check_zip(packed)
            sync_path(packed)
            complete(packed)
        else:
            copied = [_copy(n, source, scratch / n) for n, source in _parts(folder)]
            (scratch / LIST).write_text(_list_text(copied), "utf-8")
            sync_path(scratch / LIST)
            complete(scratch)
    return copied


def restore_folder(source: Path, target: Path) -> list[Copied]:
    """Make a data folder from a copy, whole or not at all.

    Parameters
    ----------
    source : Path
        Folder or zip file that `back_up` made.
    target : Path
        Data folder that is not there yet or holds no file.

    Raises
    ------
    InputError
        If it is no such copy, something in it is not as its list says, or the target holds files.
    StoreError
        If something cannot be read or written; nothing is left behind then.
    """
    target = target.absolute()
    if target.exists() and (not target.is_dir() or any(p.is_file() for p in target.rglob("*"))):
        raise InputError(
            str(target), "already holds files", "restore into a new or an empty folder"
        )
    with _opened(source) as copy, _fresh(target) as (scratch, complete):
        copied, listed = [], copy.listed()
        _require_room(target, listed)
        for part in listed:
            place = scratch / part.name
            place.parent.mkdir(parents=True, exist_ok=True)
            with copy.open(part.name) as read, place.open("xb") as write:
                size, digest = _pour(read, write, part.size)
            if (size, digest) != (part.size, part.sha256):
                raise InputError(
                    f"{source}: {part.name}", "is not as it was copied", "use another copy"
                )
            sync_path(place)
            copied.append(
                Copied(name=part.name, size=size, sha256=digest, problem=_problem(part, place))
            )
        if target.exists():
            shutil.rmtree(target)  # nothing but empty folders
        complete(scratch)
    return copied


def sweep_cut_off(target: Path) -> list[Path]:
    """Remove what killed copies left beside a target; return the folders that were removed.

    A copy that is still being made is left alone.

    Parameters
    ----------
    target : Path
        As of `back_up` or `restore_folder`.
    """
    return sweep(target.absolute().parent, ".", _UNBORN)


def _require_room(target: Path, listed: list[Copied]) -> None:
    needed = sum(one.size for one in listed)
    free = shutil.disk_usage(target.parent).free
    if needed > free:
        raise InputError(
            str(target), f"has {free / 1e6:.0f} MB free, {needed / 1e6:.0f} MB needed", "make room"
        )


def _parts(folder: DataFolder) -> Iterator[tuple[str, Path]]:
    """Yield name and path of what belongs into a copy; what people wrote first."""
    for path in sorted([*folder.path.glob("*.toml"), *folder.sheets.rglob("*.toml")]):
        name = path.relative_to(folder.path).as_posix()
        if _TEXT.fullmatch(name) and path.is_file():
            yield name, path
    for room in ("runs", "bin"):
        for path in sorted((folder.path / room).glob(f"*{SUFFIX}")):
            name = f"{room}/{path.name}"
            if _RUN.fullmatch(name) and path.is_file():
                yield name, path


def _copy(name: str, source: Path, place: Path) -> Copied:
    """Copy one file and look at the copy."""
    place.parent.mkdir(parents=True, exist_ok=True)
    try:
        if _RUN.fullmatch(name):
            _copy_run(source, place)
        else:
            shutil.copyfile(source, place)
        sync_path(place)
        with place.open("rb") as read:
            size, digest = _pour(read, None, None)
    except FileNotFoundError as cause:
        raise StoreError(f"{source}: was removed while it was being copied; start again") from cause
    except OSError as cause:
        if isinstance(cause, StoreError):
            raise
        raise StoreError(f"{source}: cannot be copied ({cause.strerror})") from cause
    made = Copied(name=name, size=size, sha256=digest)
    return Copied(name=name, size=size, sha256=digest, problem=_problem(made, place))


def _copy_run(source: Path, place: Path) -> None:
    """Copy a run in one snapshot; one that cannot be read is copied as it lies there."""
    require_sqlite()
    try:
        with reading(source) as db:
            db.execute("SELECT count(*) FROM run").fetchall()  # takes the snapshot
            if log_path(source).exists() or journal_path(source).exists():
                copy_pages(db, place)
            else:
                shutil.copyfile(source, place)
    except StoreError:
        place.unlink(missing_ok=True)
        shutil.copyfile(source, place)


def _problem(part: Copied, place: Path) -> str:
    """Return what is wrong with a run, in words; empty for nothing and for other files."""
    if not part.is_run:
        return ""
    try:
        with RunView.open(place) as view:
            found = str(view.check())
        return "" if found == "ok" else found
    except StoreError as cause:
        return str(cause).replace(str(place), part.name)


def _pour(read: BinaryIO, write: BinaryIO | None, most: int | None) -> tuple[int, str]:
    """Read to the end, or to just past `most` bytes; return size [bytes] and SHA-256."""
    digest, size = hashlib.sha256(), 0
    while piece := read.read(_PIECE):
        size += len(piece)
        if most is not None and size > most:
            break
        digest.update(piece)
        if write is not None:
            write.write(piece)
    return size, digest.hexdigest()


def _list_text(copied: list[Copied]) -> str:
    files = {one.name: {"size": one.size, "sha256": one.sha256} for one in copied}
    return json.dumps({"bainlog backup": _VERSION, "files": files}, indent=1)


def _check_zip(packed: Path) -> None:
    with zipfile.ZipFile(packed) as file:
        if (bad := file.testzip()) is not None:
            raise StoreError(f"{packed}: {bad} can't be read back; check the disk")


@contextlib.contextmanager
def _fresh(target: Path) -> "Iterator[tuple[Path, _Complete]]":
    """Give a new folder beside a target and what puts a thing of it in the target's place."""
    with contextlib.ExitStack() as end:
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            scratch = end.enter_context(scratch_folder(target.parent, f".{target.name}.", _UNBORN))
        except OSError as cause:
            root = cause.__cause__ if isinstance(cause, StoreError) else cause
            why = getattr(root, "strerror", None) or cause
            raise StoreError(f"{target}: cannot be made ({why})") from cause
        try:
            yield scratch, _Complete(target)
        except OSError as cause:
            if isinstance(cause, StoreError):
                raise
            raise StoreError(f"{target}: cannot be written ({cause.strerror})") from cause


class _Complete:
    """Puts what is complete under its name, so that it survives a power cut."""

    def __init__(self, target: Path) -> None:
        self._target = target

    def __call__(self, made: Path) -> None:
        if made.is_dir():
            for folder in (made, *(p for p in made.rglob("*") if p.is_dir())):
                sync_path(folder)
        made.rename(self._target)
        sync_path(self._target.parent)


class _Copy:
    """A copy that is read: a folder, or a zip file."""

    def __init__(self, source: Path, packed: zipfile.ZipFile | None) -> None:
        self._source = source
        self._packed = packed

    def open(self, name: str) -> BinaryIO:
        """Open one of its files.

        Raises
        ------
        InputError
            If it is not there or cannot be read.
        """
        try:
            if self._packed is not None:
                # It is IO[bytes], which the zip file's own types do not call binary.
                return self._packed.open(name)  # type: ignore[return-value]  # as above
            path = self._source / name
            if path.is_symlink() or not path.is_file():  # a pipe or a device would never end
                raise FileNotFoundError(name)
            return path.open("rb")
        except (OSError, KeyError, RuntimeError, NotImplementedError) as cause:
            raise InputError(
                f"{self._source}: {name}", "cannot be read", "use a whole copy"
            ) from cause

    def listed(self) -> list[Copied]:
        """Return what its list names.

        Raises
        ------
        InputError
            If the list does not read, or names a file outside the known places.
        """
        where = f"{self._source}: {LIST}"
        with self.open(LIST) as file:
            text = file.read(_LIST_BYTES + 1)
        try:
            found: Any = json.loads(text) if len(text) <= _LIST_BYTES else None
            files: Any = found["files"] if found["bainlog backup"] == _VERSION else None
            parts = [
                Copied(name=str(name), size=int(one["size"]), sha256=str(one["sha256"]))
                for name, one in files.items()
            ]
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as cause:
            raise InputError(where, "can't be read", "use a copy of 'bainlog backup'") from cause
        for part in parts:
            if not (part.is_run or _TEXT.fullmatch(part.name)):
                raise InputError(
                    where,
                    f"{part.name[:80]!r} does not belong in a data folder",
                    "use another copy",
                )
        return parts


@contextlib.contextmanager
def _opened(source: Path) -> Iterator[_Copy]:
    """Open a copy for reading.

    Raises
    ------
    InputError
        If it is neither a folder nor a zip file.
    """
    if source.is_dir():
        yield _Copy(source, None)
        return
    try:
        packed = zipfile.ZipFile(source) if source.is_file() else None
    except (OSError, zipfile.BadZipFile, ValueError, NotImplementedError):
        packed = None
    if packed is None:
        if not source.exists():
            raise InputError(str(source), "no such file", "give a copy of 'bainlog backup'")
        raise InputError(
            str(source), "is not a copy of a data folder", "give one that 'bainlog backup' made"
        )
    with packed:
        try:
            yield _Copy(source, packed)
        except (zipfile.BadZipFile, EOFError) as cause:
            raise InputError(str(source), "is damaged", "use another copy") from cause
