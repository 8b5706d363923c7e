"""A run under way worked out again from its file, beside its recording.

Used by the owner of the run. An act of the last minutes is taken back by the engine itself; any
other correction takes judging the run again. That is done in a thread of its own up to where the
engine stands; what came meanwhile was noted and is then judged after it.
"""

import logging
import threading
from concurrent.futures import Future
from typing import Any

from logger.control.requests import Move, Undo
from logger.model.errors import BainlogError
from logger.model.event import ACTS, Event
from logger.model.history import ActRow
from logger.recorder.corrections.naming import correction
from logger.recorder.live.current import Current
from logger.recorder.live.pipeline import Pipeline
from logger.recorder.live.writer import Writer
from logger.recorder.replay.replay import judged_up_to
from logger.store.run.runfile import RunView
from logger.watch.engine.acts import act_row

log = logging.getLogger(__name__)


class Corrections:
    """Corrections of the run under way.

    Parameters
    ----------
    writer : Writer
        Knows the numbers of events, and when they are on the disk.
    """

    def __init__(self, writer: Writer) -> None:
        self._writer = writer
        self._taken: set[int] = set()
        """Acts that were taken back, by their time [ns]."""
        self._asked_ns: int | None = None
        """Time of the latest correction that takes working out the run again [ns]."""
        self._judging: _Judging | None = None

    @property
    def busy(self) -> bool:
        """Whether the run is to be worked out again, or is being so."""
        return self._asked_ns is not None or self._judging is not None

    def restart(self) -> None:
        """Forget the run before: another one begins."""
        self._taken.clear()
        self._asked_ns = self._judging = None

    def acts(self, current: Current) -> list[ActRow]:
        """Return what the operator did that stands, in the order it was done, also what the engine
        has not seen yet."""
        engine = current.pipeline.engine
        found = list(engine.results().acts)
        for act in found:
            act.event = act.event or self._writer.number_of(act.at_ns, act.kind)
        found += [
            act_row(event, self._writer.number_of(event.t_ns, event.kind))
            for event in current.pipeline.waiting()
            if event.kind in ACTS
        ]
        stand = [act for act in found if act.at_ns not in self._taken]
        return sorted(stand, key=lambda act: act.at_ns)

    def event(
        self, asked: Undo | Move, current: Current, *, now_ns: int, utc_ns: int, by: str = ""
    ) -> Event:
        """Return the event of a correction of the run under way.

        Parameters
        ----------
        asked : Undo or Move
            What is asked.
        current : Current
            The run.
        now_ns : int
            On its axis [ns].
        utc_ns : int
            [ns since 1970].
        by : str
            Who asks, where the request does not say so.

        Raises
        ------
        InputError
            If there is no such act, or it cannot be corrected like that.
        """
        acts = self.acts(current)
        event = correction(
            asked,
            acts,
            t_ns=now_ns,
            last_s=now_ns / 1e9,
            utc_ns=utc_ns,
            by=by,
            immersions=current.pipeline.engine.results().immersions,
        )
        at_ns = event.data["at_ns"]
        waits = any(e.t_ns == at_ns for e in current.pipeline.waiting())
        at_once = waits or current.pipeline.engine.takes_back(at_ns, now_ns)
        if isinstance(asked, Undo):
            self._taken.add(at_ns)
        if isinstance(asked, Move) or not at_once or self.busy:
            event.data["again"] = True
            self._asked_ns = now_ns
        return event

    def look(self, current: Current) -> None:
        """Begin to work the run out again when it is due, and take it up when it is done."""
        if self._judging is not None:
            if self._judging.is_alive():
                return
            self._take_up(current)
        if self._asked_ns is not None and current.pipeline.seen_ns >= self._asked_ns:
            self._begin(current)

    def settle(self, current: Current) -> None:
        """Wait for what is under way; all that the engine has seen must be on its way to the disk.

        Parameters
        ----------
        current : Current
            The run, which is about to end.
        """
        while self.busy:
            if self._judging is None:
                self._begin(current)
            if self._judging is not None:
                self._judging.join()
                self._take_up(current)

    def _begin(self, current: Current) -> None:
        self._asked_ns = None
        if current.file is None:
            return
        current.pipeline.note()
        on_disk: Future[Any] = self._writer.do(lambda: None)
        self._judging = _Judging(current, current.pipeline.seen_ns, on_disk)
        self._judging.start()

    def _take_up(self, current: Current) -> None:
        judging, self._judging = self._judging, None
        if judging is not None and judging.made is not None and judging.current is current:
            current.pipeline.give_way(judging.made)


class _Judging(threading.Thread):
    """Judges a run from its file, up to a time [ns]."""

    def __init__(self, current: Current, until_ns: int, on_disk: "Future[Any]") -> None:
        super().__init__(name="judging again", daemon=True)
        self.current = current
        self._until_ns = until_ns
        self._on_disk = on_disk
        self._path = current.file.path if current.file is not None else None
        self.made: Pipeline | None = None

    def run(self) -> None:
        self._on_disk.result()
        if self._path is None:
            return
        try:
            with RunView.open(self._path) as view, view.together():
                self.made = judged_up_to(view, self.current.fats, self._until_ns)
        except BainlogError as cause:
            log.error("the run is worked out again when it is replayed: %s", cause)
        except Exception:
            log.exception("a bug in judging; the correction counts when the run is replayed")
