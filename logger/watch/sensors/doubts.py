"""Values that come but may not be true: stuck, exchanged, or beside a drifting cold junction.

Pure; used by logger.watch.sensors.health once a second. Doubts are said and shown; values stay as
they are.
"""

from collections import deque
from typing import Any

from logger.model.bench import SCALE_ROLES, Bench, Channel
from logger.model.reading import Flag
from logger.watch.engine.contract import Condition, Outbox, seconds
from logger.watch.sensors.pulse import SECOND_NS, Pulse
from logger.words.values import value_text

STUCK_S, STUCK_SAMPLES = 60.0, 30
"""A value unchanged for both may be stuck."""
STUCK_AFTER_NS = round(STUCK_S * SECOND_NS)
COLD_JUNCTION_LOW_C, COLD_JUNCTION_HIGH_C = 5.0, 45.0
COLD_JUNCTION_DRIFT_K, DRIFT_S = 1.0, 600
EXCHANGED_K = 5.0
"""Smallest distance of two probes that can be told to have changed places [K]."""
LIVELY_SHARE = 0.2
"""Share of readings that differ from the one before, in a value that cannot rest by chance."""

_NOTICE_OFF_S = 2.0
_COLD_JUNCTION_FIELDS = ("cj", "cold_junction")

Pulses = dict[str, Pulse]


class Wires:
    """Which channel is which, for looking up."""

    def __init__(self, bench: Bench) -> None:
        self.channels: dict[str, Channel] = {c.id: c for c in bench.channel}
        self._scales = frozenset(c.id for c in bench.channel if c.role in SCALE_ROLES)
        self._stuck_after_ns = {
            c.id: round((STUCK_S if c.stuck_after_s is None else c.stuck_after_s) * SECOND_NS)
            for c in bench.channel
        }

    def name(self, channel_id: str) -> str:
        """Return the name a person reads."""
        channel = self.channels.get(channel_id)
        return channel.name if channel is not None else channel_id

    def instrument(self, channel_id: str) -> str:
        """Return the id of the instrument of a channel."""
        channel = self.channels.get(channel_id)
        return channel.instrument if channel is not None else "its instrument"

    def is_scale(self, channel_id: str) -> bool:
        """Return whether a channel is a mass."""
        return channel_id in self._scales

    def stuck_after_ns(self, channel_id: str) -> int:
        """Return how long a channel's value may stay the same [ns]."""
        return self._stuck_after_ns.get(channel_id, STUCK_AFTER_NS)

    def board(self, channel_id: str) -> list[str]:
        """Return all channels of the instrument of a channel."""
        channel = self.channels.get(channel_id)
        if channel is None:
            return [channel_id]
        return [c.id for c in self.channels.values() if c.instrument == channel.instrument]


