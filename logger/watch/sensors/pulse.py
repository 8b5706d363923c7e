"""The pulse of one channel: how often it speaks, since when it is silent, stuck or tared.

Pure and quick, for it sees every reading: what only a look once a second needs is worked out
there, and what cannot have changed is not looked at. Used by logger.watch.sensors.health, which
knows the other channels. A value that is gone is gone: nothing here holds the last one up as live.

References
----------
Gap, stuck and tare rules are those of the bench: > 3 median intervals, or 3 of the last ones where
three in a row are longer and alike; max(60 s, 30 samples)
unchanged; a step of more than 5 standard deviations within 2 samples (common practice, no source).
"""

import math
from collections import deque
from dataclasses import dataclass

from logger.model.reading import Flag
from logger.watch.sensors.silence import OUT, Gap, no_value_status

SECOND_NS = 1_000_000_000
INTERVALS = 15
GAP_INTERVALS = 3.0
ALIKE, ALIKE_TIMES = 3, 1.5
"""So many intervals in a row, the longest at most so many times the shortest, are the pace now: an
instrument that speaks more slowly has no gaps."""
BRIDGE_STALL_NS = 300_000_000
"""A USB bridge may hold lines back this long without anything being wrong [ns]."""
UNKNOWN_LIMIT_NS = 5 * SECOND_NS
"""Silence that counts as a gap before the interval is known [ns]."""
OUT_LIMIT_NS = 60 * SECOND_NS
"""Time that a core probe may take into a piece, or be out of it, before it is told as silent [ns];
common practice, no source."""
FIRST_LIMIT_NS = 10 * SECOND_NS
"""Time a channel has for its first value [ns]."""
RATE_INTERVALS = 64
RATE_DROP, RATE_BACK = 1.8, 1.3

