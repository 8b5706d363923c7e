"""Starts a recorder in a process of its own and waits until it answers."""

import contextlib
import subprocess
import sys
import threading
from pathlib import Path

from logger.control.client import Client, GoneError
from logger.model.errors import BainlogError, InputError
from logger.words.durations import exact_duration

READY_S = 20.0


def start_process(
    folder: Path,
    bench: Path | None,
    sheet: Path | None = None,
    *,
    speed: float = 1.0,
    follow: Path | None = None,
    with_parent: bool = False,
    resume: bool = True,
) -> "subprocess.Popen[bytes]":
    """Start a recorder in a process of its own and wait until it answers.

    Parameters
    ----------
    folder : Path
        Data folder.
    bench : Path or None
        Bench file; None is a bench without an instrument, on which one can be set up.
    sheet : Path or None
        Sheet that a start without one takes.
    speed : float
        Seconds of the run in one of the wall [s/s]; 1 but for a virtual bench.
    follow : Path or None
        Clock file of a virtual bench that waits for its recorder.
    with_parent : bool
        End when this process ends.
    resume : bool
        Go on with a run that a kill left open.

    Raises
    ------
    InputError
        If the recorder refuses what it was given.
    BainlogError
        If it does not answer in time.
    """
    command = [sys.executable, "-m", "logger.recorder.process", "--data", str(folder)]
    command += ["--speed", repr(speed)]
    command += ["--bench", str(bench)] if bench is not None else []
    command += ["--sheet", str(sheet)] if sheet is not None else []
    command += ["--follow", str(follow)] if follow is not None else []
    command += ["--with-parent"] if with_parent else []
    command += [] if resume else ["--no-resume"]
    process = subprocess.Popen(
        command,
        stdin=subprocess.PIPE if with_parent else subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    said: list[str] = []
    thread = threading.Thread(target=_pass_on, args=(process, said), daemon=True)
    thread.start()
    pause = threading.Event()
    with Client(folder) as client:
        for _ in range(int(READY_S / 0.05)):
            if (code := process.poll()) is not None:
                thread.join(1.0)
                if process.stdin is not None:
                    process.stdin.close()
                text = said[-1] if said else "it ended without a word"
                if code == 2:
                    where, _, rest = text.partition(": ")
                    raise InputError(where, *(rest.split("; ", 1) if "; " in rest else (rest, "")))
                raise BainlogError(text)
            with contextlib.suppress(GoneError):
                if client.ask("ping")["pid"] == process.pid:
                    return process
            pause.wait(0.05)
    process.terminate()
    raise BainlogError(f"the recorder did not answer within {exact_duration(READY_S)}")


def _pass_on(process: "subprocess.Popen[bytes]", said: list[str]) -> None:
    """Keep the recorder's last words and let them be seen."""
    if process.stderr is None:
        return
    with process.stderr:
        for line in process.stderr:
            text = line.decode(errors="replace").rstrip()
            said[:] = [*said[-20:], text]
            if process.returncode is None and not text.startswith("refused: "):
                sys.stderr.write(f"recorder: {text}\n")
    said[:] = [t.removeprefix("refused: ") for t in said]
