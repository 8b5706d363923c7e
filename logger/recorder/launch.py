"""Starts a recorder in a process of its own and waits until it answers."""

import contextlib
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

from logger.control.client import Client, GoneError
from logger.model.errors import BainlogError, InputError
from logger.words.durations import exact_duration

READY_S = 20.0
LEAST_FILES = 128
"""Files that may be open at once: 16 ports, 64 control connections, and the rest."""
MOST_FILES = 1024


class RecorderProcess(subprocess.Popen[bytes]):
    """A recorder that was started here; what it says on standard error is passed on."""

    def __init__(self, command: list[str], **options: Any) -> None:
        super().__init__(command, stderr=subprocess.PIPE, start_new_session=True, **options)
        self.said: list[str] = []
        """Its last lines, oldest first."""
        self._listener = threading.Thread(target=_pass_on, args=(self, self.said), daemon=True)
        self._listener.start()

    def last_words(self) -> str:
        """Return the last line of one that has ended; call it after ``wait`` or ``poll``."""
        self._listener.join(1.0)
        return self.said[-1] if self.said else "it ended without a word"


def allow_open_files() -> None:
    """Make sure that enough files may be open at once, before anything is started.

    Raises
    ------
    BainlogError
        If the system does not allow it.
    """
    try:
        import resource
    except ImportError:  # Windows has no such limit
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft != resource.RLIM_INFINITY and soft < MOST_FILES:
        raised = MOST_FILES if hard == resource.RLIM_INFINITY else min(MOST_FILES, hard)
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (raised, hard))
            soft = raised
    if soft != resource.RLIM_INFINITY and soft < LEAST_FILES:
        raise BainlogError(
            f"only {soft} files may be open at once here, and recording needs {LEAST_FILES}; "
            f"raise the limit with 'ulimit -n {MOST_FILES}' and start again"
        )


def start_process(
    folder: Path,
    bench: Path | None,
    sheet: Path | None = None,
    *,
    speed: float = 1.0,
    follow: Path | None = None,
    with_parent: bool = False,
    resume: bool = True,
) -> RecorderProcess:
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
    process = RecorderProcess(command, stdin=subprocess.PIPE if with_parent else subprocess.DEVNULL)
    pause = threading.Event()
    with Client(folder) as client:
        for _ in range(int(READY_S / 0.05)):
            if (code := process.poll()) is not None:
                if process.stdin is not None:
                    process.stdin.close()
                text = process.last_words()
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
            if not text.startswith("refused: "):  # those words the command says itself
                with contextlib.suppress(OSError, ValueError):  # the terminal may be gone
                    sys.stderr.write(f"recorder: {text}\n")
    said[:] = [t.removeprefix("refused: ") for t in said]
