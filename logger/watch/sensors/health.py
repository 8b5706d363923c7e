"""Is the bench telling the truth: gaps, silence, rates and tares; doubts are kept beside.

Pure; a watcher that lives as long as the run, the first to see each item. Its events (``stale``,
``gap``, ``stuck``, ``rate_drop``, ``tare_suspected``...) reach the other watchers and the store,
its conditions are the first alarms. Values are never changed, filled or held here.
"""

from typing import Any

import numpy as np

from logger.correct.tares import counted_in_g
from logger.model.bench import SCALE_ROLES, Channel
from logger.model.event import Event, silence_id
from logger.model.kinds.registry import needed_channels
from logger.model.reading import Flag, Reading
from logger.model.rows import GapRow
from logger.model.state import ChannelView
from logger.watch.engine.contract import Condition, Context, seconds
from logger.watch.engine.plain import Plain
from logger.watch.sensors import probechecks
from logger.watch.sensors.doubts import Doubts, Wires
from logger.watch.sensors.pulse import SECOND_NS, Pulse
from logger.watch.sensors.silence import Gap
from logger.watch.sensors.tares import is_removal
from logger.words.durations import duration_text
from logger.words.values import value_text

SHORT_S = 5.0
"""A gap that follows another at once, as when the rate drops, is told again only from here [s]."""
_ALARM_DELAY_S = 2.0
_STABLE = int(Flag.STABLE)
_WHAT_TO_DO = {
    "stale": "no readings; look at the plug and the cable of {instrument}",
    "open": "open circuit: plug the probe in or use another",
    "fault": "the instrument reports a fault; look at the probe and its plug",
    "over": "over the instrument's range; reduce the load or the heat",
    "under": "under the instrument's range; put the load back or look at the probe",
    "untrusted": "most of what {instrument} sends can't be read; check baud rate and line format",
    "out": "changes faster than the core of food can; is the probe in the middle of a piece?",
}
_WHY = {
    "silent": "no readings",
    "open": "open circuit",
    "fault": "fault reported by the instrument",
    "over": "over range",
    "under": "under range",
    "untrusted": "readings that cannot be trusted",
    "out": "readings that change faster than the core of food can",
}


