"""Alarms of a run and their states: how each comes, is acknowledged, goes, and is put aside.

Pure; fed by logger.watch.engine.engine at each whole second with every condition of the watchers,
and with what the operator does. Clocks and integrals of the watchers know nothing of this: they go
on while an alarm is shelved. A notice (low priority) goes without being acknowledged.

References
----------
ANSI/ISA-18.2-2016 and IEC 62682:2014, alarm states; the longest shelving and the re-alarm time are
common practice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from logger.model.event import is_silence
from logger.model.rows import AlarmRow
from logger.model.state import AlarmState, AlarmView
from logger.watch.engine.contract import Condition, seconds
from logger.words.durations import exact_duration

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
        stays = important and not self.condition.done_acknowledges
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
        if state == "active unacknowledged" and stays:
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


LONGEST_SHELVE_S = 3600.0
"""Shelving always ends by itself [s]."""

_ORDER: dict[AlarmState, int] = {
    "active unacknowledged": 0,
    "active acknowledged": 1,
    "returned unacknowledged": 2,
    "shelved": 3,
    "latched": 4,
    "out of service": 5,
}
"""Urgency; states that are not here are not shown."""


class Alarms:
    """All alarms of a run.

    Parameters
    ----------
    history : list of dict
        Filled with one row per time an alarm came: ``{"id", "text", "stage", "channel",
        "priority", "from_s", "acked_s", "to_s", "latched", "shelved"}``.
    """

    def __init__(self, history: list[AlarmRow]) -> None:
        self._history = history
        self._alarms: dict[str, Alarm] = {}

    def update(self, t_ns: int, conditions: Iterable[tuple[Condition, str | None]]) -> list[Change]:
        """Take every condition as it stands at a tick.

        Parameters
        ----------
        t_ns : int
            The tick [ns].
        conditions : iterable of (Condition, stage id or None)
            All there are. An alarm whose condition is not among them (its stage is over or has not
            begun) is suppressed by design.

        Returns
        -------
        list of Change
            In the order of the conditions.
        """
        changes: list[Change] = []
        alarms = self._alarms
        for condition, stage in conditions:
            alarm = alarms.get(condition.id)
            if alarm is None:
                alarm = Alarm(condition=condition, stage=stage, history=self._history)
                alarms[condition.id] = alarm
            alarm.seen_ns = t_ns
            if condition is alarm.condition and alarm.stage == stage and alarm.at_rest:
                continue
            alarm.condition, alarm.stage = condition, stage
            changes += alarm.tick(t_ns)
        for alarm in alarms.values():
            if alarm.seen_ns != t_ns:
                changes += alarm.tick_without_condition(t_ns)
        return changes

    def acknowledge(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Acknowledge an alarm; returns the changes, or why it cannot be done."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.state not in ("active unacknowledged", "returned unacknowledged"):
            return f"{alarm_id} is {alarm.state}: there is nothing to acknowledge"
        if alarm.row is not None and alarm.row.acked_s is None:
            alarm.row.acked_s = seconds(t_ns)
        alarm.acked_ns = t_ns
        if alarm.state == "active unacknowledged":
            return [alarm.go("active acknowledged", t_ns)]
        return [alarm.go(alarm.rest, t_ns)]

    def shelve(self, alarm_id: str, t_ns: int, for_s: float | None) -> list[Change] | str:
        """Put an alarm aside for a time.

        Parameters
        ----------
        alarm_id : str
            Which alarm.
        t_ns : int
            Time on the run's axis [ns].
        for_s : float or None
            How long [s], above 0 and at most `LONGEST_SHELVE_S`.

        Returns
        -------
        list of Change or str
            What changed, or why it was not done.
        """
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.state == "out of service":
            return f"{alarm_id} is out of service: put it back first"
        if for_s is None or not 0.0 < for_s <= LONGEST_SHELVE_S:
            return f"shelving lasts up to {exact_duration(LONGEST_SHELVE_S)}: say for how long"
        alarm.shelved_until_ns = t_ns + round(for_s * 1e9)
        if alarm.row is not None:
            alarm.row.shelved = True
        return [alarm.go("shelved", t_ns)]

    def unshelve(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Take an alarm back from the shelf before its time is up."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.state != "shelved":
            return f"{alarm_id} is not shelved"
        return [alarm.again(t_ns)]

    def reset_latch(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Forget that a limit was crossed during the run."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if not alarm.latched:
            return f"{alarm_id} is not latched"
        if alarm.state != "latched":
            return f"{alarm_id} is {alarm.state}: it can be reset once it is back to normal"
        alarm.latched = False
        return [alarm.go("normal", t_ns)]

    def take_out(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Take an alarm out of service: its probe was removed on purpose."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        alarm.shelved_until_ns = None
        return [alarm.go("out of service", t_ns)]

    def put_back(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Put an alarm back into service."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.state != "out of service":
            return f"{alarm_id} is in service"
        return [alarm.again(t_ns)]

    def forgive_silences(self, t_ns: int) -> list[Change]:
        """Take that nothing was recorded up to a time [ns]: silence until then is no alarm."""
        silences = [a for a in self._alarms.values() if is_silence(a.condition.id)]
        return [change for alarm in silences for change in alarm.tick_without_condition(t_ns)]

    def close(self) -> None:
        """End of the run: the history says how each alarm stood."""
        for alarm in self._alarms.values():
            if alarm.row is not None:
                alarm.row.at_end = alarm.state
                alarm.row = None

    def view(self) -> list[AlarmView]:
        """Return what the screen lists: most urgent first, in the keys of `State.alarms`."""
        listed = [a for a in self._alarms.values() if a.state in _ORDER]
        listed.sort(
            key=lambda a: (
                _ORDER[a.state],
                a.condition.priority != "high",
                not is_silence(a.condition.id),  # stale data stands before all else
                a.since_ns,
            )
        )
        return [
            AlarmView(
                id=a.condition.id,
                text=a.condition.text,
                state=a.state,
                since_s=seconds(a.since_ns),
                shelved_until_s=(
                    None if a.shelved_until_ns is None else seconds(a.shelved_until_ns)
                ),
                latched=a.latched,
                sounds=a.sounds,
                priority=a.condition.priority,
                stage=a.stage,
                channel=a.condition.channel,
            )
            for a in listed
        ]


def _unknown(alarm_id: str) -> str:
    return f"there is no alarm {alarm_id!r}"
