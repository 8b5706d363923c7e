"""A correction of a finished run: the run is judged again with it, and both are saved at once.

Reads and writes a run file. Judging takes a while, so it is apart from the writing.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from logger.control.requests import Move, Undo
from logger.model.errors import InputError
from logger.model.event import ACTS, Event
from logger.model.finding import Results
from logger.model.history import ActRow
from logger.recorder.corrections.naming import correction
from logger.recorder.replay.replay import judge
from logger.recorder.replay.whole import STANDS, readings_gone
from logger.science.fats.fats import Fat
from logger.store.run.runfile import RunView, RunWriter


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A correction that is ready to be saved: its event, and what the run comes to with it."""

    event: Event
    results: Results


def acts_of(view: RunView, fats: Mapping[str, Fat]) -> list[ActRow]:
    """Return what the operator did in a run that stands; an older file is judged for it.

    Parameters
    ----------
    view : RunView
        The run file.
    fats : mapping
        Fats by key.
    """
    results = view.results()
    if results is None or (not results.acts and any(e.kind in ACTS for e in view.events())):
        results = judge(view, fats)[0]
    return sorted(results.acts, key=lambda act: act.at_ns)


def corrected_run(
    view: RunView, asked: Undo | Move, fats: Mapping[str, Fat], utc_ns: int
) -> Corrected:
    """Return a finished run with a correction, judged again.

    Parameters
    ----------
    view : RunView
        The run file.
    asked : Undo or Move
        The correction.
    fats : mapping
        Fats by key.
    utc_ns : int
        When it is asked [ns since 1970].

    Raises
    ------
    InputError
        If the run is being recorded, has not all the readings that it was judged from, or the
        correction cannot be made.
    """
    before = view.results()
    if view.ended_utc_ns is None:
        raise InputError(asked.do, f"run {view.header.run_id} has no end yet", "end it first")
    if gone := readings_gone(view):
        raise InputError(
            view.header.run_id,
            f"nothing can be undone or moved: {gone}",
            f"{STANDS[0].lower()}{STANDS[1:-1]}; write a note instead",
        )
    end_ns = view.duration_ns
    event = correction(
        asked,
        acts_of(view, fats),
        t_ns=end_ns,
        last_s=end_ns / 1e9,
        utc_ns=utc_ns,
        by=view.started_with().operator,
        immersions=before.immersions if before is not None else (),
    )
    results = judge(view, fats, more=[event])[0]
    if before is not None:
        results.derived = before.derived
    return Corrected(event=event, results=results)


def save(path: Path, made: Corrected) -> int:
    """Save a correction with the results, both or none; return the number of its event.

    Parameters
    ----------
    path : Path
        The run file.
    made : Corrected
        What `corrected_run` returned.

    Raises
    ------
    StoreError, BusyError
        If the file cannot be written.
    """
    with RunWriter.reopen(path) as file:
        return file.set_results(made.results, made.event)[0]
