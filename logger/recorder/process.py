"""The recorder's own process: what it is started with, its signals, its end.

``python -m logger.recorder.process --data DIR [--bench FILE]`` runs until SIGTERM or SIGINT, or
until its parent is gone when it was started with ``--with-parent`` (a demo must not outlive its
virtual bench). A run under way is ended and saved.
"""

import argparse
import contextlib
import gc
import getpass
import logging
import os
import signal
import sys
import tempfile
import threading
from pathlib import Path

from logger.model.errors import BainlogError, InputError
from logger.ports.clock import Clock, FollowedClock
from logger.recorder.live.session import Recorder
from logger.recorder.setup import setup_from_files
from logger.recorder.stopping import StopRequest
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from logger.words.counts import count_text
from logger.words.durations import duration_text

log = logging.getLogger(__name__)

COLLECT_EVERY = 50_000
"""Containers made before the collector looks at the young ones. Readings hold no cycles: at the
usual 700 the collector took as long as reading the lines."""
RESCUED = "bainlog-rescued"
"""Data folder of this user for a run whose own folder was removed."""
LONGEST_END_S = 60.0
"""One that must not outlive its parent ends within this time, saved or not [s]."""


def main() -> None:
    """Run a recorder until it is told to stop."""
    asked = _asked()
    logging.basicConfig(format="%(levelname)s %(name)s: %(message)s", level=logging.WARNING)
    parent = os.getppid() if asked.with_parent else None
    stopping = StopRequest()
    stopping.at(signal.SIGTERM, signal.SIGINT)
    try:
        folder = DataFolder(asked.data)
        setup = setup_from_files(folder, asked.bench, asked.sheet, resume=not asked.no_resume)
        follow = asked.follow
        clock = FollowedClock(follow, asked.speed) if follow is not None else Clock(asked.speed)
        recorder = Recorder(folder, setup, clock, asked.bench)
    except BainlogError as cause:
        sys.stderr.write("refused: " + " ".join(str(cause).split()) + "\n")
        sys.exit(2 if isinstance(cause, InputError) else 1)
    recorder.start()
    ease_collector()
    _wait(recorder, stopping, parent)
    at_home, run_id = recorder.is_at_home(), recorder.run_id
    saved = None if at_home else go_on_elsewhere(recorder)
    recorder.stop()
    if recorder.lost:
        sys.stderr.write(f"not saved, and lost: {recorder.lost}\n")
    if not at_home:
        sys.stderr.write(f"refused: {what_became(folder, run_id, saved)}\n")
    sys.exit(0 if at_home and not recorder.lost else 1)


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="bainlog recorder")
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--bench", type=Path)
    parser.add_argument("--sheet", type=Path)
    parser.add_argument("--speed", type=float, default=1.0)
    parser.add_argument("--follow", type=Path, help="clock file of a virtual bench that waits")
    parser.add_argument("--with-parent", action="store_true")
    parser.add_argument("--no-resume", action="store_true")
    return parser.parse_args()


def _wait(recorder: Recorder, stopping: StopRequest, parent: int | None) -> None:
    """Wait until it is told to stop, its data folder is gone, or its parent, if it has one."""
    if parent is not None:
        threading.Thread(target=_wait_for_input, args=(stopping,), daemon=True).start()
    while not stopping.wait(1.0) and recorder.is_at_home():
        # A copy of the pipe in some other program would keep it open: the system knows better.
        if parent is not None and os.getppid() != parent:
            break
    if parent is not None:
        last = threading.Timer(LONGEST_END_S, os._exit, (1,))
        last.daemon = True
        last.start()


def go_on_elsewhere(recorder: Recorder) -> Path | None:
    """Let the run go on in a folder of this user, its own being gone; return its file.

    Parameters
    ----------
    recorder : Recorder
        Whose data folder was removed.
    """
    import platformdirs

    usual = Path(platformdirs.user_data_dir(RESCUED, appauthor=False))
    for place in (usual, Path(tempfile.gettempdir()) / f"{RESCUED}-{getpass.getuser()}"):
        try:
            return recorder.go_on_in(DataFolder(place))
        except BainlogError as cause:
            log.error("%s: the run cannot be saved there: %s", place, cause)
    return None


def what_became(folder: DataFolder, run_id: str, saved: Path | None) -> str:
    """Return what is said to the person whose data folder was removed under way.

    Parameters
    ----------
    folder : DataFolder
        It was there.
    run_id : str
        The run that was being recorded; empty where there was none.
    saved : Path or None
        Where it is now; None where it could not be saved.
    """
    said = f"the data folder {folder.path} was removed or moved; the recorder has ended"
    if not run_id:
        return said
    if saved is None:
        return f"{said} and its run {run_id} could not be saved anywhere"
    with RunView.open(saved) as view:
        lasted = duration_text(view.duration_ns / 1e9)
        readings = sum(view.count(channel.id) for channel in view.channels())
    return (
        f"{said}. Its run, {lasted} with {count_text(readings, 'reading')}, is saved: "
        f"bainlog show {run_id} --data {saved.parent.parent}"
    )


def ease_collector() -> None:
    """Let the garbage collector pass over what was made at the start, and look less often."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(COLLECT_EVERY, 20, 100)


def _wait_for_input(stopping: StopRequest) -> None:
    """Wait until the parent's end of the pipe is closed, by itself or by the parent's death."""
    # Not through sys.stdin: its lock, held by a waiting thread, would stop the interpreter's end.
    with contextlib.suppress(OSError, ValueError):
        while os.read(sys.stdin.fileno(), 1):
            pass
    stopping.ask()


if __name__ == "__main__":
    main()
