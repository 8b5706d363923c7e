"""One engine for live and replay: readings and events in, events, findings and a state out.

Pure: it takes time from the stream alone, so the same stream gives the same answer however it was
cut into pieces. Input comes in time order from logger.watch.engine.merge (live) or from a sorted
run file (replay); output goes to the recorder, the store and the screen. Readings are corrected
before they come here.

The stream is readings and events; at every whole second of the run's axis a tick comes before the
items of that time. Each goes to the watchers that live as long as the run and to the watcher of
the stage under way; what a watcher says is passed on to the others.
"""

from collections.abc import Iterable, Mapping

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import ACTS, Event
from logger.model.finding import Results
from logger.model.history import KEPT, stamp_ns
from logger.model.kinds.registry import title_of
from logger.model.reading import Flag, Reading
from logger.model.sheet import Sheet
from logger.model.state import State
from logger.science.fats.fats import Fat
from logger.watch.engine import acts, course, then
from logger.watch.engine import screen as now
from logger.watch.engine.contract import Condition, seconds
from logger.watch.engine.run import Run, Scene
from logger.watch.engine.undo import BASE_EVERY_NS, SURE_NS, Point, not_said_before
from logger.watch.sensors.plausible import may_be_on_table, moved_text
from logger.words.acts import taken_back_text

SECOND_NS = 1_000_000_000
NOT_JUDGED = int(Flag.UNTRUSTED | Flag.OUT_OF_RANGE)
"""Flags under which a value is kept but not shown to the watchers."""

