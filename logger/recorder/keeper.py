"""Keeps a command's recorder going: waits for one that is stopped, replaces one that was killed.

Used by commands, in their own process. One command of a data folder keeps its recorder, and holds
``keeper.lock`` for it; a recorder whose command was killed records on, and the next command takes
it over as it is. A run that a kill of the recorder cut off goes on in its own file, under its own
id and in its stage, where the bench is the same and the computer was not started anew; the recorder
that takes over decides that (``replay.recovery``). What was not recorded is said there.
"""

import contextlib
import threading
import time
from collections.abc import Callable
from pathlib import Path

from logger.control.address import read_address
from logger.control.client import Client, GoneError
from logger.model.errors import BainlogError, BusyError
from logger.recorder.launch import FoundRecorder, RecorderProcess, end_recorder
from logger.store.folder.datafolder import KEEPER_LOCK, RECORDER_LOCK
from logger.store.folder.lock import FileLock, holder, is_held
from logger.words.durations import exact_duration

LOOK_S = 1.0
MOST_IN_A_ROW, ROW_S = 5, 60.0
"""Recorders that may be started within a minute before it is given up."""
STOPPED_S = 120.0
"""How long another program's recorder may give no answer before that is an error [s]."""
END_S = 60.0
"""How long a recorder may take to save its run and end [s]."""
NOTICE_S = 10.0
"""How long a demo, or its recorder, may be there after what it belongs to was killed [s]."""


class Keeper:
    """One recorder, or the next in its place.

    Parameters
    ----------
    folder : Path
        Data folder.
    begin : callable
        Starts a recorder that goes on with what was left open.
    say : callable
        Takes a line for the person.
    """

    def __init__(
        self, folder: Path, begin: Callable[[], RecorderProcess], say: Callable[[str], None]
    ) -> None:
        self._folder = folder
        self._lock_file = folder / RECORDER_LOCK
        self._own_file = folder / KEEPER_LOCK
        self._begin = begin
        self._say = say
        self._own: FileLock | None = None
        self._started_s: list[float] = []
        self._heard_s = time.monotonic()
        self._silent = False
        self.process: RecorderProcess | FoundRecorder | None = None
        """The recorder that is kept here; None while another command keeps one."""
        self.left_behind = False
        """Whether the command that kept this folder's recorder before was killed."""

    def __enter__(self) -> "Keeper":
        return self

    def __exit__(self, *failure: object) -> None:
        """End the recorder that is kept; one that does not end is left to the next command."""
        if self.process is None or end_recorder(self.process, self._say):
            self.release()

    def take(self) -> bool:
        """Become the one that keeps this folder's recorder; False where another command is."""
        if self._own is not None:
            return True
        was_there = self._own_file.exists()
        try:
            self._own = FileLock(self._own_file, f"the recorder of {self._folder}")
        except BusyError:
            return False
        self.left_behind = was_there
        return True

    def take_alone(self, within_s: float = 0.0) -> None:
        """Become the one that keeps this folder's recorder.

        Parameters
        ----------
        within_s : float
            How long the end of another command is waited for [s].

        Raises
        ------
        BusyError
            If another command does; the message names it.
        """
        end_s = time.monotonic() + within_s
        while not self.take():
            if time.monotonic() < end_s:
                threading.Event().wait(LOOK_S)
                continue
            raise BusyError(
                f"data folder {self._folder} is recorded by the command of "
                f"{holder(self._own_file)}; end that one first"
            )

    def release(self) -> None:
        """Let others keep this folder's recorder."""
        if self._own is not None:
            self._own.release()
            self._own = None

    def find(self) -> bool:
        """Return whether a recorder runs already; wait for it if it is stopped or being started.

        Without one, this command is the one to start it. Where its own command was killed,
        `left_behind` says so.

        Raises
        ------
        BainlogError
            If a recorder holds the folder and gives no answer for long.
        """
        end_s = time.monotonic() + STOPPED_S
        with Client(self._folder) as client:
            while time.monotonic() < end_s:
                with contextlib.suppress(GoneError):
                    client.ask("ping")
                    self.answered()
                    return True
                if is_held(self._lock_file):
                    self._say_silent()
                elif self.take():
                    return False
                threading.Event().wait(LOOK_S)
        raise BainlogError(
            f"the {self._who()} holds {self._folder} and does not answer; end it and start again"
        )

    def wait_until_free(self) -> None:
        """Wait for a recorder that ends with its command, which was killed, as a demo's does.

        One that goes on answering is another command's: starting one then is refused.
        """
        begun_s = time.monotonic()
        with Client(self._folder) as client:
            while is_held(self._lock_file):
                waited_s = time.monotonic() - begun_s
                with contextlib.suppress(GoneError):
                    client.ask("ping")
                    if waited_s > NOTICE_S:
                        return
                if waited_s > END_S:
                    return
                threading.Event().wait(LOOK_S)

    def start(self, process: RecorderProcess) -> None:
        """Keep a recorder that was started just now."""
        self.process = process
        self._started_s.append(time.monotonic())

    def adopt(self) -> None:
        """Keep the recorder that was found; it ends with this command from now on."""
        address = read_address(self._folder)
        if address is not None:
            self.process = FoundRecorder(self._folder, address.pid)

    def adopt_if_left(self) -> None:
        """Keep the recorder that answers, where the command that kept it was killed meanwhile."""
        if self._own is not None or not self._own_file.exists() or is_held(self._own_file):
            return
        if not self.take():
            return
        if not self.left_behind or not is_held(self._lock_file):
            self.release()
            return
        self.adopt()
        self._say(
            "The command that ran the recorder was killed. The recorder goes on, and ends with "
            "this command."
        )

    def end_found(self) -> None:
        """End the recorder that was found; its run is saved.

        Raises
        ------
        BainlogError
            If it does not end.
        """
        self.adopt()
        process, self.process = self.process, None
        if process is not None and not end_recorder(process, self._say, END_S):
            raise BainlogError(
                f"the {self._who()} was left behind by a command that was killed, and does not "
                "end; end it and start again"
            )

    def unanswered(self) -> bool:
        """Do what there is to do when no answer came; True when another recorder took over.

        Raises
        ------
        BainlogError
            If the recorder ended for good, or none can be started in its place.
        """
        if not self._has_ended():
            self._say_silent()
            return False
        process = self.process
        code = process.poll() if process is not None else None
        if code == 0 or (code is None and read_address(self._folder) is None):
            raise BainlogError("the recorder was ended; its run, if there was one, is saved")
        if process is not None and code is not None and code > 0:
            raise BainlogError(process.last_words())
        if not self.take() or (process is None and is_held(self._lock_file)):
            return False  # the command that keeps it replaces it, or has done so
        self._silent = False
        self._say("The recorder was killed; another one takes over.")
        self._replace()
        return True

    def answered(self) -> None:
        """Note that an answer came."""
        now_s = time.monotonic()
        if self._silent:
            lasted = exact_duration(round(now_s - self._heard_s))
            self._say(f"The recorder answers again, after {lasted}.")
        self._silent, self._heard_s = False, now_s

    def _has_ended(self) -> bool:
        if self.process is not None:
            return self.process.poll() is not None
        return not is_held(self._lock_file)

    def _replace(self) -> None:
        now_s = time.monotonic()
        self._started_s = [s for s in self._started_s if now_s - s < ROW_S]
        if len(self._started_s) >= MOST_IN_A_ROW:
            raise BainlogError(
                f"{MOST_IN_A_ROW} recorders were killed within {exact_duration(ROW_S)}; "
                "find out why, then start again"
            )
        if self.process is not None and self.process.stdin is not None:
            self.process.stdin.close()
        try:
            self.start(self._begin())
        except BainlogError:
            if not is_held(self._lock_file):
                raise
            self.process = None  # another program was quicker: its recorder is as good
            self._started_s.append(now_s)

    def _say_silent(self) -> None:
        if not self._silent:
            self._silent = True
            self._say(f"The {self._who()} does not answer; waiting for it.")

    def _who(self) -> str:
        address = read_address(self._folder)
        return "recorder" if address is None else f"recorder (process {address.pid})"


