"""What the operator's events do: stages, notes, typed values, proposals, alarms.

Pure; works on a `logger.watch.engine.run.Run`. What cannot be done is refused in words.
"""

from collections.abc import Callable

from logger.model.errors import InputError
from logger.model.event import Event
from logger.model.history import FIRST, MOVED_FROM, SAID_LATER, ActRow, stamp_ns
from logger.model.kinds.registry import title_of
from logger.model.rows import NoteRow, StageRow
from logger.science.gel.slabs import folded, slab_from_json
from logger.watch.engine import course, then
from logger.watch.engine.contract import seconds
from logger.watch.engine.run import Run

_ALARM_ACTS = ("ack", "shelve", "unshelve", "reset_latch", "out_of_service", "in_service")


def last_stage(run: Run) -> tuple[StageRow | None, bool]:
    """Return the row of the last stage that began, and whether it is under way."""
    stages = run.scene.stages
    return (stages.rows[-1] if stages.rows else None), stages.current is not None


def question_of(run: Run, event: Event) -> str:
    """Return the question that an event answers; empty where it answers none."""
    if event.kind not in ("accept", "decline"):
        return ""
    proposal = run.scene.out.proposals.get(str(event.data.get("proposal")))
    return proposal.text if proposal is not None else ""


def note_act(
    run: Run, event: Event, before: tuple[StageRow | None, bool], question: str = ""
) -> None:
    """Write down an act that was done, with the stages it ended and began.

    Parameters
    ----------
    run : Run
        Under way.
    event : Event
        What the operator did.
    before : tuple
        The last stage, and whether it was under way, before it was done.
    question : str
        What it answered, as it was asked.
    """
    (old, was_on), (new, _) = before, last_stage(run)
    begun = new if new is not old else None
    ended = old if was_on and old is not None and old.end_s is not None else None
    if event.kind in ("stage", "next") and begun is None and ended is None:
        return  # it was refused
    row = act_row(event)
    row.text = question or row.text
    row.ends, row.begins = _title(run, ended), _title(run, begun)
    if begun is not None and begun.start_s is not None:
        row.stage, row.t_s = begun.id, begun.start_s
    run.scene.out.results.acts.append(row)


def act_row(event: Event, number: int = 0) -> ActRow:
    """Return the row of an act, as far as its event tells.

    Parameters
    ----------
    event : Event
        What the operator did.
    number : int
        Of the event, where it has none yet.
    """
    piece, first_ns = event.data.get("piece"), event.data.get(FIRST)
    return ActRow(
        event=event.seq or number,
        at_ns=stamp_ns(event),
        kind=event.kind,
        t_s=seconds(event.t_ns),
        was_s=seconds(stamp_ns(event)) if MOVED_FROM in event.data else None,
        piece=piece if isinstance(piece, int) else None,
        text=event.text,
        said_later=SAID_LATER in event.data,
        first_s=seconds(first_ns) if isinstance(first_ns, int) else None,
    )


def _title(run: Run, row: StageRow | None) -> str:
    stage = run.scene.stages.named(row.id) if row is not None else None
    return title_of(stage) if stage is not None else ""


def take_slab(run: Run, event: Event) -> None:
    """Take the slab test that the run is judged with; what cannot be one is refused."""
    try:
        test = slab_from_json(event.data, "slab test")
    except InputError as cause:
        run.refuse(event, str(cause))
        return
    run.scene.batch.slabs[folded(test.alginate)] = test


def before_watchers(run: Run, event: Event) -> None:
    """Do what the watchers rely on when they see the event."""
    if event.kind == "set_value":
        name, value = event.data.get("name"), event.data.get("value")
        if isinstance(name, str) and isinstance(value, (int, float)):
            run.scene.batch.by_hand[name] = float(value)
        else:
            run.refuse(event, "a typed value needs a name and a number")


