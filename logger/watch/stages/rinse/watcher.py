"""Rinsing: how long the pieces were in fresh water.

Pure; a stage watcher. The operator begins and ends it.
"""

from logger.model.kinds.rinse import RinseStage
from logger.model.state import StageView, Tone
from logger.watch.engine.contract import Condition, Context, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.words.durations import duration_text

WET_CAUTION = (
    "A wet or frozen skin spits and can burst in hot oil: drain, dry and lower it slowly. Follow "
    "local rules and licensed practice."
)


def make(context: Context) -> Watcher:
    """Return the watcher of a rinsing stage.

    Raises
    ------
    TypeError
        If the context's stage is of another kind.
    """
    return Rinse(context)


class Rinse(Plain):
    """Watches one rinsing stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, RinseStage):
            raise TypeError("a rinse watcher needs a rinse stage")
        self.dwell_s = stage.dwell_s

    def end(self, t_ns: int) -> None:
        """Judge the dwell."""
        self.now_ns = t_ns
        if self.dwell_s is not None:
            lasted = Measured(
                value=self.elapsed_s(t_ns),
                u=checks.U_BETWEEN_TAPS_S,
                from_ns=self.context.start_ns,
                to_ns=t_ns,
            )
            self.context.out.find(
                checks.finding(self.context, "rinse.dwell_s", lasted, self.dwell_s)
            )

    def view(self, t_ns: int) -> StageView:
        """Return the time left."""
        view = super().view(t_ns)
        view.cautions = [WET_CAUTION]
        if self.dwell_s is None:
            return view
        view.say, view.tone = self._say(t_ns)
        if self.dwell_s.low is not None:
            view.left_s = max(0.0, self.dwell_s.low - self.elapsed_s(t_ns))
        view.numbers.append(
            checks.progress(
                self.context,
                "Rinse",
                self.elapsed_s(t_ns),
                "s",
                checks.U_BETWEEN_TAPS_S,
                self.dwell_s,
            )
        )
        return view

    def conditions(self) -> list[Condition]:
        """Return a rinse that goes on too long: calcium that still sets the skin is washed out."""
        high_s = self.dwell_s.high if self.dwell_s is not None else None
        if high_s is None:
            return []
        over = self.elapsed_s() > high_s
        return [
            Condition(
                id=f"{self.context.stage_id}.overdue",
                text=f"Rinsing for longer than {duration_text(high_s)}: take the pieces out",
                active=over,
                cleared=not over,
                on_delay_s=2.0,
                off_delay_s=1.0,
            )
        ]

    def finished(self) -> str | None:
        """Return that the least time is over."""
        low_s = self.dwell_s.low if self.dwell_s is not None else None
        return "The rinse has had its time" if low_s and self.elapsed_s() >= low_s else None

    def _say(self, t_ns: int) -> tuple[str, Tone]:
        elapsed_s = self.elapsed_s(t_ns)
        band = self.dwell_s
        if band is not None and band.low is not None and elapsed_s < band.low:
            return f"Rinse: {duration_text(band.low - elapsed_s)} left", "wait"
        if band is not None and band.high is not None and elapsed_s > band.high:
            return "Rinsed too long: take the pieces out", "warn"
        return "Rinsed long enough: drain and blot the pieces", "do"
