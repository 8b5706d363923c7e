"""What a scale showed lately, and the rising curve read off its half-second medians.

Pure; used by logger.watch.scale.pour. Things put down at once, hands and noise are told from what
came bit by bit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from statistics import median

BIN_S = 0.5
SHARP_BINS, LEVEL_BINS = 2, 6
"""A rise within so many bins, with level before and after, is a thing put down or a hand."""
LATELY_BINS = 24


@dataclass(slots=True)
class Track:
    """Readings and medians of half seconds since the last calm."""

    t: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    bin_t: list[float] = field(default_factory=list)
    bin_y: list[float] = field(default_factory=list)
    open_bin: int | None = None
    open_t: list[float] = field(default_factory=list)
    open_y: list[float] = field(default_factory=list)

    def add(self, time_s: float, value: float) -> None:
        """Take one reading: time [s] and mass [g]."""
        index = math.floor(time_s / BIN_S)
        if self.open_bin is not None and index != self.open_bin:
            self.close()
        self.open_bin = index
        self.open_t.append(time_s)
        self.open_y.append(value)
        self.t.append(time_s)
        self.y.append(value)

    def close(self) -> None:
        """End the half second under way."""
        if self.open_y:
            self.bin_t.append(sum(self.open_t) / len(self.open_t))
            self.bin_y.append(median(self.open_y))
        self.open_bin, self.open_t, self.open_y = None, [], []

    def forget(self, before_s: float, readings_before_s: float | None = None) -> None:
        """Drop the medians before a time [s], and the readings before it or another."""
        first_s = before_s if readings_before_s is None else readings_before_s
        self.t, self.y = _kept(self.t, self.y, first_s)
        self.bin_t, self.bin_y = _kept(self.bin_t, self.bin_y, before_s)

    def shift(self, before_s: float, by_g: float) -> None:
        """Move all that was weighed before a time, so that a step there disappears."""
        self.y = [y + by_g if t < before_s else y for t, y in zip(self.t, self.y, strict=True)]
        self.bin_y = [
            y + by_g if t < before_s else y for t, y in zip(self.bin_t, self.bin_y, strict=True)
        ]


def _kept(t: list[float], y: list[float], before_s: float) -> tuple[list[float], list[float]]:
    first = next((i for i, time_s in enumerate(t) if time_s >= before_s), len(t))
    return t[first:], y[first:]


def noise_g(values: list[float]) -> float:
    """Robust standard deviation of the medians, lately or in all, whatever their slope."""

    def of(part: list[float]) -> float:
        bends = sorted(
            abs(c - 2.0 * b + a) for a, b, c in zip(part, part[1:], part[2:], strict=False)
        )
        return 1.4826 * bends[len(bends) // 2] / math.sqrt(6.0) if bends else 0.0

    return max(of(values), of(values[-LATELY_BINS:]))


def bit_by_bit(curve: list[float], least_g: float) -> list[float]:
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


def spread_bins(rises: list[float]) -> float:
    """Over how many bins a rise is spread."""
    squares = sum(r * r for r in rises)
    return sum(rises) ** 2 / squares if squares > 0.0 else 0.0


def last_rise_s(times: list[float], curve: list[float], least_g: float) -> float:
    """Time of the last bin from which on the curve rose by less than ``least_g``."""
    place = len(curve) - 1
    while place > 0 and curve[-1] - curve[place] < least_g:
        place -= 1
    return times[place]
