"""Starts a recorder in a process of its own and waits until it answers; takes over another's."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from logger.control.address import read_address
from logger.control.client import Client, GoneError
from logger.model.errors import BainlogError, InputError
from logger.store.folder.datafolder import RECORDER_LOCK
from logger.store.folder.lock import is_held
from logger.words.durations import exact_duration

READY_S = 20.0
END_S = 30.0
"""How long a command waits for its recorder's end [s]."""
LOOK_S = 0.1
KILLED, FOLDER_GONE = -9, 1
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
        return self.said[-1] if self.said else "it ended without a message"


class FoundRecorder:
    """A recorder whose command was killed, taken over by this one.

    It is no child of this process, so its end is seen by the lock and the address that it leaves.

    Parameters
    ----------
    folder : Path
        Data folder.
    pid : int
        Its process, as it answered.
    """

    stdin = None

    def __init__(self, folder: Path, pid: int) -> None:
        self.pid = pid
        self._folder = folder
        self._lock_file = folder / RECORDER_LOCK

    def poll(self) -> int | None:
        """Return None while it is there, 0 after an orderly end, else how it ended."""
        address = read_address(self._folder)
        same = address is None or address.pid == self.pid
        if same and is_held(self._lock_file):
            return None
        if not self._folder.is_dir():
            return FOLDER_GONE
        return KILLED if address is not None and address.pid == self.pid else 0

    def terminate(self) -> None:
        """Ask it to end; its run is saved."""
        if self.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGTERM)

    def wait(self, timeout: float) -> int:
        """Wait for its end; return how it ended.

        Parameters
        ----------
        timeout : float
            [s]

        Raises
        ------
        TimeoutExpired
            If it is still there then.
        """
        end_s, pause = time.monotonic() + timeout, threading.Event()
        while (code := self.poll()) is None:
            if time.monotonic() > end_s:
                raise subprocess.TimeoutExpired("recorder", timeout)
            pause.wait(LOOK_S)
        return code

    def last_words(self) -> str:
        """Return why it ended; what it said itself went to the command that was killed."""
        return (
            f"the data folder {self._folder} was removed or moved; the recorder saves its run in "
            "the folder bainlog-rescued of this user"
        )


def end_recorder(
    recorder: RecorderProcess | FoundRecorder, say: Callable[[str], None], within_s: float = END_S
) -> bool:
    """Ask a recorder to end and wait until its run is saved; False where it does not end.

    Parameters
    ----------
    recorder : RecorderProcess or FoundRecorder
        Started or taken over by this command.
    say : callable
        Takes a line for the person.
    within_s : float
        How long it is waited for [s].
    """
    recorder.terminate()
    with contextlib.suppress(KeyboardInterrupt):
        try:
            recorder.wait(within_s)
        except subprocess.TimeoutExpired:
            say("The recorder does not stop; it goes on in the background.")
    if recorder.poll() is None:
        return False
    if isinstance(recorder, RecorderProcess):
        recorder.last_words()  # all that it said has been passed on then
    return True


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
    try:
        _wait_until_ready(process, folder)
    except BaseException:  # also Ctrl-C: no recorder stays that nobody keeps
        process.terminate()
        raise
    return process


def _wait_until_ready(process: RecorderProcess, folder: Path) -> None:
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
                    return
            pause.wait(0.05)
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
