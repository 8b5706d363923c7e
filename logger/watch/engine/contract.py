"""What a watcher is to the engine, and what the engine hands it.

The engine feeds one stream in time order (corrected readings, events, ticks) to the watcher of the
stage under way and to a few watchers that live as long as the run. A watcher keeps its own state,
writes what it finds into the shared `Results`, and says when asked what the screen should show.

A `Detector` is a run-long watcher of one instrument of the bench: bath, bowl or bench scale. It
takes the readings from the start of the run to its end, so that nothing is lost when a stage begins
late, early, twice or never. A stage asks it, by ``context.detector(...)``, for what happened, also
before the stage began or after it ended; what happens outside its stage it tells by `outside`, and
the engine asks whether the stage shall begin then (logger.watch.engine.then).

Rules for a watcher, which make replay give the same answer and undo possible:

- It takes time from the stream alone. No clocks, threads, files, random numbers without a seed.
- It may not depend on how the stream was cut: only `reading`, `event` and `tick` move its state;
  `view` and `conditions` are looks and change nothing.
- It must survive ``copy.deepcopy`` (the engine takes snapshots for undo): plain attributes only, no
  generators, no lambdas or closures kept.
- A stage watcher is built by ``make(context) -> Watcher`` in ``watcher.py`` of the folder that is
  named like its kind; ``logger.watch.engine.registry`` finds it there.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Protocol, TypeVar

from logger.batch.facts import BatchFacts
from logger.correct.channel import Corrector
from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.finding import Finding, Results
from logger.model.kinds.registry import Stage
from logger.model.reading import Reading
from logger.model.sheet import Sheet
from logger.model.state import Proposal, StageView
from logger.science.fats.fats import Fat

SomeDetector = TypeVar("SomeDetector", bound="Detector")


class HandedOn(Protocol):
    """What a stage hands on to be followed further, such as an emulsion."""

    def go_on_in(self, context: "Context") -> None:
        """Another stage has begun: what is found from now on belongs to it."""


class PourHandedOn(Protocol):
    """A pour that is under way when its stage ends."""

    def pour_is_over(self, t_ns: int, *, at_end: bool = False) -> bool:
        """Return whether it is over at a time [ns], and judge it then; at the end of the run a
        shorter pause will do."""


@dataclass(slots=True, kw_only=True)
class Batch(BatchFacts):
    """Facts handed on from one stage to the next, and what is followed further."""

    emulsion: HandedOn | None = None
    """The emulsion that a stage of combining hands on."""
    pour: PourHandedOn | None = None
    """The pour that was going on when its stage ended."""
    detectors: "dict[type[Detector], Detector]" = field(default_factory=dict)
    """What watches the instruments of the bench, by type; made by the registry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """Something that calls for action now, as it stands at this tick; the alarm states are kept by
    ``logger.watch.verdict.alarms``.

    Attributes
    ----------
    id : str
        Stable within the run: ``"warm.fat.low"``.
    text : str
        What is wrong and what to do, in a sentence.
    active : bool or None
        None when it cannot be judged (no data): the alarm keeps its state.
    cleared : bool
        True only when the value is back past the limit by the deadband.
    on_delay_s, off_delay_s : float
        How long it must hold to come and to go.
    priority : str
        ``"high"`` sounds at once; ``"low"`` is a notice that never sounds.
    latches : bool
        Keep "was crossed during the run" until it is reset.
    done_acknowledges : bool
        Once what it asks for is done nobody need acknowledge it.
    """

    id: str
    text: str
    active: bool | None
    cleared: bool
    on_delay_s: float = 12.0
    off_delay_s: float = 12.0
    priority: str = "high"
    latches: bool = False
    done_acknowledges: bool = False
    channel: str | None = None