_LATE, _IMPLAUSIBLE = int(Flag.LATE), int(Flag.IMPLAUSIBLE)


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
        self._run = Run(sheet, bench, correctors, fats if fats is not None else {})

    def feed(self, items: Iterable[Reading | Event], up_to_ns: int) -> list[Event]:
        """Take a piece of the stream.

        Parameters
        ----------
        items : iterable of Reading or Event
            In time order, none older than what was fed before; late readings are passed over.
        up_to_ns : int
            Everything up to this time [ns] has now been fed: time has come this far.

        Returns
        -------
        list of Event
            What the engine says, in order; to be stored.
        """
        self._run.said = []
        for item in items:
            if isinstance(item, Reading):
                self._reading(item)
            elif item.source != "engine":
                self._event(item)
        self._advance(up_to_ns)
        return self._run.said

    def finish(self, t_ns: int) -> Results:
        """End the run at `t_ns` if it has not ended, and return the results.

        Notes
        -----
        A run that was interrupted has no event that ends it; ``said`` holds the events of this.
        """
        self._run.said = []
        self._advance(t_ns)
        course.finish(self._run, t_ns)
        return self.results()

    @property
    def said(self) -> list[Event]:
        """What the engine said in the last `feed` or `finish`."""
        return self._run.said

    @property
    def stage_id(self) -> str | None:
        """Id of the stage under way, or None between stages."""
        current = self._run.scene.stages.current
        return current.id if current is not None else None

    def results(self) -> Results:
        """Return what was found so far; do not keep it: undo puts another in its place."""
        return self._run.scene.out.results

    def state(self, t_ns: int) -> State:
        """Return what the screen shows at a time on the run's axis."""
        run = self._run
        return now.state(run.sheet, run.bench, run.scene, t_ns, run.assumed)

    # Items of the stream.

    def _reading(self, reading: Reading) -> None:
        run = self._run
        scene = run.scene
        channel, t_ns, value, _, flags = reading
        if scene.ended_ns is not None or flags & _LATE:
            return
        if scene.next_tick_ns is None or t_ns >= scene.next_tick_ns:
            self._advance(t_ns, reading)
        if run.past.points:
            run.past.items.append(reading)
        shown = reading
        if flags & NOT_JUDGED:
            shown = reading = reading._replace(value=None)
        elif value is not None and channel in scene.cores:
            if not self._plausible(reading):
                shown = reading = reading._replace(value=None, flags=flags | _IMPLAUSIBLE)
        elif value is not None:
            offsets_g = scene.batch.offsets_g
            if offsets_g and channel in offsets_g:
                reading = reading._replace(value=value + offsets_g[channel])
            scene.batch.last[channel] = reading
        events, health = scene.out.events, scene.health
        for watcher in scene.readers.get(channel) or scene.readers_of(channel):
            # Health judges what the scale shows, all others what it means.
            watcher.reading(shown if watcher is health else reading)
            if events:
                run.pass_on(watcher)

    def _plausible(self, reading: Reading) -> bool:
        """Return whether the reading of a core probe may be of food; say so if it was moved."""
        core = self._run.scene.cores[reading.channel]
        on_table = core.out and may_be_on_table(self._run.known, core.level_c)
        if not core.trusts(reading.t_ns, reading.value or 0.0, on_table=on_table):
            return False
        moved = core.moved
        if moved is not None:
            core.moved = None
            self._run.say(
                reading.t_ns,
                "probe_moved",
                moved_text(moved.from_c, moved.to_c),
                channel=reading.channel,
                from_c=round(moved.from_c, 2),
                to_c=moved.to_c,
                from_s=seconds(moved.from_ns),
            )
        self._run.scene.batch.last[reading.channel] = reading
        return True

    def _event(self, event: Event) -> None:
        if event.kind == "slab_test":
            acts.take_slab(self._run, event)  # says what is known, begins nothing
            return
        self._advance(event.t_ns, event)
        scene = self._run.scene
        if scene.ended_ns is not None:
            acts.after_the_end(self._run, event)
            return
        if event.kind == "move" or event.data.get("again"):
            return  # the run is worked out again with it
        if event.kind in ("undo", "foot_undo"):
            self._undo(event)
            return
        ended = self._ended_by_sheet(event)
        if ended is not None:
            self._take_back(ended, event)
            return
        want = then.wanted(self._run, event)
        if want is not None:
            self._begin_then(event, want)
            return
        if event.kind in ACTS:
            self._run.keep_point(event.t_ns, event)
        if self._run.past.points:
            self._run.past.items.append(event)
        before, question = acts.last_stage(self._run), acts.question_of(self._run, event)
        acts.before_watchers(self._run, event)
        self._run.deliver(event)
        acts.after_watchers(self._run, event)
        if event.kind in ACTS:
            acts.note_act(self._run, event, before, question)

    def _advance(self, t_ns: int, item: Reading | Event | None = None) -> None:
        """Tick every whole second up to `t_ns`; the first item starts the clock."""
        if self._run.scene.next_tick_ns is None:
            if item is None:
                return
            self._start(item)
        while (
            self._run.scene.ended_ns is None
            and self._run.scene.next_tick_ns is not None
            and self._run.scene.next_tick_ns <= t_ns
        ):
            self._tick(self._run.scene.next_tick_ns)

    def _start(self, item: Reading | Event) -> None:
        scene = self._run.scene
        scene.next_tick_ns = (item.t_ns // SECOND_NS + 1) * SECOND_NS
        scene.phase = "recording"
        begins = isinstance(item, Event) and item.kind in ("run_start", "stage", "next")
        if not begins and len(self._run.sheet.stage) == 1:
            course.begin(self._run, self._run.sheet.stage[0], item.t_ns)
            scene.implied = True
        self._run.keep_base(item.t_ns)

    def _tick(self, t_ns: int) -> None:
        scene = self._run.scene
        scene.next_tick_ns = t_ns + SECOND_NS
        for watcher in scene.watchers:
            watcher.tick(t_ns)
            if scene.out.events:
                self._run.pass_on(watcher)
        self._run.tell_alarms(t_ns, scene.alarms.update(t_ns, self._conditions()))
        for key in self._run.past.forget(t_ns):
            scene.out.proposals.pop(key, None)
        then.propose(self._run, t_ns)
        if scene.watcher is not None:
            course.see_whether_over(self._run, scene.watcher, t_ns)
        if t_ns % BASE_EVERY_NS == 0 and scene.ended_ns is None:
            self._run.keep_base(t_ns)

    def _conditions(self) -> list[tuple[Condition, str | None]]:
        scene = self._run.scene
        found: list[tuple[Condition, str | None]] = [
            (c, None) for w in scene.run_long for c in w.conditions()
        ]
        if scene.watcher is not None and scene.stages.current is not None:
            stage_id = scene.stages.current.id
            found += [(c, stage_id) for c in scene.watcher.conditions()]
        return found

    # Taking back.

    def _undo(self, event: Event) -> None:
        at_ns, seq = event.data.get("at_ns"), event.data.get("event")
        place = self._run.past.find(
            at_ns if isinstance(at_ns, int) else None, seq if isinstance(seq, int) else None
        )
        if place is None:
            old = self._run.past.too_old
            why = "that is more than 10 min old" if old else "nothing was done that can be"
            self._run.refuse(event, f"there is nothing to take back: {why}")
            return
        act = self._run.past.points[place].act
        rows = self.results().acts
        row = next((r for r in rows if act is not None and r.at_ns == stamp_ns(act)), None)
        text = taken_back_text(row) if row is not None else "Taken back: nothing had come of it"
        kept = event.data.get(KEPT)
        if isinstance(kept, dict):
            self._run.past.pin(place, kept)
        self._return_to(place, event.t_ns, text, act.seq if act is not None else 0)

    def takes_back(self, at_ns: int, now_ns: int) -> bool:
        """Whether an act can be taken back at once, without working out the run again.

        Parameters
        ----------
        at_ns : int
            Time under which its event was stored [ns].
        now_ns : int
            Time on the run's axis [ns].
        """
        points = self._run.past.points
        place = self._run.past.find(at_ns)
        if place is None:
            return False
        # What an act came to that was said later, or moved, may hang on this one.
        dated = any(r.was_s is not None and r.at_ns >= at_ns for r in self.results().acts)
        return not dated and now_ns - points[place].t_ns < SURE_NS

    def _ended_by_sheet(self, event: Event) -> str | None:
        """Return the key of a stage's end by the sheet's rule that `event` declines."""
        if event.kind != "decline":
            return None
        proposal = self._run.scene.out.proposals.get(str(event.data.get("proposal")))
        return proposal.id if proposal is not None and proposal.taken else None

    def _take_back(self, key: str, event: Event) -> None:
        """Let the stage go on that the sheet's rule had ended."""
        place = self._run.past.find_key(key)
        if place is None:
            self._run.refuse(
                event, "that is more than 10 min old: go back with the stage's own button"
            )
            return
        before = self._run.past.points[place].scene
        before.kept_on.add(key)
        stage = before.stages.current
        name = title_of(stage) if stage is not None else "the stage"
        self._return_to(place, event.t_ns, f"Taken back: {name} goes on", 0)

    def _return_to(self, place: int, t_ns: int, text: str, seq: int) -> None:
        point, again, before = self._run.past.cut(place)
        fresh = self._again(point.scene, again, before)
        self._run.say(t_ns, "taken_back", text, event=seq)
        self._run.said += fresh

    # Going back to begin a stage.

    def _begin_then(self, event: Event, want: then.Wanted) -> None:
        """Begin a stage at an earlier time, as if it had been begun then."""
        run = self._run
        place = run.past.before(want.at_ns)
        if place is None:
            return
        kept: Point[Scene] = run.past.points[place]
        want = want._replace(at_ns=max(want.at_ns, kept.t_ns))
        watcher, current = run.scene.watcher, run.scene.stages.current
        later_ns = None
        if watcher is not None and current is not None and current.id == want.stage.id:
            later_ns = run.scene.stages.began_ns
        act = then.as_said_then(event, want, later_ns)
        point, again, before = run.past.cut(place)
        if point.act is not None:
            again.insert(0, point.act)
        items = then.with_act(again, act, later_ns)
        fresh = self._again(point.scene, items, before, base_ns=point.t_ns if point.base else None)
        run.scene.kept_on.add(want.answered)
        run.scene.out.proposals.pop(want.answered, None)
        run.say(event.t_ns, "dated_back", then.begun_text(want), stage=want.stage.id)
        run.said += fresh

    def _again(
        self,
        scene: Scene,
        items: Iterable[Reading | Event],
        before: list[Event],
        *,
        base_ns: int | None = None,
    ) -> list[Event]:
        """Go on from a kept scene with these items; return what was not said before.

        A scene that was kept as a base at a time [ns] is kept again.
        """
        ahead_ns = self._run.scene.next_tick_ns
        said, self._run.said = self._run.said, []
        self._run.scene = scene
        if base_ns is not None:
            self._run.keep_base(base_ns)
        for item in items:
            if isinstance(item, Reading):
                self._reading(item)
            else:
                self._event(item)
        if ahead_ns is not None:
            self._advance(ahead_ns - SECOND_NS)
        fresh = not_said_before(self._run.said, before)
        self._run.said = said
        return fresh
