"""What the recorder is doing right now: watching the bench, or recording a run.

Both are the same machinery, wiring and pipeline, begun afresh; a run also has a file. Used by the
owner of the run alone.
"""

import datetime
import logging
from collections.abc import Mapping, Sequence

from logger.model.bench import Bench
from logger.model.event import Event
from logger.model.reading import Reading
from logger.model.sheet import Sheet, SheetHead
from logger.model.state import RunAbout
from logger.ports.clock import Clock
from logger.recorder.live.pipeline import HOLD_BACK_NS, Pipeline
from logger.recorder.live.wiring import Taken, Wiring, longest_delay_ns
from logger.science.fats.fats import Fat
from logger.store.run.records import Chunk, StoredReading, WriteBatch
from logger.store.run.runfile import RunWriter
from logger.wire.shapes.shape import Shape

log = logging.getLogger(__name__)

NO_SHEET = Sheet(sheet=SheetHead(name="no sheet"))
"""Stands for the sheet while nothing is recorded: sensor health needs an engine too."""


class Current:
    """Wiring, engine and perhaps a run file, from one origin on.

    Parameters
    ----------
    bench, shapes, sheet, fats
        As they stand; the sheet is `NO_SHEET` while only watching.
    origin_ns : int
        The recorder's clock at axis time 0 [ns].
    today : date
        Day it began.
    file : RunWriter or None
        Where it is kept.
    speed : float
        Of the clock; stretches how long items wait for each other.
    operator : str
        Who makes the batch, as far as that was said.
    """

    def __init__(
        self,
        bench: Bench,
        shapes: Mapping[str, Shape],
        sheet: Sheet,
        fats: Mapping[str, Fat],
        *,
        origin_ns: int,
        today: datetime.date,
        file: RunWriter | None = None,
        run_id: str = "",
        speed: float = 1.0,
        operator: str = "",
    ) -> None:
        self.operator = operator
        self.sheet = sheet
        self.fats = fats
        self.file = file
        self.run_id = run_id
        self.origin_ns = origin_ns
        self.wiring = Wiring(bench, shapes, today)
        # The computer's own lateness is real time, so a fast bench stretches it.
        hold_back_ns = longest_delay_ns(bench, shapes) + int(HOLD_BACK_NS * max(1.0, speed))
        self.pipeline = Pipeline(sheet, bench, self.wiring.correctors, fats, hold_back_ns)
        self.pending = WriteBatch()
        self.declined: set[str] = set()
        """Proposals that the operator refused."""
        self._unreadable: set[str] = set()

    @property
    def recording(self) -> bool:
        """Whether there is a run file."""
        return self.file is not None

    def axis_ns(self, clock: Clock) -> int:
        """Return the time on this axis [ns]."""
        return clock.now_ns() - self.origin_ns

    def about(self) -> RunAbout:
        """Return what the screen shows of the run's identity."""
        head = self.sheet.sheet
        if not self.recording:
            return RunAbout()
        return RunAbout(id=self.run_id, sheet=head.name, revision=head.revision)

    def chunk(self, instrument: str, kind: str, data: bytes, t_ns: int) -> None:
        """Take what a port delivered.

        Parameters
        ----------
        instrument : str
            Instrument id.
        kind : str
            ``open``, ``data`` or ``close``.
        data : bytes
            Bytes as they came.
        t_ns : int
            Arrival on this axis [ns].
        """
        if t_ns < 0 or not self.wiring.knows(instrument):
            return  # came before this run began, or from an instrument of the bench before
        if self.recording:
            # Before anything is made of them: the bytes are kept whatever happens next. Ports give
            # only kinds that a chunk has.
            self.pending.chunks.append(Chunk(instrument, t_ns, kind, data))  # type: ignore[arg-type]
        try:
            taken, events = self.wiring.take(instrument, kind, data, t_ns)
        except Exception as cause:  # noqa: BLE001 - logged, and told in the run
            self._cannot_read(instrument, t_ns, cause)
            return
        self._readings(taken)
        self.events(events)

    def events(self, events: Sequence[Event]) -> list[Event]:
        """Take events of the bench, the operator or the recorder; return them as they stand."""
        standing = [e for e in self.pipeline.offer(events) if isinstance(e, Event)]
        self.declined |= {str(e.data.get("proposal")) for e in events if e.kind == "decline"}
        self.pending.events += standing
        return standing

    def say(self, now_ns: int, kind: str, text: str, by_ns: int = 0) -> None:
        """Take an event of the recorder's own.

        Parameters
        ----------
        now_ns : int
            On this axis [ns].
        kind : str
            One of ``RECORDER_KINDS``.
        text : str
            In plain words.
        by_ns : int
            How far something moved [ns].
        """
        self.events(
            [
                Event(
                    t_ns=now_ns,
                    kind=kind,
                    source="recorder",
                    text=text,
                    data={"by_s": by_ns / 1e9} if by_ns else {},
                )
            ]
        )

    def _readings(self, taken: Sequence[Taken]) -> None:
        standing = self.pipeline.offer([t.reading for t in taken])
        if not self.recording:
            return
        for one, item in zip(taken, standing, strict=True):
            if isinstance(item, Reading):
                self.pending.readings.append(
                    StoredReading(
                        item.channel, item.t_ns, one.sent, item.flags, one.cold_junction_c
                    )
                )

    def advance(self, now_ns: int) -> None:
        """Let the engine see what has waited long enough and keep what it says."""
        self.pending.events += self.pipeline.advance(now_ns)
        self.tell_bugs(now_ns)

    def tell_bugs(self, now_ns: int) -> None:
        """Write into the run what went wrong in judging it.

        Parameters
        ----------
        now_ns : int
            On this axis [ns].
        """
        for text in self.pipeline.bugs():
            self.say(now_ns, "bug_in_judging", text)

    def _cannot_read(self, instrument: str, t_ns: int, cause: Exception) -> None:
        """Say once that an instrument's bytes meet a bug; they are kept."""
        text = f"a bug in reading {instrument}: {type(cause).__name__}: {cause}"[:300]
        if text not in self._unreadable:
            log.error("%s", text, exc_info=cause)
            self._unreadable.add(text)
            self.say(t_ns, "bug_in_reading", f"{text}; its bytes are kept, replay the run")

    def take_pending(self) -> WriteBatch:
        """Return what is to be written and begin a new batch."""
        batch, self.pending = self.pending, WriteBatch()
        if self.recording and batch:
            batch.counters = self.wiring.counters()
        return batch
