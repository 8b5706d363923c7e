"""Pours, seen by the bowl scale: when they begin and end, how much, how fast.

Pure. Fed readings in time order and looked at once a second, so that nothing depends on how the
stream was cut. The poured mass is the rising curve nearest to medians of half seconds: hands that
lean on the bowl and a whisk that beats in it come and go, a pour stays. Where the curve begins and
ceases to rise, logger.watch.scale.pour_curve reads beginning, end and both levels off the readings,
once more when enough has come after them. The same for a vessel that gives (the scale falls) with
the sign turned. Used by logger.watch.stages.emulsify.watcher.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from logger.science.statistics.isotone import rising_fit
from logger.science.statistics.pourstart import PourStart
from logger.watch.scale.pour_curve import (
    BEFORE_S,
    BIN_S,
    Track,
    bit_by_bit,
    by_curve_alone,
    last_rise_s,
    noise_g,
    pour_began,
    pour_ended,
    spread_bins,
)

PAUSE_S = 20.0
"""Pauses up to this belong to one pour that comes in spurts."""
CALM_S = 60.0
"""Readings kept while nothing is poured."""
SMALLEST_G, NOISES = 3.0, 6.0
"""A pour is at least so much [g], and so many standard deviations of the noise."""
SPURT_G = 25.0
"""What comes at once just before a pour and is less than this is its first spurt."""
LATEST_S = 6.0
"""A beginning later than this after the foot was preceded by a small spurt [s]."""
LEVEL_S = 10.0
"""Length of the level that a pour is counted from."""
REFINED_S = 15.0
"""The beginning is worked out once more so long after it was seen, with what came since [s]."""
FEWEST_BINS = 5.0
"""A pour has come bit by bit over so many bins when it is called one."""
LIKELY = 0.9
"""Probability that one began, from which on a pour is called one."""
STANDS_S = 12.0
"""A step that stays this long is a thing put in or taken out [s]."""
KEY_S = 2.0
"""The tare key is touched for no longer [s]."""
OVER_S = 3.0
"""Without a rise for so long, a pour is over when its stage ends."""
Z_90 = 1.645
"""Of a normal distribution, 90 % lie within so many standard deviations."""
TOUCH_S = 12.0
"""A touch is over and outweighed by then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """One pour.

    Attributes
    ----------
    start_s : float
        Beginning on the run's axis [s].
    end_s : float or None
        End [s]; None while it runs.
    mass_g : float
        Poured so far [g], above 0 in either direction.
    u_mass_g : float
        Standard uncertainty from noise, touches and steps of the display [g].
    start_between_s, end_between_s : tuple of float or None
        Where beginning and end lie with a probability of 90 % [s]; wide where a touch hides them.
    """

    start_s: float
    end_s: float | None
    mass_g: float
    u_mass_g: float
    start_between_s: tuple[float, float] | None = None
    end_between_s: tuple[float, float] | None = None

    @property
    def u_lasted_s(self) -> float:
        """Standard uncertainty of how long it lasted [s], as far as its ends are known."""
        spans = (self.start_between_s, self.end_between_s)
        return math.hypot(*((b - a) / (2.0 * Z_90) for a, b in (s for s in spans if s)))

    def rate_g_per_min(self, now_s: float) -> float:
        """Mean rate from the beginning to the end or to now [g/min], pauses included."""
        lasted_s = (now_s if self.end_s is None else self.end_s) - self.start_s
        return 60.0 * self.mass_g / lasted_s if lasted_s > 0.0 else 0.0


