"""The folder in which runs, sheets and the bench file lie.

``runs/<run id>.run``, ``sheets/<name>.sheet.toml``, ``bench.toml``, ``fats.toml``, ``slabs.toml``,
the catalog, the lock of the one recorder, and a ballast file that is thrown overboard when the disk
is full. Names from outside are checked against a pattern; no path is ever taken from a request.
"""

import contextlib
import datetime
import logging
import os
import re
import secrets
import shutil
import stat
import time
import unicodedata
from pathlib import Path
from zoneinfo import ZoneInfo

from logger.model.errors import BainlogError, InputError, StoreError
from logger.store.folder.lock import FileLock
from logger.store.run.format import SUFFIX
from logger.store.run.schema import journal_path, log_path
from logger.store.run.view import RunView

RUN_ID = re.compile(r"\d{8}-\d{4}-[0-9a-f]{4}", re.ASCII)
SHEET_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,79}", re.ASCII)
SHEET_SUFFIX = ".sheet.toml"
_TAKEN = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)
"""Names that belong to devices where a disk is shared with Windows; from memory."""
_SPELLED = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe", "ø": "o", "Ø": "O"}
)
RECORDER_LOCK, KEEPER_LOCK = "recorder.lock", "keeper.lock"
"""Held in a data folder by its recorder, and by the command that looks after it."""
ZONES_APART = datetime.timedelta(hours=26)
"""Clocks on earth show times at most this far apart."""
MOST_LOOKED_AT = 50
"""Runs of which the file is asked which is the newest: more than a bench makes in that time."""
BALLAST_BYTES = 8 * 1024 * 1024
"""Room for some ten minutes of a full bench while the disk is full."""
_PIECE = 1024 * 1024
_ONLY_MINE = 0o700
_OTHERS = 0o077

log = logging.getLogger(__name__)


def safe_sheet_name(name: str) -> str:
    """Return a name that every disk takes, as near to the one that was given as can be.

    Parameters
    ----------
    name : str
        As it was typed.
    """
    plain = unicodedata.normalize("NFKD", name.translate(_SPELLED)).encode("ascii", "ignore")
    found = re.sub(r"[^A-Za-z0-9 _-]+", "-", re.sub("['`]", "", plain.decode()))
    found = re.sub(r"\s+", " ", found).strip(" -_")[:80].rstrip(" -_") or "sheet"
    return f"{found} sheet" if _TAKEN.fullmatch(found) else found


def _tighten(folder: Path) -> None:
    """Let nobody else in where the folder is this user's own; others' and shared ones are left."""
    found = folder.stat()
    own = found.st_uid == getattr(os, "geteuid", lambda: -1)()
    if own and found.st_mode & _OTHERS and not found.st_mode & stat.S_ISVTX:
        folder.chmod(_ONLY_MINE)
        log.info("%s was open to other users of this machine; now it is yours alone", folder)


