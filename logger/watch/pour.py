"""Pours, seen by the bowl scale: when they begin and end, how much, how fast.

Pure. Fed readings in time order and looked at once a second, so that nothing depends on how the
stream was cut. The poured mass is the rising curve nearest to medians of half seconds: hands that
lean on the bowl and a whisk that beats in it come and go, a pour stays. Beginning and end are then
found to a fraction of a second as the kinks of the curve. The same for a vessel that gives (the
scale falls) with the sign turned. Used by logger.watch.emulsify.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

from logger.science.isotone import rising_fit
from logger.watch.kink import kink_s

BIN_S = 0.5
PAUSE_S = 20.0
"""Pauses up to this belong to one pour that comes in spurts."""
CALM_S = 60.0
"""Readings kept while nothing is poured."""
SMALLEST_G = 3.0
NOISES = 6.0
SHARP_BINS, LEVEL_BINS = 2, 6
"""A rise within so many bins, with level before and after, is a thing put down or a hand."""
SPURT_G = 25.0
"""What comes at once just before a pour and is less than this is its first spurt."""
LATELY_BINS = 24
STALL_BINS = 4
LATEST_S = 6.0
LEVEL_S = 10.0
"""Length of the level that a pour is counted from."""
REFINED_S = 15.0
"""How long after it was seen the beginning is still refined."""
FEWEST_BINS = 5.0
"""A pour has come bit by bit over so many bins when it is called one."""
STANDS_S = 12.0
"""A step that stands this long is a thing put in or taken out."""
KEY_S = 2.0
EDGE_NOISES = 1.5
SLOW_START_S, TRICKLE_S = 2.0, 6.0
"""Longest trickle before the first and after the last kink that belongs to a pour [s]."""
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
        Standard uncertainty from noise and steps of the display [g].
    """

    start_s: float
    end_s: float | None
    mass_g: float
    u_mass_g: float

    def rate_g_per_min(self, now_s: float) -> float:
        """Mean rate from the beginning to the end or to now [g/min], pauses included."""
        lasted_s = (now_s if self.end_s is None else self.end_s) - self.start_s
        return 60.0 * self.mass_g / lasted_s if lasted_s > 0.0 else 0.0


