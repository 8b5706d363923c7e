"""Faults of instruments: what the state said while they struck, and what the file holds after.

One batch with all of them, each on an instrument and at a time where it disturbs no other. For the
whole batch, whatever strikes: each stored number is one that the instrument sent, in its order;
each number that was shown as live had been sent in the seconds before.
"""

import math
import tempfile
from pathlib import Path

from logger.model.reading import Flag
from logger.recorder.replay.replay import compare_raw, correctors_of
from logger.store.run.runfile import RunView
from logger.virtual.readings.faults import Fault, parse_fault
from logger.wire.shapes.shape import builtin_shapes
from tests.faults.cases import CASES, Case
from tests.faults.row import Row
from tests.faults.scenario import Look, Watched, sent_values, watched_batch

SPEED, SLOWER = 12.0, 3.0
LATE_S = 6.0
"""How long a fault may go on before it must show [s of the batch]: half a second of the wall."""
EARLY_S = 9.0
"""A hiccup of the machine just before a fault begins a gap that the fault then prolongs: its event
stands so much earlier [s of the batch]."""
SETTLED = 20
"""Missing readings are counted from here on: which of some equal ones came first, nobody knows."""
RECENT_S = 10.0
"""A live number must have been sent within this [s of the batch]; 0.8 s of the wall."""


def rows(speed: float = SPEED) -> list[Row]:
    """Run the batch and return a row for each case, and one for what holds all through.

    Where one is wrong, the batch is run again at a third of the speed, and that counts: a machine
    that stands still for half a second swallows six of the batch, which no recorder can show.
    """
    found = _played(speed)
    if not any(row.wrong for row in found):
        return found
    again = _played(speed / SLOWER)
    for row, first in zip(again, found, strict=True):
        if first.wrong:
            row.seen += f" (at {speed:g} times the speed: {'; '.join(first.wrong)})"
    return again


def _played(speed: float) -> list[Row]:
    faults = [f for case in CASES for f in case.faults]
    with tempfile.TemporaryDirectory() as scratch:
        seen = watched_batch(Path(scratch), faults, speed=speed)
        with RunView.open(seen.path) as view:
            judge = Judge(seen, view)
            return [*(judge.row(case) for case in CASES), judge.all_through()]


