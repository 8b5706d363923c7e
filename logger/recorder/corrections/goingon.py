"""A run that ended or was cut off goes on: which one that could be, and how it is taken up.

Reads run files and clocks. The time axis goes on by the monotonic clock while the computer was not
started anew, else by the wall clock; what was not recorded stays a gap. The run is judged up to its
end, so that it goes on within the stage it was in.
"""

import datetime
import logging
import time
from collections.abc import Sequence
from dataclasses import dataclass

from logger.model.errors import BainlogError, InputError
from logger.model.event import Event
from logger.model.kinds.registry import title_of
from logger.model.rows import GoOnRow
from logger.ports.clock import Clock
from logger.recorder.live.current import Current
from logger.recorder.replay.replay import judge
from logger.recorder.setup import Setup
from logger.store.folder.datafolder import DataFolder
from logger.store.folder.entries import local_iso
from logger.store.run.records import Anchor
from logger.store.run.runfile import RunView, RunWriter
from logger.words.durations import duration_text

log = logging.getLogger(__name__)

OFFERED_NS = 12 * 3_600_000_000_000
"""How long after its end a run is offered to go on [ns]."""
_LEAST_NS = 1_000_000
"""Least time between what is stored and what follows [ns]."""


def offer(folder: DataFolder, setup: Setup, clock: Clock) -> GoOnRow | None:
    """Return the newest run, if it can go on.

    Parameters
    ----------
    folder : DataFolder
        Where the runs are.
    setup : Setup
        A run goes on only on the bench it began on.
    clock : Clock
        Says how long ago it ended.
    """
    newest = folder.newest_run()
    if newest is None:
        return None
    try:
        with RunView.open(folder.run_path(newest)) as view, view.together():
            ended_ns = view.ended_utc_ns
            if ended_ns is None or why_not(view, setup, clock):
                return None
            if not 0 <= clock.utc_ns() - ended_ns <= OFFERED_NS or not view.sheet().stage:
                return None
            results = view.results()
            last = results.stages[-1].id if results is not None and results.stages else ""
            title = next((title_of(s) for s in view.sheet().stage if s.id == last), "")
            return GoOnRow(
                run=view.header.run_id,
                sheet=view.sheet().sheet.name,
                at=local_iso(view.header.started_utc_ns, view.header.zone)[11:16],
                stage=title,
                t_s=view.duration_ns / 1e9,
                interrupted=view.status == "interrupted",
                outcome=view.outcome().outcome or "",
            )
    except BainlogError as cause:
        log.warning("run %s cannot go on: %s", newest, cause)
        return None


def why_not(view: RunView, setup: Setup, clock: Clock) -> str:
    """Return why a run cannot go on here, in words; empty where it can.

    Parameters
    ----------
    view : RunView
        The run file.
    setup : Setup
        The bench of now.
    clock : Clock
        The recorder's clock.
    """
    header = view.header
    if header.origin != "live":
        return "it was imported"
    if header.clock_speed != clock.speed:
        return "its clock ran at another speed"
    if view.bench() != setup.bench:
        return "the bench was changed since"
    return "" if _last_anchor(view) is not None else "its clocks are not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed:
    """A run that is about to go on: judged so far, its file not opened yet."""

    current: Current
    event: Event


def resumed(folder: DataFolder, run_id: str, setup: Setup, clock: Clock) -> Resumed:
    """Return an ended run as it goes on now; called in the thread of the client's connection.

    Parameters
    ----------
    folder : DataFolder
        Where the run is.
    run_id : str
        Its id.
    setup : Setup
        Bench, line formats, fats.
    clock : Clock
        The axis goes on by it.

    Raises
    ------
    InputError
        If it cannot go on.
    StoreError
        If its file cannot be read.
    """
    with RunView.open(folder.run_path(run_id)) as view:
        why = why_not(view, setup, clock)
        if view.ended_utc_ns is None:
            why = "it has no end"
        anchor = _last_anchor(view)
        if why or anchor is None:
            raise InputError("go_on", f"run {run_id}: {why}", "start a batch of its own")
        now_ns = max(_axis_ns(anchor, clock), view.duration_ns + _LEAST_NS)
        missed_s = (now_ns - view.duration_ns) / 1e9
        event = Event(
            t_ns=now_ns,
            kind="go_on",
            source="recorder",
            text=f"the batch goes on; {duration_text(missed_s)} were not recorded",
            data={
                "missed_s": missed_s,
                "ended_s": view.duration_ns / 1e9,
                "utc": datetime.datetime.fromtimestamp(
                    clock.utc_ns() // 1_000_000_000, datetime.UTC
                ).isoformat(),
            },
        )
        current = judged(
            view, setup, origin_ns=clock.now_ns() - now_ns, speed=clock.speed, more=[event]
        )
    return Resumed(current=current, event=event)


def judged(
    view: RunView, setup: Setup, *, origin_ns: int, speed: float, more: Sequence[Event] = ()
) -> Current:
    """Return a run judged as far as it is stored, as one that goes on.

    Parameters
    ----------
    view : RunView
        The run file.
    setup : Setup
        Bench, line formats, fats.
    origin_ns : int
        Clock at run time 0 [ns].
    speed : float
        Run seconds per clock second [1].
    more : sequence of Event
        Judged after what is stored.
    """
    _, pipeline = judge(view, setup.fats, more=more)
    current = Current(
        setup.bench,
        setup.shapes,
        view.sheet(),
        setup.fats,
        origin_ns=origin_ns,
        today=view.header.started_date,
        run_id=view.header.run_id,
        speed=speed,
        operator=view.started_with().operator,
    )
    current.pipeline.take_over(pipeline)
    return current


def open_again(folder: DataFolder, run_id: str) -> RunWriter:
    """Open the file of an ended run so that it goes on.

    Parameters
    ----------
    folder : DataFolder
        Where the run is.
    run_id : str
        Its id.

    Raises
    ------
    StoreError, BusyError
        If it cannot be written.
    """
    file = RunWriter.reopen(folder.run_path(run_id))
    try:
        file.go_on()
    except BaseException:
        file.close()
        raise
    return file


def _last_anchor(view: RunView) -> Anchor | None:
    return next((a for a in reversed(view.anchors()) if a.t_ns is not None), None)


def _axis_ns(anchor: Anchor, clock: Clock) -> int:
    """Return the time on a run's axis now [ns], from its last comparison of clocks."""
    same_boot = anchor.boot_id == clock.boot_id() != ""
    passed_ns = (
        time.monotonic_ns() - anchor.mono_ns if same_boot else clock.utc_ns() - anchor.utc_ns
    )
    return (anchor.t_ns or 0) + round(max(0, passed_ns) * clock.speed)