class Health(Plain):
    """Watches every channel of the bench for the whole run."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._started = False
        self._wires = Wires(context.bench)
        self.doubts = Doubts(self._wires, context.out)
        self._pulses: dict[str, Pulse] = {}
        self._gap_rows: dict[str, GapRow] = {}
        self._slow: set[str] = set()
        self._says: dict[str, str] = {}
        self._needed: frozenset[str] = frozenset()
        self._silences: dict[tuple[str, str, bool, bool], Condition] = {}

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
        if self.doubts.stuck and (pulse.same == 0 or flags & _STABLE):
            self.doubts.stuck.discard(channel)

    def event(self, event: Event) -> None:
        """Take what the ports say, and which stage is under way."""
        if not self._started and event.source != "engine":
            self._start(event.t_ns)
        if event.kind == "stage_start":
            stage = next((s for s in self.context.sheet.stage if s.id == event.stage), None)
            self._needed = needed_channels(stage, self.context.bench)
        elif event.kind == "stage_end":
            self._needed = frozenset()
        elif event.kind == "probe_moved" and event.channel is not None:
            self._go_on(event.channel, event.t_ns)
        elif event.kind == "unit_change" and event.channel is not None:
            self._says[event.channel] = event.text or "somebody changed the unit on the instrument"
        elif event.kind == "cold_junction":
            self.doubts.junction(
                event.channel or event.port or "", event.t_ns, event.data.get("temp_c")
            )

    def tick(self, t_ns: int) -> None:
        """Look at every channel once a second."""
        self.now_ns = t_ns
        for channel_id, pulse in self._pulses.items():
            pulse.tick(t_ns)
            if pulse.missed(t_ns):
                self._open_gap(channel_id, pulse, t_ns)
            self._look_at_rate(channel_id, pulse, t_ns)
            self._look_for_tare(channel_id, pulse, t_ns)
        self.doubts.look(t_ns, self._pulses)

    def end(self, t_ns: int) -> None:
        """Close the gaps that are still open."""
        self.now_ns = t_ns
        for row in self._gap_rows.values():
            if row.to_s is None:
                row.to_s = seconds(t_ns)

    def conditions(self) -> list[Condition]:
        """Return silence of each channel first, then what else may be wrong with it."""
        silent = [self._silence(channel_id) for channel_id in self._pulses]
        return silent + self.doubts.conditions(self._pulses)

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
        probechecks.tell(view, self.context.correctors.get(channel.id))
        pulse = self._pulses.get(channel.id)
        if pulse is None:
            return view
        view.status = pulse.status(self.now_ns)
        if view.status == "live" and channel.id in self.doubts.stuck:
            view.status = "stuck"
        if view.status in ("live", "stuck"):
            view.value = pulse.value
            offset_g = self._counted_in_g(channel.id, pulse)
            if offset_g and pulse.value is not None:
                view.value = pulse.value + offset_g
                view.says = view.says or f"{value_text(offset_g, 'g')} of a tare added back"
            view.u_expanded = 2.0 * pulse.u if pulse.u == pulse.u else None
        view.t_s = seconds(pulse.value_ns) if pulse.value_ns is not None else None
        view.rate_hz = pulse.rate_hz()
        view.says = view.says or self._advice(channel.id, view.status)
        return view

    def _counted_in_g(self, channel_id: str, pulse: Pulse) -> float:
        """Return what accepted tares add to the last value [g], as they do to its trace."""
        tares = self.context.out.results.tares
        if not tares or pulse.value_ns is None:
            return 0.0
        return float(counted_in_g(tares, channel_id, np.array([pulse.value_ns]))[0])

    def _start(self, t_ns: int) -> None:
        self._started = True
        self.now_ns = t_ns
        context = self.context
        context.out.results.sensors = probechecks.rows(context.bench.channel, context.correctors)
        for channel_id in self._wires.channels:
            self._pulses[channel_id] = self._pulse(channel_id, t_ns)

    def _pulse(self, channel_id: str, t_ns: int) -> Pulse:
        channel = self._wires.channels.get(channel_id)
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
        if row is not None and row.to_s is None:
            row.why = _WHY[pulse.why or "silent"]
            return
        if row is not None and row.to_s == seconds(since_ns):
            row.to_s = None
            return
        why = _WHY[pulse.why or "silent"]
        self._add_row(channel_id, since_ns, None, why)
        self._emit(t_ns, "stale", channel_id, f"{self._wires.name(channel_id)}: {why}")

    def _end_gap(self, channel_id: str, gap: Gap) -> None:
        row = self._gap_rows.get(channel_id)
        why = _WHY[gap.why]
        length_s = seconds(gap.to_ns - gap.from_ns)
        if row is None or row.to_s not in (None, seconds(gap.from_ns)):
            self._add_row(channel_id, gap.from_ns, gap.to_ns, why)
        else:
            goes_on = row.to_s is not None
            row.to_s = seconds(gap.to_ns)
            if goes_on and length_s < SHORT_S:
                return
        self._emit(
            gap.to_ns,
            "gap",
            channel_id,
            f"{self._wires.name(channel_id)}: {why} for {duration_text(length_s)}",
            from_s=seconds(gap.from_ns),
            to_s=seconds(gap.to_ns),
        )

    def _go_on(self, channel_id: str, t_ns: int) -> None:
        """Take that a probe was moved: what it read on its way is no gap."""
        pulse = self._pulses.get(channel_id)
        if pulse is not None:
            pulse.go_on(t_ns)
        row = self._gap_rows.get(channel_id)
        if row is not None and row.to_s is None:
            row.to_s = seconds(t_ns)

    def _add_row(self, channel_id: str, from_ns: int, to_ns: int | None, why: str) -> None:
        row = GapRow(
            channel=channel_id,
            from_s=seconds(from_ns),
            to_s=seconds(to_ns) if to_ns is not None else None,
            why=why,
        )
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
        text = f"{self._wires.name(channel_id)}: readings come only every {duration_text(every_s)}"
        self._emit(t_ns, "rate_drop", channel_id, text, every_s=every_s)

    def _look_for_tare(self, channel_id: str, pulse: Pulse, t_ns: int) -> None:
        tare = pulse.tare(t_ns)
        pieces = self.context.out.results.immersions
        if tare is None or is_removal(tare, (p for p in pieces if p.channel == channel_id)):
            return
        name = self._wires.name(channel_id)
        counted_g = self.context.batch.offsets_g.get(channel_id, 0.0)
        before_g, after_g = tare.before_g + counted_g, tare.after_g + counted_g
        self._emit(
            t_ns,
            "tare_suspected",
            channel_id,
            f"{name}: tared? It went from {value_text(before_g, 'g')} to "
            f"{value_text(after_g, 'g')}",
            at_s=seconds(tare.t_ns),
            before_g=before_g,
            after_g=after_g,
            offset_g=tare.before_g - tare.after_g,
            by_flag=tare.by_flag,
        )

    # Conditions.

    def _silence(self, channel_id: str) -> Condition:
        pulse = self._pulses[channel_id]
        status = pulse.status(self.now_ns)
        silent = pulse.missed(self.now_ns)
        needed = channel_id in self._needed
        known = self._silences.get((channel_id, status, silent, needed))
        if known is not None:
            return known
        advice = self._advice(channel_id, status) or "no readings"
        found = Condition(
            id=silence_id(channel_id),
            text=f"{self._wires.name(channel_id)}: {advice}",
            active=silent,
            cleared=not silent,
            on_delay_s=_ALARM_DELAY_S,
            off_delay_s=_ALARM_DELAY_S,
            priority="high" if needed else "low",
            channel=channel_id,
        )
        self._silences[channel_id, status, silent, needed] = found
        return found

    # Words and wiring.

    def _advice(self, channel_id: str, status: str) -> str:
        instrument = self._wires.instrument(channel_id)
        return _WHAT_TO_DO.get(status, "").format(instrument=instrument)

    def _emit(self, t_ns: int, kind: str, channel_id: str, text: str, **data: Any) -> None:
        self.context.out.emit(t_ns, kind, text, channel=channel_id, **data)
