"""The recorder's own process: what it is started with, its signals, its end.

``python -m logger.recorder.process --data DIR [--bench FILE]`` runs until SIGTERM or SIGINT, or
until its parent is gone when it was started with ``--with-parent`` (a demo must not outlive its
virtual bench). A run under way is ended and saved.
"""

import argparse
import contextlib
import gc
import logging
import os
import signal
import sys
import threading
from pathlib import Path
from types import FrameType

from logger.model.errors import BainlogError, InputError
from logger.ports.clock import Clock, FollowedClock
from logger.recorder.live.session import Recorder
from logger.recorder.setup import setup_from_files
from logger.store.folder.datafolder import DataFolder

log = logging.getLogger(__name__)

COLLECT_EVERY = 50_000
"""Containers made before the collector looks at the young ones. Readings hold no cycles: at the
usual 700 the collector took as long as reading the lines."""
LONGEST_END_S = 60.0
"""One that must not outlive its parent ends within this time, saved or not [s]."""


def main() -> None:
    """Run a recorder until it is told to stop."""
    parser = argparse.ArgumentParser(prog="bainlog recorder")
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--bench", type=Path)
    parser.add_argument("--sheet", type=Path)
    parser.add_argument("--speed", type=float, default=1.0)
    parser.add_argument("--follow", type=Path, help="clock file of a virtual bench that waits")
    parser.add_argument("--with-parent", action="store_true")
    parser.add_argument("--no-resume", action="store_true")
    asked = parser.parse_args()
    logging.basicConfig(format="%(levelname)s %(name)s: %(message)s", level=logging.WARNING)
    stopping, parent = threading.Event(), os.getppid()

    def stop(number: int, frame: FrameType | None) -> None:
        stopping.set()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop)
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
    if asked.with_parent:
        threading.Thread(target=_wait_for_input, args=(stopping,), daemon=True).start()
    while not stopping.wait(1.0):
        # A copy of the pipe in some other program would keep it open: the system knows better.
        if asked.with_parent and os.getppid() != parent:
            break
    if asked.with_parent:
        last = threading.Timer(LONGEST_END_S, os._exit, (1,))
        last.daemon = True
        last.start()
    recorder.stop()


def ease_collector() -> None:
    """Let the garbage collector pass over what was made at the start, and look less often."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(COLLECT_EVERY, 20, 100)


def _wait_for_input(stopping: threading.Event) -> None:
    """Wait until the parent's end of the pipe is closed, by itself or by the parent's death."""
    # Not through sys.stdin: its lock, held by a waiting thread, would stop the interpreter's end.
    with contextlib.suppress(OSError, ValueError):
        while os.read(sys.stdin.fileno(), 1):
            pass
    stopping.set()


if __name__ == "__main__":
    main()
