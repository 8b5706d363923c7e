"""``demo``: a batch on the virtual bench, recorded and shown like a real one.

Everything but the bench itself is the real thing: pseudo-terminals, recorder process, screen. The
virtual bench has hands of its own, which say over the control line what a cook would say. An empty
data folder first gets finished runs to look back at: batches of the virtual bench, good ones and
one of each root cause, made by ``python -m tests.examples`` and shipped packed.
"""

import contextlib
import importlib
import logging
import os
import signal
import sys
import tarfile
import tempfile
import threading
import webbrowser
from collections.abc import Callable
from importlib import resources
from pathlib import Path, PurePath
from typing import Any

import click

from logger.cli.options import default_folder, say
from logger.cli.start import end_self, stop_like_ctrl_c
from logger.control.client import Client, GoneError, RefusedError
from logger.model.errors import BainlogError, StoreError
from logger.model.state import State
from logger.recorder.keeper import NOTICE_S, Keeper, KeeperThread
from logger.recorder.launch import RecorderProcess, allow_open_files, start_process
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.scratch import scratch_folder, sweep
from logger.store.run.format import SUFFIX
from logger.store.run.writer import RunWriter
from logger.virtual.process import BenchProcess

log = logging.getLogger(__name__)

NAME = "examples.tar.xz"

STARTS = "Starting the virtual bench and the recorder…"
"""What a page that is opened early shows."""
LOOK_S = 0.5
"""How often the hands look whether a new run began [s]."""
STOP_S = 5.0
MOST_BENCHES = 5
"""Benches of a demo that are replaced."""
SCRATCH = "bainlog-demo-"


class Hands(threading.Thread):
    """Says what the cook of the virtual bench says, when it is time; replaces a killed bench.

    Parameters
    ----------
    bench : BenchProcess
        Begins its batch again whenever a run starts.
    client : Client
        To the recorder.
    speed : float
        Run seconds per second.
    """

    def __init__(self, bench: BenchProcess, client: Client, speed: float) -> None:
        super().__init__(name="hands", daemon=True)
        self._bench = bench
        self._client = client
        self._speed = speed
        self._stopping = threading.Event()
        self._fresh = True
        """The bench waits for a run of its own."""
        self._replaced = 0

    def stop(self) -> None:
        """Say no more."""
        self._stopping.set()
        self.join(STOP_S)

    def run(self) -> None:
        """Start the first run; then play a batch for each run that somebody starts."""
        played = ""
        while not self._stopping.wait(0.0 if self._fresh else LOOK_S):
            with contextlib.suppress(GoneError):
                if self._bench.has_ended() and not self._replace():
                    return
                if self._fresh:
                    self._begin()
                state = self._client.state()
                run_id = state.run.id or ""
                if state.phase == "recording" and run_id != played:
                    if played:
                        self._bench.restart()
                    played = run_id
                    self._play(run_id)

    def _begin(self) -> None:
        """Start a run with the batch; one with a bench that was killed is ended."""
        try:
            if self._client.state().phase == "recording":
                self._client.send("run_end")
            self._bench.restart()
            self._client.send("start")
        except RefusedError as cause:
            log.info("the hands were refused: %s", cause)
        self._fresh = False

    def _replace(self) -> bool:
        """Put another bench in the place of one that was killed; False where none is to be had."""
        self._replaced += 1
        try:
            if self._replaced > MOST_BENCHES:
                raise BainlogError("it was killed again and again")
            self._bench.replace()
            self._bench.start()
        except BainlogError as cause:
            _say(f"The virtual bench has stopped and will not start again: {cause}.")
            return False
        _say("The virtual bench was killed; a new one starts the batch again, as a new run.")
        self._fresh = True
        return True

    def _play(self, run_id: str) -> None:
        for t_s, kind, data in self._bench.operator_script():
            state = self._wait_until(t_s, run_id)
            if state is None:
                return
            if kind == "next" and not self._bench_is_ahead(state, data):
                continue
            try:
                self._client.send(kind, **data)
            except (GoneError, RefusedError) as cause:
                log.info("the hands were refused: %s", cause)

    def _wait_until(self, t_s: float, run_id: str) -> State | None:
        """Return the state at a time of the run, or None when the run or the bench is over."""
        while not self._stopping.is_set() and not self._bench.has_ended():
            left_s = LOOK_S
            with contextlib.suppress(GoneError):  # it was killed: another one goes on with the run
                state = self._client.state()
                if state.run.id != run_id:
                    return None
                left_s = (t_s - state.t_s) / self._speed
                if left_s <= 0.0:
                    return state
            self._stopping.wait(min(left_s, LOOK_S))
        return None

    @staticmethod
    def _bench_is_ahead(state: State, data: dict[str, Any]) -> bool:
        """Whether the batch goes to a stage that nobody has begun yet."""
        ids = [s.id for s in state.stages]
        begun = [s.id for s in state.stages if s.start_s is not None]
        target = data.get("stage")
        return target not in ids or ids.index(target) >= len(begun)


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
        self._told(STARTS)

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