@dataclass(slots=True)
class _Track:
    """Readings and medians of half seconds since the last calm."""

    t: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    bin_t: list[float] = field(default_factory=list)
    bin_y: list[float] = field(default_factory=list)
    open_bin: int | None = None
    open_t: list[float] = field(default_factory=list)
    open_y: list[float] = field(default_factory=list)

    def add(self, time_s: float, value: float) -> None:
        index = math.floor(time_s / BIN_S)
        if self.open_bin is not None and index != self.open_bin:
            self.close()
        self.open_bin = index
        self.open_t.append(time_s)
        self.open_y.append(value)
        self.t.append(time_s)
        self.y.append(value)

    def close(self) -> None:
        if self.open_y:
            self.bin_t.append(sum(self.open_t) / len(self.open_t))
            self.bin_y.append(median(self.open_y))
        self.open_bin, self.open_t, self.open_y = None, [], []

    def forget(self, before_s: float) -> None:
        self.t, self.y = _kept(self.t, self.y, before_s)
        self.bin_t, self.bin_y = _kept(self.bin_t, self.bin_y, before_s)

    def shift(self, before_s: float, by_g: float) -> None:
        """Move all that was weighed before a time, so that a step there disappears."""
        self.y = [y + by_g if t < before_s else y for t, y in zip(self.t, self.y, strict=True)]
        self.bin_y = [
            y + by_g if t < before_s else y for t, y in zip(self.bin_t, self.bin_y, strict=True)
        ]


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
        self._track = _Track()
        self._running = False
        self._noise_g = step_g
        self._foot_s = 0.0
        self._seen_s = 0.0
        self._start_s = 0.0

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
            self._track.shift(at_s, -self._sign * offset_g)
        else:  # a new level begins; the key itself was touched for a moment
            self._track.forget(at_s + KEY_S)

    def look(self, now_s: float) -> Pour | None:
        """Look at what came up to a whole second; give the pour that began or ended just now."""
        track = self._track
        if len(track.bin_y) < 4:
            return None
        return self._follow(now_s) if self._running else self._wait(now_s)

    def _wait(self, now_s: float) -> Pour | None:
        """Nothing is poured: keep the level, and see whether it begins to rise for good."""
        track = self._track
        track.forget(now_s - CALM_S)
        self._noise_g = max(self._step_g, _noise(track.bin_y))
        if self._drop(now_s) or len(track.bin_y) < 8:
            return None
        curve = rising_fit(track.bin_y)
        rise_g = curve[-1] - curve[0]
        least_g = max(SMALLEST_G, NOISES * self._noise_g)
        if rise_g < least_g:
            return None
        came = _bit_by_bit(curve, least_g)
        if sum(came) < least_g or _effective(came) < FEWEST_BINS:
            self._settle(curve, now_s)
            return None
        self._running, self._seen_s = True, now_s
        self._foot_s = self._foot(_bit_by_bit(curve, SPURT_G))
        # What lay on the scale before, such as a level from before a tare, is of no account now.
        track.forget(self._foot_s - LEVEL_S)
        curve = rising_fit(track.bin_y)
        self.pours.append(self._measure(curve, None, now_s))
        return self.pours[-1]

    def _follow(self, now_s: float) -> Pour | None:
        """A pour is under way: measure it, and see whether it has ended."""
        track = self._track
        self._drop(now_s)
        curve = rising_fit(track.bin_y)
        least_g = max(2.0 * self._step_g, 1.5 * self._noise_g, 0.004 * (curve[-1] - curve[0]))
        last_s = _last_rise(track.bin_t, curve, least_g)
        if now_s - last_s <= PAUSE_S:
            self.pours[-1] = self._measure(curve, None, now_s)
            return None
        self._running = False
        self.pours[-1] = self._measure(curve, last_s, now_s)
        end_s = self.pours[-1].end_s
        track.forget(last_s if end_s is None else max(end_s + 1.0, now_s - 0.5 * PAUSE_S))
        return self.pours[-1]

    def _measure(self, curve: list[float], last_s: float | None, now_s: float) -> Pour:
        """Read start, end and mass off the curve and the readings behind it."""
        track = self._track
        if now_s <= self._seen_s + REFINED_S:
            self._start_s = self._start(curve)
        start_s = self._start_s
        level = zip(track.bin_t, track.bin_y, strict=True)
        before = [y for t, y in level if start_s - LEVEL_S < t < start_s - 0.3]
        low_g = median(before) if before else curve[0]
        end_s, high_g = None, curve[-1]
        if last_s is not None:
            end_s = max(self._end(curve, last_s), start_s + BIN_S)
            after = [y for t, y in zip(track.bin_t, track.bin_y, strict=True) if t > end_s + 0.7]
            high_g = median(after) if after else curve[-1]
        u_level = math.hypot(self._noise_g / math.sqrt(6.0), self._step_g / math.sqrt(12.0))
        return Pour(
            start_s=start_s,
            end_s=end_s,
            mass_g=max(0.0, high_g - low_g),
            u_mass_g=math.sqrt(2.0) * u_level,
        )

    def _foot(self, came: list[float]) -> float:
        """Time before which nothing came bit by bit for as long as a pause may last [s]."""
        times, bins = self._track.bin_t, round(PAUSE_S / BIN_S)
        least_g = max(0.5 * SMALLEST_G, 1.5 * self._step_g, 3.0 * self._noise_g)
        place = len(came)
        while place > 0 and sum(came[max(place - bins, 0) : place]) >= least_g:
            place -= 1
        return times[place]

    def _start(self, curve: list[float]) -> float:
        """Time of the first kink after the foot [s]."""
        times = self._track.bin_t
        foot = next((i for i, t in enumerate(times) if t >= self._foot_s), 0)
        rise_g = min(curve[-1] - curve[foot], max(SMALLEST_G, NOISES * self._noise_g))
        first = next(i for i in range(foot, len(curve)) if curve[i] >= curve[foot] + 0.5 * rise_g)
        if times[first] > self._foot_s + LATEST_S:  # a small first spurt
            first = min(foot + 2, len(curve) - 1)
        stop = _stall(curve, first, 1)
        found_s = kink_s(
            self._track.t, self._track.y, times[max(first - 1, 0)], times[stop], self._noise_g
        )
        edge_g = self._edge_g(curve, foot)
        if edge_g is None:
            return found_s
        before = [y for t, y in zip(times, self._track.bin_y, strict=True) if t < found_s - 2.0]
        level = median(before[-round(LEVEL_S / BIN_S) :]) if before else curve[foot]
        ahead = max(foot - round(SLOW_START_S / BIN_S), 0)
        left = next((i for i in range(ahead, len(curve)) if curve[i] > level + edge_g), first)
        trickled_s = times[left] - 0.5 * BIN_S
        return trickled_s if found_s - SLOW_START_S < trickled_s < found_s else found_s

    def _end(self, curve: list[float], last_s: float) -> float:
        """Time of the last kink [s]: the same, seen backwards."""
        times, track = self._track.bin_t, self._track
        rise_g = min(curve[-1] - curve[0], max(2.0 * SMALLEST_G, 2.0 * NOISES * self._noise_g))
        last = max(i for i, y in enumerate(curve) if y <= curve[-1] - 0.5 * rise_g)
        stop = _stall(curve, last, -1)
        near = min(last + 1, len(times) - 1)
        back = kink_s(
            [-t for t in reversed(track.t)],
            [-y for y in reversed(track.y)],
            -times[near],
            -times[stop],
            self._noise_g,
        )
        found_s = min(-back, last_s + 2.0)
        edge_g = self._edge_g(curve, 0)
        after = [y for t, y in zip(times, track.bin_y, strict=True) if t > found_s + 4.0]
        if edge_g is None or not after:
            return found_s
        level = median(after)
        below = max(i for i, y in enumerate(curve) if y < level - edge_g or i == 0)
        return max(found_s, min(times[below] + 0.5 * BIN_S, found_s + TRICKLE_S))

    def _edge_g(self, curve: list[float], foot: int) -> float | None:
        """How far off the level the curve is surely off it [g]; None where the kink tells better.

        A pour that begins or ends as a trickle has no sharp kink.
        """
        edge_g = EDGE_NOISES * max(self._noise_g, self._step_g)
        rise_g = curve[-1] - curve[foot]
        lasted_s = max(self._track.bin_t[-1] - self._track.bin_t[foot], BIN_S)
        return edge_g if edge_g < 0.5 * rise_g / lasted_s else None

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
        track.shift(now_s - STANDS_S, median(late) - reached)
        return True

    def _settle(self, curve: list[float], now_s: float) -> None:
        """A thing that was put in and stands is part of the level from now on."""
        times = self._track.bin_t
        rises = [b - a for a, b in pairwise(curve)]
        step = max(range(len(rises)), key=rises.__getitem__)
        if times[step] < now_s - STANDS_S:
            self._track.forget(times[step] + SHARP_BINS * BIN_S)


