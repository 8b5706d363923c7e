"""Readings and events of the run under way, kept in memory for all open pages.

Reads the run file in short steps through the view that `open_run` gives, never writes. Each channel
has its own cursor because each instrument commits at its own pace. Takes no time from a clock.
"""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dashboard.points import Points, ends_of_rows
from logger.model.event import Event
from logger.model.history import corrected
from logger.model.rows import TareRow
from logger.review.trace import LiveTraces
from logger.store.run.view import RunView

FINE_S = 1800.0
"""The newest so many seconds are kept sample by sample [s]."""
STRETCH_S = 1.0
"""Of what is older the lowest and the highest of stretches of this length are kept [s]."""
AT_ONCE = 6000
"""So many samples are made fewer at once, at least."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kept:
    """What is drawn of one channel up to a moment; never changes, so that any thread may read it.

    Attributes
    ----------
    t_ns : ndarray of int, shape (n,)
        Times [ns], in order.
    value : ndarray, shape (n,)
        Values [unit of the channel]; nan where there is none.
    """

    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]

    @property
    def last_ns(self) -> int:
        """Time of the newest sample [ns], -1 before the first."""
        return int(self.t_ns[-1]) if self.t_ns.size else -1

    def between(self, after_ns: int, to_ns: int | None = None) -> Points:
        """Return samples later than `after_ns` and up to `to_ns` [ns]."""
        times = self.t_ns
        start = int(np.searchsorted(times, after_ns, side="right"))
        end = times.size if to_ns is None else int(np.searchsorted(times, to_ns, side="right"))
        return Points(times[start:end] / 1e9, self.value[start:end].copy())

    def at(self, t_s: float) -> float | None:
        """Return the value at a time [s], that of the next sample; None outside."""
        times = self.t_ns
        if not times.size or not times[0] <= t_s * 1e9 <= times[-1]:
            return None
        place = int(np.searchsorted(times, t_s * 1e9))
        value = float(self.value[min(place, times.size - 1)])
        return value if np.isfinite(value) else None

    def before(self, t_s: float) -> float | None:
        """Return the last value at or before a time [s]; None without one."""
        end = int(np.searchsorted(self.t_ns, t_s * 1e9, side="right"))
        found = np.flatnonzero(np.isfinite(self.value[:end]))
        return float(self.value[found[-1]]) if found.size else None


class Growing:
    """One channel as it is read: all that is new, the ends of what is old.

    A day of fast probes would fill a small machine's memory; the run file has every sample. What
    was handed out is never written again: new samples go behind it, and fewer samples of what is
    old go into arrays of their own. One thread at a time adds.
    """

    def __init__(self) -> None:
        self._old = 0
        self._t_ns = np.empty(1024, dtype=np.int64)
        self._value = np.empty(1024)
        self._size = 0
        self.kept = Kept(t_ns=self._t_ns[:0], value=self._value[:0])
        """What there is now; another one after each `add`."""

    def add(self, t_ns: NDArray[np.int64], value: NDArray[np.float64]) -> None:
        """Append samples in time order.

        Parameters
        ----------
        t_ns : ndarray of int, shape (n,)
            Times [ns].
        value : ndarray, shape (n,)
            Values [unit of the channel]; nan where there is none.
        """
        while self._size + t_ns.size > self._t_ns.size:
            self._t_ns, self._value = (_twice(a, self._size) for a in (self._t_ns, self._value))
        self._t_ns[self._size : self._size + t_ns.size] = t_ns
        self._value[self._size : self._size + t_ns.size] = value
        self._size += t_ns.size
        self._condense()
        self.kept = Kept(t_ns=self._t_ns[: self._size], value=self._value[: self._size])

    def _condense(self) -> None:
        """Keep the lowest and highest of each stretch of what has become old."""
        times, start = self._t_ns[: self._size], self._old
        if not times.size:
            return
        ready = int(np.searchsorted(times, int(times[-1]) - int(FINE_S * 1e9))) - start
        if ready < AT_ONCE:
            return
        step_s = float(np.median(np.diff(times[start : start + ready]))) / 1e9
        each = int(STRETCH_S / step_s) if step_s > 0.0 else 0
        if each < 4:  # a slow channel is as short as it can be
            self._old = start + ready
            return
        end = start + ready - ready % each
        chosen = start + ends_of_rows(self._value[start:end].reshape(-1, each))
        stays = np.concatenate((np.arange(start), chosen, np.arange(end, self._size)))
        self._old, self._size = start + chosen.size, stays.size
        self._t_ns, self._value = (_roomy(a[stays], a.size) for a in (self._t_ns, self._value))


class Feed:
    """The run under way, as far as its file holds it.

    Parameters
    ----------
    open_run : callable
        ``open_run(run_id)`` gives a read-only view of a run file.
    """

    def __init__(self, open_run: Callable[[str], RunView]) -> None:
        self._open_run = open_run
        self._lock = threading.Lock()
        self._run: tuple[str, RunView, LiveTraces] | None = None
        self._growing: dict[str, Growing] = {}
        self._tares: list[TareRow] = []
        self._events: list[Event] = []
        self._standing: list[Event] = []

    def follow(
        self, run_id: str, channels: list[str], tares: Sequence[TareRow] = ()
    ) -> dict[str, Kept]:
        """Read what is new of some channels and return all that is known of them.

        Parameters
        ----------
        run_id : str
            Run under way.
        channels : list of str
            Channel ids.
        tares : sequence of TareRow
            Accepted so far; where they change, all is read again.
        """
        with self._lock:
            view, traces = self._attend(run_id)
            if list(tares) != self._tares:
                self._growing, self._tares = {}, list(tares)
            with view.together():
                for channel in channels:
                    growing = self._growing.setdefault(channel, Growing())
                    new = traces.of(channel, growing.kept.last_ns + 1, self._tares)
                    growing.add(new.t_ns, new.value)
            return {channel: self._growing[channel].kept for channel in channels}

    def events(self, run_id: str) -> list[Event]:
        """Return the run's events so far, in order of their number: without what was taken back,
        and with what was moved at its new time."""
        with self._lock:
            view, _ = self._attend(run_id)
            after = self._events[-1].seq if self._events else 0
            new = view.events(after)
            if new:
                self._events.extend(new)
                self._standing = corrected(self._events)
            return list(self._standing)

    def _attend(self, run_id: str) -> tuple[RunView, LiveTraces]:
        if self._run is not None and self._run[0] == run_id:
            return self._run[1:]
        if self._run is not None:
            self._run[1].close()
        self._run, self._growing, self._events, self._standing = None, {}, [], []
        view = self._open_run(run_id)
        self._run = run_id, view, LiveTraces(view)
        return self._run[1:]


def _twice(kept: NDArray[Any], size: int) -> NDArray[Any]:
    """Return an array with twice the room; what is not used yet takes no memory."""
    return _roomy(kept[:size], 2 * kept.size)


def _roomy(kept: NDArray[Any], room: int) -> NDArray[Any]:
    """Return an array that begins with another and has room for more behind it."""
    wider = np.empty(room, dtype=kept.dtype)
    wider[: kept.size] = kept
    return wider
