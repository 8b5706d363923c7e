"""What the watchers of a core probe share: its readings, what lasted, and the time not measured.

Pure; base of the watchers of chilling, cooking and holding. Time without readings is counted, so
that no verdict is better than what was seen.
"""

import dataclasses
import math
from collections.abc import Sequence
from typing import NamedTuple

from logger.model.event import Event
from logger.model.finding import Finding, Verdict
from logger.model.reading import Reading
from logger.model.state import Number
from logger.model.written import Band
from logger.watch.engine.contract import Context, judged_rule
from logger.watch.engine.plain import Plain
from logger.watch.sensors.plausible import HOME_K, may_be_on_table
from logger.watch.stages.core.at_limit import AtLimit
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.watch.verdict.stretch import Stretches, stretch_ns_of
from logger.words.durations import clock, duration_text

SILENT_S = 10.0
"""Silence at either end of a stage that counts as not measured [s]."""
FRESH_S = 10.0
"""Age up to which the last reading is the core as it is now [s]."""
MAY_MISS_S = 60.0
"""Time not measured from which on an extreme is no longer known [s]."""

WORST_FIRST: tuple[Verdict, ...] = ("not met", "undecided", "met", "not measured")

CAUTIONS = (
    "Records temperatures; does not certify food.",
    "Counts only where the probe is: the slowest spot may differ.",
    "Follow local regulation; discard when in doubt.",
)


class _Left(NamedTuple):
    """When a probe was moved, from where, and what had lasted until then."""

    t_ns: int
    level_c: float
    lowest: Measured | None
    highest: Measured | None
    up: bool


