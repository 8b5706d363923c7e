"""Runs that a kill or a reboot left behind: resumed in the same boot, else closed as interrupted.

Called once at the start of a recorder, which holds the folder's lock: a run file that is still open
then has no living recorder.
"""

import logging
from collections.abc import Mapping
from pathlib import Path

from logger.model.errors import BainlogError
from logger.model.event import Event
from logger.ports.clock import Clock
from logger.recorder.corrections.goingon import judged, why_not
from logger.recorder.live.current import Current
from logger.recorder.replay.beside import derived_at_end
from logger.recorder.replay.replay import judge
from logger.recorder.setup import Setup
from logger.science.fats.fats import Fat
from logger.store.folder.datafolder import DataFolder
from logger.store.run.records import WriteBatch
from logger.store.run.runfile import RunView, RunWriter
from logger.words.durations import duration_text

log = logging.getLogger(__name__)


def recover(folder: DataFolder, setup: Setup, clock: Clock) -> Current | None:
    """Close what was left open; return the newest run resumed, or None.

    Parameters
    ----------
    folder : DataFolder
        Locked by the caller.
    setup : Setup
        A run is resumed only on the bench it began on.
    clock : Clock
        The axis goes on by it.
    """
    folder.clear_unborn()
    resumed: Current | None = None
    for path in reversed(folder.unfinished_runs()):
        try:
            if resumed is None:
                resumed = _resume(path, setup, clock)
                if resumed is not None:
                    continue
            close_interrupted(path, setup.fats)
        except BainlogError as cause:
            log.error("%s: could not be taken up or closed: %s", path.name, cause)
    tidy_ended(folder)
    return resumed


def tidy_ended(folder: DataFolder) -> None:
    """Fold the log into each ended run that was killed before it was one file."""
    for path in folder.untidy_runs():
        try:
            with RunWriter.reopen(path) as file:
                file.tidy()
        except BainlogError as cause:
            log.warning("%s: whole, but its log stays beside it: %s", path.name, cause)


def _resume(path: Path, setup: Setup, clock: Clock) -> Current | None:
    """Go on with a run of this boot, with the same bench and clock; None where that cannot be."""
    with RunView.open(path) as view:
        same_boot = view.header.boot_id == clock.boot_id() != ""
        same = setup.resume and same_boot and not why_not(view, setup, clock)
        anchor = next(iter(view.anchors()), None) if same else None
        if anchor is None or anchor.t_ns is None:
            return None
        origin_ns = round(anchor.mono_ns * clock.speed) - anchor.t_ns
        now_ns = clock.now_ns() - origin_ns
        if now_ns < view.duration_ns:
            return None
        current = judged(view, setup, origin_ns=origin_ns, speed=clock.speed)
        missed_s = (now_ns - view.duration_ns) / 1e9
    current.file = RunWriter.reopen(path)
    for instrument in setup.bench.instrument:
        current.chunk(instrument.id, "close", b"", now_ns)
    current.events(
        [
            Event(
                t_ns=now_ns,
                kind="resumed",
                source="recorder",
                text=f"the recorder had stopped; {duration_text(missed_s)} were not recorded",
                data={"missed_s": missed_s},
            )
        ]
    )
    return current


def close_interrupted(path: Path, fats: Mapping[str, Fat]) -> None:
    """End a run that was cut off: judged as far as it goes, and marked interrupted."""
    with RunView.open(path) as view:
        end_ns = view.duration_ns
        _, pipeline = judge(view, fats)
        header = view.header
    events, results = pipeline.finish(end_ns)
    events.append(
        Event(
            t_ns=end_ns,
            kind="interrupted",
            source="recorder",
            text="the recorder stopped before the run was ended",
        )
    )
    ended_utc_ns = header.started_utc_ns + round(end_ns / header.clock_speed)
    results.derived = derived_at_end(path)
    with RunWriter.reopen(path) as file:
        file.write(WriteBatch(events=events))
        file.finish(results, ended_utc_ns, interrupted=True)
