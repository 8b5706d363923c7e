"""One engine for live and replay: readings and events in, events, findings and a state out.

Pure: it takes time from the stream alone, so the same stream gives the same answer however it was
cut into pieces. Input comes in time order from logger.watch.merge (live) or from a sorted run file
(replay); output goes to the recorder, the store and the screen. Readings are corrected before they
come here.

The stream is readings and events; at every whole second of the run's axis a tick comes before the
items of that time. Each goes to the watchers that live as long as the run and to the watcher of
the stage under way; what a watcher says is passed on to the others.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.finding import Results
from logger.model.reading import Flag, Reading
from logger.model.sheet import Sheet, Stage
from logger.model.state import Proposal, State
from logger.science.fats import Fat
from logger.watch import kinds, now
from logger.watch.alarms import Alarms, Change
from logger.watch.contract import Batch, Condition, Context, Outbox, Watcher, seconds
from logger.watch.health import Health
from logger.watch.stages import Stages
from logger.watch.undo import UNDOABLE, Past, copied, not_said_before, sharing

SECOND_NS = 1_000_000_000
NOT_JUDGED = int(Flag.UNTRUSTED | Flag.OUT_OF_RANGE)
"""Flags under which a value is kept but not shown to the watchers."""

_LATE = int(Flag.LATE)
_ALARM_ACTS = ("ack", "shelve", "unshelve", "reset_latch", "out_of_service", "in_service")


@dataclass(slots=True, kw_only=True)
class Scene:
    """All of the engine that changes; copied as a whole to make undo possible."""

    batch: Batch
    out: Outbox
    stages: Stages
    alarms: Alarms
    health: Health
    run_long: list[Watcher]
    watcher: Watcher | None = None
    watchers: tuple[Watcher, ...] = ()
    """Those above that are fed now: the run-long ones, then that of the stage."""
    phase: Literal["idle", "recording", "ended"] = "idle"
    next_tick_ns: int | None = None
    kept_on: set[str] = field(default_factory=set)
    """Ends of stages that were proposed, or taken by the sheet's rule, and declined."""
    implied: bool = False
    """True while the stage under way was never begun by anyone: the sheet has only one."""
    ended_ns: int | None = None


