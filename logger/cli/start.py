"""``start``, ``record`` and ``ports``: recording a real bench."""

import contextlib
import os
import signal
import subprocess
import threading
from collections.abc import Iterable
from pathlib import Path

import click

from logger.cli.options import data_option
from logger.cli.tryout import TryOut
from logger.control.client import Client, GoneError, RefusedError
from logger.model.errors import BainlogError, InputError, StoreError
from logger.model.quantity import number_in
from logger.model.state import State
from logger.recorder.keeper import Keeper, KeeperThread
from logger.recorder.launch import RecorderProcess, allow_open_files, start_process
from logger.recorder.setup import read_text
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView
from logger.words.durations import clock
from logger.words.values import value_text

FILE = click.Path(path_type=Path, dir_okay=False)
NEW_RUN = click.option(
    "--new-run", is_flag=True, help="Close a run that was cut off instead of going on with it."
)


def bench_path(folder: DataFolder, bench: Path | None) -> Path:
    """Return the bench file to use: the one named, or that of the data folder.

    Raises
    ------
    InputError
        If there is neither.
    """
    if bench is not None:
        return bench
    own = folder.path / "bench.toml"
    if own.is_file():
        return own
    raise InputError(
        str(own), "no bench file", "plug in and run 'bainlog ports --write', or give --bench FILE"
    )


@click.command()
@data_option
@click.option("--bench", type=FILE, help="Bench file. [default: bench.toml of the data folder]")
@click.option("--sheet", type=FILE, help="Batch sheet that the start button takes.")
@click.option("--port", type=int, default=8420, show_default=True, help="Port of the screen.")
@click.option("--lan", is_flag=True, help="Let tablets on this network in; needs the token shown.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@NEW_RUN
def start(
    data: Path,
    bench: Path | None,
    sheet: Path | None,
    port: int,
    lan: bool,
    no_browser: bool,
    new_run: bool,
) -> None:
    """Start recorder and screen for a real bench.

    Ctrl-C closes the screen and the recorder; a run under way is ended and saved. A recorder that
    runs already is left alone and only gets a screen. One that is killed is replaced, and its run
    goes on. Without a bench file the screen helps to make one.
    """
    allow_open_files()
    folder = DataFolder(data)
    stop_like_ctrl_c()
    own = folder.bench_file if folder.bench_file.is_file() else None
    keeper = Keeper(
        folder.path, lambda: start_process(folder.path, bench or own, sheet), click.echo
    )
    if keeper.find():
        click.echo(f"The recorder of {folder.path} runs already; opening a screen for it.")
    else:
        keeper.start(start_process(folder.path, bench or own, sheet, resume=not new_run))
        _say_what_goes_on(folder)
        if bench is None and own is None:
            click.echo("No bench file yet: the page Instruments helps to set one up.")
    keeping = KeeperThread(
        keeper, folder.path, say=click.echo, over=lambda: os.kill(os.getpid(), signal.SIGTERM)
    )
    from dashboard.serve import serve

    try_out = None if lan else TryOut(folder.path / "demo")
    try:
        keeping.start()
        serve(
            folder.path,
            port=port,
            lan=lan,
            open_browser=not no_browser,
            say=click.echo,
            try_out=try_out,
        )
    finally:
        if try_out is not None:
            try_out.stop()
        keeping.stop()
        if keeper.process is not None:
            end_process(keeper.process)
    if keeping.failure is not None:
        raise keeping.failure


def _say_what_goes_on(folder: DataFolder) -> None:
    """Say that a run which a kill left open goes on."""
    with Client(folder.path) as client:
        run_id = client.state().run.id
    if run_id:
        click.echo(f"Run {run_id} goes on; what was not recorded stays a gap. Stop ends it.")


def stop_like_ctrl_c(*more: str) -> None:
    """Let SIGTERM end the command as Ctrl-C does: the run is ended and saved.

    Ctrl-C itself is set, too: a shell that starts a command in the background has it ignored.

    Parameters
    ----------
    *more : str
        Names of other signals, where the system has them; one that is ignored stays so.
    """

    def stop(number: int, frame: object) -> None:
        signal.signal(number, signal.SIG_IGN)  # a second one must not cut off the end
        raise KeyboardInterrupt

    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, stop)
    for number in _present(more):
        signal.signal(number, stop)


def _present(names: Iterable[str]) -> list[signal.Signals]:
    """Return those signals that the system has and nobody ignores (as ``nohup`` does)."""
    there: list[signal.Signals] = [getattr(signal, n) for n in names if hasattr(signal, n)]
    return [number for number in there if signal.getsignal(number) is not signal.SIG_IGN]


def end_process(recorder: "subprocess.Popen[bytes]") -> None:
    """Ask a recorder to end and wait until its run is saved."""
    recorder.terminate()
    with contextlib.suppress(KeyboardInterrupt):
        try:
            recorder.wait(30)
        except subprocess.TimeoutExpired:
            click.echo("The recorder does not end; it goes on in the background.", err=True)
            return
    if isinstance(recorder, RecorderProcess) and recorder.poll() is not None:
        recorder.last_words()  # all that it said has been passed on then


