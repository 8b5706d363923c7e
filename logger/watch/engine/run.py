"""A run under way: all that changes in it, what was said, and who is told.

Pure; the common ground of logger.watch.engine.engine (the stream), course (the stages) and acts
(what the operator does). An event that a watcher says goes to the other watchers and to the
caller.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.kinds.registry import Stage
from logger.model.sheet import Sheet
from logger.science.fats.fats import Fat
from logger.watch.engine import registry as kinds
from logger.watch.engine.contract import Batch, Context, Outbox, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.engine.stages import Stages
from logger.watch.engine.undo import Past, copied, sharing
from logger.watch.sensors.health import Health
from logger.watch.sensors.plausible import Plausible, core_probes
from logger.watch.verdict.alarms import Alarms, Change


@dataclass(slots=True, kw_only=True)
class Scene:
    """All of the engine that changes; copied as a whole to make undo possible."""

    batch: Batch
    out: Outbox
    stages: Stages
    alarms: Alarms
    health: Health
    cores: dict[str, Plausible]
    """What tells which readings of a core probe may be of food, by channel id."""
    run_long: list[Watcher]
    watcher: Watcher | None = None
    watchers: tuple[Watcher, ...] = ()
    """Those above that are fed now: the run-long ones, then that of the stage."""
    readers: dict[str, tuple[Watcher, ...]] = field(default_factory=dict)
    """Those of them that do anything with a reading, by channel; see `readers_of`."""
    phase: Literal["idle", "recording", "ended"] = "idle"
    next_tick_ns: int | None = None
    kept_on: set[str] = field(default_factory=set)
    """Ends of stages that were proposed, or taken by the sheet's rule, and declined; and beginnings
    at an earlier time that were."""
    implied: bool = False
    """True while the stage under way was never begun by anyone: the sheet has only one."""
    ended_ns: int | None = None

    def attend(self, watcher: Watcher | None) -> None:
        """Feed the watcher of a stage from now on, or that of none."""
        self.watcher = watcher
        self.watchers = (*self.run_long, *(() if watcher is None else (watcher,)))
        self.readers.clear()

    def readers_of(self, channel: str) -> tuple[Watcher, ...]:
        """Return the watchers that do anything with a reading of a channel."""
        found = self.readers.get(channel)
        if found is None:
            found = self.readers[channel] = tuple(
                watcher
                for watcher in self.watchers
                if type(watcher).reading is not Plain.reading and watcher.only in (None, channel)
            )
        return found


class Run:
    """What the engine's parts work on.

    Parameters
    ----------
    sheet, bench, correctors, fats
        As for `logger.watch.engine.engine.Engine`; never changed, shared by every copy of the
        scene.
    """

    def __init__(
        self,
        sheet: Sheet,
        bench: Bench,
        correctors: Mapping[str, Corrector],
        fats: Mapping[str, Fat],
    ) -> None:
        self.sheet, self.bench = sheet, bench
        self._correctors, self._fats = correctors, fats
        self._shared = sharing(sheet, bench, correctors, fats)
        self.assumed = frozenset(c for c, corrector in correctors.items() if corrector.assumed)
        """Ids of the channels whose uncertainty was assumed."""
        self.said: list[Event] = []
        self.past: Past[Scene] = Past()
        self.scene = self._first_scene()

    def keep_point(self, t_ns: int, act: Event | None, key: str = "") -> None:
        """Keep the scene as it is, to return to when an act is taken back.

        Parameters
        ----------
        t_ns : int
            Time on the run's axis [ns].
        act : Event or None
            What the operator did; None where a rule of the sheet acted.
        key : str
            Of the proposal behind it; empty without one.
        """
        self.past.add(copied(self.scene, self._shared), t_ns, act, key)

    def keep_base(self, t_ns: int) -> None:
        """Keep the scene at a time [ns], to begin a stage from there later."""
        self.past.add_base(copied(self.scene, self._shared), t_ns)

    def context(self, stage: Stage | None, t_ns: int) -> Context:
        """Return the context of a stage that begins now; None for what lives as long as the run."""
        return self._context(stage, t_ns, self.scene.batch, self.scene.out)

    @property
    def known(self) -> Context:
        """Where sheet, bench and what is known so far are looked up."""
        return self.context(None, 0)

    def say(
        self,
        t_ns: int,
        kind: str,
        text: str,
        *,
        stage: str | None = None,
        channel: str | None = None,
        **data: object,
    ) -> None:
        """Say something as the engine itself.

        Parameters
        ----------
        t_ns : int
            Time on the run's axis [ns].
        kind : str
            One of `ENGINE_KINDS`.
        text : str
            The event in words.
        stage, channel : str, optional
            What it is about, by id.
        **data : object
            JSON values only.
        """
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
        self.deliver(event)

    def refuse(self, event: Event, why: str) -> None:
        """Say why something was not done."""
        self.say(event.t_ns, "not_done", f"{event.kind}: {why}", event=event.seq)

    def tell_alarms(self, t_ns: int, changes: Iterable[Change]) -> None:
        """Say which alarms changed their state."""
        for c in changes:
            self.say(
                t_ns,
                "alarm",
                c.text,
                stage=c.stage,
                channel=c.channel,
                alarm=c.alarm,
                state=c.state,
                was=c.was,
                sounds=c.sounds,
            )

    def pass_on(self, emitter: Watcher | None) -> None:
        """Hand what a watcher has put into the outbox to the others and to the caller."""
        queue = self.scene.out.events
        while queue:
            events = list(queue)
            queue.clear()
            for event in events:
                event = self._with_stage(event)
                self._keep(event)
                self.deliver(event, emitter)

    def deliver(self, event: Event, emitter: Watcher | None = None) -> None:
        """Give an event to every watcher but the one it comes from."""
        events = self.scene.out.events
        for watcher in self.scene.watchers:
            if watcher is not emitter:
                watcher.event(event)
                if events:
                    self.pass_on(watcher)

    def _keep(self, event: Event) -> None:
        self.said.append(event)
        if self.past.points:
            self.past.said.append(event)

    def _with_stage(self, event: Event) -> Event:
        current = self.scene.stages.current
        if event.stage is None and current is not None:
            return replace(event, stage=current.id)
        return event

    def _first_scene(self) -> Scene:
        out, batch = Outbox(), Batch()
        context = self._context(None, 0, batch, out)
        health = Health(context)
        run_long: list[Watcher] = [health, *kinds.run_long(context)]
        scene = Scene(
            batch=batch,
            out=out,
            stages=Stages(self.sheet, out.results.stages),
            alarms=Alarms(out.results.alarms),
            health=health,
            cores=core_probes(self.sheet, self.bench),
            run_long=run_long,
        )
        scene.attend(None)
        return scene

    def _context(self, stage: Stage | None, t_ns: int, batch: Batch, out: Outbox) -> Context:
        return Context(
            sheet=self.sheet,
            bench=self.bench,
            stage=stage,
            start_ns=t_ns,
            batch=batch,
            out=out,
            correctors=self._correctors,
            fats=self._fats,
        )
