"""The bowl scale, followed from the start of the run to its end.

Pure; a detector that lives as long as the run, so that a pour that began before its stage is whole.
It knows levels and changes only; what they were is told by the stage of combining
(logger.watch.stages.emulsify.poured).
"""

from logger.model.event import Event
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.reading import Reading
from logger.watch.engine.contract import Context, Outside, seconds
from logger.watch.engine.plain import Plain
from logger.watch.scale.pour_levels import Levels

DEFAULT_STEP_G = 0.1


class BowlDetector(Plain):
    """Follows the bowl scale from level to level."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.scale = self.only = context.channel_id("bowl_scale")
        known = context.bench.channel_of("bowl_scale")
        self.step_g = (known.resolution if known is not None else None) or DEFAULT_STEP_G
        self.levels = Levels(self.step_g)
        self._counted_in_g = 0.0

    def wanted(self) -> bool:
        """Return whether there is a bowl scale and something to pour."""
        stages = self.context.sheet.stage
        return self.scale is not None and any(isinstance(s, EmulsifyStage) for s in stages)

    def reading(self, reading: Reading) -> None:
        """Take one reading of the bowl scale."""
        if reading.channel == self.scale and reading.value is not None:
            self.levels.add(seconds(reading.t_ns), reading.value - self._counted_in_g)

    def event(self, event: Event) -> None:
        """Take what an accepted tare adds to every later reading: no mass has come."""
        if event.kind == "tare_counted" and event.channel == self.scale:
            self._counted_in_g = float(event.data["total_g"])

    def tick(self, t_ns: int) -> None:
        """Work out the levels so far."""
        super().tick(t_ns)
        self.levels.look(seconds(t_ns))

    def outside(self) -> Outside | None:
        """Return None: only the stage knows what a change was."""
        return None
