"""What a command that was killed left behind, for the next one to decide whether to go on with it.

Thin I/O: asks the recorder and looks into run files; changes nothing.
"""

from collections.abc import Callable
from pathlib import Path

from logger.control.client import Client
from logger.model.errors import StoreError
from logger.model.files import bench_from_text
from logger.recorder.setup import read_text
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView


def run_under_way(folder: DataFolder) -> str:
    """Return the id of the run that the recorder records; empty for none.

    Raises
    ------
    GoneError
        If no recorder answers.
    """
    with Client(folder.path) as client:
        return client.state().run.id or ""


def what_differs(folder: DataFolder, run_id: str, bench: Path, sheet: Path) -> str | None:
    """Return which of two files is another than that of a run under way, or None.

    Parameters
    ----------
    folder : DataFolder
        Holds the run.
    run_id : str
        May be recorded meanwhile.
    bench, sheet : Path
        Files that a command was given.

    Raises
    ------
    InputError
        If a file does not read.
    StoreError
        If the run does not.
    """
    with folder.view(run_id) as view:
        if view.header.sheet_text != read_text(sheet):
            return "sheet"
        return None if view.bench() == bench_from_text(read_text(bench), bench.name) else "bench"


def is_left_open(folder: DataFolder, sheet: Path, say: Callable[[str], None]) -> bool:
    """Return whether the newest run that has no end and no recorder was recorded with a sheet.

    Parameters
    ----------
    folder : DataFolder
        Holds the runs.
    sheet : Path
        The file that a command was given.
    say : callable
        Takes a line about a run that cannot go on.

    Raises
    ------
    InputError
        If the sheet's file does not read.
    """
    left = folder.unfinished_runs()
    if not left:
        return False
    try:
        with RunView.open(left[-1]) as view:
            same = view.header.sheet_text == read_text(sheet)
    except StoreError as cause:
        say(f"Run {left[-1].stem} was cut off and cannot go on: {cause}")
        return False
    if not same:
        say(f"Run {left[-1].stem} was cut off; it had another sheet and is closed now.")
    return same
