"""The scale that is weighed on, watched from the start of the run to its end.

Pure; a detector (``logger.watch.engine.contract``). It owns the levels of the scale and the
weighing under way, so that what was weighed in before its stage began or after it ended is found
too. Levels that belong to another stage that uses the scale are left out.
"""

from logger.model.event import Event
from logger.model.kinds.registry import kind_named
from logger.model.kinds.weigh import WeighStage
from logger.model.reading import Reading
from logger.watch.engine.contract import Context, Outside, seconds
from logger.watch.engine.plain import Plain
from logger.watch.stages.weigh.levels import Levels
from logger.watch.stages.weigh.weighing import Weighing
from logger.words.durations import clock

MARKS = ("mark", "foot_mark")
LIKELY, FEWEST = 0.9, 2
"""So many ingredients of such a probability make a weighing that was not begun [1]."""
ROLES = ("bench_scale", "bowl_scale")
"""Scales that are weighed on, the better one first."""


class BenchScale(Plain):
    """Watches the scale that is weighed on for the whole run."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.role = next((r for r in ROLES if context.channel_id(r) is not None), ROLES[0])
        self.channel = context.channel_id(self.role)
        step_g = next((c.resolution for c in context.bench.channel if c.id == self.channel), None)
        self.levels = Levels(step_g)
        stages = [s for s in context.sheet.stage if isinstance(s, WeighStage)]
        self.weighing: Weighing | None = None
        """The weighing that what happens now belongs to: under way, to come, or just over."""
        if stages and self.channel is not None:
            self.weighing = Weighing(context, stages[0], self.channel, self.levels)
        self.under_way = False
        """Whether a stage of weighing is under way."""
        self._elsewhere = False
        """Whether another stage uses the scale."""

    def wanted(self) -> bool:
        """Return whether there is a scale and a stage for it."""
        return self.weighing is not None

    def begin(self, context: Context, stage: WeighStage) -> Weighing:
        """Begin, or go on with, the weighing of a stage.

        Parameters
        ----------
        context : Context
            Of the stage.
        stage : WeighStage
            Which begins now.
        """
        known, first = self.weighing, 0
        if known is None or known.stage.id != stage.id:
            if known is not None:
                first = known.claimed()
            known = Weighing(context, stage, self.channel, self.levels, first=first)
        self.weighing, self.under_way = known, True
        known.begin(context)
        return known

    def reading(self, reading: Reading) -> None:
        """Take one reading of the scale."""
        if reading.channel == self.channel:
            self.levels.take(reading)
            self._pass_on()

    def event(self, event: Event) -> None:
        """Take marks, tares, gaps, answers, typed masses, and which stage is under way."""
        mine = event.channel == self.channel
        if event.kind in MARKS and self.under_way:
            self.levels.mark(event.t_ns)
        elif event.kind == "tare" and mine:
            self.levels.tare(event.t_ns)
        elif event.kind == "gap" and mine:
            self.levels.gap()
        elif event.kind == "tare_counted" and mine:
            self.levels.shifted(-float(event.data.get("offset_g", 0.0)))
        elif event.kind == "stage_start":
            self._begun(event)
        elif event.kind == "stage_end":
            self._ended()
        elif self.weighing is not None:
            self.weighing.event(event)
        self._pass_on()

    def tick(self, t_ns: int) -> None:
        """Ask what only the operator can tell."""
        super().tick(t_ns)
        if self.weighing is not None:
            self.weighing.tick(t_ns)

    def outside(self) -> Outside | None:
        """Return what was weighed in before the stage of weighing was begun."""
        weighing = self.weighing
        if weighing is None or self.under_way or weighing.began or self._elsewhere:
            return None
        found = [b for b in weighing.bookings if b.confidence >= LIKELY and b.closed]
        if len(found) < FEWEST:
            return None
        from_ns = min(weighing.began_ns(booking) for booking in found)
        text = f"{len(found)} ingredients have been weighed in since {clock(seconds(from_ns))}."
        stage = weighing.stage.id
        return Outside(key=f"weigh.{stage}", stage=stage, from_ns=from_ns, text=text)

    def _begun(self, event: Event) -> None:
        kind = kind_named(str(event.data.get("stage_kind", "")))
        if kind is None or kind.weighs_in:
            return
        self._elsewhere = any(use.role == self.role for use in kind.uses)
        if self._elsewhere and self.weighing is not None:
            self.weighing.close()

    def _ended(self) -> None:
        if self._elsewhere and self.weighing is not None:
            self.weighing.reopen(len(self.levels.found))
        self.under_way = self._elsewhere = False

    def _pass_on(self) -> None:
        changed_from, self.levels.changed_from = self.levels.changed_from, None
        if changed_from is not None and self.weighing is not None and not self._elsewhere:
            self.weighing.take(changed_from, outside=not self.under_way)
