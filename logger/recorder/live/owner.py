"""The thread that owns the run: the one place where readings, events and commands meet the engine.

Each turn takes all that is in the inbox, lets the engine see it, and hands what came of it to the
writer: a batch for one transaction, the state for the screen, and the commands to answer after the
commit. Reads no port and writes no file.
"""

import dataclasses
import logging
import threading
from typing import Any

from logger.control.acts import require_known
from logger.control.requests import (
    Act,
    AskResults,
    Move,
    Note,
    Outcome,
    Photo,
    RemovePhoto,
    RunEnd,
    Undo,
)
from logger.model.errors import BainlogError, InputError
from logger.model.event import Event
from logger.model.history import BEGINNINGS
from logger.model.plainly import results_as_json
from logger.model.rows import GoOnRow
from logger.model.state import RecorderRow
from logger.ports.batch import PortBatch
from logger.ports.clock import Clock
from logger.recorder.corrections.again import Corrections
from logger.recorder.live.clockwatch import ClockWatch
from logger.recorder.live.command import Command, Reply, ResumeRun, Rewire, StartRun, check
from logger.recorder.live.current import Current
from logger.recorder.live.inbox import Inbox
from logger.recorder.live.latest import LatestState
from logger.recorder.live.runs import Runs
from logger.recorder.live.table import Table
from logger.recorder.live.turn import Ending, Turn
from logger.recorder.live.writer import Writer

log = logging.getLogger(__name__)

TURN_S = 0.1
"""Longest time between two commits [s of the wall]: what a kill can cost, and half of what a sample
waits before it is on the screen."""

MOST_ACTS = 200
"""The latest acts that the state names."""
TO_ANY_RUN = Outcome | Note | Photo | RemovePhoto | Undo | Move
"""What may name a finished run."""