class DataFolder:
    """One data folder.

    Parameters
    ----------
    path : str or Path
        Made with its rooms if missing.

    Raises
    ------
    StoreError
        If it cannot be made.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self.runs = self.path / "runs"
        self.sheets = self.path / "sheets"
        self.bench_file = self.path / "bench.toml"
        self.fats_file = self.path / "fats.toml"
        self.slabs_file = self.path / "slabs.toml"
        self.catalog_file = self.path / "catalog.sqlite"
        self.ballast_file = self.path / "ballast"
        was_ours = self.runs.is_dir()
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            for place in (self.path, self.runs, self.sheets):
                place.mkdir(mode=_ONLY_MINE, exist_ok=True)
            if was_ours and self.path.resolve() != Path("~").expanduser():
                _tighten(self.path)
            _tighten(self.runs)
        except OSError as cause:
            if not self.runs.is_dir():
                raise StoreError(f"{self.path}: cannot be made ({cause.strerror})") from cause

    def lock(self) -> FileLock:
        """Take the folder for a recorder; freed on release or when the process dies.

        Raises
        ------
        BusyError
            If another recorder has it; the message names its process, host and since when.
        """
        return FileLock(self.path / RECORDER_LOCK, f"data folder {self.path}")

    def new_run_id(self, started_utc_ns: int | None = None, zone: str | None = None) -> str:
        """Return a free run id such as ``20261125-0913-a3f2``: local date and time and four digits.

        Parameters
        ----------
        started_utc_ns : int or None
            [ns since 1970]; None is now.
        zone : str or None
            IANA name, an unknown one counts as UTC; None is the zone of this machine.
        """
        place: datetime.tzinfo | None = None
        if zone is not None:
            try:
                place = ZoneInfo(zone)
            except (KeyError, ValueError, OSError):
                place = datetime.UTC
        # The one clock the store looks at, and only for a name.
        now_s = time.time() if started_utc_ns is None else started_utc_ns / 1e9
        start = datetime.datetime.fromtimestamp(now_s, place)
        while True:
            run_id = f"{start:%Y%m%d-%H%M}-{secrets.token_hex(2)}"
            if not self.run_path(run_id).exists():
                return run_id

    def run_path(self, run_id: str) -> Path:
        """Return the run file of an id, whether it exists or not.

        Raises
        ------
        InputError
            If it is no run id.
        """
        if RUN_ID.fullmatch(run_id) is None:
            raise InputError(
                f"{run_id!r}", "there is no such run", "give an id such as 20261125-0913-a3f2"
            )
        return self.runs / f"{run_id}{SUFFIX}"

    def run_ids(self) -> list[str]:
        """Return the ids of all run files, oldest first."""
        names = (path.stem for path in self.runs.glob(f"*{SUFFIX}"))
        return sorted(name for name in names if RUN_ID.fullmatch(name))

    def newest_run(self) -> str | None:
        """Return the id of the run that was started last, or None without any.

        An id holds the minute of a place, which says nothing of two runs in one minute, in two
        places, or around the end of summer time: of the newest by name, the files say it.
        """
        ids = self.run_ids()
        if not ids:
            return None
        latest = _stamp(ids[-1])
        near = [i for i in ids[-MOST_LOOKED_AT:] if latest - _stamp(i) <= ZONES_APART]
        return max(near, key=self._started_ns) if len(near) > 1 else ids[-1]

    def _started_ns(self, run_id: str) -> tuple[int, str]:
        """When a run was started by its file, by its name where that cannot be read."""
        try:
            with RunView.open(self.run_path(run_id)) as view:
                return view.header.started_utc_ns, run_id
        except BainlogError:
            return int(_stamp(run_id).timestamp() * 1e9), run_id

    def unfinished_runs(self) -> list[Path]:
        """Return the files of runs without an end that no living process writes, oldest first.

        A file that cannot be read is left out here; the catalog names it.
        """
        found = []
        for run_id in self.run_ids():
            path = self.run_path(run_id)
            with contextlib.suppress(StoreError):
                view = RunView.open(path)
                if view.ended_utc_ns is None and view.status != "recording":
                    found.append(path)
        return found

    def untidy_runs(self) -> list[Path]:
        """Return the files of ended runs with a log or journal still beside them, oldest first.

        A kill between the end and the tidying, or while a note is written, leaves one; the two
        together are whole, the run file copied alone is not.
        """
        found = []
        for run_id in self.run_ids():
            path = self.run_path(run_id)
            if log_path(path).exists() or journal_path(path).exists():
                with contextlib.suppress(StoreError), RunView.open(path) as view:
                    if view.ended_utc_ns is not None and view.status != "recording":
                        found.append(path)
        return found

    def find_run(self, text: str) -> str:
        """Return the id that a person means: an id, its unique beginning or end, or ``last``.

        Raises
        ------
        InputError
            If no run or more than one fits.
        """
        ids = self.run_ids()
        newest = self.newest_run() if text == "last" else None
        if newest is not None:
            return newest
        found = [i for i in ids if text and (i == text or i.startswith(text) or i.endswith(text))]
        if text in found:
            return text
        if len(found) == 1:
            return found[0]
        if found:
            raise InputError(
                f"{text!r}",
                f"{len(found)} runs have it in their id",
                f"give more of the id, such as {found[-1]}",
            )
        newest = self.newest_run()
        last = f"the latest is {newest}" if newest else f"there is none in {self.runs}"
        raise InputError(f"{text!r}", "there is no such run", last)

    def view(self, text: str, *, tolerant: bool = False) -> RunView:
        """Open a run for reading by what a person calls it (see `find_run`).

        Parameters
        ----------
        text : str
            What a person calls it.
        tolerant : bool
            Leave out what is damaged; then show `RunView.damage` as well.
        """
        return RunView.open(self.run_path(self.find_run(text)), tolerant=tolerant)

    def sheet_path(self, name: str) -> Path:
        """Return the file of a sheet by name, without its suffix.

        Raises
        ------
        InputError
            If the name has other than letters, digits, space, ``_`` and ``-``.
        """
        if SHEET_NAME.fullmatch(name) is None or _TAKEN.fullmatch(name.strip()):
            wanted = "use letters a to z, digits, space, _ and -, at most 80 of them"
            raise InputError("sheet", repr(name), wanted)
        return self.sheets / f"{name}{SHEET_SUFFIX}"

    def sheet_names(self) -> list[str]:
        """Return the names of all sheets, in order."""
        names = (p.name.removesuffix(SHEET_SUFFIX) for p in self.sheets.glob(f"*{SHEET_SUFFIX}"))
        return sorted(name for name in names if SHEET_NAME.fullmatch(name))

    def sheet_text(self, name: str) -> str:
        """Return the text of a sheet by name.

        Raises
        ------
        InputError
            If there is no such sheet.
        """
        path = self.sheet_path(name)
        try:
            return path.read_text("utf-8")
        except FileNotFoundError as cause:
            known = ", ".join(self.sheet_names()) or "none yet"
            raise InputError("sheet", f"no sheet {name!r}", f"there is {known}") from cause
        except (OSError, UnicodeDecodeError) as cause:
            raise InputError(str(path), f"cannot be read ({cause})", "correct the file") from cause

    def save_sheet(self, name: str, text: str) -> Path:
        """Write a sheet whole or not at all, and return its file.

        Raises
        ------
        StoreError
            If it cannot be written.
        """
        path = self.sheet_path(name)
        unborn = path.with_name(path.name + ".new")
        try:
            unborn.write_text(text, "utf-8")
            unborn.replace(path)
        except OSError as cause:
            raise StoreError(f"{path}: cannot be written ({cause.strerror})") from cause
        return path

    def clear_unborn(self) -> None:
        """Remove run files that were never finished being made; only under the lock."""
        for path in self.runs.glob(f"*{SUFFIX}.new*"):
            path.unlink(missing_ok=True)

    def keep_ballast(self, size: int = BALLAST_BYTES) -> bool:
        """Put the ballast file in place where there is ample room.

        Returns
        -------
        bool
            True when it lies there in full.
        """
        try:
            if self.ballast_file.exists() and self.ballast_file.stat().st_size >= size:
                return True
            if shutil.disk_usage(self.path).free < 2 * size:
                return False
            with self.ballast_file.open("wb") as file:
                for start in range(0, size, _PIECE):
                    # Random, because a compressing file system would store zeros in no room.
                    file.write(os.urandom(min(_PIECE, size - start)))
                file.flush()
                os.fsync(file.fileno())
        except OSError:
            self.drop_ballast()
            return False
        return True

    def drop_ballast(self) -> bool:
        """Throw the ballast overboard; True if there was any."""
        with contextlib.suppress(OSError):
            self.ballast_file.unlink()
            return True
        return False


def _stamp(run_id: str) -> datetime.datetime:
    """Return the date and time of a run's id, as if it were UTC; the earliest for none that is."""
    try:
        stamp = datetime.datetime.strptime(run_id[:13], "%Y%m%d-%H%M")
    except ValueError:
        stamp = datetime.datetime(1, 1, 1)
    return stamp.replace(tzinfo=datetime.UTC)
