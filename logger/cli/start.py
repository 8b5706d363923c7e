"""``start``, ``record`` and ``ports``: recording a real bench."""

import contextlib
import signal
import subprocess
import threading
from pathlib import Path

import click

from logger.cli.options import data_option
from logger.cli.tryout import TryOut
from logger.control.client import Client, GoneError
from logger.model.errors import InputError
from logger.model.quantity import number_in
from logger.model.state import State
from logger.recorder.launch import start_process
from logger.store.folder.datafolder import DataFolder
from logger.words.durations import clock
from logger.words.values import value_text

FILE = click.Path(path_type=Path, dir_okay=False)


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
def start(
    data: Path, bench: Path | None, sheet: Path | None, port: int, lan: bool, no_browser: bool
) -> None:
    """Start recorder and screen for a real bench.

    Ctrl-C closes the screen and the recorder; a run under way is ended and saved. A recorder that
    runs already is left alone and only gets a screen. Without a bench file the screen helps to
    make one.
    """
    folder = DataFolder(data)
    stop_like_ctrl_c()
    recorder = None
    with Client(folder.path) as client:
        try:
            client.ask("ping")
            click.echo(f"The recorder of {folder.path} runs already; opening a screen for it.")
        except GoneError:
            own = folder.bench_file if folder.bench_file.is_file() else None
            recorder = start_process(folder.path, bench or own, sheet)
            if bench is None and own is None:
                click.echo("No bench file yet: the page Instruments helps to set one up.")
    from dashboard.serve import serve

    try_out = None if lan else TryOut(folder.path / "demo")
    try:
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
        if recorder is not None:
            end_process(recorder)


def stop_like_ctrl_c() -> None:
    """Let SIGTERM end the command as Ctrl-C does: the run is ended and saved."""

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, stop)


def end_process(recorder: "subprocess.Popen[bytes]") -> None:
    """Ask a recorder to end and wait until its run is saved."""
    recorder.terminate()
    with contextlib.suppress(KeyboardInterrupt):
        try:
            recorder.wait(30)
        except subprocess.TimeoutExpired:
            click.echo("The recorder does not end; it goes on in the background.", err=True)


@click.command()
@data_option
@click.option("--bench", type=FILE, help="Bench file. [default: bench.toml of the data folder]")
@click.option("--sheet", type=FILE, required=True, help="Batch sheet.")
@click.option("--for", "lasting", metavar="TIME", help="End by itself, for example after '20 min'.")
def record(data: Path, bench: Path | None, sheet: Path, lasting: str | None) -> None:
    """Record a run without a screen; Ctrl-C ends and saves it."""
    try:
        until_s = number_in(lasting, "s") if lasting else None
    except ValueError as cause:
        raise InputError("--for", str(cause), "give a time") from cause
    folder = DataFolder(data)
    recorder = start_process(folder.path, bench_path(folder, bench), sheet)
    stopping = threading.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda *_: stopping.set())
    try:
        with Client(folder.path) as client:
            run_id = client.send("start")["run"]
            click.echo(f"Recording run {run_id}.")
            _follow(client, until_s, stopping)
            client.send("run_end")
        click.echo(f"Saved. Look at it with: bainlog show {run_id}")
    finally:
        end_process(recorder)


def _follow(client: Client, until_s: float | None, stopping: threading.Event) -> None:
    """Show progress until time is up or someone stops it."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    with Progress(
        TextColumn("{task.fields[clock]}"),
        BarColumn(),
        TextColumn("{task.description}"),
        console=Console(stderr=True),
    ) as progress:
        task = progress.add_task("", total=until_s, clock=clock(0.0))
        while not stopping.is_set():
            state = client.state()
            t_s = state.t_s
            progress.update(
                task,
                completed=t_s,
                clock=clock(t_s),
                description=" ".join([state.stage or "", state.view.say, _values(state)]),
            )
            if until_s is not None and t_s >= until_s:
                return
            stopping.wait(0.5)


def _values(state: State) -> str:
    return "  ".join(
        f"{c.label} {value_text(c.value, c.unit, c.u_expanded)}"
        if c.status == "live" and c.value is not None
        else f"{c.label} {c.status}"
        for c in state.channels
    )
