"""A watcher that only keeps time; and the base of watchers that need not say everything.

Pure. Subclassed by the simpler watchers of stages.
"""

from logger.model.event import Event
from logger.model.kinds.registry import title_of
from logger.model.reading import Reading
from logger.model.state import StageView
from logger.watch.engine.contract import Condition, Context


class Plain:
    """Does nothing with what it is fed; says how long the stage has run.

    Parameters
    ----------
    context : Context
        Of the stage, or of the run.
    """

    only: str | None = None
    """The one channel whose readings it takes; None for any."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self.now_ns = context.start_ns

    def reading(self, reading: Reading) -> None:
        """Take one reading."""

    def event(self, event: Event) -> None:
        """Take one event."""

    def tick(self, t_ns: int) -> None:
        """Take the time."""
        self.now_ns = t_ns

    def end(self, t_ns: int) -> None:
        """Take the end."""
        self.now_ns = t_ns

    def view(self, t_ns: int) -> StageView:
        """Return the title of the stage and its planned time."""
        stage = self.context.stage
        if stage is None:
            return StageView()
        left_s = None
        if stage.planned_s is not None:
            left_s = max(0.0, stage.planned_s - self.elapsed_s(t_ns))
        return StageView(say=title_of(stage), left_s=left_s)

    def conditions(self) -> list[Condition]:
        """Return no conditions."""
        return []

    def finished(self) -> str | None:
        """Return None: only the operator knows."""
        return None

    def elapsed_s(self, t_ns: int | None = None) -> float:
        """Return the time since the start of the stage [s]; at the last tick by default."""
        return ((self.now_ns if t_ns is None else t_ns) - self.context.start_ns) / 1e9
