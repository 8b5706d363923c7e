"""``start``, ``record`` and ``ports``: recording a real bench."""

import contextlib
import functools
import signal
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from pathlib import Path

import click

from logger.batch.names import known_sheet
from logger.batch.standins import with_instead
from logger.cli.options import (
    about_options,
    data_option,
    instead_of,
    instead_option,
    printable,
    say,
    say_if_heard,
)
from logger.cli.tryout import TryOut
from logger.control.acts import require_stages
from logger.control.client import Client, GoneError, RefusedError
from logger.model.errors import BainlogError, InputError, StoreError
from logger.model.quantity import quantity_at
from logger.model.rows import StartRow
from logger.model.state import State
from logger.recorder.keeper import Keeper, KeeperThread
from logger.recorder.launch import (
    FoundRecorder,
    RecorderProcess,
    allow_open_files,
    start_process,
)
from logger.recorder.setup import fats_of, read_text
from logger.recorder.stopping import (
    StopRequest,
    end_self,
    signals_there,
    stop_like_ctrl_c,
)
from logger.recorder.takeover import is_left_open, run_under_way, what_differs
from logger.store.folder.datafolder import DataFolder
from logger.words.durations import clock
from logger.words.values import value_text

FILE = click.Path(path_type=Path, dir_okay=False)
_say = functools.partial(say_if_heard, err=True)
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
        str(own),
        "no bench file",
        "plug in your instruments and run 'bainlog ports --write', or give --bench FILE",
    )


