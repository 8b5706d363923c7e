"""The emulsion after it was made: still followed while it is formed and coated.

Pure; a watcher that lives as long as the run. It takes the emulsion over from the stage of
combining (logger.watch.stages.emulsify.watcher) and goes on until the next stage that heats or
chills.
"""

from dataclasses import replace

from logger.model.event import Event
from logger.model.kinds.registry import kind_of
from logger.model.reading import Reading
from logger.model.state import StageView
from logger.watch.engine.contract import Condition, Context
from logger.watch.engine.plain import Plain
from logger.watch.stages.emulsify.emulsion import ABOVE_SETTING, CoolingEmulsion


class AfterCombining(Plain):
    """Goes on with an emulsion while its probe lies in it."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._emulsion: CoolingEmulsion | None = None
        self._from_ns: int | None = None
        """Since when the stage under way is followed; None between stages."""

    def reading(self, reading: Reading) -> None:
        """Take a reading of the emulsion's probe."""
        emulsion = self._emulsion
        if emulsion is not None and reading.channel == emulsion.probe.channel:
            emulsion.take(reading)

    def event(self, event: Event) -> None:
        """Judge at the end of a stage; take an emulsion over; go on, or stop, with the next."""
        if event.kind == "stage_end":
            self._judge(event.t_ns)
            batch = self.context.batch
            if isinstance(batch.emulsion, CoolingEmulsion):
                self._emulsion, batch.emulsion = batch.emulsion, None
                self._emulsion.forget_lowest()
        elif event.kind == "stage_start" and self._emulsion is not None:
            stage = next((s for s in self.context.sheet.stage if s.id == event.stage), None)
            if stage is None or kind_of(stage).heats_or_chills:
                self._emulsion = None
            else:
                self._emulsion.go_on_in(replace(self.context, stage=stage, start_ns=event.t_ns))
                self._from_ns = event.t_ns

    def tick(self, t_ns: int) -> None:
        """Ask when the fat may set."""
        self.now_ns = t_ns
        if self._emulsion is not None:
            self._emulsion.forecast.tick(t_ns)

    def view(self, t_ns: int) -> StageView:
        """Say the forecast beside what the stage itself says."""
        if self._emulsion is None:
            return StageView()
        return StageView(more=[self._emulsion.says()], forecasts=self._emulsion.entries())

    def conditions(self) -> list[Condition]:
        """Return whether the fat is about to set."""
        if self._emulsion is None:
            return []
        return [self._emulsion.condition(self.now_ns, self._emulsion.probe.value(self.now_ns))]

    def _judge(self, t_ns: int) -> None:
        """Hold the lowest temperature of the stage that ends against the limit of the fat."""
        emulsion, from_ns, self._from_ns = self._emulsion, self._from_ns, None
        if emulsion is None or from_ns is None:
            return
        to_ns = t_ns if emulsion.out_ns is None else max(from_ns, emulsion.out_ns)
        for one in emulsion.find_setting((ABOVE_SETTING,), from_ns, to_ns, emulsion.why_missing()):
            if one.verdict == "not met":
                self.context.out.emit(
                    t_ns,
                    "finding",
                    f"{one.check}: {one.evidence}",
                    stage=one.stage,
                    channel=one.channel,
                )
        emulsion.forget_lowest()
