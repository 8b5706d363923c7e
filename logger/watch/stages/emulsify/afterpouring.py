"""A pour that goes on after its stage was ended: followed until it is over, and judged then.

Pure; a watcher that lives as long as the run. It takes the pour over from the stage of combining
(logger.watch.stages.emulsify.watcher), whose findings it brings up to date.
"""

from logger.model.event import Event
from logger.watch.engine.contract import Context, PourHandedOn
from logger.watch.engine.plain import Plain


class AfterPouring(Plain):
    """Goes on with a pour until it is over, another one is to be weighed, or the run ends."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._pour: PourHandedOn | None = None

    def event(self, event: Event) -> None:
        """Take a pour over from its stage; leave it as it is when another stage pours."""
        batch = self.context.batch
        if event.kind == "stage_end" and batch.pour is not None:
            self._pour, batch.pour = batch.pour, None
        elif event.kind == "stage_start" and event.data.get("stage_kind") == "emulsify":
            self._pour = None

    def tick(self, t_ns: int) -> None:
        """Follow the pour, and let go of it once it is over."""
        super().tick(t_ns)
        if self._pour is not None and self._pour.pour_is_over(t_ns):
            self._pour = None

    def end(self, t_ns: int) -> None:
        """The run ends: what has just stopped is over, anything else stays undecided."""
        super().end(t_ns)
        if self._pour is not None:
            self._pour.pour_is_over(t_ns, at_end=True)
        self._pour = None
