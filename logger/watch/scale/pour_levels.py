"""Levels of a scale, and the changes from one level to the next, whatever they mean.

Pure; fed the readings of one scale in time order, asked as often as wanted. Used by
logger.watch.scale.pour, which tells what the changes were. A touch of up to some three seconds is
no change: it goes away again. Where the scale was silent, the change is that from the last value
before to the first one after.
"""

from __future__ import annotations

import math
from array import array
from bisect import bisect_left
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from logger.watch.scale.change import Change
from logger.watch.scale.running import bend_noise_g, running_median, running_range

Array = npt.NDArray[np.float64]

BIN_S = 0.5
FLAT_BINS = 2
"""A level is flat over so many half seconds to either side."""
FEWEST_FLAT = 2
LEAST_G, STEPS, NOISES = 0.3, 1.2, 1.2
"""What still counts as flat: so much [g], so many steps of the display, so much of the noise."""
LEVEL_BINS = 40
"""A level is read off up to so many half seconds next to the change."""
SETTLE_BINS = 2
"""Left out after a change, where that leaves enough: the scale's filter, the last drop."""
GAP_S, GAP_INTERVALS = 2.0, 4.0
"""Silence of so long, and of so many usual intervals, is a gap."""
LONGEST_BINS = 2400
RAW_KEPT_S = 240.0
JUMP_G, JUMP_NOISES = 5.0, 5.0
"""Within a second the mass jumps by so much [g] and so many times the noise."""
EDGE_BINS, EDGE_U_G = (4, 10), 0.5
"""A slope up to an edge is read off so many half seconds, more where they are noisy."""
UNLOOKED_BINS = 20
"""Nothing is worked out anew for so many half seconds while the scale stands still."""
CALM_BINS = 80
"""After a level of so many half seconds what was before is not looked at again."""


class Levels:
    """Follow one scale from level to level.

    Parameters
    ----------
    step_g : float
        Step of its display [g].
    """

    def __init__(self, step_g: float) -> None:
        self.step_g = step_g
        self.past: list[Change] = []
        """Changes that nothing can alter any more."""
        self.last: list[Change] = []
        """Those since, as they look by now; the last may be going on."""
        self.version = 0
        """Rises whenever something about the changes is new."""
        self._rest_g: float | None = None
        self._looked = 0
        # Arrays, not lists: a snapshot for undo copies them in one stroke.
        self.raw_t = array("d")
        self.raw_g = array("d")
        self._t = array("d")
        self._middle = array("d")
        self._mean = array("d")
        self._bin: int | None = None
        self._bin_t: list[float] = []
        self._bin_g: list[float] = []

    @property
    def changes(self) -> list[Change]:
        """All changes, in time order."""
        return self.past + self.last

    def add(self, time_s: float, mass_g: float) -> None:
        """Take one reading: time on the run's axis [s] and mass shown [g]."""
        index = math.floor(time_s / BIN_S)
        if self._bin is not None and index != self._bin:
            self._close()
        self._bin = index
        self._bin_t.append(time_s)
        self._bin_g.append(mass_g)
        self.raw_t.append(time_s)
        self.raw_g.append(mass_g)

    def look(self, now_s: float) -> None:
        """Work out the changes up to a time [s]."""
        if len(self._t) < 4:
            return
        if len(self.raw_t) > 64 and self.raw_t[0] < now_s - 1.25 * RAW_KEPT_S:
            first = bisect_left(self.raw_t, now_s - RAW_KEPT_S)
            del self.raw_t[:first], self.raw_g[:first]
        if self._rests_on():
            return
        pieces = self._pieces()
        seen = _between(pieces)
        if seen != self.last:
            self.last, self.version = seen, self.version + 1
        self._looked = len(self._t)
        rests = pieces[-1].rests
        at_rest = bool(rests) and rests[-1][1] >= pieces[-1].t.size - 1
        self._rest_g = float(np.median(pieces[-1].middle[-8:])) if at_rest else None
        self._settle(pieces)

    def readings(self, from_s: float, to_s: float) -> tuple[Array, Array]:
        """Return the readings between two times [s]: times [s] and masses [g]."""
        first, last = bisect_left(self.raw_t, from_s), bisect_left(self.raw_t, to_s)
        return np.asarray(self.raw_t[first:last]), np.asarray(self.raw_g[first:last])

    def _close(self) -> None:
        self._t.append(sum(self._bin_t) / len(self._bin_t))
        values = sorted(self._bin_g)
        half = len(values) // 2
        middle = values[half] if len(values) % 2 else 0.5 * (values[half - 1] + values[half])
        self._middle.append(middle)
        self._mean.append(sum(values) / len(values))
        self._bin_t, self._bin_g = [], []

    def _pieces(self) -> list[_Piece]:
        t = np.array(self._t)  # a view would forbid `_t` to grow
        middle, mean = np.array(self._middle), np.array(self._mean)
        apart = np.diff(t)
        limit_s = max(GAP_S, GAP_INTERVALS * float(np.median(apart)))
        cuts = (np.flatnonzero(apart > limit_s) + 1).tolist()
        spans: list[tuple[int, int, bool]] = []
        for first, stop in zip([0, *cuts], [*cuts, t.size], strict=True):
            begin, gap = first, first > 0
            for k in _jumps(middle[first:stop], mean[first:stop], self.step_g):
                spans.append((begin, first + k + 1, gap))
                begin, gap = first + k + 2, False
            spans.append((begin, stop, gap))
        return [
            _Piece(t[a:b], middle[a:b], mean[a:b], self.step_g, after_gap=gap)
            for a, b, gap in spans
        ]

    def _rests_on(self) -> bool:
        """Return whether nothing has happened since the last look at a level."""
        new = len(self._t) - self._looked
        if self._rest_g is None or new >= UNLOOKED_BINS:
            return False
        if new and self._t[-new] - self._t[-new - 1] > GAP_S:
            return False
        near_g = max(0.3 * LEAST_G, 1.01 * self.step_g)
        return all(abs(g - self._rest_g) <= near_g for g in self._middle[-new:] if new)

    def _settle(self, pieces: list[_Piece]) -> None:
        """Forget what came before a long level, once it has been looked at."""
        newest = pieces[-1]
        if not newest.rests:
            return
        first, stop = newest.rests[-1]
        long = stop - first >= CALM_BINS
        if not long and len(self._t) < LONGEST_BINS:
            return
        place = len(self._t) - newest.t.size + (stop - (LEVEL_BINS + 10) if long else first)
        if place <= 0:
            return
        at_s = self._t[place]
        self.past += [c for c in self.last if c.end_s <= at_s]
        self.last = [c for c in self.last if c.end_s > at_s]
        del self._t[:place], self._middle[:place], self._mean[:place]
        self._looked -= place


