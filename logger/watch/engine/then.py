"""A stage that begins at an earlier time than it was said: what the bench saw is offered first.

Pure; works on a `logger.watch.engine.run.Run`. What a detector tells of by `outside` becomes a
proposal; taking it begins the stage at the time when that began. An operator may also say a time
with the stage. The engine then goes back to the last state it kept before that time and takes
everything since once more, as if the stage had been begun then.
"""

from dataclasses import replace
from typing import NamedTuple

from logger.model.event import Event
from logger.model.history import BEGINNINGS, FIRST, MOVED_FROM, SAID_LATER, stamp_ns
from logger.model.kinds.registry import Stage, title_of
from logger.model.reading import Reading
from logger.model.state import Proposal
from logger.watch.engine.contract import Outside, seconds
from logger.watch.engine.run import Run
from logger.words.durations import clock

WHAT = "begin_stage"
"""Proposals of this module."""


class Wanted(NamedTuple):
    """A stage of the sheet, when it shall begin [ns], and the question that was answered."""

    stage: Stage
    at_ns: int
    answered: str = ""
    question: str = ""


def propose(run: Run, t_ns: int) -> None:
    """Ask of each happening outside its stage whether the stage shall begin then.

    Parameters
    ----------
    run : Run
        Under way.
    t_ns : int
        Now [ns].
    """
    scene = run.scene
    told = [detector.outside() for detector in scene.batch.detectors.values()]
    found = {f"then.{outside.key}": outside for outside in told if outside is not None}
    proposals = scene.out.proposals
    for key in [k for k, p in proposals.items() if p.what == WHAT and k not in found]:
        del proposals[key]
    for key, outside in found.items():
        if key not in scene.kept_on:
            _propose(run, key, outside, t_ns)


def _propose(run: Run, key: str, outside: Outside, t_ns: int) -> None:
    stage = run.scene.stages.named(outside.stage)
    if stage is None:
        return
    title = title_of(stage)
    current = run.scene.stages.current
    under_way = current is not None and current.id == stage.id
    ask = f"Did {title} begin then?" if under_way else f"Begin {title} then?"
    text = f"{outside.text} {ask}"
    known = run.scene.out.proposals.get(key)
    data = {"stage": stage.id, "at_ns": outside.from_ns}
    if known is not None:
        known.text, known.data = text, data
        return
    proposal = Proposal(id=key, text=text, what=WHAT, t_s=seconds(t_ns), data=data)
    run.scene.out.proposals[key] = proposal
    run.say(t_ns, "proposal", text, stage=stage.id, proposal=key, taken=False)


def wanted(run: Run, event: Event) -> Wanted | None:
    """Return which stage an event begins at an earlier time than its own, or None."""
    data, answered, question = event.data, "", event.text
    if event.kind == "accept":
        proposal = run.scene.out.proposals.get(str(data.get("proposal")))
        if proposal is None or proposal.what != WHAT:
            return None
        data, answered, question = proposal.data, proposal.id, proposal.text
    elif event.kind != "stage":
        return None
    at_ns = data.get("at_ns")
    stage = run.scene.stages.named(str(data.get("stage", event.stage or "")))
    if stage is None or not isinstance(at_ns, int) or at_ns >= event.t_ns:
        return None
    return Wanted(stage, at_ns, answered, question)


def as_said_then(event: Event, want: Wanted, first_ns: int | None = None) -> Event:
    """Return an event as if it had been said when its stage shall begin.

    Parameters
    ----------
    event : Event
        What was said, or answered.
    want : Wanted
        The stage and when it shall begin.
    first_ns : int or None
        When that stage had begun, where it had [ns].
    """
    data = {"stage": want.stage.id, MOVED_FROM: stamp_ns(event), SAID_LATER: True}
    if first_ns is not None:
        data[FIRST] = first_ns
    return replace(
        event, t_ns=want.at_ns, kind="stage", stage=want.stage.id, text=want.question, data=data
    )


def with_act(
    items: list[Reading | Event], act: Event, instead_of_ns: int | None
) -> list[Reading | Event]:
    """Return a part of the stream with an act put in at its time.

    Parameters
    ----------
    items : list of Reading or Event
        In time order.
    act : Event
        Comes before what has the same time.
    instead_of_ns : int or None
        The act that began a stage at this time is left out [ns].
    """
    place = next((n for n, item in enumerate(items) if item.t_ns >= act.t_ns), len(items))
    later = [
        item
        for item in items[place:]
        if not (isinstance(item, Event) and item.kind in BEGINNINGS and item.t_ns == instead_of_ns)
    ]
    return [*items[:place], act, *later]


def begun_text(want: Wanted) -> str:
    """Return that a stage begins at an earlier time, in words."""
    return f"{title_of(want.stage)} begins at {clock(seconds(want.at_ns))}, said later"
