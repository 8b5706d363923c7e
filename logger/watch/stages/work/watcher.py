"""Work that nothing measures: how long it took.

Pure; a stage watcher. The operator begins and ends it.
"""

from logger.model.kinds.work import WorkStage
from logger.model.state import StageView
from logger.watch.engine.contract import Context, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured


def make(context: Context) -> Watcher:
    """Return the watcher of a stage of work.

    Raises
    ------
    TypeError
        If the context's stage is of another kind.
    """
    return Work(context)


class Work(Plain):
    """Watches one stage of work."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, WorkStage):
            raise TypeError("a work watcher needs a work stage")
        self.time_s = stage.time_s

    def end(self, t_ns: int) -> None:
        """Judge the time."""
        self.now_ns = t_ns
        if self.time_s is not None:
            lasted = Measured(
                value=self.elapsed_s(t_ns),
                u=checks.U_BETWEEN_TAPS_S,
                from_ns=self.context.start_ns,
                to_ns=t_ns,
            )
            self.context.out.find(checks.finding(self.context, "work.time_s", lasted, self.time_s))

    def view(self, t_ns: int) -> StageView:
        """Return its title, and its time against the target."""
        view = super().view(t_ns)
        if self.time_s is not None:
            view.numbers.append(
                checks.progress(
                    self.context,
                    "Time",
                    self.elapsed_s(t_ns),
                    "s",
                    checks.U_BETWEEN_TAPS_S,
                    self.time_s,
                )
            )
        return view

    def finished(self) -> str | None:
        """Return that the least time is over."""
        low_s = self.time_s.low if self.time_s is not None else None
        return "It has had its time" if low_s and self.elapsed_s() >= low_s else None