class KeeperThread(threading.Thread):
    """Looks after a recorder while its command does something else.

    Parameters
    ----------
    keeper : Keeper
        Used by this thread alone while it runs.
    folder : Path
        Data folder.
    say : callable
        Takes a line for the person.
    over : callable
        Called once when this command's recorder ended for good; `failure` says why.
    """

    def __init__(
        self,
        keeper: Keeper,
        folder: Path,
        *,
        say: Callable[[str], None],
        over: Callable[[], None],
    ) -> None:
        super().__init__(name="keeper", daemon=True)
        self._keeper = keeper
        self._folder = folder
        self._say = say
        self._over = over
        self._stopping = threading.Event()
        self.failure: BainlogError | None = None

    def stop(self) -> None:
        """Look after it no longer; what is being started is waited for."""
        self._stopping.set()
        self.join()

    def run(self) -> None:
        """Ask again and again whether it is there."""
        with Client(self._folder) as client:
            while not self._stopping.wait(LOOK_S):
                try:
                    client.ask("ping")
                    self._keeper.answered()
                    self._keeper.adopt_if_left()
                except GoneError:
                    if self._stopping.is_set():
                        return
                    try:
                        self._keeper.unanswered()
                    except BainlogError as cause:
                        self._end(cause)
                        return

    def _end(self, cause: BainlogError) -> None:
        if self._keeper.process is None:  # it was never this command's: its screen stays
            self._say(f"{cause}. Start another one with 'bainlog start'.")
            return
        self.failure = cause
        self._over()
