"""Plays a batch: virtual bench, recorder, hands and screen, until Ctrl-C.

Takes an address that is bound, and what answers there until the screen does.
"""

import contextlib
import importlib
import tempfile
import threading
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from logger.cli.options import say, say_if_heard
from logger.cli.playing.examples import Examples
from logger.cli.playing.hands import Hands
from logger.control.client import Client
from logger.recorder.keeper import NOTICE_S, Keeper, KeeperThread
from logger.recorder.launch import RecorderProcess, allow_open_files, start_process
from logger.recorder.stopping import end_self
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.scratch import scratch_folder, sweep
from logger.virtual.process import BenchProcess

if TYPE_CHECKING:
    from dashboard.doors.address import Bound
    from dashboard.doors.waiting import Waiting

STARTS = "Starting the virtual bench and the recorder…"
"""What a page that is opened early shows."""
SCRATCH = "bainlog-demo-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What is played.

    Attributes
    ----------
    seed : int
        The same number gives the same batch.
    speed : float
        Run seconds per second.
    short : bool
        Only warm, combine and skin.
    faults, causes : tuple of str
        What goes wrong, and why the batch will fail.
    """

    seed: int
    speed: float
    short: bool
    faults: tuple[str, ...]
    causes: tuple[str, ...]


def play(
    batch: Batch, data: Path, bound: "Bound", waiting: "Waiting", *, port: int, with_parent: bool
) -> None:
    """Play a batch until Ctrl-C.

    Parameters
    ----------
    batch : Batch
        What is played.
    data : Path
        The data folder; one without a run gets finished ones to look back at.
    bound : Bound
        Where the screen answers.
    waiting : Waiting
        Answers there until the screen does.
    port : int
        The port that was wanted.
    with_parent : bool
        Whether this ends with another program, which may have been killed and started again.

    Raises
    ------
    BainlogError
        If the bench, the recorder or the examples can't be had.
    """
    allow_open_files()
    waiting.say(STARTS)
    with contextlib.ExitStack() as end:
        folder = DataFolder(data)
        examples = Examples(folder, waiting.say)
        end.callback(examples.wait)
        sweep(Path(tempfile.gettempdir()), SCRATCH)
        scratch = end.enter_context(scratch_folder(Path(tempfile.gettempdir()), SCRATCH))
        bench_file, sheet_file = scratch / "bench.toml", scratch / "roll.sheet.toml"

        def begin(*, resume: bool = True) -> RecorderProcess:
            speed = batch.speed
            return start_process(
                folder.path, bench_file, sheet_file, speed=speed, with_parent=True, resume=resume
            )

        keeper = Keeper(folder.path, begin, say_if_heard)
        # A screen that was killed and started again may ask while its first demo still ends.
        keeper.take_alone(NOTICE_S if with_parent else 0.0)
        end.callback(keeper.release)
        # The screen's libraries are slow to load: let them, while bench and recorder start.
        screen = threading.Thread(target=importlib.import_module, args=("dashboard.app",))
        screen.daemon = True
        screen.start()
        bench = BenchProcess(scratch, **asdict(batch))
        bench.start()
        end.callback(bench.stop)
        bench_file.write_text(bench.bench_text(), encoding="utf-8")
        sheet_file.write_text(bench.sheet_text(), encoding="utf-8")
        end.enter_context(keeper)
        keeper.wait_until_free()
        keeper.start(begin(resume=False))
        hands = Hands(bench, end.enter_context(Client(folder.path)), batch.speed)
        hands.start()
        end.callback(hands.stop)
        keeping = KeeperThread(keeper, folder.path, say=say_if_heard, over=end_self)
        keeping.start()
        end.callback(keeping.stop)
        waiting.say("Loading the screen…")
        if examples.wait():
            say(f"{examples.count} finished runs are in the list to explore.")
        say("Virtual bench, recorder and screen run. Ctrl-C ends the demo; the run is saved.")
        from dashboard.serve import serve  # loaded by now

        serve(folder.path, port=port, say=say_if_heard, waiting=waiting, bound=bound)
    if keeping.failure is not None:
        raise keeping.failure
