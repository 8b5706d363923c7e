"""Is the bench telling the truth: gaps, silence, stuck values, tares, exchanged probes.

Pure; a watcher that lives as long as the run, the first to see each item. Its events (``stale``,
``gap``, ``stuck``, ``rate_drop``, ``tare_suspected``...) reach the other watchers and the store,
its conditions are the first alarms. Values are never changed, filled or held here.
"""

from collections import deque
from typing import Any

from logger.model.bench import SCALE_ROLES, Channel
from logger.model.event import Event
from logger.model.reading import Reading
from logger.model.state import ChannelView
from logger.watch.contract import Condition, Context, seconds
from logger.watch.needs import needed_channels
from logger.watch.plain import Plain
from logger.watch.pulse import SECOND_NS, Gap, Pulse

STUCK_S, STUCK_SAMPLES = 60.0, 30
COLD_JUNCTION_LOW_C, COLD_JUNCTION_HIGH_C = 5.0, 45.0
COLD_JUNCTION_DRIFT_K, DRIFT_S = 1.0, 600
SHORT_S = 5.0
"""A gap that follows another at once, as when the rate drops, is told again only from here [s]."""
EXCHANGED_K = 5.0
"""Smallest distance of two channels that can be told to have changed places [K or g]."""

_ALARM_DELAY_S = 2.0
_COLD_JUNCTION_FIELDS = ("cj", "cold_junction")
_WHAT_TO_DO = {
    "stale": "no readings; look at the plug and the cable of {instrument}",
    "open": "the probe is open; plug it in or take another",
    "fault": "the instrument reports a fault; look at the probe and its plug",
    "over": "over the instrument's range; take load or heat off",
    "under": "under the instrument's range; put the load back or look at the probe",
    "untrusted": "most of what {instrument} sends does not read; check baud rate and shape",
}
_WHY = {
    "silent": "no readings",
    "open": "open probe",
    "fault": "fault reported by the instrument",
    "over": "over range",
    "under": "under range",
    "untrusted": "readings that cannot be trusted",
}


