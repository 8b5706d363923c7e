"""The thread that alone parses, judges and writes.

Everything arrives in one bounded queue: what ports deliver and what people ask. Each turn takes all
that is there, lets the engine see it, commits one transaction and answers the commands in it.
Commands are answered only after the commit that holds them.
"""

import logging
import threading
import time
from collections.abc import Callable
from typing import Any

from logger.model.errors import BainlogError, InputError, StoreError
from logger.model.event import Event
from logger.ports.clock import Clock
from logger.ports.instrument import PortBatch
from logger.recorder.clocks import read_clocks
from logger.recorder.command import Command, check
from logger.recorder.current import Current
from logger.recorder.inbox import Inbox
from logger.store.datafolder import DataFolder
from logger.store.records import WriteBatch
from logger.store.ring import Ring

log = logging.getLogger(__name__)

TURN_S = 0.1
"""Longest time between two commits [s of the wall]: what a kill can cost, and half of what a sample
waits before it is on the screen."""
ANCHOR_S = 10.0
CLOCK_STEP_NS = 50_000_000
COMPACT_S = 5.0
RETRY_S = 1.0
WHOLE = ("start", "run_end", "results", "rewire")
"""Commands about a whole run or the whole bench: no event comes of them."""
WATCHED_S = 3.0
"""A state is worked out each turn while someone has asked for it within this time [s]."""
STATE_WAIT_S = 5.0
"""A turn that takes longer than this [s] is not waited for: the state before it is given."""


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
        ports: Callable[[], list[dict[str, Any]]],
        ballast: DataFolder,
    ) -> None:
        super().__init__(name="writer")
        self._clock = clock
        self._inbox = inbox
        self.current = current
        self._turn_over = turn_over
        self._edit = edit
        self._ports = ports
        self._ballast = ballast
        self._stopping = threading.Event()
        self._waiting: list[tuple[Event, Command]] = []
        self._times_ns: dict[int, int] = {}
        """Time of each act by the number it was answered with: the engine knows it by its time."""
        self._ring = Ring()
        self._disk_full = False
        self._retry_at = 0.0
        self._anchored_at = 0.0
        self._compacted_at = 0.0
        self._utc_minus_mono: int | None = None
        self._boot_minus_mono: int | None = None
        self._watched_at = 0.0
        self._state: dict[str, Any] = {}
        self._state_current = False
        self._state_ready = threading.Condition()

    def stop(self) -> None:
        """End after what is in the inbox; the run stays open for the caller to end."""
        self._stopping.set()
        self._inbox.wake()

    def state(self) -> dict[str, Any]:
        """Return the latest state, no older than any command answered before.

        Waits for the next turn when nobody has looked for a while or a command was just answered.
        """
        fresh = time.monotonic() - self._watched_at < WATCHED_S
        self._watched_at = time.monotonic()
        with self._state_ready:
            if not fresh:
                self._state_current = False
            self._state_ready.wait_for(lambda: self._state_current, timeout=STATE_WAIT_S)
            return self._state

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
        self._commit()

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
        self._watch_clocks(now_ns)
        self.current.advance(now_ns)
        self._commit()
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
        return self._clock.now_ns() - self.current.origin_ns

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
        self._commit()
        if command.data.get("run") is not None:
            self._reply(command, self._edit(command))
            return
        if self._disk_full:
            raise InputError(command.do, "the disk is full", "free some room first")
        self.current.advance(self._now_ns())
        self._commit()
        self.current, answer = self._turn_over(command, self.current, self._clock.now_ns())
        self._anchored_at = 0.0
        self._commit()
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

    def _watch_clocks(self, now_ns: int) -> None:
        """Write an anchor every 10 s; a clock step or a suspended machine is an event."""
        wall = time.monotonic()
        if self._anchored_at and wall - self._anchored_at < ANCHOR_S:
            return
        self._anchored_at = wall
        reading = read_clocks(self._clock, now_ns)
        step = reading.utc_ns - reading.mono_ns
        asleep = reading.boottime_ns - reading.mono_ns
        if self._utc_minus_mono is not None:
            moved, slept = step - self._utc_minus_mono, 0
            if self._boot_minus_mono is not None and reading.boottime_ns:
                slept = asleep - self._boot_minus_mono
            if abs(slept) > CLOCK_STEP_NS:
                self._say(now_ns, "suspended", f"the computer slept for {slept / 1e9:.0f} s", slept)
            if abs(moved - slept) > CLOCK_STEP_NS:
                self._say(
                    now_ns, "clock_step",
                    f"the computer's clock was moved by {(moved - slept) / 1e9:+.2f} s; "
                    "the run's time axis is not affected", moved - slept,
                )  # fmt: skip
        self._utc_minus_mono, self._boot_minus_mono = step, asleep
        if self.current.recording:
            self.current.pending.anchors.append(reading)

    def _say(self, now_ns: int, kind: str, text: str, by_ns: int = 0) -> None:
        self.current.events(
            [
                Event(
                    t_ns=now_ns,
                    kind=kind,
                    source="recorder",
                    text=text,
                    data={"by_s": by_ns / 1e9} if by_ns else {},
                )
            ]
        )

    def _commit(self) -> None:
        file = self.current.file
        batch = self.current.take_pending()
        if file is None:
            return
        unsaved: WriteBatch | None = batch
        try:
            if self._disk_full:
                self._ring.add(batch)
                unsaved = None
                if time.monotonic() < self._retry_at:
                    return
                self._recover()
            elif batch:
                self._answer(batch, file.write(batch))
            unsaved = None
            if time.monotonic() - self._compacted_at > COMPACT_S and not self._disk_full:
                self._compacted_at = time.monotonic()
                file.compact()
        except StoreError as trouble:
            # A disk that fails is treated like a full one: what it did not take waits in memory.
            if not self._disk_full:
                log.error("%s", trouble)
                self._disk_full = True
                self._say(self._now_ns(), "disk_full", str(trouble))
                self._ballast.drop_ballast()
                if unsaved is not None:
                    self._ring.add(unsaved)
            self._retry_at = time.monotonic() + RETRY_S

    def _recover(self) -> None:
        """Write what waited in memory, oldest first; raises while there is no room."""
        file = self.current.file
        while file is not None and (batch := self._ring.oldest()) is not None:
            seqs = file.write(batch)
            self._ring.done()
            self._answer(batch, seqs)
        self._disk_full = False
        self._ballast.keep_ballast()
        lost = self._ring.dropped
        self._say(
            self._now_ns(), "disk_ok",
            f"there is room on the disk again; {lost} readings were lost" if lost
            else "there is room on the disk again; nothing was lost",
        )  # fmt: skip

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
        with self._state_ready:
            self._state_current = False
        command.answer.set_result(answer)

    def _publish(self, now_ns: int) -> None:
        if time.monotonic() - self._watched_at > WATCHED_S:
            return
        current = self.current
        state = current.pipeline.state(now_ns)
        state.phase = "recording" if current.recording else "idle"
        state.t_s = now_ns / 1e9
        state.run = current.about()
        state.ports = self._ports()
        for port in state.ports:
            port["untrusted"] = port["instrument"] in current.wiring.untrusted()
        state.recorder = {
            "disk": "full" if self._disk_full else "ok",
            "ring_s": self._ring.span_s,
            "dropped": self._ring.dropped + self._inbox.dropped,
            "clock_speed": self._clock.speed,
        }
        with self._state_ready:
            self._state = state.as_json()
            self._state_current = True
            self._state_ready.notify_all()
