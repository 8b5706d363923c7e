"""The clock of a cooling rule set: from leaving the hot end to each limit in its time.

Pure; used by logger.watch.stages.chill.watcher. The clock knows only the readings it is given and
the time: it goes on through gaps, through shelved alarms and through everything else. What starts
it anew or ends a step must last for a stretch of readings.
"""

from dataclasses import dataclass

from logger.model.finding import Verdict
from logger.science.heat.cooling_rules import CoolingRule
from logger.science.metrology.conformance import decide
from logger.watch.verdict.stretch import Held
from logger.words.values import exact_text

NEAR_NS = 60_000_000_000
"""A reading at most this much before a deadline tells how it stood at the deadline [ns]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepResult:
    """One step of the rule as it stands.

    Attributes
    ----------
    limit_c : float
        Down to this [degC].
    start_ns, deadline_ns : int
        When its time began and when it ends [ns].
    reached_ns : int or None
        First reading of the stretch that is there by the decision rule.
    verdict : str or None
        None while it is still open.
    says : str
        Why, in words.
    """

    limit_c: float
    start_ns: int
    deadline_ns: int
    reached_ns: int | None
    verdict: Verdict | None
    says: str


@dataclass(slots=True, kw_only=True)
class _Seen:
    t_ns: int
    value: float
    u: float


class CoolingClock:
    """One clock.

    Parameters
    ----------
    rule : CoolingRule
        The rule set.
    decision_rule : str
        Of the sheet.
    start_ns : int
        Start of the stage [ns]: of the clock, unless the rule starts at a temperature.
    last_hot_ns : int or None
        When the core was last seen at the hot end before the stage began.
    stretch_ns : int
        Length of a stretch of readings [ns].
    """

    def __init__(
        self,
        rule: CoolingRule,
        decision_rule: str,
        start_ns: int,
        last_hot_ns: int | None = None,
        *,
        stretch_ns: int,
    ) -> None:
        self.rule = rule
        self._decision_rule = decision_rule
        self._stage_ns = start_ns
        self._hot_ns = last_hot_ns
        self._reached: list[int | None] = [None] * len(rule.steps)
        self._at_deadline: list[Verdict | None] = [None] * len(rule.steps)
        self._last: _Seen | None = None
        self._hot = Held(stretch_ns)
        self._cold = [Held(stretch_ns) for _ in rule.steps]
        self._doubted: set[int] = set()
        """Steps that were reached by readings in doubt."""

    @property
    def start_ns(self) -> int:
        """Start of the clock [ns]."""
        return self._hot_ns if self._hot_ns is not None else self._stage_ns

    @property
    def start_seen(self) -> bool:
        """Whether the moment at which the rule's clock starts was seen."""
        return self.rule.starts_below_c is None or self._hot_ns is not None

    def broken(self) -> None:
        """Take a gap: no stretch goes across it."""
        self._hot.broken()
        for cold in self._cold:
            cold.broken()

    def believed(self) -> None:
        """Take that the probe is back: what readings in doubt reached was not reached."""
        for place in self._doubted:
            self._reached[place] = None
        self._doubted.clear()

    def take(
        self, t_ns: int, value: float, u: float, *, in_doubt: bool = False, may_be_hot: bool = True
    ) -> None:
        """Take one reading of the core.

        Parameters
        ----------
        t_ns : int
            Time on the run's axis [ns].
        value, u : float
            Temperature [degC] and its standard uncertainty [K].
        in_doubt : bool
            Whether the probe may have been moved to something colder than the food.
        may_be_hot : bool
            False where it may have been moved to something hotter.
        """
        hot_c = self.rule.starts_below_c
        if hot_c is not None:
            hot = may_be_hot and self._is(value, u, low=hot_c) == "met"
            if self._hot.take(t_ns, hot):
                self._hot_ns = t_ns
                self._reached = [None] * len(self.rule.steps)
                self._at_deadline = [None] * len(self.rule.steps)
                self._doubted.clear()
        now = _Seen(t_ns=t_ns, value=value, u=u)
        for place, step in enumerate(self.rule.steps):
            if self._reached[place] is None:
                deadline_ns = self._deadline_ns(place)
                cold = self._cold[place]
                if cold.take(t_ns, self._is(value, u, high=step.limit_c) == "met"):
                    self._reached[place] = cold.since_ns
                    if in_doubt:
                        self._doubted.add(place)
                elif self._passes(place, t_ns, deadline_ns):
                    self._at_deadline[place] = self._stood(step.limit_c, deadline_ns, now)
        self._last = now

    def results(self, t_ns: int) -> list[StepResult]:
        """Return every step as it stands at a time [ns]."""
        found = []
        for place, step in enumerate(self.rule.steps):
            deadline_ns = self._deadline_ns(place)
            verdict, says = self._judge(place, t_ns, deadline_ns)
            found.append(
                StepResult(
                    limit_c=step.limit_c,
                    start_ns=self._step_start_ns(place),
                    deadline_ns=deadline_ns,
                    reached_ns=self._reached[place],
                    verdict=verdict,
                    says=says,
                )
            )
        return found

    def _judge(self, place: int, t_ns: int, deadline_ns: int) -> tuple[Verdict | None, str]:
        reached_ns = self._reached[place]
        if reached_ns is not None and reached_ns <= deadline_ns:
            if place in self._doubted:
                return "undecided", "the probe seems to have been moved before"
            if self.start_seen:
                return "met", "in time"
            start = exact_text(self.rule.starts_below_c, "degC")
            return "undecided", (
                f"the core was not seen above {start}, so the time before the stage is not known"
            )
        if t_ns <= deadline_ns or self._pending(place, deadline_ns):
            return None, "still running"
        at_deadline = self._at_deadline[place]
        if at_deadline is None and self._last is not None:
            limit_c = self.rule.steps[place].limit_c
            at_deadline = self._before(limit_c, deadline_ns, self._last)
        if at_deadline == "not met":
            return "not met", "it was still above when the time was up"
        if at_deadline == "undecided":
            return "undecided", "it was too close to the limit to call when the time was up"
        return "not measured", "there is no reading from when the time was up"

    def _pending(self, place: int, deadline_ns: int) -> bool:
        """Whether a stretch at the limit has begun in time and goes on."""
        since_ns = self._cold[place].since_ns
        reached = self._reached[place] is not None
        return not reached and since_ns is not None and since_ns <= deadline_ns

    def _passes(self, place: int, t_ns: int, deadline_ns: int) -> bool:
        """Whether a deadline has passed of which it isn't known yet how the core stood."""
        known = self._at_deadline[place] is not None
        return t_ns > deadline_ns and not known and not self._pending(place, deadline_ns)

    def _stood(self, limit_c: float, deadline_ns: int, now: _Seen) -> Verdict:
        """Return how the core stood at a deadline that has just passed."""
        before = self._before(limit_c, deadline_ns, self._last)
        if before is not None:
            return before
        # A core that cools was not below the limit earlier if it is above it now.
        after = self._is(now.value, now.u, high=limit_c)
        return "not met" if after == "not met" else "not measured"

    def _before(self, limit_c: float, deadline_ns: int, seen: _Seen | None) -> Verdict | None:
        if seen is None or not 0 <= deadline_ns - seen.t_ns <= NEAR_NS:
            return None
        return self._is(seen.value, seen.u, high=limit_c)

    def _step_start_ns(self, place: int) -> int:
        step = self.rule.steps[place]
        if step.counted_from == "start" or place == 0:
            return self.start_ns
        reached_ns = self._reached[place - 1]
        return reached_ns if reached_ns is not None else self._deadline_ns(place - 1)

    def _deadline_ns(self, place: int) -> int:
        return self._step_start_ns(place) + round(self.rule.steps[place].within_s * 1e9)

    def _is(
        self, value: float, u: float, *, low: float | None = None, high: float | None = None
    ) -> Verdict:
        return decide(value, u, low=low, high=high, rule=self._decision_rule)