@click.command()
@data_option
@click.option("--bench", type=FILE, help="Bench file. [default: bench.toml of the data folder]")
@click.option("--sheet", type=FILE, required=True, help="Batch sheet.")
@click.option("--for", "lasting", metavar="TIME", help="End by itself, for example after '20 min'.")
@NEW_RUN
def record(data: Path, bench: Path | None, sheet: Path, lasting: str | None, new_run: bool) -> None:
    """Record a run without a screen; Ctrl-C ends and saves it.

    A recorder that is killed is replaced, and its run goes on; so does a run of the same sheet that
    was cut off before.
    """
    try:
        until_s = number_in(lasting, "s") if lasting else None
    except ValueError as cause:
        raise InputError("--for", str(cause), "give a time") from cause
    allow_open_files()
    folder = DataFolder(data)
    wired = bench_path(folder, bench)
    resume = not new_run and _is_left_open(folder, sheet)
    first = start_process(folder.path, wired, sheet, resume=resume)
    keeper = Keeper(folder.path, lambda: start_process(folder.path, wired, sheet), _say)
    keeper.start(first)
    stopping = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM, *_present(["SIGHUP"])):
        signal.signal(number, lambda *_: stopping.set())
    try:
        with Client(folder.path) as client:
            recording = Recording(client, keeper, stopping)
            recording.begin()
            recording.follow(until_s)
            recording.end()
    finally:
        if keeper.process is not None:
            end_process(keeper.process)
    _say_saved(folder, recording.run_id)


def _is_left_open(folder: DataFolder, sheet: Path) -> bool:
    """Return whether the newest run that has no end was recorded with this sheet."""
    left = folder.unfinished_runs()
    if not left:
        return False
    try:
        with RunView.open(left[-1]) as view:
            same = view.header.sheet_text == read_text(sheet)
    except StoreError as cause:
        click.echo(f"Run {left[-1].stem} was cut off and cannot go on: {cause}", err=True)
        return False
    if not same:
        click.echo(f"Run {left[-1].stem} was cut off; it had another sheet and is closed now.")
    return same


def _say(text: str) -> None:
    """Say a line, also when the terminal is gone."""
    with contextlib.suppress(OSError):
        click.echo(text, err=True)


def _say_saved(folder: DataFolder, run_id: str) -> None:
    try:
        with folder.view(run_id) as view:
            saved = view.ended_utc_ns is not None
    except (InputError, StoreError):
        saved = False
    if not saved:
        raise BainlogError(f"run {run_id} has no end yet; the next start takes it up")
    with contextlib.suppress(OSError):
        click.echo(f"Saved. Look at it with: bainlog show {run_id}")


class Recording:
    """A run that a command without a screen records.

    Parameters
    ----------
    client : Client
        To the recorder.
    keeper : Keeper
        Sees to it that there is one.
    stopping : Event
        Set when the person ends it.
    """

    def __init__(self, client: Client, keeper: Keeper, stopping: threading.Event) -> None:
        self._client = client
        self._keeper = keeper
        self._stopping = stopping
        self._before_s = 0.0
        """Recorded in runs of this command that could not go on [s]."""
        self._t_s = 0.0
        self.run_id = ""

    def begin(self) -> None:
        """Go on with the run that the recorder took up, or start one."""
        state = self._state()
        if state is not None and state.run.id:
            self.run_id = state.run.id
            click.echo(f"Going on with run {self.run_id}; what was not recorded stays a gap.")
        elif state is not None:
            self._start()

    def _start(self) -> None:
        self.run_id = self._client.send("start")["run"]
        click.echo(f"Recording run {self.run_id}.")

    def follow(self, until_s: float | None) -> None:
        """Show progress until time is up or someone stops it.

        Parameters
        ----------
        until_s : float or None
            End after so long [s]; None goes on.
        """
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn

        with Progress(
            TextColumn("{task.fields[clock]}"),
            BarColumn(),
            TextColumn("{task.description}"),
            console=Console(stderr=True),
        ) as progress:
            task = progress.add_task("", total=until_s, clock=clock(0.0))
            while (state := self._state()) is not None:
                self._t_s = state.t_s
                t_s = self._before_s + state.t_s
                progress.update(
                    task,
                    completed=t_s,
                    clock=clock(t_s),
                    description=" ".join([state.stage or "", state.view.say, _values(state)]),
                )
                if until_s is not None and t_s >= until_s:
                    return
                self._stopping.wait(0.5)

    def end(self) -> None:
        """End the run; where no answer comes, the recorder's end does it."""
        try:
            self._client.send("run_end")
        except GoneError:
            _say("The recorder does not answer; it ends the run as soon as it can.")
        except RefusedError as cause:
            _say(str(cause))

    def _state(self) -> State | None:
        """Return the state, from another recorder if need be; None once the person ends it."""
        while not self._stopping.is_set():
            try:
                state = self._client.state()
            except GoneError:
                if self._keeper.unanswered():
                    self._taken_over()
                else:
                    self._stopping.wait(0.5)
                continue
            self._keeper.answered()
            return state
        return None

    def _taken_over(self) -> None:
        """Say how the run goes on with the recorder that took over."""
        with contextlib.suppress(GoneError):
            state = self._client.state()
            if self.run_id and state.run.id == self.run_id:
                _say(f"Run {self.run_id} goes on; what was not recorded stays a gap.")
            elif self.run_id:
                _say(f"Run {self.run_id} could not go on and is closed as interrupted.")
                self._before_s += self._t_s
                self._start()


def _values(state: State) -> str:
    return "  ".join(
        f"{c.label} {value_text(c.value, c.unit, c.u_expanded)}"
        if c.status == "live" and c.value is not None
        else f"{c.label} {c.status}"
        for c in state.channels
    )
