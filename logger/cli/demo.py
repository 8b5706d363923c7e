"""``demo``: a batch on the virtual bench, recorded and shown like a real one.

Everything but the bench itself is the real thing: pseudo-terminals, recorder process, screen. A
page that says how far it is stands at the address at once; what is slow to load (``playing``)
comes behind it.
"""

import contextlib
import os
import signal
import sys
import threading
import webbrowser
from pathlib import Path

import click

from logger.cli.options import default_folder
from logger.recorder.stopping import stop_like_ctrl_c


@click.command()
@click.option(
    "--speed",
    type=click.FloatRange(0.1, 60),
    default=6.0,
    show_default=True,
    help="How much faster than a real bench.",
)
@click.option("--port", type=int, default=8420, show_default=True, help="Port of the screen.")
@click.option("--no-browser", is_flag=True, help="Do not open a browser.")
@click.option(
    "--seed",
    type=int,
    default=1,
    show_default=True,
    help="The same number gives the same batch.",
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

    Ctrl-C ends it; the run is saved and stays in the list. If the data folder is empty,
    finished runs are added first, good and failed ones.
    """
    from dashboard.doors.address import LOOPBACK, bind
    from dashboard.doors.waiting import Waiting

    stop_like_ctrl_c("SIGHUP")
    if with_parent:
        threading.Thread(target=_end_with_input, daemon=True).start()
    with contextlib.ExitStack() as end:
        bound = bind(LOOPBACK, port)
        end.callback(bound.listener.close)
        waiting = Waiting(bound.listener)
        end.callback(waiting.close)
        if not no_browser:
            threading.Thread(target=webbrowser.open, args=(bound.url,), daemon=True).start()
        from logger.cli.playing.batch import Batch, play  # not before somebody is answered

        batch = Batch(seed=seed, speed=speed, short=short, faults=faults, causes=causes)
        folder = data or default_folder() / "demo"
        play(batch, folder, bound, waiting, port=port, with_parent=with_parent)


def _end_with_input() -> None:
    """End as by SIGTERM when standard input closes: whoever started this is gone."""
    with contextlib.suppress(OSError, ValueError):
        while os.read(sys.stdin.fileno(), 1):
            pass
    os.kill(os.getpid(), signal.SIGTERM)