class PourDetector:
    """Watch one scale for pours.

    Parameters
    ----------
    gives : bool
        Whether the vessel on the scale gives (the reading falls) instead of receiving.
    step_g : float
        Step of the display [g].
    """

    def __init__(self, *, gives: bool = False, step_g: float = 0.1) -> None:
        self.pours: list[Pour] = []
        self._sign = -1.0 if gives else 1.0
        self._step_g = step_g
        self._track = Track()
        self._running = False
        self._noise_g = step_g
        self._foot_s = 0.0
        self._seen_s = 0.0
        self._began: PourStart | None = None
        self._refine = True

    @property
    def running(self) -> bool:
        """Whether a pour is under way."""
        return self._running

    @property
    def poured_g(self) -> float:
        """Mass of all pours so far [g]."""
        return sum(pour.mass_g for pour in self.pours)

    def add(self, time_s: float, mass_g: float) -> None:
        """Take one reading: time on the run's axis [s] and mass shown [g]."""
        self._track.add(time_s, self._sign * mass_g)

    def shift(self, at_s: float, offset_g: float) -> None:
        """Take out a jump of the display, as of a tare: what was shown before it less after it.

        Parameters
        ----------
        at_s : float
            When [s].
        offset_g : float
            Shown before less shown after [g].
        """
        if self._running:
            self._move(at_s, -self._sign * offset_g)
        else:  # a new level begins; the key itself was touched for a moment
            self._track.forget(at_s + KEY_S)

    def look(self, now_s: float) -> Pour | None:
        """Look at what came up to a whole second [s]; return a pour that just began or ended."""
        track = self._track
        if len(track.bin_y) < 4:
            return None
        return self._follow(now_s) if self._running else self._wait(now_s)

    def _wait(self, now_s: float) -> Pour | None:
        """Nothing is poured: keep the level, and see whether it begins to rise for good."""
        track = self._track
        track.forget(now_s - CALM_S)
        self._noise_g = max(self._step_g, noise_g(track.bin_y))
        if self._drop(now_s) or len(track.bin_y) < 8:
            return None
        curve = rising_fit(track.bin_y)
        rise_g = curve[-1] - curve[0]
        least_g = max(SMALLEST_G, NOISES * self._noise_g)
        if rise_g < least_g:
            return None
        came = bit_by_bit(curve, least_g)
        if sum(came) < least_g or spread_bins(came) < FEWEST_BINS:
            self._settle(curve, now_s)
            return None
        self._foot_s = self._foot(bit_by_bit(curve, SPURT_G))
        if self._start(curve).chance < LIKELY:
            return None
        self._running, self._seen_s = True, now_s
        # What lay on the scale before, such as a level from before a tare, is of no account now.
        track.forget(self._foot_s - LEVEL_S, self._foot_s - BEFORE_S - LATEST_S)
        curve = rising_fit(track.bin_y)
        self._began, self._refine = None, True
        self.pours.append(self._measure(curve, None, now_s))
        return self.pours[-1]

    def _follow(self, now_s: float) -> Pour | None:
        """A pour is under way: measure it, and see whether it has ended."""
        self._drop(now_s)
        curve = rising_fit(self._track.bin_y)
        last_s = self._last_s(curve)
        if now_s - last_s <= PAUSE_S:
            self.pours[-1] = self._measure(curve, None, now_s)
            return None
        return self._close(curve, last_s, now_s)

    def finish(self, now_s: float) -> Pour | None:
        """End a pour at a time [s] if it seems over though its pause has not been long; return it.

        One that rose within the last seconds stays without an end: it was still going on.
        """
        curve = rising_fit(self._track.bin_y)
        if not self._running or not curve:
            return None
        last_s = self._last_s(curve)
        return self._close(curve, last_s, now_s) if now_s - last_s >= OVER_S else None

    def _last_s(self, curve: list[float]) -> float:
        """Time of the last rise that counts [s]."""
        least_g = max(2.0 * self._step_g, 1.5 * self._noise_g, 0.004 * (curve[-1] - curve[0]))
        return last_rise_s(self._track.bin_t, curve, least_g)

    def _close(self, curve: list[float], last_s: float, now_s: float) -> Pour:
        """Measure a pour that is over."""
        self._running = False
        self.pours[-1] = self._measure(curve, last_s, now_s)
        end_s = self.pours[-1].end_s
        self._track.forget(last_s if end_s is None else max(end_s + 1.0, now_s - 0.5 * PAUSE_S))
        return self.pours[-1]

    def _measure(self, curve: list[float], last_s: float | None, now_s: float) -> Pour:
        """Read start, end and mass off the curve and the readings behind it."""
        due = last_s is not None or now_s >= self._seen_s + REFINED_S
        if self._began is None or (self._refine and due):
            self._began, self._refine = self._start(curve), self._began is None
        began, ended = self._began, None if last_s is None else self._end(curve, last_s)
        high_g = curve[-1] if ended is None else ended.level_g
        end_s, between_s = None, None
        if ended is not None:
            end_s = max(ended.at_s, began.at_s + BIN_S)
            between_s = (min(ended.early_s, end_s), max(ended.late_s, end_s))
        u_low_g = began.u_level_g
        u_high_g = u_low_g if ended is None else ended.u_level_g
        return Pour(
            start_s=began.at_s,
            end_s=end_s,
            mass_g=max(0.0, high_g - began.level_g),
            u_mass_g=math.hypot(u_low_g, u_high_g, self._step_g / math.sqrt(12.0)),
            start_between_s=(began.early_s, began.late_s),
            end_between_s=between_s,
        )

    def _foot(self, came: list[float]) -> float:
        """Time before which nothing came bit by bit for as long as a pause may last [s]."""
        times, bins = self._track.bin_t, round(PAUSE_S / BIN_S)
        least_g = max(0.5 * SMALLEST_G, 1.5 * self._step_g, 3.0 * self._noise_g)
        place = len(came)
        while place > 0 and sum(came[max(place - bins, 0) : place]) >= least_g:
            place -= 1
        return times[place]

    def _start(self, curve: list[float]) -> PourStart:
        """Tell when the pour began, near the first rise after the foot."""
        times, track = self._track.bin_t, self._track
        foot = next((i for i, t in enumerate(times) if t >= self._foot_s), 0)
        rise_g = min(curve[-1] - curve[foot], max(SMALLEST_G, NOISES * self._noise_g))
        first = next(i for i in range(foot, len(curve)) if curve[i] >= curve[foot] + 0.5 * rise_g)
        if times[first] > self._foot_s + LATEST_S:  # a small first spurt
            first = min(foot + 2, len(curve) - 1)
        near_s = times[max(first - 1, 0)]
        found = pour_began(track.t, track.y, near_s, self._step_g)
        if found is not None:
            return found
        before = [
            y for t, y in zip(times, track.bin_y, strict=True) if near_s - LEVEL_S < t < near_s
        ]
        return by_curve_alone(near_s, median(before) if before else curve[0], self._u_level_g)

    def _end(self, curve: list[float], last_s: float) -> PourStart:
        """Tell when it ended, near the last rise: the same, seen backwards."""
        times, track = self._track.bin_t, self._track
        rise_g = min(curve[-1] - curve[0], max(2.0 * SMALLEST_G, 2.0 * NOISES * self._noise_g))
        last = max(i for i, y in enumerate(curve) if y <= curve[-1] - 0.5 * rise_g)
        near_s = min(times[min(last + 1, len(times) - 1)], last_s + 2.0)
        found = pour_ended(track.t, track.y, near_s, self._step_g)
        if found is not None:
            return found
        after = [y for t, y in zip(times, track.bin_y, strict=True) if t > last_s]
        return by_curve_alone(last_s, median(after) if after else curve[-1], self._u_level_g)

    @property
    def _u_level_g(self) -> float:
        return math.hypot(self._noise_g / math.sqrt(6.0), self._step_g / math.sqrt(12.0))

    def _drop(self, now_s: float) -> bool:
        """Take out a lasting fall: something was taken out of the bowl, or it was tared."""
        track = self._track
        late = [y for t, y in zip(track.bin_t, track.bin_y, strict=True) if t > now_s - STANDS_S]
        early = [y for t, y in zip(track.bin_t, track.bin_y, strict=True) if t <= now_s - STANDS_S]
        if len(late) < 0.8 * STANDS_S / BIN_S or len(early) < 1.2 * TOUCH_S / BIN_S:
            return False
        # The last seconds of what was before may be a touch, so the level is read ahead of them.
        reached = rising_fit(early)[-round(TOUCH_S / BIN_S)]
        fall_g = reached - max(late)
        if fall_g < max(SMALLEST_G, NOISES * self._noise_g):
            return False
        self._move(now_s - STANDS_S, median(late) - reached)
        return True

    def _move(self, before_s: float, by_g: float) -> None:
        """Move what was weighed before a time, the level ahead of the pour with it."""
        self._track.shift(before_s, by_g)
        if self._began is not None:
            self._began = replace(self._began, level_g=self._began.level_g + by_g)

    def _settle(self, curve: list[float], now_s: float) -> None:
        """Make a thing that was put in and stays part of the level."""
        times = self._track.bin_t
        rises = [b - a for a, b in pairwise(curve)]
        step = max(range(len(rises)), key=rises.__getitem__)
        if times[step] < now_s - STANDS_S:
            self._track.forget(times[step] + 2 * BIN_S)
