"""Readings and events of the run under way, kept in memory for all open pages.

Reads the run file in short steps through the view that `open_run` gives, never writes. Each channel
has its own cursor because each instrument commits at its own pace. Takes no time from a clock.
"""

import threading
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from tsdownsample import MinMaxLTTBDownsampler

from logger.model.reading import Flag
from logger.review.trace import corrected, corrector_of

NOT_DRAWN = int(Flag.LATE | Flag.UNTRUSTED)
GAP_S = 2.5
"""Two samples further apart than this, and than five usual steps, are not joined [s]."""
FINE_S = 1800.0
"""The newest so many seconds are kept sample by sample [s]."""
STRETCH_S = 1.0
"""Of what is older the lowest and the highest of stretches of this length are kept [s]."""
AT_ONCE = 6000
"""So many samples are made fewer at once, at least."""


class Points(NamedTuple):
    """A piece of a trace; arrays of one length, nan where the line breaks."""

    t_s: NDArray[np.float64]
    value: NDArray[np.float64]


EMPTY = Points(np.empty(0), np.empty(0))


class Kept:
    """What is drawn of one channel so far, growing: all that is new, the ends of what is old.

    A day of fast probes would fill a small machine's memory; the run file has every sample.
    """

    def __init__(self) -> None:
        self._old = 0
        self._t_ns = np.empty(1024, dtype=np.int64)
        self._value = np.empty(1024)
        self._size = 0

    @property
    def last_ns(self) -> int:
        """Time of the newest sample [ns], -1 before the first."""
        return int(self._t_ns[self._size - 1]) if self._size else -1

    def add(self, t_ns: NDArray[np.int64], value: NDArray[np.float64]) -> None:
        """Append samples in time order."""
        while self._size + t_ns.size > self._t_ns.size:
            self._t_ns, self._value = (_twice(a, self._size) for a in (self._t_ns, self._value))
        self._t_ns[self._size : self._size + t_ns.size] = t_ns
        self._value[self._size : self._size + t_ns.size] = value
        self._size += t_ns.size
        self._condense()

    def _condense(self) -> None:
        """Keep the lowest and highest of each stretch of what has become old."""
        times = self._t_ns[: self._size]
        start = self._old
        ready = int(np.searchsorted(times, self.last_ns - int(FINE_S * 1e9))) - start
        if ready < AT_ONCE:
            return
        step_s = float(np.median(np.diff(times[start : start + ready]))) / 1e9
        each = int(STRETCH_S / step_s) if step_s > 0.0 else 0
        if each < 4:  # a slow channel is as short as it can be
            self._old = start + ready
            return
        end = start + ready - ready % each
        chosen = start + ends_of_rows(self._value[start:end].reshape(-1, each))
        self._old = start + chosen.size
        size = self._old + self._size - end
        for kept in (self._t_ns, self._value):
            kept[start:size] = np.concatenate((kept[chosen], kept[end : self._size]))
        self._size = size

    def between(self, after_ns: int, to_ns: int | None = None) -> Points:
        """Return samples later than `after_ns` and up to `to_ns`."""
        times = self._t_ns[: self._size]
        start = int(np.searchsorted(times, after_ns, side="right"))
        end = self._size if to_ns is None else int(np.searchsorted(times, to_ns, side="right"))
        return Points(times[start:end] / 1e9, self._value[start:end].copy())

    def at(self, t_s: float) -> float | None:
        """Return the value at a time, between the samples beside it; None outside."""
        times = self._t_ns[: self._size]
        if not self._size or not times[0] <= t_s * 1e9 <= times[-1]:
            return None
        place = int(np.searchsorted(times, t_s * 1e9))
        value = float(self._value[min(place, self._size - 1)])
        return value if np.isfinite(value) else None

    def before(self, t_s: float) -> float | None:
        """Return the last value at or before a time; None without one."""
        end = int(np.searchsorted(self._t_ns[: self._size], t_s * 1e9, side="right"))
        found = np.flatnonzero(np.isfinite(self._value[:end]))
        return float(self._value[found[-1]]) if found.size else None