@click.command()
@click.option(
    "--speed",
    type=click.FloatRange(0.1, 60),
    default=6.0,
    show_default=True,
    help="How much faster than a real bench.",
)
@click.option("--port", type=int, default=8420, show_default=True, help="Port of the page.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.option(
    "--seed",
    type=int,
    default=1,
    show_default=True,
    help="A number for the batch: the same number, the same batch.",
)
@click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="NAME@SECOND[:INSTRUMENT]",
    help="Something that goes wrong, for example unplug@300:bath_scale.",
)
@click.option("--cause", "causes", multiple=True, help="Why this batch will fail.")
@click.option("--short", is_flag=True, help="Only warm, combine and skin: 12 minutes of batch.")
@click.option(
    "--data",
    type=click.Path(path_type=Path, file_okay=False),
    envvar="BAINLOG_DATA",
    help="Data folder. [default: a demo folder next to the user's own]",
)
@click.option("--with-parent", is_flag=True, hidden=True, help="End when standard input closes.")
def demo(
    speed: float,
    port: int,
    no_browser: bool,
    seed: int,
    faults: tuple[str, ...],
    causes: tuple[str, ...],
    short: bool,
    data: Path | None,
    with_parent: bool,
) -> None:
    """Play a batch on the virtual bench and watch it live.

    Ctrl-C ends it; the run is saved and stays in the list. An empty data folder gets finished runs
    to look back at first, good ones and failed ones.
    """
    from dashboard.doors.waiting import Waiting
    from dashboard.serve import LOOPBACK, bind, serve

    allow_open_files()
    stop_like_ctrl_c("SIGHUP")
    if with_parent:
        threading.Thread(target=_end_with_input, daemon=True).start()
    # The screen's libraries are slow to load: let them, while bench and recorder start.
    threading.Thread(target=importlib.import_module, args=("dashboard.app",), daemon=True).start()
    folder = DataFolder(data or default_folder() / "demo")
    with contextlib.ExitStack() as end:
        bound = bind(LOOPBACK, port)
        end.callback(bound.listener.close)
        waiting = Waiting(bound.listener)
        end.callback(waiting.close)
        if not no_browser:
            threading.Thread(target=webbrowser.open, args=(bound.url,), daemon=True).start()
        waiting.say(STARTS)
        examples = Examples(folder, waiting.say)
        end.callback(examples.wait)
        sweep(Path(tempfile.gettempdir()), SCRATCH)
        scratch = end.enter_context(scratch_folder(Path(tempfile.gettempdir()), SCRATCH))
        bench_file, sheet_file = scratch / "bench.toml", scratch / "roll.sheet.toml"

        def begin(*, resume: bool = True) -> RecorderProcess:
            return start_process(
                folder.path, bench_file, sheet_file, speed=speed, with_parent=True, resume=resume
            )

        keeper = Keeper(folder.path, begin, _say)
        # A screen that was killed and started again may ask while its first demo still ends.
        keeper.take_alone(NOTICE_S if with_parent else 0.0)
        end.callback(keeper.release)
        bench = BenchProcess(
            scratch, seed=seed, speed=speed, short=short, faults=faults, causes=causes
        )
        bench.start()
        end.callback(bench.stop)
        bench_file.write_text(bench.bench_text(), encoding="utf-8")
        sheet_file.write_text(bench.sheet_text(), encoding="utf-8")
        end.enter_context(keeper)
        keeper.wait_until_free()
        keeper.start(begin(resume=False))
        hands = Hands(bench, end.enter_context(Client(folder.path)), speed)
        hands.start()
        end.callback(hands.stop)
        keeping = KeeperThread(keeper, folder.path, say=_say, over=end_self)
        keeping.start()
        end.callback(keeping.stop)
        waiting.say("Loading the screen…")
        if examples.wait():
            say(f"{examples.count} finished runs to look back at are in the list of runs.")
        say("Virtual bench, recorder and screen are up. Ctrl-C ends the demo; the run is saved.")
        serve(folder.path, port=port, say=_say, waiting=waiting, bound=bound)
    if keeping.failure is not None:
        raise keeping.failure


def _end_with_input() -> None:
    """End as by SIGTERM when standard input closes: whoever started this is gone."""
    with contextlib.suppress(OSError, ValueError):
        while os.read(sys.stdin.fileno(), 1):
            pass
    os.kill(os.getpid(), signal.SIGTERM)


def _say(text: str) -> None:
    """Say a line, also when the terminal is gone."""
    with contextlib.suppress(OSError):
        say(text)