class _Piece:
    """Half seconds without a gap between them, and where they rest."""

    def __init__(
        self, t: Array, middle: Array, mean: Array, step_g: float, *, after_gap: bool
    ) -> None:
        self.t, self.middle, self.mean, self.step_g = t, middle, mean, step_g
        self.after_gap = after_gap
        self.smooth = running_median(middle)
        self.noise = bend_noise_g(middle)
        self.rests = self._rests()

    def _rests(self) -> list[tuple[int, int]]:
        """Return the spans that are level, as first half second and the one after the last."""
        flat_g = np.maximum(max(LEAST_G, STEPS * self.step_g), NOISES * self.noise)
        width = 2 * FLAT_BINS + 1
        range_g = running_range(self.smooth, width)
        flat = range_g <= flat_g
        edges = np.flatnonzero(np.diff(np.concatenate(([0], flat.astype(int), [0]))))
        found: list[tuple[int, int]] = []
        for first, stop in edges.reshape(-1, 2).tolist():
            found += self._cut_where_it_creeps(first, stop, flat_g)
        grown: list[tuple[int, int]] = []
        for place, (first, stop) in enumerate(found):
            low = grown[-1][1] if grown else 0
            high = found[place + 1][0] if place + 1 < len(found) else self.t.size
            grown.append(self._grown(first, stop, flat_g, low, high))
        return grown

    def _cut_where_it_creeps(self, first: int, stop: int, flat_g: Array) -> list[tuple[int, int]]:
        """Return the parts of a span that keep to one level each: noise may hide a thin pour."""
        if stop - first < FEWEST_FLAT:
            return []
        part = self.smooth[first:stop]
        limit_g = 1.5 * float(np.median(flat_g[first:stop]))
        ends = [part[: LEVEL_BINS // 4], part[-LEVEL_BINS // 4 :]]
        if abs(float(np.median(ends[0]) - np.median(ends[1]))) <= limit_g:
            return [(first, stop)]
        found, at = [], 0
        while at < part.size:
            beyond = np.flatnonzero(np.abs(part[at:] - np.median(part[at : at + 6])) > limit_g)
            end = at + int(beyond[0]) if beyond.size else part.size
            if end - at >= FEWEST_FLAT:
                found.append((first + at, first + end))
            at = max(end, at + 1)
        return found

    def _grown(
        self, first: int, stop: int, flat_g: Array, lowest: int, highest: int
    ) -> tuple[int, int]:
        """Return a span with what is still at its level to either side."""
        low, high = self.smooth[first], self.smooth[stop - 1]
        for _ in range(FLAT_BINS + 1):
            if first > lowest and abs(self.smooth[first - 1] - low) <= 0.5 * flat_g[first]:
                first -= 1
            if stop < highest and abs(self.smooth[stop] - high) <= 0.5 * flat_g[stop - 1]:
                stop += 1
        return first, stop

    def level(self, first: int, stop: int, *, ahead: bool) -> tuple[float, float]:
        """Return the level of a span next to the change ahead of it or behind, and its u [g]."""
        if stop - first > 2 * SETTLE_BINS + 4:
            first += SETTLE_BINS
            stop -= 1
        part = self.mean[first:stop]
        near = part[:LEVEL_BINS] if ahead else part[-LEVEL_BINS:]
        middle = float(np.median(near))
        noise_g = float(np.median(self.noise[first:stop]))
        kept = near[np.abs(near - middle) <= max(4.0 * noise_g, 2.0 * self.step_g)]
        kept = kept if kept.size else near
        spread_g = float(np.std(kept)) if kept.size > 1 else noise_g
        # means of half seconds next to each other are not independent where a whisk beats
        u_g = max(spread_g, noise_g) * math.sqrt(2.0 / kept.size)
        return float(np.mean(kept)), math.hypot(u_g, self.step_g / math.sqrt(12.0))

    def edge(self, *, at_end: bool) -> tuple[float, float, float]:
        """Return value, its u [g] and slope [g/s] at the beginning or end of the piece."""
        noise_g = float(self.noise[-1 if at_end else 0])
        count = int(np.clip(round((2.0 * noise_g / EDGE_U_G) ** 2), EDGE_BINS[0], EDGE_BINS[1]))
        count = min(count, self.t.size)
        cut = slice(-count, None) if at_end else slice(0, count)
        t, y = self.t[cut], self.middle[cut]
        if t.size < 3:
            return float(np.median(y)), math.hypot(noise_g, self.step_g), 0.0
        at_s = t[-1] if at_end else t[0]
        slope, value = np.polyfit(t - at_s, y, 1)
        u_g = 2.0 * max(noise_g, 0.25 * abs(slope)) / math.sqrt(t.size)
        return float(value), math.hypot(u_g, self.step_g / math.sqrt(12.0)), float(slope)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mark:
    """A level, or the edge of a gap: when, and how much [g]."""

    from_s: float
    to_s: float
    first_g: float
    u_first_g: float
    last_g: float
    u_last_g: float
    slope_g_s: float = 0.0
    edge: bool = False


def _marks(piece: _Piece, *, first: bool, last: bool) -> list[_Mark]:
    """Return the levels of a piece, and its edges where it is not level there."""
    marks = [_rest_mark(piece, a, b) for a, b in piece.rests]
    size = piece.t.size
    if not first and (not piece.rests or piece.rests[0][0] > 1):
        marks.insert(0, _edge_mark(piece, at_end=False))
    if not piece.rests or piece.rests[-1][1] < size - (2 if last else 1):
        marks.append(_edge_mark(piece, at_end=True))
    return marks


def _rest_mark(piece: _Piece, first: int, stop: int) -> _Mark:
    first_g, u_first_g = piece.level(first, stop, ahead=True)
    last_g, u_last_g = piece.level(first, stop, ahead=False)
    return _Mark(
        from_s=float(piece.t[first]),
        to_s=float(piece.t[stop - 1]),
        first_g=first_g,
        u_first_g=u_first_g,
        last_g=last_g,
        u_last_g=u_last_g,
    )


def _edge_mark(piece: _Piece, *, at_end: bool) -> _Mark:
    value, u_g, slope = piece.edge(at_end=at_end)
    at_s = float(piece.t[-1 if at_end else 0])
    return _Mark(
        from_s=at_s, to_s=at_s, first_g=value, u_first_g=u_g, last_g=value, u_last_g=u_g,
        slope_g_s=slope, edge=True,
    )  # fmt: skip


def _between(pieces: list[_Piece]) -> list[Change]:
    """Return the changes between all levels."""
    changes: list[Change] = []
    before: _Mark | None = None
    for number, piece in enumerate(pieces):
        newest = number == len(pieces) - 1
        marks = _marks(piece, first=number == 0, last=newest)
        for place, mark in enumerate(marks):
            if before is not None:
                within = None if place == 0 else piece
                going = newest and mark.edge and mark is marks[-1] and within is not None
                gap = within is None and piece.after_gap
                changes.append(_change(before, mark, within, gap=gap, going=going))
            before = mark
    return changes


def _change(a: _Mark, b: _Mark, piece: _Piece | None, *, gap: bool, going: bool) -> Change:
    by_g = b.first_g - a.last_g
    return Change(
        start_s=a.to_s,
        end_s=b.from_s,
        before_g=a.last_g,
        after_g=b.first_g,
        u_before_g=a.u_last_g,
        u_after_g=b.u_first_g,
        took_s=b.from_s - a.to_s if piece is None else _took_s(piece, a, b),
        jump_g=(0.0 if gap else by_g) if piece is None else _jump_g(piece, a, b),
        shape_g=(a.last_g, b.first_g) if piece is None else _shape_g(piece, a, b),
        gap=gap,
        going=going,
        slope_before_g_s=a.slope_g_s if piece is None else 0.0,
        slope_after_g_s=b.slope_g_s if piece is None else 0.0,
    )


def _shape_g(piece: _Piece, a: _Mark, b: _Mark) -> tuple[float, ...]:
    seen = (piece.t > a.to_s) & (piece.t < b.from_s)
    return (a.last_g, *piece.middle[seen].tolist(), b.first_g)


def _jump_g(piece: _Piece, a: _Mark, b: _Mark) -> float:
    """Return the most that the mass changed within a second, the way it changed in all [g]."""
    seen = (piece.t >= a.to_s - BIN_S) & (piece.t <= b.from_s + BIN_S)
    values = piece.middle[seen]
    if values.size < 3:
        return b.first_g - a.last_g
    twice = values[2:] - values[:-2]
    return float(twice.max() if b.first_g > a.last_g else twice.min())


def _jumps(middle: Array, mean: Array, step_g: float) -> list[int]:
    """Return after which half seconds the mass jumps to stay, within one that belongs to neither.

    Running medians find the jumps; where exactly each lies is told by the means: that of the half
    second of the jump lies between the levels.
    """
    if middle.size < 8:
        return []
    z = running_median(middle)
    noise = bend_noise_g(middle)[1:-1]
    twice = np.abs(z[2:] - z[:-2])
    around = np.zeros(twice.size)
    around[2:] += twice[:-2]
    around[:-2] += twice[2:]
    least_g = np.maximum(max(JUMP_G, 3.0 * step_g), JUMP_NOISES * noise)
    jumps = np.flatnonzero((twice >= least_g) & (around < 0.5 * twice))
    found: list[int] = []
    for k in jumps[np.argsort(-twice[jumps])].tolist():
        if any(abs(k - other) < 4 for other in found):
            continue
        near = range(max(k - 1, 0), min(k + 2, middle.size - 2))
        found.append(max(near, key=lambda j: abs(mean[j + 2] - mean[j])))
    return [k for k in sorted(found) if 1 <= k < middle.size - 4]


def _took_s(piece: _Piece, a: _Mark, b: _Mark) -> float:
    """Return how long it took from a tenth of a change to nine tenths [s]."""
    by_g = b.first_g - a.last_g
    seen = (piece.t >= a.to_s) & (piece.t <= b.from_s)
    if not by_g or seen.sum() < 2:
        return BIN_S
    share = (piece.smooth[seen] - a.last_g) / by_g
    t = piece.t[seen]
    early = t[np.flatnonzero(share <= 0.1)[-1]] if (share <= 0.1).any() else t[0]
    late = np.flatnonzero(share >= 0.9)
    return max(float((t[late[0]] if late.size else t[-1]) - early), BIN_S)
