"""Segments the readings of a bath scale into steady levels with edges between them.

Online change-point detection. Takes one reading at a time and keeps scalars and short lists only,
so that the result does not depend on how the stream was cut and hours cost little. Knows nothing of
pieces. Fed by `detector`.
"""

import math
from collections import deque
from dataclasses import dataclass, field

from logger.watch.stages.set.immersion.edges import Edge, Sample, edge_between
from logger.watch.stages.set.segment import ANY_AGE_S, HIDING_S, Segment, Swing

TAIL_S = 6.0
"""The level at the end of a segment is taken over this long [s]."""
DRIPS_S = 3.0
"""After an edge, dripping and sloshing take about this long [s]."""
SETTLED_TO_S = 11.0
"""The level at the start of a segment is taken from `DRIPS_S` to here, from the edge on [s]."""
SEEK_LIMIT = 4000
"""Samples kept while nothing settles."""
SHORTEST_GAP_S = 1.5
"""Readings are never called a gap for lying closer than this [s]."""
NOISE_TO_MEAN_DIFFERENCE = 1.128
"""Mean absolute difference of two readings of a normal distribution over its standard deviation:
2 / sqrt(pi)."""
HIDDEN_G, HIDDEN_U, HIDDEN_G_S = 0.6, 5.0, 0.005
"""A change of level across it that counts: at least, as a multiple of its uncertainty, and what may
evaporate meanwhile [g], [1], [g/s]."""
TARE_EARLY_S, TARE_LATE_S = 2.0, 6.0
"""A tare belongs to a new level from so long before it was announced to so long after [s]."""
SWING_NEAR_S = 8.0
"""A swing of the level is kept so long before the next edge, and after the one before [s]."""


@dataclass(slots=True)
class _Open:
    """The segment under way."""

    start_s: float
    end_s: float
    initial_g: float
    level_g: float
    edge: Edge
    tail: deque[Sample] = field(default_factory=deque)
    settled_g: list[float] = field(default_factory=list)
    silent_s: float = 0.0
    tared: bool = False
    swings: list[Swing] = field(default_factory=list)


