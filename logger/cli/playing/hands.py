"""The hands of the virtual bench: they say over the control line what a cook would say.

Takes the words and their times from the bench, the time of the run from the recorder.
"""

import contextlib
import logging
import threading
from typing import Any

from logger.cli.options import say_if_heard
from logger.control.client import Client, GoneError, RefusedError
from logger.model.errors import BainlogError
from logger.model.state import State
from logger.virtual.process import BenchProcess

log = logging.getLogger(__name__)

LOOK_S = 0.5
"""How often the hands look whether a new run began [s]."""
STOP_S = 5.0
MOST_BENCHES = 5
"""Benches of a demo that are replaced."""


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
            say_if_heard(f"The virtual bench has stopped and will not start again: {cause}.")
            return False
        say_if_heard(
            "The virtual bench was killed; a new one starts the batch again, as a new run."
        )
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