def _kept(t: list[float], y: list[float], before_s: float) -> tuple[list[float], list[float]]:
    first = next((i for i, time_s in enumerate(t) if time_s >= before_s), len(t))
    return t[first:], y[first:]


def _noise(values: list[float]) -> float:
    """Robust standard deviation of the medians, lately or in all, whatever their slope."""

    def of(part: list[float]) -> float:
        bends = sorted(
            abs(c - 2.0 * b + a) for a, b, c in zip(part, part[1:], part[2:], strict=False)
        )
        return 1.4826 * bends[len(bends) // 2] / math.sqrt(6.0) if bends else 0.0

    return max(of(values), of(values[-LATELY_BINS:]))


def _bit_by_bit(curve: list[float], least_g: float) -> list[float]:
    """Rises from bin to bin without what came at once [g].

    What comes within a second, with level on both sides, is a thing put down or a hand let go.
    """
    rises = [b - a for a, b in pairwise(curve)]
    place, last = 0, len(rises)
    while place < last:
        stop = min(place + SHARP_BINS, last)
        rise = curve[stop] - curve[place]
        around = curve[place] - curve[max(place - LEVEL_BINS, 0)]
        around += curve[min(stop + LEVEL_BINS, last)] - curve[stop]
        if rise >= least_g and around < 0.25 * rise:
            first, after = max(place - 1, 0), min(stop + 1, last)
            rises[first:after] = [0.0] * (after - first)
            place = stop + 1
        else:
            place += 1
    return rises


def _effective(rises: list[float]) -> float:
    """Over how many bins a rise is spread."""
    squares = sum(r * r for r in rises)
    return sum(rises) ** 2 / squares if squares > 0.0 else 0.0


def _last_rise(times: list[float], curve: list[float], least_g: float) -> float:
    """Time of the last bin from which on the curve rose by less than ``least_g``."""
    place = len(curve) - 1
    while place > 0 and curve[-1] - curve[place] < least_g:
        place -= 1
    return times[place]


def _stall(curve: list[float], place: int, way: int) -> int:
    """Index where the rise through ``place`` comes to a pause of two seconds, within 20 bins."""
    ends = 0 if way < 0 else len(curve) - 1
    best, here = 0.0, place
    for _ in range(20):
        if here == ends:
            break
        ahead = here + way * min(STALL_BINS, abs(ends - here))
        rise = abs(curve[ahead] - curve[here])
        if best > 0.0 and rise < 0.25 * best:
            break
        best, here = max(best, rise), here + way
    return here