class Judge:
    """Holds what was sent against what was stored and shown."""

    def __init__(self, seen: Watched, view: RunView) -> None:
        self._seen = seen
        self._view = view
        self._sent = sent_values(seen.run)
        self._events = view.events()
        self._instrument = {c.id: c.instrument for c in view.bench().channel}
        self._correct = correctors_of(view)
        self._struck = [parse_fault(f) for case in CASES for f in case.faults]
        self._missing: dict[str, int] = {}
        self._invented: dict[str, str] = {}
        for channel in self._sent:
            self._compare(channel)

    # -- the file -----------------------------------------------------------------------------

    def _faults_of(self, channel: str) -> list[Fault]:
        own = (channel, self._instrument[channel])
        return [f for f in self._struck if f.target in own]

    def _compare(self, channel: str) -> None:
        """Find what is stored but was not sent in that order, and count what is missing."""
        series, sent = self._view.readings(channel), self._sent[channel]
        flood = next((f for f in self._faults_of(channel) if f.name == "flood"), None)
        asked = channel == "bowl_scale"  # asked more often than it samples: repeats are right
        ends_s = (flood.at_s if flood else math.inf) - 3.0
        place, matched, first, taken = 0, 0, None, 0
        for t_ns, value in zip(series.t_ns.tolist(), series.value.tolist(), strict=True):
            t_s = t_ns / 1e9 - self._seen.offset_s
            if t_s > ends_s:
                break
            start = place
            while place < len(sent) and not _same(sent[place][1], value):
                place += 1
            late = place < len(sent) and sent[place][0] > t_s + RECENT_S
            if place == len(sent) or late:
                self._invented[channel] = f"{channel} at {t_s:.1f} s: {value} was not sent then"
                place = start
                continue
            place += not asked
            matched += 1
            if matched == SETTLED:
                first = place
            taken += matched > SETTLED
        self._missing[channel] = 0 if asked or first is None else place - first - taken

    def _may_miss(self, channel: str) -> float:
        """Return how many readings the faults of an instrument's line may cost."""
        run, rate = self._seen.run, 10.0 if channel == "bath_scale" else 5.0
        swallowed = len(run.full[channel].t_s) - len(run.channels[channel].t_s)
        more_s = sum(
            case.loses for case in CASES
            if any(parse_fault(f) in self._faults_of(channel) for f in case.faults)
        )  # fmt: skip
        return swallowed + more_s * rate

    # -- the screen ---------------------------------------------------------------------------

    def _wrong_live(self, look: Look) -> str:
        """Return a number that was shown as live but had not been sent shortly before."""
        for channel, sent in self._sent.items():
            shown = look.channels[channel]
            if shown.status not in ("live", "stuck") or shown.value is None:
                continue
            now_s = look.t_s - self._seen.offset_s
            near = [v for t, v in sent if now_s - RECENT_S <= t <= now_s + 3.0]
            if self._view.header.unit_of(channel) == "uV":
                # What the cold junction was is not among the values sent: the degC will do.
                trace = self._seen.run.full[channel]
                span = trace.span(now_s - RECENT_S, now_s + 3.0)
                apart = abs(trace.value[span] + self._offset(channel) - shown.value)
                shows = bool((apart < 0.06).any())
            else:
                shows = any(v is not None and self._shows(channel, v, shown.value) for v in near)
            if not shows:
                return f"{channel} showed {shown.value:g} at {now_s:.0f} s"
        return ""

    def _shows(self, channel: str, sent: float, shown: float) -> bool:
        value, _ = self._correct[channel].value(sent, self._view.header.unit_of(channel), None)
        return abs(value - shown) < 1e-6

    def _offset(self, channel: str) -> float:
        correction = self._view.bench().channel_of(channel).correction
        return 0.0 if correction is None else float(correction.offset_k or 0.0)

    # -- rows ---------------------------------------------------------------------------------

    def row(self, case: Case) -> Row:
        """Judge one case."""
        row = Row(fault=case.name)
        fault = parse_fault(case.faults[-1])
        channels = [c for c, i in self._instrument.items() if fault.target in (c, i)]
        looks = self._seen.between(fault.at_s, fault.until_s + LATE_S)
        statuses = {k.channels[c].status for k in looks for c in channels}
        said = [s for k in looks for s in _said(k, channels, self._instrument)]
        kinds = self._kinds(fault, channels)
        if case.statuses:
            row.expect(bool(statuses & case.statuses), f"status was never {set(case.statuses)}")
        if case.never_live:
            during = self._seen.between(fault.at_s + LATE_S, fault.until_s - 1.0)
            lively = [k.t_s for k in during if k.channels[channels[0]].status == "live"]
            row.expect(bool(during), "nobody looked while it lasted")
            row.expect(not lively, f"shown as live while it lasted, {len(lively)} times")
        if case.port:
            ports = {k.ports[self._instrument[channels[0]]].status for k in looks}
            row.expect(case.port in ports, f"the port was never {case.port}, but {ports}")
        row.expect(case.events <= kinds, f"no event {set(case.events - kinds)}")
        words = sorted(statuses - {"live", "waiting"})
        said += self._texts(fault, channels)
        told = next((s for s in said if case.says and case.says in s), "")
        if case.says:
            row.expect(bool(told), f"nobody said {case.says!r}")
        if case.told_at:
            row.expect(case.proof(), "the check before the run does not tell it")
        told = told.replace(f"{self._seen.folder}/by-id/", "")
        row.seen = case.told_at or told or ", ".join(words) or case.quiet
        missing = max(self._missing[c] for c in channels)
        if case.whole:
            row.expect(missing == 0, f"{missing} readings are missing")
        held = sorted(kinds & (case.events | {"gap", "stale", "bad_lines"}))
        row.held = ", ".join(held) or ("every reading" if case.whole else "as sent")
        return row

    def _kinds(self, fault: Fault, channels: list[str]) -> set[str]:
        own = {*channels, *(self._instrument[c] for c in channels)}
        low_s, high_s = fault.at_s - EARLY_S, fault.until_s + 2 * LATE_S
        return {
            e.kind for e in self._events
            if low_s <= e.t_ns / 1e9 - self._seen.offset_s <= high_s
            and (not own.isdisjoint({e.channel, e.port}) or e.channel == e.port)
        }  # fmt: skip

    def _texts(self, fault: Fault, channels: list[str]) -> list[str]:
        """Return what events about the channels say, near the fault."""
        own = {*channels, *(self._instrument[c] for c in channels)}
        low_s, high_s = fault.at_s - EARLY_S, fault.until_s + 2 * LATE_S
        return [
            e.text for e in self._events
            if low_s <= e.t_ns / 1e9 - self._seen.offset_s <= high_s
            and not own.isdisjoint({e.channel, e.port})
        ]  # fmt: skip

    def all_through(self) -> Row:
        """Judge what must hold all through the batch, whatever strikes."""
        row = Row(fault="all of them, all through the batch")
        wrong = [text for k in self._seen.looks if (text := self._wrong_live(k))]
        row.expect(not wrong, f"{len(wrong)} numbers shown that were not sent: {wrong[:2]}")
        row.expect(not self._invented, f"stored but never sent: {self._invented}")
        for channel, missing in self._missing.items():
            may = self._may_miss(channel)
            row.expect(missing <= may, f"{channel}: {missing} missing, {may:.0f} may be")
        bad = int(Flag.OPEN | Flag.FAULT | Flag.OVER | Flag.UNDER)
        for channel in self._sent:
            series = self._view.readings(channel)
            numbers = (series.flags & bad != 0) & (series.value == series.value)
            row.expect(not numbers.any(), f"{channel}: a number with a flag that says none")
        differing = [d for d in compare_raw(self._view, builtin_shapes())
                     if d.differing or d.stored != d.from_raw]  # fmt: skip
        row.expect(not differing, f"raw bytes say otherwise: {differing}")
        row.expect(self._view.check() == "ok", "the file is damaged")
        row.expect(self._view.status == "ended", "the run did not end")
        count = sum(self._view.count(c) for c in self._sent)
        row.seen = f"{len(self._seen.looks)} looks, each live number had been sent"
        row.held = f"{count} readings, each one sent, in order; the raw bytes give the same"
        return row


def _same(sent: float | None, stored: float) -> bool:
    return stored != stored if sent is None else sent == stored


def _said(look: Look, channels: list[str], instrument: dict[str, str]) -> list[str]:
    ports = {instrument[c] for c in channels}
    return [
        *(look.channels[c].says for c in channels),
        *(look.ports[p].says for p in ports),
        *(text for channel, text in look.alarms if channel is None or channel in channels),
    ]