class Engine:
    """The engine of one run.

    Parameters
    ----------
    sheet : Sheet
        What is wanted.
    bench : Bench
        What is measured.
    correctors : mapping
        Corrector of each channel by id.
    fats : mapping, optional
        Fats by key.
    """

    def __init__(
        self,
        sheet: Sheet,
        bench: Bench,
        *,
        correctors: Mapping[str, Corrector],
        fats: Mapping[str, Fat] | None = None,
    ) -> None:
        self._sheet = sheet
        self._bench = bench
        self._correctors = correctors
        self._fats = fats if fats is not None else {}
        self._shared = sharing(sheet, bench, self._correctors, self._fats)
        self._said: list[Event] = []
        self._past: Past[Scene] = Past()
        self._scene = self._first_scene()

    def feed(self, items: Sequence[Reading | Event], up_to_ns: int) -> list[Event]:
        """Take a piece of the stream.

        Parameters
        ----------
        items : sequence of Reading or Event
            In time order, none older than what was fed before; late readings are passed over.
        up_to_ns : int
            Everything up to this time [ns] has now been fed: time has come this far.

        Returns
        -------
        list of Event
            What the engine says, in order; to be stored.
        """
        self._said = []
        for item in items:
            if isinstance(item, Reading):
                self._reading(item)
            elif item.source != "engine":
                self._event(item)
        self._advance(up_to_ns)
        return self._said

    def finish(self, t_ns: int) -> Results:
        """End the run at `t_ns` if it has not ended, and return the results.

        Notes
        -----
        A run that was interrupted has no event that ends it; ``said`` holds the events of this.
        """
        self._said = []
        self._advance(t_ns)
        self._finish(t_ns)
        return self.results()

    @property
    def said(self) -> list[Event]:
        """What the engine said in the last `feed` or `finish`."""
        return self._said

    @property
    def stage_id(self) -> str | None:
        """Id of the stage under way, or None between stages."""
        current = self._scene.stages.current
        return current.id if current is not None else None

    def results(self) -> Results:
        """Return what was found so far; do not keep it: undo puts another in its place."""
        return self._scene.out.results

    def state(self, t_ns: int) -> State:
        """Return what the screen shows at a time on the run's axis."""
        return now.state(self._sheet, self._bench, self._scene, t_ns)

    # Items of the stream.

    def _reading(self, reading: Reading) -> None:
        scene = self._scene
        flags = reading.flags
        if flags & _LATE or scene.ended_ns is not None:
            return
        if scene.next_tick_ns is None or reading.t_ns >= scene.next_tick_ns:
            self._advance(reading.t_ns, reading)
        past = self._past
        if past.points:
            past.items.append(reading)
        if flags & NOT_JUDGED:
            reading = reading._replace(value=None)
        elif reading.value is not None:
            scene.batch.last[reading.channel] = reading
        events = scene.out.events
        for watcher in scene.watchers:
            watcher.reading(reading)
            if events:
                self._pass_on(watcher)

    def _event(self, event: Event) -> None:
        self._advance(event.t_ns, event)
        scene = self._scene
        if scene.ended_ns is not None:
            self._after_the_end(event)
            return
        if event.kind in ("undo", "foot_undo"):
            self._undo(event)
            return
        declined = self._ended_by_sheet(event)
        if declined is not None:
            self._take_back(declined, event, f"The stage goes on: {declined}.")
            return
        if event.kind in UNDOABLE:
            self._past.add(copied(scene, self._shared), event.t_ns, event)
        if self._past.points:
            self._past.items.append(event)
        self._act_before(event)
        self._deliver(event, None)
        self._act_after(event)

    def _advance(self, t_ns: int, item: Reading | Event | None = None) -> None:
        """Tick every whole second up to `t_ns`; the first item starts the clock."""
        if self._scene.next_tick_ns is None:
            if item is None:
                return
            self._start(item)
        while (
            self._scene.ended_ns is None
            and self._scene.next_tick_ns is not None
            and self._scene.next_tick_ns <= t_ns
        ):
            self._tick(self._scene.next_tick_ns)

    def _start(self, item: Reading | Event) -> None:
        scene = self._scene
        scene.next_tick_ns = (item.t_ns // SECOND_NS + 1) * SECOND_NS
        scene.phase = "recording"
        begins = isinstance(item, Event) and item.kind in ("run_start", "stage", "next")
        if not begins and len(self._sheet.stage) == 1:
            self._begin(self._sheet.stage[0], item.t_ns)
            scene.implied = True

    def _tick(self, t_ns: int) -> None:
        scene = self._scene
        scene.next_tick_ns = t_ns + SECOND_NS
        for watcher in scene.watchers:
            watcher.tick(t_ns)
            if scene.out.events:
                self._pass_on(watcher)
        self._tell_alarms(t_ns, scene.alarms.update(t_ns, self._conditions()))
        self._past.forget(t_ns)
        if scene.watcher is not None:
            self._see_whether_over(scene.watcher, t_ns)

    def _conditions(self) -> list[tuple[Condition, str | None]]:
        scene = self._scene
        found: list[tuple[Condition, str | None]] = [
            (c, None) for w in scene.run_long for c in w.conditions()
        ]
        if scene.watcher is not None and scene.stages.current is not None:
            stage_id = scene.stages.current.id
            found += [(c, stage_id) for c in scene.watcher.conditions()]
        return found

    # What events do.

    def _act_before(self, event: Event) -> None:
        if event.kind == "set_value":
            name, value = event.data.get("name"), event.data.get("value")
            if isinstance(name, str) and isinstance(value, (int, float)):
                self._scene.batch.by_hand[name] = float(value)
            else:
                self._refuse(event, "a typed value needs a name and a number")

    def _act_after(self, event: Event) -> None:
        acts: dict[str, Callable[[Event], None]] = {
            "stage": self._on_stage,
            "next": self._on_next,
            "run_end": lambda e: self._finish(e.t_ns),
            "note": self._on_note,
            "outcome": self._on_outcome,
            "accept": self._on_accept,
            "decline": self._on_decline,
        }
        if event.kind in acts:
            acts[event.kind](event)
        elif event.kind in _ALARM_ACTS:
            self._on_alarm_act(event)

    def _on_stage(self, event: Event) -> None:
        wanted = str(event.data.get("stage", event.stage or ""))
        stage = self._scene.stages.named(wanted)
        if stage is None:
            known = ", ".join(s.id for s in self._sheet.stage) or "none"
            self._refuse(event, f"the sheet has no stage {wanted!r}; it has {known}")
            return
        self._begin(stage, event.t_ns)

    def _on_next(self, event: Event) -> None:
        stages = self._scene.stages
        stage = self._sheet.stage[0] if self._scene.implied else stages.following()
        if stage is not None:
            self._begin(stage, event.t_ns)
        elif stages.current is not None:
            self._end_stage(event.t_ns)
        else:
            self._refuse(event, "there is no further stage in the sheet: end the run")

    def _on_note(self, event: Event) -> None:
        current = self._scene.stages.current
        self._scene.out.results.notes.append(
            {
                "t_s": seconds(event.t_ns),
                "text": event.text,
                "stage": current.id if current is not None else event.stage,
            }
        )

    def _on_outcome(self, event: Event) -> None:
        values = self._scene.out.results.values
        values["outcome"] = event.data.get("outcome")
        values["defects"] = list(event.data.get("defects", []))

    def _on_accept(self, event: Event) -> None:
        proposal = self._scene.out.proposals.pop(str(event.data.get("proposal")), None)
        if proposal is not None and proposal.what == "next_stage" and not proposal.taken:
            self._go_on(event.t_ns)

    def _on_decline(self, event: Event) -> None:
        proposal = self._scene.out.proposals.pop(str(event.data.get("proposal")), None)
        if proposal is not None and proposal.what == "next_stage":
            self._scene.kept_on.add(proposal.id)

    def _on_alarm_act(self, event: Event) -> None:
        alarms, alarm_id = self._scene.alarms, str(event.data.get("alarm"))
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
            self._refuse(event, done)
        else:
            self._tell_alarms(event.t_ns, done)

    def _after_the_end(self, event: Event) -> None:
        if event.kind == "note":
            self._on_note(event)
        elif event.kind == "outcome":
            self._on_outcome(event)
        elif event.source == "operator":
            self._refuse(event, "the run has ended")

    # Stages.

    def _begin(self, stage: Stage, t_ns: int) -> None:
        scene = self._scene
        if scene.implied:
            self._forget_implied()
        elif scene.watcher is not None:
            self._end_stage(t_ns)
        scene.stages.begin(stage, t_ns)
        scene.watcher = kinds.make(self._context(stage, t_ns, scene))
        scene.watchers = (*scene.run_long, scene.watcher)
        title = stage.title or stage.kind
        self._say(t_ns, "stage_start", f"{title} begins", stage=stage.id, stage_kind=stage.kind)

    def _end_stage(self, t_ns: int) -> None:
        scene = self._scene
        watcher, stage = scene.watcher, scene.stages.current
        if watcher is None or stage is None:
            return
        watcher.end(t_ns)
        self._pass_on(watcher)
        for finding in scene.out.results.findings:
            if finding.stage == stage.id and finding.verdict == "not met":
                piece = "" if finding.piece is None else f"piece {finding.piece}, "
                text = f"{piece}{finding.check}: {finding.evidence}"
                self._say(t_ns, "finding", text, stage=stage.id, channel=finding.channel)
        scene.watcher, scene.watchers = None, tuple(scene.run_long)
        scene.implied = False
        scene.out.proposals.clear()
        scene.stages.end(t_ns)
        self._say(t_ns, "stage_end", f"{stage.title or stage.kind} ends", stage=stage.id)

    def _forget_implied(self) -> None:
        """The only stage is begun by hand after all: what was found before does not count."""
        scene = self._scene
        results = scene.out.results
        for rows in (
            results.stages, results.pours, results.immersions, results.pieces, results.settings,
            results.forecasts, results.weighings, results.findings,
        ):  # fmt: skip
            rows.clear()
        results.values.clear()
        scene.out.proposals.clear()
        scene.batch.pieces.clear()
        scene.batch.weighed_g.clear()
        scene.batch.values.clear()
        scene.watcher, scene.watchers, scene.implied = None, tuple(scene.run_long), False

    def _go_on(self, t_ns: int) -> None:
        following = self._scene.stages.following()
        if following is not None:
            self._begin(following, t_ns)
        else:
            self._end_stage(t_ns)

    def _see_whether_over(self, watcher: Watcher, t_ns: int) -> None:
        scene = self._scene
        stage = scene.stages.current
        if stage is None or stage.ends == "operator":
            return
        key = _end_key(stage, scene)
        why = watcher.finished()
        if stage.ends == "bench":
            self._propose_end(stage, key, why, t_ns)
        elif why is not None and key not in self._scene.kept_on:
            self._past.add(copied(scene, self._shared), t_ns, None, key)
            self._go_on(t_ns)
            text = f"{stage.title or stage.kind} was ended by the sheet's rule: {why}"
            scene.out.proposals[key] = Proposal(
                id=key, text=text, what="next_stage", t_s=seconds(t_ns), taken=True
            )
            self._say(t_ns, "proposal", text, stage=stage.id, proposal=key, taken=True)

    def _propose_end(self, stage: Stage, key: str, why: str | None, t_ns: int) -> None:
        proposals = self._scene.out.proposals
        if why is None:
            proposals.pop(key, None)
        elif key in proposals:
            proposals[key].text = why
        elif key not in self._scene.kept_on:
            proposals[key] = Proposal(id=key, text=why, what="next_stage", t_s=seconds(t_ns))
            self._say(t_ns, "proposal", why, stage=stage.id, proposal=key, taken=False)

    def _finish(self, t_ns: int) -> None:
        scene = self._scene
        if scene.ended_ns is not None:
            return
        self._end_stage(t_ns)
        for watcher in scene.run_long:
            watcher.end(t_ns)
            self._pass_on(watcher)
        scene.alarms.close(t_ns)
        scene.phase, scene.ended_ns = "ended", t_ns
        self._past = Past()

    # Taking back.

    def _undo(self, event: Event) -> None:
        seq = event.data.get("event")
        place = self._past.find(seq if isinstance(seq, int) else None)
        if place is None:
            why = (
                "what was done is more than 10 min old"
                if self._past.too_old
                else "nothing was done"
            )
            self._refuse(event, f"{why}: there is nothing to take back")
            return
        act = self._past.points[place].act
        said = act.text or act.kind if act is not None else ""
        text = f"Taken back: {said} of {_clock(act.t_ns if act else event.t_ns)}"
        self._return_to(place, event.t_ns, text, act.seq if act is not None else 0)

    def _ended_by_sheet(self, event: Event) -> str | None:
        """Return the key of a stage's end by the sheet's rule that `event` declines."""
        if event.kind != "decline":
            return None
        proposal = self._scene.out.proposals.get(str(event.data.get("proposal")))
        return proposal.id if proposal is not None and proposal.taken else None

    def _take_back(self, key: str, event: Event, text: str) -> None:
        place = self._past.find_key(key)
        if place is None:
            self._refuse(event, "that is more than 10 min old: go back with the stage's own button")
            return
        self._past.points[place].scene.kept_on.add(key)
        self._return_to(place, event.t_ns, text, 0)

    def _return_to(self, place: int, t_ns: int, text: str, seq: int) -> None:
        ahead_ns = self._scene.next_tick_ns
        point, again, before = self._past.cut(place)
        said, self._said = self._said, []
        self._scene = point.scene
        for item in again:
            if isinstance(item, Reading):
                self._reading(item)
            else:
                self._event(item)
        if ahead_ns is not None:
            self._advance(ahead_ns - SECOND_NS)
        fresh = not_said_before(self._said, before)
        self._said = said
        self._say(t_ns, "taken_back", text, event=seq)
        self._said += fresh

    # What is said.

    def _refuse(self, event: Event, why: str) -> None:
        self._say(event.t_ns, "not_done", f"{event.kind}: {why}", event=event.seq)

    def _tell_alarms(self, t_ns: int, changes: Iterable[Change]) -> None:
        for c in changes:
            self._say(
                t_ns, "alarm", c.text, stage=c.stage, channel=c.channel,
                alarm=c.alarm, state=c.state, was=c.was, sounds=c.sounds,
            )  # fmt: skip

    def _say(
        self,
        t_ns: int,
        kind: str,
        text: str,
        *,
        stage: str | None = None,
        channel: str | None = None,
        **data: object,
    ) -> None:
        event = Event(
            t_ns=t_ns,
            kind=kind,
            source="engine",
            channel=channel,
            stage=stage,
            text=text,
            data=data,
        )
        self._keep(event)
        self._deliver(event, None)

    def _pass_on(self, emitter: Watcher | None) -> None:
        """Hand what a watcher said to the others and to the caller."""
        queue = self._scene.out.events
        while queue:
            events = list(queue)
            queue.clear()
            for event in events:
                event = self._with_stage(event)
                self._keep(event)
                self._deliver(event, emitter)

    def _deliver(self, event: Event, emitter: Watcher | None) -> None:
        events = self._scene.out.events
        for watcher in self._scene.watchers:
            if watcher is not emitter:
                watcher.event(event)
                if events:
                    self._pass_on(watcher)

    def _with_stage(self, event: Event) -> Event:
        current = self._scene.stages.current
        if event.stage is None and current is not None:
            return replace(event, stage=current.id)
        return event

    def _keep(self, event: Event) -> None:
        self._said.append(event)
        if self._past.points:
            self._past.said.append(event)

    # Making.

    def _first_scene(self) -> Scene:
        out, batch = Outbox(), Batch()
        context = Context(
            sheet=self._sheet,
            bench=self._bench,
            stage=None,
            start_ns=0,
            batch=batch,
            out=out,
            correctors=self._correctors,
            fats=self._fats,
        )
        health = Health(context)
        run_long: list[Watcher] = [health, *kinds.run_long(context)]
        return Scene(
            batch=batch,
            out=out,
            stages=Stages(self._sheet, out.results.stages),
            alarms=Alarms(out.results.alarms),
            health=health,
            run_long=run_long,
            watchers=tuple(run_long),
        )

    def _context(self, stage: Stage, t_ns: int, scene: Scene) -> Context:
        return Context(
            sheet=self._sheet,
            bench=self._bench,
            stage=stage,
            start_ns=t_ns,
            batch=scene.batch,
            out=scene.out,
            correctors=self._correctors,
            fats=self._fats,
        )


def _end_key(stage: Stage, scene: Scene) -> str:
    """Return what names the end of this very occurrence of a stage."""
    return f"end.{stage.id}.{len(scene.stages.rows)}"


def _clock(t_ns: int) -> str:
    minutes, left = divmod(t_ns // SECOND_NS, 60)
    return f"{minutes} min {left} s"
