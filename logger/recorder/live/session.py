"""The recorder of one data folder: joins its threads, starts and stops them, answers clients.

Holds the lock of the folder. Begins by watching the bench; a run starts and ends by command, so
that the bench can be looked at before. What a client sends is checked and parsed in the thread of
its connection.
"""

import contextlib
import json
import logging
import os
import threading
from importlib.metadata import version
from pathlib import Path
from typing import Any, cast

from logger.control.door import request_of
from logger.control.requests import AskResults, GoOn, Move, Start, Undo
from logger.control.server import ControlServer
from logger.model.errors import InputError
from logger.ports.clock import Clock
from logger.recorder.care.care import Care
from logger.recorder.corrections.goingon import resumed
from logger.recorder.corrections.stored import corrected_run, save
from logger.recorder.live.command import Asked, ResumeRun, Rewire
from logger.recorder.live.inbox import Inbox
from logger.recorder.live.latest import LatestState
from logger.recorder.live.owner import Owner
from logger.recorder.live.runs import Runs, read_start
from logger.recorder.live.table import Table
from logger.recorder.live.writer import Writer
from logger.recorder.replay.recovery import recover
from logger.recorder.setup import Setup
from logger.store.folder.datafolder import DataFolder
from logger.store.run.runfile import RunView

log = logging.getLogger(__name__)


class Recorder:
    """Records the bench of one data folder.

    Parameters
    ----------
    folder : DataFolder
        Locked for this recorder while it runs.
    setup : Setup
        Bench, line formats, sheet.
    clock : Clock
        Speed 1 but for a virtual bench.
    bench_file : Path or None
        Where changes of the bench are written; None is ``bench.toml`` of the folder.

    Raises
    ------
    BusyError
        If another recorder holds the folder; named.
    InputError
        If the bench does not fit its line formats.
    """

    def __init__(
        self, folder: DataFolder, setup: Setup, clock: Clock, bench_file: Path | None = None
    ) -> None:
        self._inbox = Inbox()
        self._folder = folder
        self._clock = clock
        self._correcting = threading.Lock()
        self._table = Table(setup, clock, self._inbox.deliver)
        self._latest = LatestState(self._inbox.wake)
        self._control = ControlServer(folder.path, self.answer)
        self._lock = folder.lock()
        try:
            left_over = recover(folder, setup, clock)
        except BaseException:
            self._lock.release()
            raise
        self._writer = Writer(self._latest, folder)
        runs = Runs(folder, self._table, clock, self._writer)
        self._owner = Owner(
            clock,
            self._inbox,
            table=self._table,
            runs=runs,
            writer=self._writer,
            latest=self._latest,
            current=left_over or runs.watching(),
        )
        self._care = Care(
            folder,
            bench_file or folder.bench_file,
            setup=lambda: self._table.setup,
            recording=lambda: self._owner.current.recording,
            ask=self.answer,
            rewire=lambda fresh: self._inbox.ask(Rewire(setup=fresh)),
        )

    def start(self) -> None:
        """Open the ports, begin to watch, answer commands."""
        self._writer.start()
        self._owner.start()
        self._table.start()
        self._control.start()

    def stop(self) -> None:
        """End the run if there is one, saved; close the ports; let the folder go."""
        had_run = self._end_run()
        self._control.stop()
        if not had_run:
            self._end_run()  # one that was asked for while this began to stop
        self._table.stop()
        self._owner.stop()
        self._owner.join()
        self._writer.stop()
        self._writer.join()
        if self._owner.current.file is not None:
            self._owner.current.file.close()
        self._lock.release()

    def is_at_home(self) -> bool:
        """Whether data folder and run file are where they were."""
        file = self._owner.current.file
        return self._lock.is_there() and (file is None or file.path.exists())

    @property
    def run_id(self) -> str:
        """The run under way; empty where there is none."""
        return self._owner.current.run_id

    def go_on_in(self, place: DataFolder) -> Path | None:
        """Write the run under way in another folder from now on; return its file, None without run.

        Parameters
        ----------
        place : DataFolder
            Where the run goes on.

        Raises
        ------
        StoreError, BusyError
            If it cannot be copied there.
        """
        return self._writer.go_on_in(place).result()

    @property
    def lost(self) -> str:
        """What is in no file after `stop`, in words; empty for nothing."""
        return self._writer.lost

    def _end_run(self) -> bool:
        """End the run if there is one; True where there was."""
        if not self._owner.is_alive():
            return False
        with contextlib.suppress(Exception):  # only its turn counts
            self._inbox.ask(AskResults())  # what was asked before is done once this is answered
        if not self._owner.current.recording:
            return False
        try:
            self.answer("run_end", {})
        except InputError as cause:
            log.error("the run stays open and continues at the next start: %s", cause)
        except Exception:
            log.exception("a bug: the run stays open and continues at the next start")
        return True

    def _correct(self, asked: Undo | Move) -> dict[str, Any]:
        """Correct a finished run, in the thread of the client's connection."""
        path = self._folder.run_path(asked.run or "")
        with self._correcting:
            with RunView.open(path) as view:
                made = corrected_run(view, asked, self._table.setup.fats, self._clock.utc_ns())
            seq = self._writer.do(lambda: save(path, made)).result()
        return {"seq": seq, "run": asked.run, "says": made.event.text}

    def answer(self, do: str, data: dict[str, Any]) -> Any:
        """Answer one request of the control line; called from several threads.

        Parameters
        ----------
        do : str
            What is asked.
        data : dict
            Plain JSON values.

        Raises
        ------
        InputError
            If it is refused.
        """
        if do == "ping":
            return {"version": version("bainlog"), "pid": os.getpid()}
        if do == "state":
            return self._latest.ask()
        if do == "describe":
            setup = self._table.setup
            return {
                "bench": json.loads(setup.bench.model_dump_json(by_alias=True)),
                "sheet": setup.sheet_text,
            }
        asked = request_of(do, data)
        if self._care.knows(asked):
            return self._care.answer(asked)
        if isinstance(asked, Start):
            self._owner.refuse_while_recording(asked.do)  # before its sheet costs anything
            return self._inbox.ask(read_start(asked, self._folder, self._table.setup))
        if isinstance(asked, GoOn):
            self._owner.refuse_while_recording(asked.do)
            setup = self._table.setup
            run = resumed(self._folder, asked.run, setup, self._clock)
            return self._inbox.ask(ResumeRun(run=run, setup=setup))
        if isinstance(asked, Undo | Move) and asked.run not in (None, self._owner.current.run_id):
            return self._correct(asked)
        return self._inbox.ask(cast(Asked, asked))