def after_watchers(run: Run, event: Event) -> None:
    """Do what the event asks, once the watchers have seen it."""
    acts: dict[str, Callable[[Run, Event], None]] = {
        "stage": _on_stage,
        "next": _on_next,
        "run_end": lambda r, e: course.finish(r, e.t_ns),
        "note": _on_note,
        "outcome": _on_outcome,
        "accept": _on_accept,
        "decline": _on_decline,
        "go_on": _on_go_on,
        "resumed": _on_go_on,
    }
    if event.kind in acts:
        acts[event.kind](run, event)
    elif event.kind in _ALARM_ACTS:
        _on_alarm_act(run, event)


def _on_stage(run: Run, event: Event) -> None:
    wanted = str(event.data.get("stage", event.stage or ""))
    stage = run.scene.stages.named(wanted)
    if stage is None:
        known = ", ".join(s.id for s in run.sheet.stage) or "none"
        run.refuse(event, f"the sheet has no stage {wanted!r}; its stages are {known}")
        return
    course.begin(run, stage, event.t_ns)


def _on_next(run: Run, event: Event) -> None:
    stages = run.scene.stages
    stage = run.sheet.stage[0] if run.scene.implied else stages.following()
    if stage is not None:
        course.begin(run, stage, event.t_ns)
    elif stages.current is not None:
        course.end_stage(run, event.t_ns)
    else:
        run.refuse(event, "the sheet has no further stage: end the run")


def _on_note(run: Run, event: Event) -> None:
    current = run.scene.stages.current
    run.scene.out.results.notes.append(
        NoteRow(
            t_s=seconds(event.t_ns),
            text=event.text,
            stage=current.id if current is not None else event.stage,
        )
    )


def _on_outcome(run: Run, event: Event) -> None:
    values = run.scene.out.results.values
    values["outcome"] = event.data.get("outcome")
    values["defects"] = list(event.data.get("defects", []))


def _on_accept(run: Run, event: Event) -> None:
    proposal = run.scene.out.proposals.pop(str(event.data.get("proposal")), None)
    if proposal is not None and proposal.what == "next_stage" and not proposal.taken:
        course.go_on(run, event.t_ns)


def _on_decline(run: Run, event: Event) -> None:
    proposal = run.scene.out.proposals.pop(str(event.data.get("proposal")), None)
    if proposal is not None and proposal.what in ("next_stage", then.WHAT):
        run.scene.kept_on.add(proposal.id)


def _on_go_on(run: Run, event: Event) -> None:
    """Take that nothing was recorded up to now: silence of sensors until then is no alarm.

    Time in which the batch was ended is no time of its stage.
    """
    missed_s = event.data.get("missed_s")
    if event.kind == "go_on" and isinstance(missed_s, int | float):
        run.scene.stages.go_on(event.t_ns, float(missed_s))
    run.tell_alarms(event.t_ns, run.scene.alarms.forgive_silences(event.t_ns))


def _on_alarm_act(run: Run, event: Event) -> None:
    alarms, alarm_id = run.scene.alarms, str(event.data.get("alarm"))
    for_s = event.data.get("for_s")
    if event.kind == "shelve":
        done = alarms.shelve(
            alarm_id, event.t_ns, float(for_s) if isinstance(for_s, (int, float)) else None
        )
    else:
        act = {
            "ack": alarms.acknowledge,
            "unshelve": alarms.unshelve,
            "reset_latch": alarms.reset_latch,
            "out_of_service": alarms.take_out,
            "in_service": alarms.put_back,
        }[event.kind]
        done = act(alarm_id, event.t_ns)
    if isinstance(done, str):
        run.refuse(event, done)
    else:
        run.tell_alarms(event.t_ns, done)


def after_the_end(run: Run, event: Event) -> None:
    """Take what still counts after the end of the run."""
    if event.kind == "note":
        _on_note(run, event)
    elif event.kind == "outcome":
        _on_outcome(run, event)
    elif event.source == "operator":
        run.refuse(event, "the run has ended")