class Doubts:
    """What may be wrong with values that do come."""

    def __init__(self, wires: Wires, out: Outbox) -> None:
        self._wires, self._out = wires, out
        self.stuck: set[str] = set()
        self._exchanged: set[tuple[str, str]] = set()
        self._levels: dict[str, tuple[int, float, float]] = {}
        self._junctions: dict[str, deque[tuple[int, float]]] = {}
        self._notices: dict[tuple[str, bool], Condition] = {}

    def look(self, t_ns: int, pulses: Pulses) -> None:
        """Look at every channel."""
        self._look_for_stuck(t_ns, pulses)
        self._look_for_exchange(t_ns, pulses)
        if (t_ns // SECOND_NS) % 10 == 0:
            for channel in self._wires.channels.values():
                if channel.field in _COLD_JUNCTION_FIELDS and not pulses[channel.id].silent(t_ns):
                    self.junction(channel.id, t_ns, pulses[channel.id].value)

    def junction(self, where: str, t_ns: int, temp_c: Any) -> None:
        """Take the temperature of a cold junction.

        Parameters
        ----------
        where : str
            Which junction.
        t_ns : int
            Time on the run's axis [ns].
        temp_c : float
            Its temperature [degC]; what is no number is passed over.
        """
        if not isinstance(temp_c, (int, float)):
            return
        seen = self._junctions.setdefault(where, deque())
        seen.append((t_ns, float(temp_c)))
        while t_ns - seen[0][0] > DRIFT_S * SECOND_NS:
            seen.popleft()

    def conditions(self, pulses: Pulses) -> list[Condition]:
        """Return one notice per doubt, present or not."""
        found = []
        for channel_id in pulses:
            stuck = channel_id in self.stuck
            if stuck or not self._wires.is_scale(channel_id):
                found.append(self._stuck_notice(channel_id, stuck))
        for a, b in sorted(self._exchanged):
            text = f"{self._names(a, b)} may have changed places: check the probes"
            found.append(_notice(f"{a}.{b}.exchanged", text, True, a))
        for where, seen in self._junctions.items():
            found.append(self._junction_condition(where, [temp_c for _, temp_c in seen]))
        return found

    # Stuck.

    def _stuck_notice(self, channel_id: str, stuck: bool) -> Condition:
        notice = self._notices.get((channel_id, stuck))
        if notice is None:
            scale = self._wires.is_scale(channel_id)
            act = "press on the pan to see whether it reacts" if scale else "move the probe"
            text = f"{self._wires.name(channel_id)}: stuck? The value does not change; {act}"
            notice = _notice(f"{channel_id}.stuck", text, stuck, channel_id)
            self._notices[channel_id, stuck] = notice
        return notice

    def _look_for_stuck(self, t_ns: int, pulses: Pulses) -> None:
        """Look for values that stay the same though they must have changed.

        A scale at rest shows the same digits for hours, and a filter in it can end the noise that
        it had while its load was moving: only what the scale itself says can tell that it hangs.
        """
        for channel_id, pulse in pulses.items():
            if pulse.same < STUCK_SAMPLES or channel_id in self.stuck or pulse.silent(t_ns):
                continue
            if not pulse.frozen(t_ns, self._wires.stuck_after_ns(channel_id), STUCK_SAMPLES):
                continue
            channel = self._wires.channels.get(channel_id)
            told = channel is not None and channel.stuck_after_s is not None
            why = self._why_stuck(channel_id, pulses, t_ns, told)
            if why:
                self.stuck.add(channel_id)
                text = f"{self._wires.name(channel_id)}: stuck? {why}"
                since_s = seconds(pulse.changed_ns)
                self._out.emit(t_ns, "stuck", text, channel=channel_id, since_s=since_s)

    def _why_stuck(self, channel_id: str, pulses: Pulses, t_ns: int, told: bool) -> str:
        pulse, is_scale = pulses[channel_id], self._wires.is_scale(channel_id)
        after_ns = self._wires.stuck_after_ns(channel_id)
        if is_scale and pulse.flags & Flag.STABLE:
            return ""
        if is_scale and pulse.contradicts_itself(t_ns, after_ns):
            return "it shows one and the same value, though it calls it unstable"
        others_move = any(
            p.moves(t_ns)
            for other, p in pulses.items()
            if other != channel_id and self._wires.is_scale(other) == is_scale
        )
        if not is_scale and pulse.noisy():
            return "its value has stopped changing, though it always did before"
        if told:
            return "its value has not changed while others move" if others_move else ""
        if is_scale:
            return ""
        if others_move and pulse.went_somewhere():
            return "it stopped changing while others go on"
        if self._board_frozen([pulses[c] for c in self._wires.board(channel_id)], t_ns):
            return "every probe of its instrument stopped changing at once"
        return ""

    @staticmethod
    def _board_frozen(board: list[Pulse], t_ns: int) -> bool:
        """Return whether all probes of an instrument froze, at least one of which was lively."""
        return (
            len(board) > 1
            and all(p.frozen(t_ns, STUCK_AFTER_NS, STUCK_SAMPLES) for p in board)
            and any(p.lively >= LIVELY_SHARE or p.went_somewhere() for p in board)
        )

    # Exchanged.

    def _look_for_exchange(self, t_ns: int, pulses: Pulses) -> None:
        for channel_id, pulse in pulses.items():
            levels = pulse.level_after_gap()
            if levels is not None and not self._wires.is_scale(channel_id):
                self._levels[channel_id] = (t_ns, *levels)
        if not self._levels:
            return
        self._levels = {k: v for k, v in self._levels.items() if t_ns - v[0] <= 3 * SECOND_NS}
        for a, b in self._changed_pairs():
            self._exchanged.add((a, b))
            self._levels.pop(a, None)
            self._levels.pop(b, None)
            text = f"{self._names(a, b)} seem to have changed places: check which probe is where"
            self._out.emit(t_ns, "exchange_suspected", text, channel=a, other=b)

    def _changed_pairs(self) -> list[tuple[str, str]]:
        ids = list(self._levels)
        return [
            (a, b)
            for place, a in enumerate(ids)
            for b in ids[place + 1 :]
            if b in self._wires.board(a)
            and _changed_places(self._levels[a][1:], self._levels[b][1:])
        ]

    # Words.

    def _junction_condition(self, where: str, temps_c: list[float]) -> Condition:
        latest = temps_c[-1]
        outside = not COLD_JUNCTION_LOW_C <= latest <= COLD_JUNCTION_HIGH_C
        drifts = max(temps_c) - min(temps_c) > COLD_JUNCTION_DRIFT_K
        text = (
            f"The connection block of {where} is at {value_text(latest, 'degC')}"
            + (" and drifts" if drifts else "")
            + ": keep it away from heat and draughts"
        )
        channel_id = where if where in self._wires.channels else None
        return _notice(f"{where}.cold_junction", text, outside or drifts, channel_id)

    def _names(self, a: str, b: str) -> str:
        return f"{self._wires.name(a)} and {self._wires.name(b)}"


def _changed_places(a: tuple[float, float], b: tuple[float, float]) -> bool:
    """Return whether each of two channels came back at the other's level (before, after)."""
    apart = abs(a[0] - b[0])
    crossed = abs(a[1] - b[0]) + abs(b[1] - a[0])
    stayed = abs(a[1] - a[0]) + abs(b[1] - b[0])
    return apart >= EXCHANGED_K and crossed < 0.25 * stayed


def _notice(condition_id: str, text: str, active: bool, channel_id: str | None) -> Condition:
    return Condition(
        id=condition_id,
        text=text,
        active=active,
        cleared=not active,
        on_delay_s=0.0,
        off_delay_s=_NOTICE_OFF_S,
        priority="low",
        channel=channel_id,
    )
