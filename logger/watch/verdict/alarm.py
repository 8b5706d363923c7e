"""One alarm and its states: how it comes, is seen, goes, and is put aside.

Pure; used by logger.watch.verdict.alarms, which keeps all alarms of a run.

References
----------
ANSI/ISA-18.2-2016 and IEC 62682:2014, alarm states; the re-alarm time is common practice, no
source.
"""

from dataclasses import dataclass
from typing import Literal

from logger.model.rows import AlarmRow
from logger.watch.engine.contract import Condition, seconds

AlarmState = Literal[
    "normal",
    "active unacknowledged",
    "active acknowledged",
    "returned unacknowledged",
    "latched",
    "shelved",
    "suppressed",
    "out of service",
]

REALARM_S = 600.0
"""An acknowledged alarm that is still active calls again after this [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change of state of one alarm."""

    alarm: str
    was: AlarmState
    state: AlarmState
    text: str
    sounds: bool
    stage: str | None
    channel: str | None


@dataclass(slots=True, kw_only=True)
class Alarm:
    """One alarm.

    Attributes
    ----------
    condition : Condition
        As it stood at the last tick it was there.
    present : bool
        The condition after its on and off delays, kept up to date in every state.
    seen_ns : int
        The last tick at which its condition was there [ns].
    latched : bool
        The limit was crossed during the run, and nobody has reset it.
    row : AlarmRow or None
        Its line in the history while it has not gone back to normal.
    """

    condition: Condition
    stage: str | None
    history: list[AlarmRow]
    state: AlarmState = "normal"
    since_ns: int = 0
    seen_ns: int = -1
    present: bool = False
    on_since_ns: int | None = None
    off_since_ns: int | None = None
    acked_ns: int = 0
    shelved_until_ns: int | None = None
    latched: bool = False
    row: AlarmRow | None = None

    @property
    def sounds(self) -> bool:
        """Whether it sounds now."""
        return self.state == "active unacknowledged" and self.condition.priority == "high"

    @property
    def at_rest(self) -> bool:
        """Whether the same condition once more would change nothing."""
        condition = self.condition
        return (
            self.state == "normal"
            and not self.present
            and not condition.active
            and condition.cleared
            and condition.active is not None
            and self.on_since_ns is None
            and self.off_since_ns is not None
        )

    @property
    def rest(self) -> AlarmState:
        """The state it goes back to."""
        return "latched" if self.latched else "normal"

    def tick(self, t_ns: int) -> list[Change]:
        """Take its condition as it stands now."""
        self._settle(t_ns)
        return self._step(t_ns)

    def tick_without_condition(self, t_ns: int) -> list[Change]:
        """Its stage is not under way: suppressed by design; a latch stays."""
        self.on_since_ns = self.off_since_ns = None
        if self.present:
            self._went(t_ns)
        if self.state == "shelved":
            return self._step(t_ns)
        if self.state in ("normal", "suppressed", "latched", "out of service"):
            return []
        return [self.go("latched" if self.latched else "suppressed", t_ns)]

    def again(self, t_ns: int) -> Change:
        """Leave the shelf or come back into service: judged anew as it stands."""
        self.shelved_until_ns = None
        change = self.go("active unacknowledged" if self.present else self.rest, t_ns)
        if self.present and self.row is None:
            self._came(t_ns)
        return change

    def go(self, state: AlarmState, t_ns: int) -> Change:
        """Change the state."""
        was, self.state, self.since_ns = self.state, state, t_ns
        if state in ("normal", "latched", "suppressed"):
            self.row = None
        return Change(
            alarm=self.condition.id,
            was=was,
            state=state,
            text=self.condition.text,
            sounds=self.sounds,
            stage=self.stage,
            channel=self.condition.channel,
        )

    def _step(self, t_ns: int) -> list[Change]:
        state, important = self.state, self.condition.priority == "high"
        if state == "shelved":
            until_ns = self.shelved_until_ns
            return [self.again(t_ns)] if until_ns is not None and t_ns >= until_ns else []
        if state == "out of service":
            return []
        if state == "suppressed":
            return self._rejoin(t_ns)
        if self.present:
            late = important and t_ns - self.acked_ns >= REALARM_S * 1e9
            calls = state in ("normal", "latched", "returned unacknowledged")
            if calls or (state == "active acknowledged" and late):
                return [self.go("active unacknowledged", t_ns)]
            return []
        if state == "active unacknowledged" and important:
            return [self.go("returned unacknowledged", t_ns)]
        if state in ("active unacknowledged", "active acknowledged"):
            return [self.go(self.rest, t_ns)]
        return []

    def _rejoin(self, t_ns: int) -> list[Change]:
        """Come back from being suppressed; silent when there is nothing to say."""
        if self.present:
            return [self.go("active unacknowledged", t_ns)]
        self.state, self.since_ns = self.rest, t_ns
        return []

    def _settle(self, t_ns: int) -> None:
        """Bring ``present`` up to date: the condition with its deadband and delays."""
        condition = self.condition
        if condition.active is None:
            self.on_since_ns = self.off_since_ns = None
        elif condition.active:
            self.off_since_ns = None
            if self.on_since_ns is None:
                self.on_since_ns = t_ns
            held_ns = t_ns - self.on_since_ns
            if not self.present and held_ns >= condition.on_delay_s * 1e9:
                self._came(t_ns)
        elif not condition.cleared:
            self.on_since_ns = self.off_since_ns = None
        else:
            self.on_since_ns = None
            if self.off_since_ns is None:
                self.off_since_ns = t_ns
            held_ns = t_ns - self.off_since_ns
            if self.present and held_ns >= condition.off_delay_s * 1e9:
                self._went(t_ns)

    def _came(self, t_ns: int) -> None:
        """Note that the condition is there: also on the shelf, so that nothing is forgotten."""
        self.present = True
        if self.state == "out of service":
            return
        self.latched = self.latched or self.condition.latches
        if self.row is not None:
            self.row.to_s = None
            return
        self.row = AlarmRow(
            id=self.condition.id,
            text=self.condition.text,
            stage=self.stage,
            channel=self.condition.channel,
            priority=self.condition.priority,
            from_s=seconds(t_ns),
            latched=self.latched,
            shelved=self.state == "shelved",
        )
        self.history.append(self.row)

    def _went(self, t_ns: int) -> None:
        self.present = False
        if self.row is not None:
            self.row.to_s = seconds(t_ns)