_MINUTE_S = 60
_MEMORY = 0.03
_FORGETS = 1.0 - _MEMORY
_SWINGS, _SWINGS_NS = 3, 180 * SECOND_NS
"""Swings of two display steps, to and fro, within a time, that prove noise of more than a step."""
_JUMP_SIGMAS, _JUMP_STEPS, _ZERO_SIGMAS = 5.0, 10.0, 3.0
_JUMP_SAMPLES, _CALM_SAMPLES = 2, 3
_ZERO_HOLDS_NS = SECOND_NS
_NET, _UNSTABLE = int(Flag.NET), int(Flag.UNSTABLE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tare:
    """A jump of a scale that looks like a press of its tare key."""

    t_ns: int
    before_g: float
    after_g: float
    by_flag: bool


class Pulse:
    """What is known of one channel's stream.

    Parameters
    ----------
    start_ns : int
        Start of the run, from when its first value is waited for.
    is_scale : bool
        Scales may stand still for minutes and may be tared.
    zero_is_tare : bool
        True where a fast jump to zero is more likely a tare than an unloading.
    """

    __slots__ = (
        "_baseline", "_before", "_calm", "_count_at_gap", "_history", "_intervals",
        "_is_scale", "_jump_age", "_jump_from", "_net", "_noise", "_rises", "_share",
        "_swings", "_tare", "_unmoved", "_zero_is_tare", "changed_ns", "count", "flags",
        "last_ns", "levels", "limit_ns", "lively", "median_ns", "moved", "restless_ns", "same",
        "since_ns", "slow", "step", "u", "value", "value_ns", "why",
    )  # fmt: skip

    def __init__(self, start_ns: int, *, is_scale: bool, zero_is_tare: bool) -> None:
        self.since_ns = start_ns
        """Time of the last value, or of the start before the first."""
        self._is_scale, self._zero_is_tare = is_scale, zero_is_tare
        self.last_ns: int | None = None
        self.value_ns: int | None = None
        self.value: float | None = None
        self.u = math.nan
        self.flags = 0
        self.why = ""
        self.count = 0
        self.limit_ns = FIRST_LIMIT_NS
        self.median_ns: float | None = None
        self.slow = False
        self.same = 0
        self.changed_ns = start_ns
        self.step: float | None = None
        self.lively = 0.0
        self.moved = 0.0
        """The smaller move of the two half minutes before the last change."""
        self.restless_ns: int | None = None
        """Since when a scale has called one and the same value unstable [ns]."""
        self._unmoved = False
        """The value has changed since `moved` was worked out."""
        self.levels: deque[float] = deque(maxlen=10)
        self._intervals: deque[int] = deque(maxlen=INTERVALS)
        self._baseline: list[int] | float = []
        self._history: deque[tuple[int, float]] = deque(maxlen=_MINUTE_S + 1)
        self._share = 0.0
        self._rises = False
        self._swings: deque[int] = deque(maxlen=_SWINGS)
        self._noise = 0.0
        self._calm = 0
        self._jump_from: float | None = None
        self._jump_age = 0
        self._net: int | None = None
        self._tare: Tare | None = None
        self._before: float | None = None
        self._count_at_gap = 0

    def __deepcopy__(self, memo: dict[int, object]) -> "Pulse":
        """Copy the queues and lists; what stands in them never changes."""
        new = memo[id(self)] = Pulse.__new__(Pulse)
        for name in Pulse.__slots__:
            value = getattr(self, name)
            setattr(new, name, value.copy() if isinstance(value, (deque, list)) else value)
        return new

    def take(self, t_ns: int, value: float | None, u: float, flags: int) -> Gap | None:
        """Take one reading; returns the gap that it ends, if it ends one.

        Parameters
        ----------
        t_ns : int
            Time on the run's axis [ns].
        value, u : float
            Value and its standard uncertainty, in the unit of the channel; the value None without
            one.
        flags : int
            Of `Flag`.
        """
        last_ns, self.last_ns, self.flags = self.last_ns, t_ns, flags
        if last_ns is not None and t_ns > last_ns:
            self._intervals.append(t_ns - last_ns)
        if value is None:
            self.why = no_value_status(flags)
            return None
        gap = None
        if t_ns - self.since_ns > self.limit_ns:
            gap = Gap(from_ns=self.since_ns, to_ns=t_ns, why=self.why or "silent")
            self._note_gap()
        self.why = ""
        self.count += 1
        before, self.value, self.u = self.value, value, u
        self.value_ns = self.since_ns = t_ns
        self.levels.append(value)
        if value == before:
            self.same += 1
            self._share *= _FORGETS
            jump = 0.0
        else:
            jump = abs(value - before) if before is not None else 0.0
            if before is not None:
                self._note_change(t_ns, jump, before < value)
            self.lively = self._share
            self.same, self.changed_ns, self._unmoved = 0, t_ns, True
        if self._is_scale:
            if not flags & _UNSTABLE or value != before:
                self.restless_ns = None
            elif self.restless_ns is None:
                self.restless_ns = t_ns
            self._note_jump(t_ns, value, before, jump, flags & _NET)
        return gap

    def tick(self, t_ns: int) -> None:
        """Bring the interval and the short history up to date."""
        if len(self._intervals) >= 4:
            middle = sorted(self._intervals)[len(self._intervals) // 2]
            self.median_ns = float(middle)
            pace = max(middle, self._pace_ns())
            self.limit_ns = max(round(GAP_INTERVALS * pace), pace + BRIDGE_STALL_NS)
            self._watch_rate(middle)
        elif self.value_ns is not None:
            self.limit_ns = UNKNOWN_LIMIT_NS
        if self._unmoved and self.value is not None:
            self.moved, self._unmoved = self._steady_move(self.value), False
        if self.value is not None and not self.silent(t_ns):
            self._history.append((t_ns, self.value))

    def _pace_ns(self) -> int:
        """Return the shortest of the last intervals where they are alike, else 0 [ns]."""
        last = list(self._intervals)[-ALIKE:]
        return min(last) if max(last) <= ALIKE_TIMES * min(last) else 0

    def silent(self, t_ns: int) -> bool:
        """Return whether there has been no value for longer than the channel's own limit."""
        return t_ns - self.since_ns > self.limit_ns

    def missed(self, t_ns: int) -> bool:
        """Return whether the lack of values is to be told: later, of a probe that speaks but is out
        of the food."""
        out = self.why == OUT and self.last_ns is not None and t_ns - self.last_ns <= self.limit_ns
        return self.silent(t_ns) and not (out and t_ns - self.since_ns <= OUT_LIMIT_NS)

    def go_on(self, t_ns: int) -> None:
        """Take that the channel was read without a gap up to a time [ns]."""
        self.since_ns = t_ns

    def status(self, t_ns: int) -> str:
        """Return the status of the channel in the words of `ChannelView.status`, but stuck."""
        if self.why:
            return self.why
        if self.silent(t_ns):
            return "stale"
        return "live" if self.value_ns is not None else "waiting"

    def rate_hz(self) -> float | None:
        """Return readings per second."""
        return SECOND_NS / self.median_ns if self.median_ns else None

    def moves(self, t_ns: int) -> bool:
        """Return whether the value went somewhere during the last minute."""
        if self.silent(t_ns) or self.step is None or t_ns - self.changed_ns > 10 * SECOND_NS:
            return False
        return self._net_move() >= 2.0 * self.step

    def went_somewhere(self) -> bool:
        """Return whether the value was going somewhere all through the minute before it stopped."""
        return self.step is not None and self.moved >= 2.0 * self.step

    def noisy(self) -> bool:
        """Return whether the value kept swinging by two display steps before it froze.

        Noise of less than a step may vanish while the true value lies between two steps; noise of
        more cannot.
        """
        swings = self._swings
        recent = len(swings) == _SWINGS and self.changed_ns - swings[0] <= _SWINGS_NS
        return self.lively >= 0.2 and recent

    def frozen(self, t_ns: int, after_ns: int, samples: int) -> bool:
        """Return whether the value has not changed for a time and a number of samples.

        Parameters
        ----------
        t_ns, after_ns : int
            Time on the run's axis, and how long it must have stayed [ns].
        samples : int
            How many equal readings it takes.
        """
        return self.same >= samples and t_ns - self.changed_ns >= after_ns

    def contradicts_itself(self, t_ns: int, after_ns: int) -> bool:
        """Return whether a scale has called one and the same value unstable for a time.

        Parameters
        ----------
        t_ns, after_ns : int
            Time on the run's axis, and how long it takes [ns].
        """
        return self.restless_ns is not None and t_ns - self.restless_ns >= after_ns

    def tare(self, t_ns: int) -> Tare | None:
        """Return, once, a tare whose zero has held."""
        tare = self._tare
        if tare is None or t_ns - tare.t_ns < _ZERO_HOLDS_NS or self.value is None:
            return None
        self._tare = None
        return tare

    def level_after_gap(self) -> tuple[float, float] | None:
        """Return, once, the levels before and after the last gap, when five values have come."""
        if self._before is None or self.count - self._count_at_gap < 5:
            return None
        after = sorted(list(self.levels)[-5:])[2]
        before, self._before = self._before, None
        return before, after

    def _note_gap(self) -> None:
        self._tare = None
        if self.levels:
            self._before = sorted(self.levels)[len(self.levels) // 2]
            self._count_at_gap = self.count

    def _note_change(self, t_ns: int, jump: float, rises: bool) -> None:
        step = self.step
        if step is None or jump < 0.999 * step:
            step = self.step = jump
        self._share += _MEMORY * (1.0 - self._share)
        if rises != self._rises:
            self._rises = rises
            if jump >= 1.9 * step:
                self._swings.append(t_ns)

    def _net_move(self) -> float:
        if not self._history or self.value is None:
            return 0.0
        return abs(self.value - self._history[0][1])

    def _steady_move(self, value: float) -> float:
        """Return the smaller move of the last two half minutes: a probe that settles has little."""
        if len(self._history) < _MINUTE_S + 1:
            return 0.0
        middle = self._history[-_MINUTE_S // 2 - 1][1]
        return min(abs(middle - self._history[0][1]), abs(value - middle))

    def _note_jump(
        self, t_ns: int, value: float, before: float | None, jump: float, net: int
    ) -> None:
        """Follow a scale's noise, and what on it may be a tare."""
        step, noise = self.step or 0.0, self._noise
        big = max(_JUMP_SIGMAS * noise, _JUMP_STEPS * step)
        calm = jump <= big and net == self._net
        if not calm or self._tare is not None or self._jump_from is not None:
            self._look_for_tare(t_ns, value, before, jump, big, net)
        self._calm = self._calm + 1 if jump <= big else 0
        self._noise += 0.02 * (min(jump, 4.0 * noise + step) - noise)

    def _look_for_tare(
        self, t_ns: int, value: float, before: float | None, jump: float, big: float, net: int
    ) -> None:
        near_zero = abs(value) <= max(_ZERO_SIGMAS * self._noise, 1.01 * (self.step or 0.0))
        was_net, self._net = self._net, net
        if self._tare is not None and not near_zero and jump > big:
            self._tare = None
        if was_net is not None and net != was_net and before is not None:
            self._tare = Tare(t_ns=t_ns, before_g=before, after_g=value, by_flag=True)
            self._jump_from = None
        elif self._zero_is_tare:
            self._follow_jump(t_ns, value, before, jump > big > 0.0, near_zero)

    def _follow_jump(
        self, t_ns: int, value: float, before: float | None, jumped: bool, near_zero: bool
    ) -> None:
        if self._jump_from is None and jumped and self._calm >= _CALM_SAMPLES:
            self._jump_from, self._jump_age = before, 0
        if self._jump_from is None:
            return
        self._jump_age += 1
        if near_zero:
            self._tare = Tare(t_ns=t_ns, before_g=self._jump_from, after_g=value, by_flag=False)
            self._jump_from = None
        elif self._jump_age >= _JUMP_SAMPLES:
            self._jump_from = None

    def _watch_rate(self, middle_ns: int) -> None:
        if isinstance(self._baseline, list):
            self._baseline.append(middle_ns)
            if len(self._baseline) * len(self._intervals) >= RATE_INTERVALS:
                self._baseline = float(sorted(self._baseline)[len(self._baseline) // 2])
            return
        ratio = middle_ns / self._baseline
        self.slow = ratio > (RATE_BACK if self.slow else RATE_DROP)