@dataclass(slots=True, kw_only=True)
class Outbox:
    """Where a watcher puts what the engine must pass on."""

    results: Results = field(default_factory=Results)
    events: list[Event] = field(default_factory=list)
    """Taken by the engine after each item; delivered to the other watchers and to the store."""
    proposals: dict[str, Proposal] = field(default_factory=dict)
    """Open proposals by id; a watcher adds and may withdraw its own."""

    def emit(
        self,
        t_ns: int,
        kind: str,
        text: str,
        *,
        channel: str | None = None,
        stage: str | None = None,
        **data: Any,
    ) -> None:
        """Add an engine event.

        Parameters
        ----------
        t_ns : int
            Time on the run's axis [ns].
        kind : str
            One of `ENGINE_KINDS`.
        text : str
            The event in words.
        channel, stage : str, optional
            What it is about, by id.
        **data : object
            JSON values only.
        """
        self.events.append(
            Event(
                t_ns=t_ns,
                kind=kind,
                source="engine",
                channel=channel,
                stage=stage,
                text=text,
                data=data,
            )
        )

    def find(self, finding: Finding) -> None:
        """Add a finding. It replaces an earlier one of the same identity.

        A value is met or not met by its uncertainty: without one it is undecided, whatever the
        watcher made of it.
        """
        if finding.expanded_uncertainty is None and finding.value is not None:
            finding = replace(finding, verdict="undecided")
        kept = self.results.findings
        for place, old in enumerate(kept):
            if old.identity == finding.identity:
                kept[place] = finding
                return
        kept.append(finding)


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the engine hands to a watcher when it is made.

    Attributes
    ----------
    stage : Stage or None
        The stage of the sheet; None for a watcher that lives as long as the run.
    start_ns : int
        Start of the stage on the run's axis.
    correctors : mapping
        Corrector of each channel by id, for uncertainties of differences.
    fats : mapping
        Built-in fats with the user's own on top, by key.
    """

    sheet: Sheet
    bench: Bench
    stage: Stage | None
    start_ns: int
    batch: Batch
    out: Outbox
    correctors: Mapping[str, Corrector]
    fats: Mapping[str, Fat]

    @property
    def stage_id(self) -> str:
        """Id of the stage, or the empty string."""
        return self.stage.id if self.stage is not None else ""

    def channel_id(self, role: str) -> str | None:
        """Return the id of the bench's first channel with a role, or None: then not measured."""
        channel = self.bench.channel_of(role)
        return channel.id if channel is not None else None

    def detector(self, kind: type[SomeDetector]) -> SomeDetector:
        """Return the run's detector of a type; a new one, which nobody feeds, outside a run."""
        known = self.batch.detectors.get(kind)
        return known if isinstance(known, kind) else kind(self)


class Watcher(Protocol):
    """One watcher of one stage or of the whole run."""

    only: str | None
    """The one channel whose readings it takes; None for any."""

    def reading(self, reading: Reading) -> None:
        """Take one reading, in time order. ``value`` is None for anything that may not be judged
        (overload, open, late, untrusted, out of range); the flags say why."""

    def event(self, event: Event) -> None:
        """Take one event: of the operator, of the bench, or of another watcher (gap, tare...)."""

    def tick(self, t_ns: int) -> None:
        """Time has reached `t_ns`, a whole second of the run's axis; everything before it was
        fed."""

    def end(self, t_ns: int) -> None:
        """The stage (or the run) ends: judge and write the findings, also those not measured."""

    def view(self, t_ns: int) -> StageView:
        """Return what the screen should show now."""

    def conditions(self) -> list[Condition]:
        """Return every alarm condition of the watcher, active or not."""

    def finished(self) -> str | None:
        """Return why the stage seems over (a sentence), or None while it is not. The engine turns
        it into a proposal, or ends the stage, as the sheet says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """What the bench did outside the stage that it belongs to, as the head of a question.

    Attributes
    ----------
    key : str
        Names it; the same while it is the same happening, also when more comes to it.
    stage : str
        Id of the stage that it belongs to.
    from_ns : int
        When that stage must begin to have it whole [ns].
    text : str
        What was seen, as a sentence: ``"3 pieces have been in the bath since 12:04."``
    """

    key: str
    stage: str
    from_ns: int
    text: str


class Detector(Watcher, Protocol):
    """Watches one instrument of the bench from the start of the run to its end."""

    def __init__(self, context: Context) -> None:
        """Make one for a run; its context has no stage."""

    def wanted(self) -> bool:
        """Return whether bench and sheet have a use for it; else it is left out of the run."""

    def outside(self) -> Outside | None:
        """Return what happened outside its stage and was not taken up yet, or None."""


def seconds(t_ns: int) -> float:
    """Return a time on the run's axis in seconds, for results and text."""
    return t_ns / 1e9


def judged_rule(sheet: Sheet) -> str:
    """Return the decision rule of a sheet, as it is shown beside every verdict."""
    return sheet.sheet.decision_rule