class Owner(threading.Thread):
    """Runs until told to stop.

    Parameters
    ----------
    clock : Clock
        The recorder's clock.
    inbox : Inbox
        What ports deliver and people ask.
    table : Table
        The bench.
    runs : Runs
        Begins and ends runs.
    writer : Writer
        Takes each turn.
    latest : LatestState
        Says whether somebody looks.
    current : Current
        What to begin with.
    """

    def __init__(
        self,
        clock: Clock,
        inbox: Inbox,
        *,
        table: Table,
        runs: Runs,
        writer: Writer,
        latest: LatestState,
        current: Current,
    ) -> None:
        super().__init__(name="owner")
        self._clock = clock
        self._inbox = inbox
        self._table = table
        self._runs = runs
        self._writer = writer
        self._latest = latest
        self.current = current
        self._clocks = ClockWatch(clock)
        self._corrections = Corrections(writer)
        self._offer: GoOnRow | None = None
        self._replies: list[Reply] = []
        self._stopping = threading.Event()

    def stop(self) -> None:
        """End after what is in the inbox; a run stays open."""
        self._stopping.set()
        self._inbox.wake()

    def run(self) -> None:
        """Take turns."""
        self._writer.do(self._look_for_offer)
        while not (self._stopping.is_set() and self._inbox.empty()):
            try:
                self._turn()
            except Exception:
                log.exception("a bug in the recorder; recording goes on")
                self._stopping.wait(TURN_S)
        self._hand_over()

    def _turn(self) -> None:
        self._inbox.wait(TURN_S)
        # What is not there yet will be stamped later than this: on a busy machine the turn itself
        # takes a while, and what came meanwhile must not count as late.
        now_ns = self._now_ns()
        origin_ns = self.current.origin_ns
        for item in self._inbox.take():
            try:
                if isinstance(item, Command):
                    self._command(item)
                else:
                    self._delivered(item)
            except Exception:
                log.exception("a bug in the recorder; the rest of this turn goes on")
        if self.current.origin_ns != origin_ns:  # a run began or ended in this turn
            now_ns = self._now_ns()
        state = None
        try:
            for kind, text in self._writer.news():
                self.current.say(now_ns, kind, text)
            self._clocks.look(self.current, now_ns)
            self.current.advance(now_ns)
            self._corrections.look(self.current)
            state = self._state(now_ns) if self._latest.watched else None
        finally:
            self._hand_over(state=state)  # what has been read is stored whatever went wrong

    def _now_ns(self) -> int:
        return self.current.axis_ns(self._clock)

    def _hand_over(
        self, *, ending: Ending | None = None, state: dict[str, Any] | None = None
    ) -> None:
        """Hand what is pending to the writer."""
        replies, self._replies = self._replies, []
        current = self.current
        self._writer.hand(
            Turn(
                file=current.file,
                batch=current.take_pending(),
                replies=replies,
                ending=ending,
                state=state,
            )
        )

    # What ports deliver.

    def _delivered(self, item: PortBatch) -> None:
        t_ns = item.t_ns - self.current.origin_ns
        if item.event is None:
            self.current.chunk(item.instrument, item.kind, item.data, t_ns)
            return
        event = item.event
        kind = {"foot_mark": "mark", "foot_undo": "undo"}.get(event.kind, event.kind)
        if kind != event.kind:
            event = dataclasses.replace(
                event, kind=kind, source="operator", data={"by": "foot switch"}
            )
        at_ns = max(0, event.t_ns - self.current.origin_ns)
        event = dataclasses.replace(event, t_ns=at_ns)
        self.current.events([self._undo_by_foot(event) if event.kind == "undo" else event])

    def _undo_by_foot(self, event: Event) -> Event:
        """Name the act that a foot switch takes back; where there is none the engine says so."""
        try:
            return self._corrected(Undo(by="foot switch"), event.t_ns)
        except InputError:
            return event

    def _corrected(self, asked: Undo | Move, at_ns: int) -> Event:
        """Return the event of a correction of the run under way."""
        return self._corrections.event(
            asked,
            self.current,
            now_ns=at_ns,
            utc_ns=self._clock.utc_ns(),
            by=self.current.operator,
        )

    # What people ask.

    def _command(self, command: Command) -> None:
        try:
            self._judge(command)
        except BainlogError as cause:
            command.answer.set_exception(cause)
        except Exception as cause:
            command.answer.set_exception(cause)
            raise

    def _judge(self, command: Command) -> None:
        asked = command.asked
        if isinstance(asked, StartRun):
            self._begin(command, asked)
        elif isinstance(asked, ResumeRun):
            self._go_on(command, asked)
        elif isinstance(asked, RunEnd):
            self._end(command, asked)
        elif isinstance(asked, Rewire):
            self._rewire(command, asked)
        elif isinstance(asked, AskResults):
            results = results_as_json(self.current.pipeline.engine.results())
            self._replies.append(Reply(command=command, answer=results))
        elif self._is_of_another_run(asked):
            self._edit(command, asked)
        else:
            self._act(command, asked)

    def _is_of_another_run(self, act: Act) -> bool:
        run_id = act.run if isinstance(act, TO_ANY_RUN) else None
        return run_id is not None and not (self.current.recording and run_id == self.current.run_id)

    def _act(self, command: Command, act: Act) -> None:
        """Make an event of an act in the run under way."""
        current = self.current
        recording = current.recording
        stage = current.pipeline.engine.stage_id if recording else None
        moving = any(e.kind in BEGINNINGS for e in current.pipeline.waiting())
        check(act, current.sheet if recording else None, stage, moving=moving)
        now_ns = self._now_ns()
        if isinstance(act, Photo | RemovePhoto):
            self._runs.change_pictures(current, act)
        if isinstance(act, Undo | Move):
            event = self._corrected(act, now_ns)
        else:
            event = Event(
                t_ns=now_ns, kind=act.do, source="operator", text=act.text, data=act.data()
            )
        for standing in current.events([event]):
            says = standing.text if isinstance(act, Undo | Move) else ""
            self._replies.append(Reply(command=command, event=standing, says=says))

    def _begin(self, command: Command, asked: StartRun) -> None:
        self._may_begin(asked.do)
        self.current, first = self._runs.begin(asked)
        self._clocks.restart()
        answer = {"run": self.current.run_id}
        self._replies.append(Reply(command=command, event=first[0], answer=answer))

    def _go_on(self, command: Command, asked: ResumeRun) -> None:
        self._may_begin(asked.do)
        self.current, first = self._runs.go_on(asked)
        self._clocks.restart()
        answer = {"run": self.current.run_id}
        self._replies.append(Reply(command=command, event=first[0], answer=answer))

    def _may_begin(self, do: str) -> None:
        """Refuse a run while there is another, or no room; forget the one before."""
        self.refuse_while_recording(do)
        self._hand_over()
        self._writer.do(lambda: None).result()  # a run before this one is saved then, or cannot be
        self._refuse_on_full_disk(do)
        self._corrections.restart()
        self._writer.forget_numbers()

    def _end(self, command: Command, asked: RunEnd) -> None:
        current = self.current
        if not current.recording:
            raise InputError("run_end", "no batch is running", "start one first")
        said = {"outcome": None, "defects": [], **asked.model_dump(exclude_unset=True)}
        came = Outcome(**said)
        require_known(came, current.sheet)
        self._refuse_on_full_disk("run_end")
        end_ns = self._now_ns()
        current.advance(end_ns)
        if self._corrections.busy:
            current.pending.events += current.pipeline.see_all(end_ns - 1)
            self._hand_over()
            self._corrections.settle(current)
        if asked.outcome is not None or asked.text.strip() or asked.results or asked.pieces:
            about = came.data()
            current.events(
                [Event(t_ns=end_ns, kind=came.do, source="operator", text=came.text, data=about)]
            )
        results = self._runs.judge(current, end_ns)
        self._hand_over(
            ending=Ending(
                results=results,
                ended_utc_ns=self._clock.utc_ns(),
                command=command,
                answer={"run": current.run_id, "t_s": end_ns / 1e9},
            )
        )
        self.current = self._runs.watching()
        self._clocks.restart()
        self._writer.do(self._look_for_offer)  # once the run is saved

    def _look_for_offer(self) -> None:
        """Find the run that can go on."""
        self._offer = self._runs.offer()

    def _rewire(self, command: Command, asked: Rewire) -> None:
        self.refuse_while_recording(asked.do)
        self._table.rewire(asked.setup)
        self.current = self._runs.watching()
        self._clocks.restart()
        self._writer.do(self._look_for_offer)
        self._replies.append(Reply(command=command, answer={}))

    def _edit(self, command: Command, act: Act) -> None:
        """Let the writer change a finished run, after what it was given before."""
        self._hand_over()
        self._writer.do(lambda: self._runs.edit(act), command.answer)
        self._writer.do(self._look_for_offer)

    def refuse_while_recording(self, do: str) -> None:
        """Refuse what cannot be done while a run is recorded; asked from any thread.

        Raises
        ------
        InputError
            If one is.
        """
        if self.current.recording:
            raise InputError(do, f"run {self.current.run_id} is being recorded", "end it first")

    def _refuse_on_full_disk(self, do: str) -> None:
        if self._writer.disk_full:
            raise InputError(do, "the disk is full", "free some room first")

    # What the screen shows.

    def _state(self, now_ns: int) -> dict[str, Any]:
        current = self.current
        state = current.pipeline.state(now_ns)
        state.phase = "recording" if current.recording else "idle"
        state.t_s = now_ns / 1e9
        state.run = current.about()
        state.acts = self._corrections.acts(current)[-MOST_ACTS:] if current.recording else []
        state.go_on = None if current.recording else self._offer
        state.working_out = self._corrections.busy
        state.ports = self._table.ports()
        for port in state.ports:
            current.wiring.fill_in(port, now_ns)
        state.recorder = RecorderRow(clock_speed=self._clock.speed, dropped=self._inbox.dropped)
        return state.as_json()