class Segmenter:
    """Takes readings; `finished` grows, `current` is the segment under way.

    Parameters
    ----------
    min_step_g : float
        Smaller changes of level are no edges [g].

    Attributes
    ----------
    noise_g : float
        Standard deviation of the readings, learned as they come [g].
    step_g : float
        Display step of the scale, learned as they come [g].
    period_s : float
        Mean time from reading to reading [s].
    """

    def __init__(self, min_step_g: float = 6.0) -> None:
        self.min_step_g = min_step_g
        self.finished: list[Segment] = []
        self.noise_g = 0.3
        self.step_g = 0.1
        self.period_s = 0.1
        self._open: _Open | None = None
        self._steady = False
        self._seek: list[Sample] = []
        """Readings since the level was last steady."""
        self._last: Sample | None = None
        self._smallest_change_g = 1e9
        self._tare_s: float | None = None
        self._none_seen = False
        self._silence_s = 0.0
        """Longest silence since the level was last steady [s]."""

    def feed(self, t_s: float, mass_g: float | None) -> None:
        """Take one reading [s, g]; None is one without a value. Ignore times that do not rise."""
        if mass_g is None:
            self._none_seen = True
            return
        last = self._last
        if last is None:
            self._last = (t_s, mass_g)
            self._seek.append(self._last)
            return
        elapsed_s = t_s - last[0]
        if elapsed_s <= 0:
            return
        gap = self._none_seen or elapsed_s > self._gap_s
        self._none_seen = False
        if gap:
            self._silence_s = max(self._silence_s, elapsed_s)
        else:
            self.period_s += 0.02 * (elapsed_s - self.period_s)
        self._last = (t_s, mass_g)
        if self._steady and self._open is not None and not gap:
            off_g = mass_g - self._open.level_g
            if -self._band_g <= off_g <= self._band_g:
                self._learn_noise(abs(mass_g - last[1]))
                self._accept(self._open, t_s, mass_g, off_g, elapsed_s)
                return
        if self._steady:
            self._steady = False
            self._seek = list(self._open.tail)[-4:] if self._open is not None else []
        self._seek.append((t_s, mass_g))
        if len(self._seek) > SEEK_LIMIT:
            del self._seek[: SEEK_LIMIT // 2]
        self._settle()

    def tare(self, t_s: float) -> None:
        """Take a tare announced about now [s]: the next change of level is no mass."""
        self._tare_s = t_s

    @property
    def current(self) -> Segment | None:
        """The segment under way as far as it is known, or None."""
        return None if self._open is None else self._closed(self._open)

    @property
    def levels(self) -> list[Segment]:
        """All segments, the one under way as the last."""
        current = self.current
        return [*self.finished, *([] if current is None else [current])]

    @property
    def moving(self) -> bool:
        """Whether the level is between two segments."""
        return not self._steady

    @property
    def _gap_s(self) -> float:
        return max(SHORTEST_GAP_S, 4 * self.period_s)

    @property
    def _band_g(self) -> float:
        """How far a reading may be from the level of its segment [g]."""
        return max(1.6, 5.0 * self.noise_g, 2.2 * self.step_g)

    def _learn_noise(self, change_g: float) -> None:
        """Follow noise and display step by the change from one steady reading to the next [g]."""
        if 1e-6 < change_g < self._smallest_change_g:
            self._smallest_change_g = change_g
            self.step_g = min(2.0, max(0.01, change_g))
        capped_g = min(change_g, 4 * self.noise_g + self.step_g)
        share = min(0.1, self.period_s / 8.0)
        self.noise_g += share * (capped_g / NOISE_TO_MEAN_DIFFERENCE - self.noise_g)
        self.noise_g = max(self.noise_g, 0.05, 0.25 * self.step_g)

    def _accept(
        self, segment: _Open, t_s: float, mass_g: float, off_g: float, elapsed_s: float
    ) -> None:
        """Add a reading to the segment under way; its level follows slowly."""
        segment.level_g += off_g * min(0.5, elapsed_s / 1.5)
        segment.end_s = t_s
        tail = segment.tail
        tail.append((t_s, mass_g))
        while t_s - tail[0][0] > TAIL_S:
            tail.popleft()
        age_s = t_s - segment.edge.to_s
        if DRIPS_S <= age_s <= SETTLED_TO_S:
            segment.settled_g.append(mass_g)

    def _settle(self) -> None:
        """Test whether the youngest readings are level; begin or resume a segment if so."""
        window = self._level_window()
        if window is None:
            return
        level_g = sum(value for _, value in window) / len(window)
        segment = self._open
        if segment is not None:
            before_g, u_g = _level(segment.tail, self.noise_g, self.step_g)
            change_g = abs(level_g - before_g)
            small = change_g < max(self.min_step_g, 6 * self.noise_g)
            if small and not self._hidden(change_g, u_g, len(window)):
                self._resume(segment, window, level_g)
                return
        self._begin(window, level_g)

    def _hidden(self, change_g: float, u_g: float, readings: int) -> bool:
        """Return whether a small change may be two larger ones that a silence hides.

        Parameters
        ----------
        change_g : float
            Between the levels before and after [g].
        u_g : float
            Standard uncertainty of the one before [g].
        readings : int
            Behind the one after [1].
        """
        if self._silence_s < HIDING_S:
            return False
        u_after_g = self.noise_g / max(1.0, readings / 3) ** 0.5 + self.step_g / 12**0.5
        u_change_g = math.hypot(u_g, u_after_g)
        return change_g > HIDDEN_G_S * self._silence_s + max(HIDDEN_G, HIDDEN_U * u_change_g)

    def _level_window(self) -> list[Sample] | None:
        """Return the youngest readings that are level, or None where they are too few."""
        seek = self._seek
        newest = seek[-1]
        allowed_g = max(2.4, 5.0 * self.noise_g, 1.5 * self.step_g)
        low = high = newest[1]
        start = len(seek) - 1
        while start > 0:
            value = seek[start - 1][1]
            if max(high, value) - min(low, value) > allowed_g:
                break
            if seek[start][0] - seek[start - 1][0] > self._gap_s:
                break
            low, high = min(low, value), max(high, value)
            start -= 1
            if newest[0] - seek[start][0] >= 1.0:
                break
        lasts_s = newest[0] - seek[start][0]
        too_short = lasts_s < min(0.45, 8 * self.period_s) or lasts_s < 1.9 * self.period_s
        return None if len(seek) - start < 3 or too_short else seek[start:]

    def _resume(self, segment: _Open, window: list[Sample], level_g: float) -> None:
        swing = _swing(self._seek, level_g, self._gap_s)
        if swing is not None and abs(swing.by_g) >= self.min_step_g:
            segment.swings.append(swing)
        segment.level_g = level_g
        for t_s, mass_g in window:
            if t_s > segment.end_s:
                self._accept(segment, t_s, mass_g, mass_g - level_g, 0.0)
        self._settled()

    def _begin(self, window: list[Sample], level_g: float) -> None:
        first_s = window[0][0]
        if self._open is None:
            edge = Edge(first_s, first_s, first_s, 0.0, 0.0, False, first_s, first_s)
            tared = False
        else:
            closed = self._closed(self._open)
            self.finished.append(closed)
            edge = edge_between(
                self._seek,
                closed.end_g,
                level_g,
                gap_s=self._gap_s,
                span_s=first_s - closed.end_s,
            )
            tared = self._tare_is_due(window[-1][0])
        self._tare_s = None if tared else self._tare_s
        self._open = _Open(
            first_s,
            window[-1][0],
            level_g,
            level_g,
            edge,
            silent_s=0.0 if self._open is None else self._silence_s,
            tared=tared,
        )
        for t_s, mass_g in window:
            self._accept(self._open, t_s, mass_g, 0.0, 0.0)
        self._settled()

    def _settled(self) -> None:
        self._steady = True
        self._seek = []
        self._silence_s = 0.0

    def _tare_is_due(self, t_s: float) -> bool:
        return self._tare_s is not None and -TARE_EARLY_S <= t_s - self._tare_s <= TARE_LATE_S

    def _closed(self, segment: _Open) -> Segment:
        """Return a segment as it would be if it ended now."""
        end_g, u_end_g = _level(segment.tail, self.noise_g, self.step_g)
        if len(segment.settled_g) >= 3:
            settled = deque((0.0, value) for value in segment.settled_g)
            start_g, u_start_g = _level(settled, self.noise_g, self.step_g)
            age_s = ANY_AGE_S
        else:
            start_g, u_start_g = _level(segment.tail, self.noise_g, self.step_g, youngest_s=1.2)
            age_s = segment.end_s - segment.edge.to_s
        return Segment(
            start_s=segment.start_s,
            end_s=segment.end_s,
            initial_g=segment.initial_g,
            start_g=start_g,
            end_g=end_g,
            u_start_g=u_start_g,
            u_end_g=u_end_g,
            level_age_s=age_s,
            edge_s=segment.edge.at_s,
            edge_from_s=segment.edge.from_s,
            edge_to_s=segment.edge.to_s,
            early_s=segment.edge.early_s,
            late_s=segment.edge.late_s,
            rise_s=segment.edge.rise_s,
            span_s=segment.edge.span_s,
            in_gap=segment.edge.in_gap,
            silent_s=segment.silent_s,
            tared=segment.tared,
            swings=tuple(
                swing
                for swing in segment.swings
                if swing.from_s <= segment.start_s + SWING_NEAR_S
                or swing.to_s >= segment.end_s - SWING_NEAR_S
            ),
        )


def _swing(samples: list[Sample], level_g: float, gap_s: float) -> Swing | None:
    """Return how far readings went from a level [g] they came back to, and when.

    Where the scale was silent then, for longer than a gap [s], that may have lasted as long.
    """
    by_g = max((value - level_g for _, value in samples), key=abs, default=0.0)
    far = [n for n, (_, g) in enumerate(samples) if (g - level_g) * by_g >= 0.5 * by_g * by_g]
    if not by_g or not far:
        return None
    (from_s, _), (to_s, _) = samples[far[0]], samples[far[-1]]
    before_s, after_s = samples[max(0, far[0] - 1)][0], samples[far[-1] + 1 :][:1]
    if from_s - before_s > gap_s:
        from_s = before_s
    if after_s and after_s[0][0] - to_s > gap_s:
        to_s = after_s[0][0]
    return Swing(from_s, to_s, by_g)


def _level(
    samples: deque[Sample], noise_g: float, step_g: float, *, youngest_s: float = ANY_AGE_S
) -> tuple[float, float]:
    """Return the mean of the readings near their median and its standard uncertainty [g].

    Short touches do not count.
    """
    newest_s = samples[-1][0]
    values = sorted(value for t_s, value in samples if newest_s - t_s <= youngest_s)
    median_g = values[len(values) // 2]
    reach_g = 2.5 * noise_g + step_g
    near = [value for value in values if abs(value - median_g) <= reach_g]
    # A filtered scale repeats its noise from reading to reading: a third of them are independent.
    # Display steps much larger than the noise do not average out.
    from_noise_g = noise_g / max(1.0, len(near) / 3) ** 0.5
    from_step_g = step_g / 12**0.5 * (1.0 if noise_g < 0.4 * step_g else 0.4)
    return sum(near) / len(near), (from_noise_g**2 + from_step_g**2) ** 0.5