class Feed:
    """The run under way, as far as its file holds it.

    Parameters
    ----------
    open_run : callable
        ``open_run(run_id)`` gives a read-only view of a run file.
    """

    def __init__(self, open_run: Callable[[str], Any]) -> None:
        self._open_run = open_run
        self._lock = threading.Lock()
        self._run_id: str | None = None
        self._view: Any = None
        self._kept: dict[str, Kept] = {}
        self._correctors: dict[str, Any] = {}
        self._events: list[Any] = []

    def follow(self, run_id: str, channels: list[str]) -> dict[str, Kept]:
        """Read what is new of some channels and return all that is known of them."""
        with self._lock:
            self._attend(run_id)
            with self._view.together():
                for channel in channels:
                    self._read(channel)
            return {channel: self._kept[channel] for channel in channels}

    def events(self, run_id: str) -> list[Any]:
        """Return the run's events so far, in order of their number."""
        with self._lock:
            self._attend(run_id)
            after = self._events[-1].seq if self._events else 0
            self._events.extend(self._view.events(after))
            return list(self._events)

    def _attend(self, run_id: str) -> None:
        if run_id == self._run_id:
            return
        if self._view is not None:
            self._view.close()
        self._run_id, self._view = None, None
        self._kept, self._correctors, self._events = {}, {}, []
        self._view = self._open_run(run_id)
        self._run_id = run_id

    def _read(self, channel: str) -> None:
        kept = self._kept.setdefault(channel, Kept())
        if channel not in self._correctors:
            self._correctors[channel] = corrector_of(self._view, channel)
        trace = corrected(
            self._view, channel, kept.last_ns + 1, None, corrector=self._correctors[channel]
        )
        drawn = (trace.flags & NOT_DRAWN) == 0
        kept.add(trace.t_ns[drawn], trace.value[drawn])


def _twice(kept: NDArray[Any], size: int) -> NDArray[Any]:
    """Return an array with twice the room; what is not used yet takes no memory."""
    wider = np.empty(2 * kept.size, dtype=kept.dtype)
    wider[:size] = kept[:size]
    return wider


def ends_of_rows(rows: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the places, in all rows put together, of the lowest and highest of each row, in order.

    Two of each row; of one with nans the first of those is the lowest, of one value both its ends.
    """
    each = rows.shape[1]
    shown = np.where(np.isfinite(rows), rows, -np.inf)
    ends = np.sort(np.column_stack((shown.argmin(axis=1), shown.argmax(axis=1))), axis=1)
    ends[ends[:, 0] == ends[:, 1]] = 0, each - 1
    places: NDArray[np.intp] = (np.arange(len(rows))[:, None] * each + ends).ravel()
    return places


def breaks(points: Points) -> NDArray[np.intp]:
    """Return how many breaks of the line lie at or before each sample.

    A break is a sample without value or a step of time that is too long.
    """
    if points.t_s.size == 0:
        return np.empty(0, dtype=np.intp)
    steps = np.diff(points.t_s, prepend=points.t_s[0])
    usual = float(np.median(steps[1:])) if steps.size > 1 else 0.0
    broken = ~np.isfinite(points.value) | (steps > max(GAP_S, 5.0 * usual))
    return np.cumsum(broken)


def thinned(points: Points, most: int) -> Points:
    """Return at most about `most` samples that keep the trace's look; gaps stay gaps.

    The largest and smallest values stay in; where the line breaks a nan stands between.
    """
    number = breaks(points)
    real = np.isfinite(points.value)
    t_s, value, number = points.t_s[real], points.value[real], number[real]
    if t_s.size > most >= 4:
        chosen = MinMaxLTTBDownsampler().downsample(t_s, value, n_out=most).astype(np.intp)
        t_s, value, number = t_s[chosen], value[chosen], number[chosen]
    if t_s.size == 0:
        return EMPTY
    cut = np.flatnonzero(np.diff(number)) + 1
    middle = (t_s[cut - 1] + t_s[cut]) / 2.0
    return Points(np.insert(t_s, cut, middle), np.insert(value, cut, np.nan))


def few(points: Points, most: int = 4) -> Points:
    """Return the lowest and highest of each of a few parts of a short piece, in time order."""
    size = points.t_s.size
    if size <= most:
        return points
    places: set[int] = {size - 1}
    for part in np.array_split(np.arange(size), max(1, most // 2)):
        values = points.value[part]
        if np.isfinite(values).all():
            places |= {int(part[np.argmin(values)]), int(part[np.argmax(values)])}
        else:
            places |= {int(part[0]), int(part[np.argmin(np.isfinite(values))])}
    chosen = sorted(places)
    return Points(points.t_s[chosen], points.value[chosen])