class CoreWatch(Plain):
    """Follows the core probe through one stage.

    After a probe was moved (see logger.watch.sensors.plausible) to where its readings would tell
    in favour of the food, they are in doubt until it comes back: nothing is met by them. Which way
    that is follows from the limits a kind gives here, and its verdicts come from `find_reached`,
    `find_at_limit` and `find_kept`, which count doubt and gaps.

    Parameters
    ----------
    context : Context
        Of the stage.
    reaches : Band or None
        What the core must reach within the stage [degC], as in cooking.
    keeps : sequence of Band
        What it must not leave [degC], as in holding.
    """

    def __init__(
        self, context: Context, *, reaches: Band | None = None, keeps: Sequence[Band] = ()
    ) -> None:
        super().__init__(context)
        self.reaches = reaches
        self.favours = _favours(reaches, keeps)
        """Direction of a move that puts readings in doubt: 1 up, -1 down, 0 neither."""
        self.channel = self.only = context.channel_id("core")
        self.rule = judged_rule(context.sheet)
        self.first_ns: int | None = None
        self.last: Reading | None = None
        self.stretch_ns = stretch_ns_of(context.bench.channel_of("core"))
        self.stretches = Stretches(self.stretch_ns)
        low_c = reaches.low if reaches is not None else None
        self.at_limit = AtLimit(low_c, self.rule, stretch_ns=self.stretch_ns)
        self.gaps_s = 0.0
        self.doubt_ns: int | None = None
        """Since when readings are in doubt; None while they are not."""
        self.first_doubt_ns: int | None = None
        self._doubted_s = 0.0
        self._left: _Left | None = None
        self.unbroken = False
        """Whether the next reading joins on to the last one."""

    def reading(self, reading: Reading) -> None:
        """Take one reading; only those of the core with a value count."""
        if reading.channel != self.channel or reading.value is None:
            return
        last, self.last = self.last, reading
        if last is None:
            self.first_ns = reading.t_ns
        if self.doubt_ns is None:
            self.stretches.take(reading)
        before = last if self.unbroken else None
        self.at_limit.take(reading, before, in_doubt=self.doubt_ns is not None)
        self.core(reading, before)
        self.unbroken = True

    def core(self, reading: Reading, before: Reading | None) -> None:
        """Take a value of the core; `before` is the one it joins on to, None after a gap."""

    def event(self, event: Event) -> None:
        """Take a gap of the core probe, or that it was moved."""
        if event.channel != self.channel:
            return
        if event.kind == "probe_moved":
            self.broken()
            self._moved(event)
        elif event.kind == "gap":
            self.unbroken = False
            missed_s = self._missed_s(event, float(event.data["to_s"]))
            self.gaps_s += missed_s
            if missed_s > MAY_MISS_S:
                self.broken()

    def broken(self) -> None:
        """Let no stretch of readings go on."""
        self.unbroken = False
        self.stretches.broken()

    def _missed_s(self, event: Event, to_s: float) -> float:
        """Return how much of the stage had no trusted readings before an event, up to `to_s`."""
        from_s = max(float(event.data["from_s"]), self.context.start_ns / 1e9)
        return max(0.0, to_s - from_s)

    def _moved(self, event: Event) -> None:
        """Doubt what is read from now on, or end the doubt."""
        t_ns, from_c, to_c = event.t_ns, float(event.data["from_c"]), float(event.data["to_c"])
        rises = to_c > from_c
        if self.doubt_ns is not None and self._left is not None:
            if rises != self._left.up:
                self._doubted_s += (t_ns - self.doubt_ns) / 1e9
                if self.doubt_ns == self.first_doubt_ns and self._is_back(to_c):
                    self.first_doubt_ns = None
                self.doubt_ns = self._left = None
            return
        back, left, self._left = self._is_back(to_c), self._left, None
        if back and left is not None:
            self.stretches.lowest, self.stretches.highest = left.lowest, left.highest
            self._doubted_s += (t_ns - left.t_ns) / 1e9
            self.first_doubt_ns = self.first_doubt_ns or left.t_ns
            return  # it was out of the food meanwhile
        if self._was_on_table(from_c):
            return  # it is put into a piece
        self.gaps_s += self._missed_s(event, t_ns / 1e9)
        self._left = _Left(t_ns, from_c, self.stretches.lowest, self.stretches.highest, rises)
        if self.favours != 0 and rises == (self.favours > 0):
            self.doubt_ns = t_ns
            self.first_doubt_ns = self.first_doubt_ns or t_ns

    def _is_back(self, to_c: float) -> bool:
        """Return whether a probe that was moved is back where it was."""
        return self._left is not None and abs(to_c - self._left.level_c) <= HOME_K

    def _was_on_table(self, from_c: float) -> bool:
        """Return whether nothing lasted yet but the temperature of the room, nor did `from_c`."""
        lasted = (self.stretches.lowest, self.stretches.highest)
        seen = [from_c, *(m.value for m in lasted if m is not None and m.value is not None)]
        return all(may_be_on_table(self.context, temp_c) for temp_c in seen)

    @property
    def is_away(self) -> bool:
        """Whether the probe was moved from where it had measured, and isn't back."""
        return self._left is not None

    @property
    def may_be_hot(self) -> bool:
        """Whether a hot reading is of the core: the probe wasn't moved to something hotter."""
        return self._left is None or not self._left.up

    def doubted(self, finding: Finding) -> Finding:
        """Return a finding that a moved probe leaves undecided, if it does."""
        if self.first_doubt_ns is None or finding.verdict not in ("met", "not met"):
            return finding
        at = clock(self.first_doubt_ns / 1e9)
        text = f"{finding.evidence}; the probe seems to have been moved at {at}"
        return dataclasses.replace(finding, verdict="undecided", evidence=text)

    def unmeasured_s(self, t_ns: int) -> float:
        """Return how much of the stage had no reading of the core [s]."""
        if self.first_ns is None or self.last is None:
            return self.elapsed_s(t_ns)
        head_s = (self.first_ns - self.context.start_ns) / 1e9 if self.gaps_s == 0.0 else 0.0
        tail_s = (t_ns - self.last.t_ns) / 1e9
        doubted_s = self._doubted_s
        if self.doubt_ns is not None:
            doubted_s += (self.last.t_ns - self.doubt_ns) / 1e9
        return self.gaps_s + doubted_s + sum(s for s in (head_s, tail_s) if s > SILENT_S)

    def why_missing(self) -> str:
        """Return why there is no value to judge."""
        if self.channel is None:
            return "the bench has no core probe"
        if self.last is not None:
            return f"no {duration_text(self.stretch_ns / 1e9)} of readings on end of the core probe"
        return "no reading of the core probe"

    def nothing(self, t_ns: int) -> Measured:
        """Return no value for the stage up to `t_ns`."""
        return Measured(from_ns=self.context.start_ns, to_ns=t_ns, channel=self.channel)

    def age_s(self, t_ns: int) -> float:
        """Return the age of the last reading [s]; infinite before the first."""
        return (t_ns - self.last.t_ns) / 1e9 if self.last is not None else math.inf

    def core_number(self, band: Band | None) -> Number:
        """Return the core as it is now, with its target, for a view."""
        last = self.last if self.age_s(self.now_ns) <= FRESH_S else None
        value, u = (last.value, last.u) if last is not None else (None, 0.0)
        return checks.number(self.context, "Core", value, "degC", u, band)

    def find_reached(self, key: str, t_ns: int) -> None:
        """Record whether the core has reached its limit, where the sheet sets one.

        Parameters
        ----------
        key : str
            Of the check.
        t_ns : int
            End of the stage on the run's axis [ns].
        """
        band, highest = self.reaches, self.stretches.highest
        if band is None:
            return
        finding = self._judged(key, highest, band, t_ns)
        if finding.verdict == "not met":
            finding = self.doubted(finding)
        # What was missed can only have been hotter: it matters for an upper limit, or for a miss.
        matters = finding.verdict == "not met" or band.high is not None
        if matters and highest is not None:
            finding = self._with_gaps(finding, t_ns)
        self.context.out.find(finding)

    def find_kept(self, key: str, band: Band, t_ns: int) -> None:
        """Record whether the core stayed within a band, by the worst of its extremes.

        Parameters
        ----------
        key : str
            Of the check.
        band : Band
            One of `keeps` [degC].
        t_ns : int
            End of the stage on the run's axis [ns].
        """
        lasted = self.stretches
        seen = [m for m in (lasted.lowest, lasted.highest) if m is not None]
        extremes = seen or [self.nothing(t_ns)]
        if band.low is None:
            extremes.reverse()
        findings = [self._judged(key, each, band, t_ns) for each in extremes]
        worst = min(findings, key=lambda f: WORST_FIRST.index(f.verdict))
        if worst.verdict == "met":
            worst = self._with_gaps(worst, t_ns)
        self.context.out.find(worst)

    def find_at_limit(self, key: str, least_s: float, t_ns: int) -> None:
        """Record how long the core was at the limit to reach, where that has a lower end.

        Parameters
        ----------
        key : str
            Of the check; its subject is the limit [degC].
        least_s : float
            Least time at the limit on end [s].
        t_ns : int
            End of the stage on the run's axis [ns].
        """
        at_limit = self.at_limit
        if at_limit.low_c is None:
            return
        held = self.nothing(t_ns)
        if self.last is not None:
            held = dataclasses.replace(held, value=at_limit.longest_sure_s, u=0.0)
        finding = checks.finding(
            self.context,
            key,
            held,
            Band(low=least_s, unit="s"),
            subject=f"{at_limit.low_c:g}",
            why_missing=self.why_missing(),
        )
        if finding.verdict == "not met" and at_limit.longest_maybe_s >= least_s:
            perhaps = duration_text(at_limit.longest_maybe_s)
            text = f"{finding.evidence}; up to {perhaps} within the uncertainty"
            finding = dataclasses.replace(finding, verdict="undecided", evidence=text)
        elif finding.verdict == "not met":
            finding = self._with_gaps(finding, t_ns)
        self.context.out.find(finding)

    def _judged(self, key: str, extreme: Measured | None, band: Band, t_ns: int) -> Finding:
        """Judge an extreme [degC] as it was read, without what was missed or is in doubt."""
        measured = extreme or self.nothing(t_ns)
        why = self.why_missing()
        return checks.finding(self.context, key, measured, band, why_missing=why)

    def _with_gaps(self, finding: Finding, t_ns: int) -> Finding:
        """Return a finding that time without readings leaves undecided, if it does."""
        missed_s = self.unmeasured_s(t_ns)
        if missed_s <= MAY_MISS_S:
            return finding
        text = f"{finding.evidence}; {duration_text(missed_s)} had no readings"
        return dataclasses.replace(finding, verdict="undecided", evidence=text)

    def judged_time(self, key: str, band: Band, t_ns: int) -> Finding:
        """Judge how long the stage took.

        Parameters
        ----------
        key : str
            Key of the finding.
        band : Band
            Target of the length, in seconds.
        t_ns : int
            Time on the run's axis [ns].
        """
        lasted = Measured(
            value=self.elapsed_s(t_ns), u=0.0, from_ns=self.context.start_ns, to_ns=t_ns
        )
        return checks.finding(self.context, key, lasted, band)


def _favours(reaches: Band | None, keeps: Sequence[Band]) -> int:
    """Return which way a core goes that meets its limits more easily: 1 up, -1 down, 0 neither."""
    if reaches is not None:
        return 1 if reaches.low is not None else -1
    warm = all(b.high is None for b in keeps)
    cold = all(b.low is None for b in keeps)
    return int(warm) - int(cold)


def low_side(reading: Reading) -> float:
    """Return a temperature less its expanded uncertainty [degC]; NaN if that is unknown."""
    return (reading.value if reading.value is not None else math.nan) - 2.0 * reading.u
