"""The thread that alone writes run files: takes turns and commits them, in order.

Judges nothing and parses nothing. The state of a turn is shown, and its commands are answered,
after its commit. Turns come from the owner of the run, through a short queue: while the disk is
slow the owner waits, and what ports deliver waits in its inbox.
"""

import logging
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import Any, Generic, TypeVar

from logger.model.errors import BainlogError
from logger.model.event import Event
from logger.recorder.live.command import Command, Reply
from logger.recorder.live.commits import Commits
from logger.recorder.live.latest import LatestState
from logger.recorder.live.turn import Turn
from logger.store.folder.datafolder import DataFolder

log = logging.getLogger(__name__)

PLACES = 8
"""Turns that wait at most."""


Made = TypeVar("Made")


class Job(Generic[Made]):
    """Something to do between two turns, and where its result goes."""

    def __init__(self, act: Callable[[], Made], result: "Future[Made]") -> None:
        self._act = act
        self._result = result

    def run(self) -> None:
        """Do it; an error goes to whoever waits."""
        try:
            self._result.set_result(self._act())
        except BainlogError as cause:
            self._result.set_exception(cause)
        except Exception as cause:
            self._result.set_exception(cause)
            raise


class Writer(threading.Thread):
    """Runs until told to stop.

    Parameters
    ----------
    latest : LatestState
        Where each turn's state is shown.
    ballast : DataFolder
        Whose ballast is removed when the disk is full.
    """

    def __init__(self, latest: LatestState, ballast: DataFolder) -> None:
        super().__init__(name="writer")
        self._latest = latest
        self._queue: queue.Queue[Turn | Job[Any] | None] = queue.Queue(PLACES)
        self._news: queue.SimpleQueue[tuple[str, str]] = queue.SimpleQueue()
        self._waiting: list[tuple[Event, Reply]] = []
        self._ready: list[tuple[Command, Any]] = []
        self._numbers: dict[tuple[int, str], int] = {}
        self._commits = Commits(
            ballast,
            written=self._note_written,
            refused=self._note_refused,
            ended=lambda ending: self._ready.append((ending.command, ending.answer)),
            say=lambda kind, text: self._news.put((kind, text)),
            number_of=self.number_of,
        )

    def hand(self, turn: Turn) -> None:
        """Take a turn, to be committed after those before it; waits while too many wait."""
        self._queue.put(turn)

    def do(self, act: Callable[[], Made], result: "Future[Made] | None" = None) -> "Future[Made]":
        """Take something else to be done with files, after all turns before it.

        Parameters
        ----------
        act : callable
            Called by this thread.
        result : Future or None
            Where what it returns or raises goes; None is a new one.
        """
        result = Future() if result is None else result
        self._queue.put(Job(act, result))
        return result

    def stop(self) -> None:
        """End after all that was handed over."""
        self._queue.put(None)

    @property
    def disk_full(self) -> bool:
        """Whether the disk takes nothing at the moment."""
        return self._commits.disk_full

    @property
    def lost(self) -> str:
        """What is in no file, in words; known once the thread has ended."""
        return self._commits.lost

    def go_on_in(self, place: DataFolder) -> "Future[Path | None]":
        """Write the run under way in another folder from now on; see `Commits.go_on_in`.

        Parameters
        ----------
        place : DataFolder
            Where the run goes on.
        """
        return self.do(lambda: self._commits.go_on_in(place))

    def news(self) -> list[tuple[str, str]]:
        """Return what there is to say of the disk since the last call: kind and text of events."""
        return [self._news.get_nowait() for _ in range(self._news.qsize())]

    def number_of(self, at_ns: int, kind: str) -> int:
        """Return the number of an operator's event of the run under way, or 0.

        Parameters
        ----------
        at_ns : int
            Its time [ns].
        kind : str
            Its kind: two acts may have one time.
        """
        # a Next, or a Yes to a question, may stand as a stage now
        kinds = (kind, "next", "accept") if kind == "stage" else (kind,)
        return next((n for k in kinds if (n := self._numbers.get((at_ns, k), 0))), 0)

    def forget_numbers(self) -> None:
        """Forget the numbers of events: another run begins, and all of this one is written."""
        self._numbers.clear()

    def run(self) -> None:
        """Commit turns as they come."""
        while (item := self._queue.get()) is not None:
            try:
                if isinstance(item, Job):
                    item.run()
                else:
                    self._take(item)
            except Exception:
                log.exception("a bug in the writer; recording goes on")
        self._commits.give_up()
        self._answer()

    def _take(self, turn: Turn) -> None:
        for reply in turn.replies:
            if reply.event is None:
                self._ready.append((reply.command, reply.answer))
            else:
                self._waiting.append((reply.event, reply))
        try:
            self._commits.commit(turn)
        except Exception as cause:
            self._fail(turn, cause)
            raise
        finally:
            self._show(turn)
            self._answer()

    def _note_written(self, numbers: list[tuple[Event, int]]) -> None:
        number = {id(event): seq for event, seq in numbers}
        self._numbers |= {(e.t_ns, e.kind): seq for e, seq in numbers if e.source == "operator"}
        still: list[tuple[Event, Reply]] = []
        for event, reply in self._waiting:
            seq = number.get(id(event))
            if seq is None:
                still.append((event, reply))
                continue
            answer = reply.answer
            if answer is None:
                answer = {"seq": seq, "t_s": event.t_ns / 1e9, "kind": event.kind}
                answer |= {"says": reply.says} if reply.says else {}
            self._ready.append((reply.command, answer))
        self._waiting = still

    def _note_refused(self, refused: Event, cause: Exception) -> None:
        """Tell the command of an event that a bug keeps from the disk."""
        for event, reply in self._waiting:
            if event is refused:
                reply.command.answer.set_exception(cause)
        self._waiting = [(e, r) for e, r in self._waiting if e is not refused]

    def _fail(self, turn: Turn, cause: Exception) -> None:
        """Tell the commands of a turn that a bug kept from the disk."""
        lost = {id(reply) for reply in turn.replies}
        for _, reply in self._waiting:
            if id(reply) in lost:
                reply.command.answer.set_exception(cause)
        self._waiting = [(e, r) for e, r in self._waiting if id(r) not in lost]

    def _show(self, turn: Turn) -> None:
        """Show the turn's state; where it has none, that of before is old from here on."""
        if turn.state is not None:
            ring = self._commits.ring
            turn.state["recorder"] |= {
                "disk": "full" if self._commits.disk_full else "ok",
                "ring_s": ring.span_s,
                "dropped": turn.state["recorder"]["dropped"] + ring.dropped,
            }
            self._latest.show(turn.state)
        elif self._ready:
            self._latest.outdate()

    def _answer(self) -> None:
        ready, self._ready = self._ready, []
        for command, answer in ready:
            command.answer.set_result(answer)
