"""What of a long trace is drawn for a window: every reading, or the lowest and highest of each bin.

Takes the view of a run file, reads as little as the window needs, and says whether what it returns
is every reading. Values are corrected the same way as live.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dashboard.points import Points, breaks, thinned
from logger.model.rows import TareRow
from logger.review.trace import corrected, corrector_of, tares_of
from logger.store.run.records import Envelope
from logger.store.run.view import RunView

EXACT = 3000
"""So many readings of a channel are drawn one by one, at most."""
BINS = 700
"""Bins of a window with more, at most: each is drawn by its lowest and its highest."""
BUDGET = 4_500
"""A browser without a graphics card draws about so many points of all lines in a tenth of a
second: many channels have fewer each."""
PAD = 0.02
"""Share of the window read on both sides, so that lines reach over the edges."""


class Drawn(NamedTuple):
    """A piece of trace and whether it holds every reading of the window."""

    points: Points
    exact: bool


def window(
    view: RunView,
    channel: str,
    from_s: float | None,
    to_s: float | None,
    tares: Sequence[TareRow] | None = None,
) -> Drawn:
    """Return what to draw of a channel between two run times.

    Parameters
    ----------
    view : RunView
        The run file.
    channel : str
        Channel id.
    from_s, to_s : float or None
        Window [s]; None is open.
    tares : sequence of TareRow or None
        Those of the run, for who asks for many channels; None looks them up.
    """
    tares = tares_of(view) if tares is None else tares
    pad_s = PAD * (to_s - from_s) + 1.0 if from_s is not None and to_s is not None else 0.0
    low_ns = None if from_s is None else int((from_s - pad_s) * 1e9)
    high_ns = None if to_s is None else int((to_s + pad_s) * 1e9)
    exact, bins = room_for(len(view.channels()))
    envelope = view.overview(channel, low_ns, high_ns, bins)
    if int(envelope.n.sum()) <= exact:
        trace = corrected(view, channel, low_ns, high_ns, tares=tares)
        return Drawn(thinned(Points(trace.t_ns / 1e9, trace.value), exact + 2), True)
    tared = any(row.channel == channel for row in tares)
    if tared or view.header.unit_of(channel) == "uV":  # no bin can be corrected by its ends
        trace = corrected(view, channel, low_ns, high_ns, tares=tares)
        return Drawn(thinned(Points(trace.t_ns / 1e9, trace.value), 2 * bins), False)
    return Drawn(_zigzag(view, channel, envelope), False)


def beside(view: RunView, channel: str, from_s: float | None, to_s: float | None) -> Drawn:
    """Return what to draw of what is kept beside a channel's readings, without its probe's lag.

    Parameters
    ----------
    view : RunView
        The run file.
    channel : str
        A channel of which a trace without lag is kept.
    from_s, to_s : float or None
        Window [s]; None is open.
    """
    t_s, value = view.readings(channel).t_ns / 1e9, view.without_lag(channel)
    if value is None:
        return Drawn(Points(t_s[:0], t_s[:0]), True)
    low, high = np.searchsorted(t_s, (from_s or 0.0, t_s[-1] if to_s is None else to_s))
    points = Points(t_s[max(low - 1, 0) : high + 1], value[max(low - 1, 0) : high + 1])
    exact = points.t_s.size <= EXACT
    return Drawn(thinned(points, EXACT + 2 if exact else 2 * BINS), exact)


def room_for(channels: int) -> tuple[int, int]:
    """Return how many readings of each of so many channels are drawn one by one, and how many bins
    are drawn where there are more."""
    share = BUDGET // max(channels, 1)
    return max(180, min(share, EXACT)), max(90, min(share // 2, BINS))


def _zigzag(view: RunView, channel: str, envelope: Envelope) -> Points:
    """Return lowest and highest of each bin, corrected; a bin without value is a break.

    Where the trace falls the highest comes first, so that a slope is drawn without teeth.
    """
    corrector, unit = corrector_of(view, channel), view.header.unit_of(channel)
    ends = [corrector.values(part, None, unit)[0] for part in (envelope.low, envelope.high)]
    t_s = envelope.t_ns / 1e9
    width = np.diff(t_s, append=t_s[-1] if t_s.size else [])
    pairs = np.column_stack(ends)
    falls = np.gradient(envelope.mean) < 0.0 if len(t_s) > 1 else np.zeros(len(t_s), bool)
    pairs[falls] = pairs[falls, ::-1]
    value = pairs.ravel()
    both = Points(np.column_stack([t_s, t_s + 0.5 * _usual(width)]).ravel(), value)
    number = breaks(Points(t_s, ends[0]))
    cut = np.flatnonzero(np.diff(np.repeat(number, 2))) + 1
    return Points(np.insert(both.t_s, cut, both.t_s[cut]), np.insert(both.value, cut, np.nan))


def _usual(width: NDArray[np.float64]) -> float:
    return float(np.median(width)) if width.size else 0.0
