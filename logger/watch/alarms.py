"""The states of alarms: which calls for action, which was seen, which is put aside.

Pure; fed by logger.watch.engine at each whole second with every condition of the watchers, and
with what the operator does. Clocks and integrals of the watchers know nothing of this: they go on
while an alarm is shelved. A notice (low priority) goes without being acknowledged.

References
----------
ANSI/ISA-18.2-2016 and IEC 62682:2014, alarm states; the re-alarm time and the longest shelving are
common practice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from logger.watch.contract import Condition, seconds

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
LONGEST_SHELVE_S = 3600.0
"""Shelving always ends by itself [s]."""

_ORDER: dict[AlarmState, int] = {
    "active unacknowledged": 0,
    "active acknowledged": 1,
    "returned unacknowledged": 2,
    "shelved": 3,
    "latched": 4,
    "out of service": 5,
    "suppressed": 6,
    "normal": 7,
}
_HIDDEN: tuple[AlarmState, ...] = ("normal", "suppressed")


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
class _Alarm:
    condition: Condition
    stage: str | None
    state: AlarmState = "normal"
    since_ns: int = 0
    present: bool = False
    """The condition after its on and off delays, kept up to date in every state."""
    on_since_ns: int | None = None
    off_since_ns: int | None = None
    acked_ns: int = 0
    shelved_until_ns: int | None = None
    latched: bool = False
    row: dict[str, Any] | None = None
    """Its line in the history while it has not gone back to normal."""

    @property
    def sounds(self) -> bool:
        return self.state == "active unacknowledged" and self.condition.priority == "high"


class Alarms:
    """All alarms of a run.

    Parameters
    ----------
    history : list of dict
        Filled with one row per time an alarm came: ``{"id", "text", "stage", "channel",
        "priority", "from_s", "acked_s", "to_s", "latched", "shelved"}``.
    """

    def __init__(self, history: list[dict[str, Any]]) -> None:
        self._history = history
        self._alarms: dict[str, _Alarm] = {}

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
        seen = set()
        for condition, stage in conditions:
            alarm = self._alarms.get(condition.id)
            if alarm is None:
                alarm = self._alarms[condition.id] = _Alarm(condition=condition, stage=stage)
            alarm.condition, alarm.stage = condition, stage
            seen.add(condition.id)
            self._settle(alarm, t_ns)
            changes += self._step(alarm, t_ns)
        for alarm_id, alarm in self._alarms.items():
            if alarm_id not in seen:
                changes += self._without_condition(alarm, t_ns)
        return changes

    def acknowledge(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Acknowledge an alarm; returns the changes, or why it cannot be done."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.row is not None and alarm.row["acked_s"] is None:
            alarm.row["acked_s"] = seconds(t_ns)
        if alarm.state == "active unacknowledged":
            alarm.acked_ns = t_ns
            return [self._go(alarm, "active acknowledged", t_ns)]
        if alarm.state == "returned unacknowledged":
            return [self._go(alarm, _rest(alarm), t_ns)]
        return f"{alarm_id} is {alarm.state}: there is nothing to acknowledge"

    def shelve(self, alarm_id: str, t_ns: int, for_s: float | None) -> list[Change] | str:
        """Put an alarm aside for a time, at most `LONGEST_SHELVE_S`."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.state == "out of service":
            return f"{alarm_id} is out of service: put it back first"
        if for_s is None or not 0.0 < for_s <= LONGEST_SHELVE_S:
            return f"shelving lasts up to {LONGEST_SHELVE_S / 60:g} min: say for how long"
        alarm.shelved_until_ns = t_ns + round(for_s * 1e9)
        if alarm.row is not None:
            alarm.row["shelved"] = True
        return [self._go(alarm, "shelved", t_ns)]

    def unshelve(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Take an alarm back from the shelf before its time is up."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.state != "shelved":
            return f"{alarm_id} is not shelved"
        return [self._again(alarm, t_ns)]

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
        return [self._go(alarm, "normal", t_ns)]

    def take_out(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Take an alarm out of service: its probe was removed on purpose."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        alarm.shelved_until_ns = None
        return [self._go(alarm, "out of service", t_ns)]

    def put_back(self, alarm_id: str, t_ns: int) -> list[Change] | str:
        """Put an alarm back into service."""
        alarm = self._alarms.get(alarm_id)
        if alarm is None:
            return _unknown(alarm_id)
        if alarm.state != "out of service":
            return f"{alarm_id} is in service"
        return [self._again(alarm, t_ns)]

    def close(self, t_ns: int) -> None:
        """End of the run: the history says how each alarm stood."""
        for alarm in self._alarms.values():
            if alarm.row is not None:
                alarm.row["at_end"] = alarm.state
                alarm.row = None

    def view(self) -> list[dict[str, Any]]:
        """Return what the screen lists: most urgent first, in the keys of `State.alarms`."""
        listed = [a for a in self._alarms.values() if a.state not in _HIDDEN]
        listed.sort(
            key=lambda a: (_ORDER[a.state], a.condition.priority != "high", _late(a), a.since_ns)
        )
        return [
            {
                "id": a.condition.id,
                "text": a.condition.text,
                "state": a.state,
                "since_s": seconds(a.since_ns),
                "shelved_until_s": (
                    None if a.shelved_until_ns is None else seconds(a.shelved_until_ns)
                ),
                "latched": a.latched,
                "sounds": a.sounds,
                "priority": a.condition.priority,
                "stage": a.stage,
                "channel": a.condition.channel,
            }
            for a in listed
        ]

    def _step(self, alarm: _Alarm, t_ns: int) -> list[Change]:
        state = alarm.state
        if state == "shelved":
            until_ns = alarm.shelved_until_ns
            return [self._again(alarm, t_ns)] if until_ns is not None and t_ns >= until_ns else []
        if state == "suppressed":
            return self._rejoin(alarm, t_ns)
        if state == "out of service":
            return []
        if alarm.present:
            if state in ("normal", "latched", "returned unacknowledged"):
                return [self._go(alarm, "active unacknowledged", t_ns)]
            if state == "active acknowledged" and _calls_again(alarm, t_ns):
                return [self._go(alarm, "active unacknowledged", t_ns)]
            return []
        if state == "active unacknowledged" and alarm.condition.priority == "high":
            return [self._go(alarm, "returned unacknowledged", t_ns)]
        if state in ("active unacknowledged", "active acknowledged"):
            return [self._go(alarm, _rest(alarm), t_ns)]
        return []

    def _rejoin(self, alarm: _Alarm, t_ns: int) -> list[Change]:
        """Come back from being suppressed; silent when there is nothing to say."""
        if alarm.present:
            return [self._go(alarm, "active unacknowledged", t_ns)]
        alarm.state, alarm.since_ns = _rest(alarm), t_ns
        return []

    def _without_condition(self, alarm: _Alarm, t_ns: int) -> list[Change]:
        alarm.on_since_ns = alarm.off_since_ns = None
        if alarm.present:
            _went(alarm, t_ns)
        if alarm.state == "shelved":
            return self._step(alarm, t_ns)
        if alarm.state in ("normal", "suppressed", "latched", "out of service"):
            return []
        return [self._go(alarm, "latched" if alarm.latched else "suppressed", t_ns)]

    def _again(self, alarm: _Alarm, t_ns: int) -> Change:
        """Leave the shelf or come back into service: judged anew as it stands."""
        alarm.shelved_until_ns = None
        change = self._go(alarm, "active unacknowledged" if alarm.present else _rest(alarm), t_ns)
        if alarm.present and alarm.row is None:
            self._came(alarm, t_ns)
        return change

    def _settle(self, alarm: _Alarm, t_ns: int) -> None:
        """Bring ``present`` up to date: the condition with its deadband and delays."""
        condition = alarm.condition
        if condition.active is None:
            alarm.on_since_ns = alarm.off_since_ns = None
        elif condition.active:
            alarm.off_since_ns = None
            if alarm.on_since_ns is None:
                alarm.on_since_ns = t_ns
            held_ns = t_ns - alarm.on_since_ns
            if not alarm.present and held_ns >= condition.on_delay_s * 1e9:
                self._came(alarm, t_ns)
        elif not condition.cleared:
            alarm.on_since_ns = alarm.off_since_ns = None
        else:
            alarm.on_since_ns = None
            if alarm.off_since_ns is None:
                alarm.off_since_ns = t_ns
            held_ns = t_ns - alarm.off_since_ns
            if alarm.present and held_ns >= condition.off_delay_s * 1e9:
                _went(alarm, t_ns)

    def _go(self, alarm: _Alarm, state: AlarmState, t_ns: int) -> Change:
        was, alarm.state, alarm.since_ns = alarm.state, state, t_ns
        if state in ("normal", "latched", "suppressed"):
            alarm.row = None
        return Change(
            alarm=alarm.condition.id,
            was=was,
            state=state,
            text=alarm.condition.text,
            sounds=alarm.sounds,
            stage=alarm.stage,
            channel=alarm.condition.channel,
        )

    def _came(self, alarm: _Alarm, t_ns: int) -> None:
        """Note that the condition is there: also on the shelf, so that nothing is forgotten."""
        alarm.present = True
        if alarm.state == "out of service":
            return
        alarm.latched = alarm.latched or alarm.condition.latches
        if alarm.row is not None:
            alarm.row["to_s"] = None
            return
        alarm.row = {
            "id": alarm.condition.id,
            "text": alarm.condition.text,
            "stage": alarm.stage,
            "channel": alarm.condition.channel,
            "priority": alarm.condition.priority,
            "from_s": seconds(t_ns),
            "acked_s": None,
            "to_s": None,
            "latched": alarm.latched,
            "shelved": alarm.state == "shelved",
        }
        self._history.append(alarm.row)


def _went(alarm: _Alarm, t_ns: int) -> None:
    alarm.present = False
    if alarm.row is not None:
        alarm.row["to_s"] = seconds(t_ns)


def _rest(alarm: _Alarm) -> AlarmState:
    return "latched" if alarm.latched else "normal"


def _calls_again(alarm: _Alarm, t_ns: int) -> bool:
    return alarm.condition.priority == "high" and t_ns - alarm.acked_ns >= REALARM_S * 1e9


def _late(alarm: _Alarm) -> bool:
    """Return False for stale data, which stands before every other alarm of its state."""
    return not alarm.condition.id.endswith(".stale")


def _unknown(alarm_id: str) -> str:
    return f"there is no alarm {alarm_id!r}"
