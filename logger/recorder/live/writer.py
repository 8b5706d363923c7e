"""The thread that alone parses, judges and writes.

Everything arrives in one bounded queue: what ports deliver and what people ask. Each turn takes all
that is there, lets the engine see it, commits one transaction and answers the commands in it.
Commands are answered only after the commit that holds them.
"""

import logging
import threading
from collections.abc import Callable
from typing import Any

from logger.model.errors import BainlogError, InputError
from logger.model.event import Event
from logger.model.rows import PortRow, RecorderRow
from logger.ports.clock import Clock
from logger.ports.instrument import PortBatch
from logger.recorder.live.clockwatch import ClockWatch
from logger.recorder.live.command import Command, check
from logger.recorder.live.commits import Commits
from logger.recorder.live.current import Current
from logger.recorder.live.inbox import Inbox
from logger.recorder.live.latest import LatestState
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import WriteBatch

log = logging.getLogger(__name__)

TURN_S = 0.1
"""Longest time between two commits [s of the wall]: what a kill can cost, and half of what a sample
waits before it is on the screen."""
WHOLE = ("start", "run_end", "results", "rewire")
"""Commands about a whole run or the whole bench: no event comes of them."""


class Writer(threading.Thread):
    """Runs until told to stop.

    Parameters
    ----------
    clock : Clock
        The recorder's clock.
    inbox : Inbox
        What ports deliver and people ask.
    current : Current
        What to begin with.
    turn_over : callable
        ``turn_over(command, current, now_ns) -> (Current, answer)``: starts and ends runs.
    edit : callable
        ``edit(command) -> answer``: outcome and notes of a finished run.
    ports : callable
        Returns the status of each port for the screen.
    ballast : DataFolder
        Whose ballast goes overboard when the disk is full.
    """

    def __init__(
        self,
        clock: Clock,
        inbox: Inbox,
        current: Current,
        *,
        turn_over: Callable[[Command, Current, int], tuple[Current, Any]],
        edit: Callable[[Command], Any],
        ports: Callable[[], list[PortRow]],
        ballast: DataFolder,
    ) -> None:
        super().__init__(name="writer")
        self._clock = clock
        self._inbox = inbox
        self.current = current
        self._turn_over = turn_over
        self._edit = edit
        self._ports = ports
        self._stopping = threading.Event()
        self._waiting: list[tuple[Event, Command]] = []
        self._times_ns: dict[int, int] = {}
        """Time of each act by the number it was answered with: the engine knows it by its time."""
        self._clocks = ClockWatch(clock)
        self._commits = Commits(clock, ballast, self._answer)
        self._latest = LatestState(inbox.wake)

    def stop(self) -> None:
        """End after what is in the inbox; the run stays open for the caller to end."""
        self._stopping.set()
        self._inbox.wake()

    def state(self) -> dict[str, Any]:
        """Return the latest state, no older than any command answered before."""
        return self._latest.ask()

    def run(self) -> None:
        """Take turns."""
        while not (self._stopping.is_set() and self._inbox.empty()):
            try:
                self._turn()
            except BainlogError:
                log.exception("a turn of the recorder failed")
            except Exception:
                log.exception("a bug in the recorder; recording goes on")
                self._stopping.wait(TURN_S)
        self._commits.commit(self.current)

    def _turn(self) -> None:
        self._inbox.wait(TURN_S)
        # What is not there yet will be stamped later than this: on a busy machine the turn itself
        # takes a while, and what came meanwhile must not count as late.
        now_ns = self._now_ns()
        origin_ns = self.current.origin_ns
        for item in self._inbox.take():
            try:
                self._item(item)
            except Exception:
                log.exception("a bug in the recorder; the rest of this turn goes on")
        if self.current.origin_ns != origin_ns:  # a run began or ended in this turn
            now_ns = self._now_ns()
        self._clocks.look(self.current, now_ns)
        self.current.advance(now_ns)
        self._commits.commit(self.current)
        self._publish(now_ns)

    def _item(self, item: PortBatch | Command) -> None:
        if isinstance(item, Command):
            self._command(item)
        elif item.event is not None:
            self._port_event(item.event)
        else:
            self.current.chunk(
                item.instrument, item.kind, item.data, item.t_ns - self.current.origin_ns
            )

    def _now_ns(self) -> int:
        return self.current.axis_ns(self._clock)

    def _command(self, command: Command) -> None:
        try:
            run_id = command.data.get("run")
            if self.current.recording and run_id == self.current.run_id:
                del command.data["run"]  # the run under way: an act like any other
                run_id = None
            if command.do in WHOLE or run_id is not None:
                self._whole_run(command)
                return
            stage = self.current.pipeline.engine.stage_id if self.current.recording else None
            check(
                command.do,
                command.data,
                self.current.sheet if self.current.recording else None,
                stage,
            )
            undone = command.data.get("event") if command.do == "undo" else None
            if isinstance(undone, int) and undone in self._times_ns:
                command.data["at_ns"] = self._times_ns[undone]
            text = str(command.data.pop("text", ""))
            event = Event(
                t_ns=self._now_ns(), kind=command.do, source="operator", text=text,
                data=command.data,
            )  # fmt: skip
            for standing in self.current.events([event]):
                self._waiting.append((standing, command))
        except BainlogError as cause:
            command.answer.set_exception(cause)
        except Exception as cause:
            command.answer.set_exception(cause)
            raise

    def _whole_run(self, command: Command) -> None:
        """Start or end a run, or edit a finished one."""
        self._commits.commit(self.current)
        if command.data.get("run") is not None:
            self._reply(command, self._edit(command))
            return
        if self._commits.disk_full:
            raise InputError(command.do, "the disk is full", "free some room first")
        self.current.advance(self._now_ns())
        self._commits.commit(self.current)
        self.current, answer = self._turn_over(command, self.current, self._clock.now_ns())
        self._clocks.restart()
        self._commits.commit(self.current)
        self._reply(command, answer)

    def _port_event(self, event: Event) -> None:
        t_ns = max(0, event.t_ns - self.current.origin_ns)
        kind = {"foot_mark": "mark", "foot_undo": "undo"}.get(event.kind, event.kind)
        self.current.events(
            [
                Event(
                    t_ns=t_ns,
                    kind=kind,
                    source="operator" if kind != event.kind else event.source,
                    channel=event.channel,
                    port=event.port,
                    text=event.text,
                    data={"by": "foot switch"} if kind != event.kind else event.data,
                )
            ]
        )

    def _answer(self, batch: WriteBatch, seqs: list[int]) -> None:
        number = {id(event): seq for event, seq in zip(batch.events, seqs, strict=True)}
        still: list[tuple[Event, Command]] = []
        for event, command in self._waiting:
            if id(event) in number:
                self._times_ns[number[id(event)]] = event.t_ns
                self._reply(
                    command,
                    {"seq": number[id(event)], "t_s": event.t_ns / 1e9, "kind": event.kind},
                )
            else:
                still.append((event, command))
        self._waiting = still

    def _reply(self, command: Command, answer: Any) -> None:
        """Answer a command: the state of before is old from here on."""
        self._latest.outdate()
        command.answer.set_result(answer)

    def _publish(self, now_ns: int) -> None:
        if not self._latest.watched:
            return
        current = self.current
        state = current.pipeline.state(now_ns)
        state.phase = "recording" if current.recording else "idle"
        state.t_s = now_ns / 1e9
        state.run = current.about()
        state.ports = self._ports()
        for port in state.ports:
            port.untrusted = port.instrument in current.wiring.untrusted()
        state.recorder = RecorderRow(
            disk="full" if self._commits.disk_full else "ok",
            ring_s=self._commits.ring.span_s,
            dropped=self._commits.ring.dropped + self._inbox.dropped,
            clock_speed=self._clock.speed,
        )
        self._latest.show(state.as_json())