class Health(Plain):
    """Watches every channel of the bench for the whole run."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._started = False
        self._channels: dict[str, Channel] = {c.id: c for c in context.bench.channel}
        self._pulses: dict[str, Pulse] = {}
        self._gap_rows: dict[str, dict[str, Any]] = {}
        self._stuck: set[str] = set()
        self._slow: set[str] = set()
        self._exchanged: set[tuple[str, str]] = set()
        self._levels: dict[str, tuple[int, float, float]] = {}
        self._junctions: dict[str, deque[tuple[int, float]]] = {}
        self._says: dict[str, str] = {}
        self._needed: frozenset[str] = frozenset()

    def reading(self, reading: Reading) -> None:
        """Take one reading."""
        if not self._started:
            self._start(reading.t_ns)
        channel, t_ns, value, u, flags = reading
        pulse = self._pulses.get(channel)
        if pulse is None:
            pulse = self._pulses[channel] = self._pulse(channel, t_ns)
        gap = pulse.take(t_ns, value, u, flags)
        if gap is not None:
            self._end_gap(channel, gap)
        if channel in self._stuck and pulse.same == 0:
            self._stuck.discard(channel)

    def event(self, event: Event) -> None:
        """Take what the ports say, and which stage is under way."""
        if not self._started and event.source != "engine":
            self._start(event.t_ns)
        if event.kind == "stage_start":
            self._needed = needed_channels(self.context.sheet, self.context.bench, event.stage)
        elif event.kind == "stage_end":
            self._needed = frozenset()
        elif event.kind == "unit_change" and event.channel is not None:
            self._says[event.channel] = event.text or "the unit was switched on the instrument"
        elif event.kind == "cold_junction":
            self._junction(event.channel or event.port or "", event.t_ns, event.data.get("temp_c"))

    def tick(self, t_ns: int) -> None:
        """Look at every channel once a second."""
        self.now_ns = t_ns
        for channel_id, pulse in self._pulses.items():
            pulse.tick(t_ns)
            if pulse.silent(t_ns):
                self._open_gap(channel_id, pulse, t_ns)
            self._look_at_rate(channel_id, pulse, t_ns)
            self._look_for_tare(channel_id, pulse, t_ns)
        self._look_for_stuck(t_ns)
        self._look_for_exchange(t_ns)
        if (t_ns // SECOND_NS) % 10 == 0:
            self._look_at_junction_channels(t_ns)

    def end(self, t_ns: int) -> None:
        """Close the gaps that are still open."""
        self.now_ns = t_ns
        for row in self._gap_rows.values():
            if row["to_s"] is None:
                row["to_s"] = seconds(t_ns)

    def conditions(self) -> list[Condition]:
        """Return silence of each channel first, then what else may be wrong with it."""
        silent = [self._silence(channel_id) for channel_id in self._pulses]
        return silent + self._doubts()

    def view_of(self, channel: Channel) -> ChannelView:
        """Return a channel at this moment; a value that is gone is not shown as live."""
        view = ChannelView(
            id=channel.id,
            role=channel.role,
            label=channel.name,
            unit=channel.unit,
            instrument=channel.instrument,
            says=self._says.get(channel.id, ""),
        )
        pulse = self._pulses.get(channel.id)
        if pulse is None:
            return view
        view.status = pulse.status(self.now_ns)
        if view.status == "live" and channel.id in self._stuck:
            view.status = "stuck"
        if view.status in ("live", "stuck"):
            view.value = pulse.value
            view.u_expanded = 2.0 * pulse.u if pulse.u == pulse.u else None
        view.t_s = seconds(pulse.value_ns) if pulse.value_ns is not None else None
        view.rate_hz = pulse.rate_hz()
        view.says = view.says or self._advice(channel.id, view.status)
        return view

    def _start(self, t_ns: int) -> None:
        self._started = True
        self.now_ns = t_ns
        for channel_id in self._channels:
            self._pulses[channel_id] = self._pulse(channel_id, t_ns)

    def _pulse(self, channel_id: str, t_ns: int) -> Pulse:
        channel = self._channels.get(channel_id)
        role = channel.role if channel is not None else "other"
        return Pulse(
            t_ns,
            is_scale=role in SCALE_ROLES,
            zero_is_tare=role in ("bowl_scale", "bath_scale"),
        )

    # Gaps.

    def _open_gap(self, channel_id: str, pulse: Pulse, t_ns: int) -> None:
        row = self._gap_rows.get(channel_id)
        since_ns = pulse.since_ns
        if row is not None and row["to_s"] is None:
            row["why"] = _WHY[pulse.why or "silent"]
            return
        if row is not None and row["to_s"] == seconds(since_ns):
            row["to_s"] = None
            return
        why = _WHY[pulse.why or "silent"]
        self._add_row(channel_id, since_ns, None, why)
        self._emit(t_ns, "stale", channel_id, f"{self._name(channel_id)}: {why}")

    def _end_gap(self, channel_id: str, gap: Gap) -> None:
        row = self._gap_rows.get(channel_id)
        why = _WHY[gap.why]
        length_s = seconds(gap.to_ns - gap.from_ns)
        if row is None or row["to_s"] not in (None, seconds(gap.from_ns)):
            self._add_row(channel_id, gap.from_ns, gap.to_ns, why)
        else:
            goes_on = row["to_s"] is not None
            row["to_s"] = seconds(gap.to_ns)
            if goes_on and length_s < SHORT_S:
                return
        self._emit(
            gap.to_ns,
            "gap",
            channel_id,
            f"{self._name(channel_id)}: {why} for {length_s:.1f} s",
            from_s=seconds(gap.from_ns),
            to_s=seconds(gap.to_ns),
        )

    def _add_row(self, channel_id: str, from_ns: int, to_ns: int | None, why: str) -> None:
        row = {
            "channel": channel_id,
            "from_s": seconds(from_ns),
            "to_s": seconds(to_ns) if to_ns is not None else None,
            "why": why,
        }
        self._gap_rows[channel_id] = row
        self.context.out.results.gaps.append(row)

    # Once a second.

    def _look_at_rate(self, channel_id: str, pulse: Pulse, t_ns: int) -> None:
        if pulse.slow == (channel_id in self._slow):
            return
        if not pulse.slow:
            self._slow.discard(channel_id)
            return
        self._slow.add(channel_id)
        every_s = (pulse.median_ns or 0.0) / SECOND_NS
        text = f"{self._name(channel_id)}: readings come only every {every_s:.1f} s"
        self._emit(t_ns, "rate_drop", channel_id, text, every_s=every_s)

    def _look_for_tare(self, channel_id: str, pulse: Pulse, t_ns: int) -> None:
        tare = pulse.tare(t_ns)
        if tare is None:
            return
        name = self._name(channel_id)
        self._emit(
            t_ns,
            "tare_suspected",
            channel_id,
            f"{name}: tared? It went from {tare.before_g:g} g to {tare.after_g:g} g",
            at_s=seconds(tare.t_ns),
            before_g=tare.before_g,
            after_g=tare.after_g,
            offset_g=tare.before_g - tare.after_g,
            by_flag=tare.by_flag,
        )

    def _look_for_stuck(self, t_ns: int) -> None:
        for channel_id, pulse in self._pulses.items():
            if channel_id in self._stuck or pulse.silent(t_ns):
                continue
            channel = self._channels.get(channel_id)
            own_s = channel.stuck_after_s if channel is not None else None
            after_ns = round((own_s if own_s is not None else STUCK_S) * SECOND_NS)
            if not pulse.frozen(t_ns, after_ns, STUCK_SAMPLES):
                continue
            why = self._why_stuck(channel_id, pulse, t_ns, own_s is not None)
            if why:
                self._stuck.add(channel_id)
                text = f"{self._name(channel_id)}: stuck? {why}"
                self._emit(t_ns, "stuck", channel_id, text, since_s=seconds(pulse.changed_ns))

    def _why_stuck(self, channel_id: str, pulse: Pulse, t_ns: int, told: bool) -> str:
        peers = [
            p
            for other, p in self._pulses.items()
            if other != channel_id and self._is_scale(other) == self._is_scale(channel_id)
        ]
        others_move = any(p.moves(t_ns) for p in peers)
        if pulse.noisy():
            return "its value has not changed at all, though it always did"
        if told:
            return "its value has not changed while others move" if others_move else ""
        if self._is_scale(channel_id):
            return ""
        if others_move and pulse.went_somewhere():
            return "it stopped changing while others go on"
        if self._board_frozen(channel_id, t_ns):
            return "every probe of its instrument stopped changing at once"
        return ""

    def _board_frozen(self, channel_id: str, t_ns: int) -> bool:
        """Return whether all probes of the instrument froze, at least one of which was lively."""
        channel = self._channels.get(channel_id)
        if channel is None:
            return False
        board = [
            self._pulses[c.id]
            for c in self._channels.values()
            if c.instrument == channel.instrument
        ]
        after_ns = round(STUCK_S * SECOND_NS)
        return (
            len(board) > 1
            and all(p.frozen(t_ns, after_ns, STUCK_SAMPLES) for p in board)
            and any(p.lively >= 0.2 or p.went_somewhere() for p in board)
        )

    def _look_for_exchange(self, t_ns: int) -> None:
        for channel_id, pulse in self._pulses.items():
            levels = pulse.level_after_gap()
            if levels is not None and not self._is_scale(channel_id):
                self._levels[channel_id] = (t_ns, *levels)
        recent = {k: v for k, v in self._levels.items() if t_ns - v[0] <= 3 * SECOND_NS}
        self._levels = recent
        ids = list(recent)
        for place, a in enumerate(ids):
            for b in ids[place + 1 :]:
                if self._same_board(a, b) and _changed_places(recent[a][1:], recent[b][1:]):
                    self._exchanged.add((a, b))
                    self._levels.pop(a, None)
                    self._levels.pop(b, None)
                    text = (
                        f"{self._name(a)} and {self._name(b)} seem to have changed places: "
                        "check which probe is where"
                    )
                    self._emit(t_ns, "exchange_suspected", a, text, other=b)

    def _look_at_junction_channels(self, t_ns: int) -> None:
        for channel in self._channels.values():
            if channel.field in _COLD_JUNCTION_FIELDS:
                pulse = self._pulses[channel.id]
                if not pulse.silent(t_ns):
                    self._junction(channel.id, t_ns, pulse.value)

    def _junction(self, where: str, t_ns: int, temp_c: Any) -> None:
        if not isinstance(temp_c, (int, float)):
            return
        seen = self._junctions.setdefault(where, deque())
        seen.append((t_ns, float(temp_c)))
        while t_ns - seen[0][0] > DRIFT_S * SECOND_NS:
            seen.popleft()

    # Conditions.

    def _silence(self, channel_id: str) -> Condition:
        pulse = self._pulses[channel_id]
        status = pulse.status(self.now_ns)
        silent = pulse.silent(self.now_ns)
        return Condition(
            id=f"{channel_id}.stale",
            text=f"{self._name(channel_id)}: {self._advice(channel_id, status) or 'no readings'}",
            active=silent,
            cleared=not silent,
            on_delay_s=_ALARM_DELAY_S,
            off_delay_s=_ALARM_DELAY_S,
            priority="high" if channel_id in self._needed else "low",
            channel=channel_id,
        )

    def _doubts(self) -> list[Condition]:
        found = []
        for channel_id in self._pulses:
            stuck = channel_id in self._stuck
            if stuck or not self._is_scale(channel_id):
                text = f"{self._name(channel_id)}: stuck? The value does not change; move the probe"
                found.append(_notice(f"{channel_id}.stuck", text, stuck, channel_id))
        for a, b in sorted(self._exchanged):
            text = f"{self._name(a)} and {self._name(b)} may have changed places: check the probes"
            found.append(_notice(f"{a}.{b}.exchanged", text, True, a))
        for where, seen in self._junctions.items():
            found.append(self._junction_condition(where, [temp for _, temp in seen]))
        return found

    def _junction_condition(self, where: str, temps_c: list[float]) -> Condition:
        latest = temps_c[-1]
        outside = not COLD_JUNCTION_LOW_C <= latest <= COLD_JUNCTION_HIGH_C
        drifts = max(temps_c) - min(temps_c) > COLD_JUNCTION_DRIFT_K
        text = (
            f"The connection block of {where} is at {latest:.1f} °C"
            + (" and drifts" if drifts else "")
            + ": keep it away from heat and draught"
        )
        channel_id = where if where in self._channels else None
        return _notice(f"{where}.cold_junction", text, outside or drifts, channel_id)

    # Words and wiring.

    def _advice(self, channel_id: str, status: str) -> str:
        channel = self._channels.get(channel_id)
        instrument = channel.instrument if channel is not None else "its instrument"
        return _WHAT_TO_DO.get(status, "").format(instrument=instrument)

    def _name(self, channel_id: str) -> str:
        channel = self._channels.get(channel_id)
        return channel.name if channel is not None else channel_id

    def _is_scale(self, channel_id: str) -> bool:
        channel = self._channels.get(channel_id)
        return channel is not None and channel.role in SCALE_ROLES

    def _same_board(self, a: str, b: str) -> bool:
        first, second = self._channels.get(a), self._channels.get(b)
        return first is not None and second is not None and first.instrument == second.instrument

    def _emit(self, t_ns: int, kind: str, channel_id: str, text: str, **data: Any) -> None:
        self.context.out.emit(t_ns, kind, text, channel=channel_id, **data)


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
        off_delay_s=_ALARM_DELAY_S,
        priority="low",
        channel=channel_id,
    )