@click.command()
@data_option
@click.option("--bench", type=FILE, help="Bench file. [default: bench.toml of the data folder]")
@click.option("--sheet", type=FILE, help="Batch sheet for the Start button.")
@click.option("--port", type=int, default=8420, show_default=True, help="Port of the screen.")
@click.option("--lan", is_flag=True, help="Let tablets on this network in; needs the token shown.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@instead_option
@NEW_RUN
def start(
    data: Path,
    bench: Path | None,
    sheet: Path | None,
    port: int,
    lan: bool,
    no_browser: bool,
    instead: tuple[str, ...],
    new_run: bool,
) -> None:
    """Start recorder and screen for a real bench.

    Ctrl-C closes the screen and the recorder; a run under way is ended and saved. If another
    command already runs the recorder, only a screen is opened for it; if that command was killed,
    its recorder is taken over and ends with this command. If a recorder is killed, another takes
    its place and the run goes on. Without a bench file the screen helps you make one. --instead
    chooses an alternative in the dialog of the Start button.
    """
    if sheet is not None and not sheet.is_file():
        raise InputError(str(sheet), "there is no such file", "give a batch sheet")
    allow_open_files()
    folder = DataFolder(data)
    chosen = _chosen(folder, sheet, instead)
    stop_like_ctrl_c()
    wired = bench or (folder.bench_file if folder.bench_file.is_file() else None)

    def begin(*, resume: bool = True) -> RecorderProcess:
        return start_process(folder.path, wired, sheet, resume=resume)

    with Keeper(folder.path, begin, click.echo) as keeper:
        if not _has_recorder(keeper, folder, new_run=new_run):
            keeper.start(begin(resume=not new_run))
            _say_what_goes_on(folder)
            if wired is None:
                say("No bench file yet: the Instruments page helps you set one up.")
        try_out = None if lan else TryOut(folder.path / "demo")
        _show(keeper, folder, try_out, chosen, port=port, lan=lan, open_browser=not no_browser)


def _chosen(folder: DataFolder, sheet: Path | None, given: Iterable[str]) -> dict[str, str]:
    """Return alternatives by ingredient; the sheet must allow them."""
    instead = instead_of(given)
    if instead and sheet is None:
        raise InputError("--instead", "no sheet", "give --sheet FILE as well")
    if instead and sheet is not None:
        with_instead(known_sheet(read_text(sheet), sheet.name, fats_of(folder)), instead)
    return instead


def _has_recorder(keeper: Keeper, folder: DataFolder, *, new_run: bool) -> bool:
    """Return whether a recorder is there for the screen; one left by a killed command is kept."""
    keeper.take()
    if not keeper.find():
        return False
    if not keeper.left_behind:
        keeper.release()
        say(f"A recorder is already running for {folder.path}; opening a screen for it.")
        return True
    run_id = run_under_way(folder)
    if new_run or not run_id:
        say("The command that ran the recorder was killed; another recorder is being started.")
        keeper.end_found()
        return False
    keeper.adopt()
    say(
        f"The command that ran the recorder was killed; the recorder went on. Run {run_id} goes "
        "on without a gap. Ctrl-C ends it; --new-run closes it at the start."
    )
    return True


def _show(
    keeper: Keeper,
    folder: DataFolder,
    try_out: TryOut | None,
    instead: Mapping[str, str],
    *,
    port: int,
    lan: bool,
    open_browser: bool,
) -> None:
    """Serve the screen and look after the recorder."""
    from dashboard.serve import serve

    keeping = KeeperThread(keeper, folder.path, say=click.echo, over=end_self)
    try:
        keeping.start()
        serve(
            folder.path,
            port=port,
            lan=lan,
            open_browser=open_browser,
            say=click.echo,
            try_out=try_out,
            instead=instead,
        )
    finally:
        if try_out is not None:
            try_out.stop()
        keeping.stop()
    if keeping.failure is not None:
        raise keeping.failure


def _say_what_goes_on(folder: DataFolder) -> None:
    """Say that a run which a kill left open goes on."""
    run_id = run_under_way(folder)
    if run_id:
        say(f"Run {run_id} goes on; what was not recorded stays a gap. Ctrl-C ends it.")


@click.command()
@data_option
@click.option("--bench", type=FILE, help="Bench file. [default: bench.toml of the data folder]")
@click.option("--sheet", type=FILE, required=True, help="Batch sheet.")
@click.option("--for", "lasting", metavar="TIME", help="End by itself, for example after '20 min'.")
@NEW_RUN
@about_options
def record(
    data: Path,
    bench: Path | None,
    sheet: Path,
    lasting: str | None,
    new_run: bool,
    about: StartRow,
) -> None:
    """Record a run without a screen; Ctrl-C ends and saves it.

    If its recorder is killed, another takes its place and the run goes on. So does a run of the
    same sheet that was cut off before. A recorder that outlived its command is taken over.
    """
    until_s = quantity_at("--for", lasting, "s") if lasting else None
    allow_open_files()
    folder = DataFolder(data)
    wired = bench_path(folder, bench)
    require_stages(sheet.name, known_sheet(read_text(sheet), sheet.name, fats_of(folder)))
    stopping = StopRequest()

    def begin() -> RecorderProcess:
        return start_process(folder.path, wired, sheet)

    with Keeper(folder.path, begin, _say) as keeper, Client(folder.path) as client:
        keeper.take_alone()
        if not _takes_over(keeper, folder, wired, sheet, new_run=new_run):
            resume = not new_run and is_left_open(folder, sheet, _say)
            keeper.start(start_process(folder.path, wired, sheet, resume=resume))
        stopping.at(signal.SIGINT, signal.SIGTERM, *signals_there(["SIGHUP"]))
        recording = Recording(client, keeper, stopping, about)
        recording.begin()
        recording.follow(until_s)
        recording.end()
    _say_saved(folder, recording.run_id)


def _takes_over(
    keeper: Keeper, folder: DataFolder, bench: Path, sheet: Path, *, new_run: bool
) -> bool:
    """Keep the recorder that a killed command left, where its run is one of these files.

    Another run of such a recorder is ended and saved first, and so is the recorder.
    """
    if not (keeper.find() and keeper.left_behind):
        return False
    run_id = run_under_way(folder)
    other = what_differs(folder, run_id, bench, sheet) if run_id else None
    if run_id and other is None and not new_run:
        keeper.adopt()
        return True
    if run_id:
        why = f"had another {other} and " if other is not None else ""
        say(f"Run {run_id} of a command that was killed {why}is ended and saved now.", err=True)
    keeper.end_found()
    return False


def _say_saved(folder: DataFolder, run_id: str) -> None:
    try:
        with folder.view(run_id) as view:
            saved = view.ended_utc_ns is not None
    except (InputError, StoreError):
        saved = False
    if not saved:
        raise BainlogError(f"run {run_id} has no end yet; the next start continues it")
    with contextlib.suppress(OSError):
        say(f"Saved. To see it: bainlog show {run_id}")


class Recording:
    """A run that a command without a screen records.

    Parameters
    ----------
    client : Client
        To the recorder.
    keeper : Keeper
        Sees to it that there is one.
    stopping : StopRequest
        Made when the person ends it.
    about : StartRow
        What is said of the batch.
    """

    def __init__(
        self,
        client: Client,
        keeper: Keeper,
        stopping: StopRequest,
        about: StartRow = StartRow(),  # noqa: B008 - never changed
    ) -> None:
        self._about = about
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
            went_on = isinstance(self._keeper.process, FoundRecorder)
            say(
                f"Going on with run {self.run_id}; "
                + ("its recorder went on." if went_on else "what was not recorded stays a gap.")
                + " To close it and begin another, use --new-run."
            )
        elif state is not None:
            self._start()

    def _start(self) -> None:
        about = {key: value for key, value in asdict(self._about).items() if value}
        self.run_id = self._client.send("start", **about)["run"]
        say(f"Recording run {self.run_id}.")

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
            TextColumn("{task.description}", markup=False),
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
                    description=printable(
                        " ".join([state.stage or "", state.view.say, _values(state)])
                    ),
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
        while not self._stopping.is_asked():
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
