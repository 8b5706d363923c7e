"""Cuts the readings of a bath scale into plateaus and the edges between them.

Takes one reading at a time and keeps scalars and short lists only, so that the result does not
depend on how the stream was cut and hours cost little. Knows nothing of pieces.
"""

from collections import deque
from dataclasses import dataclass, field

from logger.watch.stages.set.immersion.edges import Edge, Sample, edge_of

TAIL_S = 6.0  # level at the end of a plateau is taken over this long
DRIPS_S = 3.0  # after an edge drips and slosh need about this long
SETTLED_TO_S = 11.0
SEEK_LIMIT = 4000  # samples kept while nothing settles


@dataclass(slots=True, kw_only=True)
class Plateau:
    """A stretch of steady level.

    Attributes
    ----------
    t0_s, t1_s : float
        First and last reading in it [s].
    early_g : float
        Level right after the edge [g].
    in_g, out_g : float
        Level once drips are over, and just before the next edge [g].
    u_in_g, u_out_g : float
        Standard uncertainty of these, noise and steps of the scale [g].
    since_edge_s : float
        Age of `in_g` at its youngest reading, counted from the edge [s].
    edge_s : float
        When the level went through the middle of the edge before it [s].
    edge_from_s, edge_to_s : float
        Readings on both sides of that moment [s]; far apart when a gap hides it.
    rise_s : float
        How long the edge took, from a tenth to nine tenths, worked out from its middle half [s].
    span_s : float
        From the last steady reading before to the first one after [s].
    hidden : bool
        The edge lies in a gap: only `edge_from_s` and `edge_to_s` are known.
    tared : bool
        The scale was tared on the way here.
    """

    t0_s: float
    t1_s: float
    early_g: float
    in_g: float
    out_g: float
    u_in_g: float
    u_out_g: float
    since_edge_s: float = 1e9
    edge_s: float = 0.0
    edge_from_s: float = 0.0
    edge_to_s: float = 0.0
    rise_s: float = 0.0
    span_s: float = 0.0
    hidden: bool = False
    tared: bool = False


@dataclass(slots=True)
class _Open:
    """The plateau under way."""

    t0_s: float
    t1_s: float
    early_g: float
    level_g: float
    edge: Edge
    tail: deque[Sample] = field(default_factory=deque)
    settled: list[float] = field(default_factory=list)
    settled_to_s: float = 0.0
    tared: bool = False


class PlateauFinder:
    """Feeds on readings; `finished` grows, `now` looks at the plateau under way.

    Parameters
    ----------
    min_step_g : float
        Smaller changes of level are no edges [g].
    """

    def __init__(self, min_step_g: float = 6.0) -> None:
        self.min_step_g = min_step_g
        self.finished: list[Plateau] = []
        self.noise_g = 0.3
        self.step_g = 0.1
        self.period_s = 0.1
        self._open: _Open | None = None
        self._quiet = False
        self._seek: list[Sample] = []
        self._last: Sample | None = None
        self._smallest_change_g = 1e9
        self._tare_s: float | None = None
        self._none_seen = False

    def feed(self, t_s: float, mass_g: float | None) -> None:
        """Take one reading; None is one without a value. Times that do not rise are ignored."""
        if mass_g is None:
            self._none_seen = True
            return
        last = self._last
        if last is None:
            self._last = (t_s, mass_g)
            self._seek.append(self._last)
            return
        elapsed = t_s - last[0]
        if elapsed <= 0:
            return
        gap = self._none_seen or elapsed > max(1.5, 4 * self.period_s)
        self._none_seen = False
        if not gap:
            self.period_s += 0.02 * (elapsed - self.period_s)
        self._last = (t_s, mass_g)
        if self._quiet and self._open is not None and not gap:
            held = self._open
            off = mass_g - held.level_g
            if -self._band_g <= off <= self._band_g:
                self._learn_noise(abs(mass_g - last[1]))
                self._accept(held, t_s, mass_g, off, elapsed)
                return
        if self._quiet:
            self._quiet = False
            self._seek = list(self._open.tail)[-4:] if self._open is not None else []
        self._seek.append((t_s, mass_g))
        if len(self._seek) > SEEK_LIMIT:
            del self._seek[: SEEK_LIMIT // 2]
        self._settle()

    def tare(self, t_s: float) -> None:
        """The scale was tared about now: the next change of level says nothing."""
        self._tare_s = t_s

    @property
    def now(self) -> Plateau | None:
        """The plateau under way as far as it is known, or None."""
        return None if self._open is None else self._close(self._open)

    @property
    def moving(self) -> bool:
        """Whether the level is between plateaus."""
        return not self._quiet

    @property
    def _band_g(self) -> float:
        return max(1.6, 5.0 * self.noise_g, 2.2 * self.step_g)

    def _learn_noise(self, change_g: float) -> None:
        if 1e-6 < change_g < self._smallest_change_g:
            self._smallest_change_g = change_g
            self.step_g = min(2.0, max(0.01, change_g))
        capped = min(change_g, 4 * self.noise_g + self.step_g)
        share = min(0.1, self.period_s / 8.0)
        self.noise_g += share * (capped / 1.128 - self.noise_g)
        self.noise_g = max(self.noise_g, 0.05, 0.25 * self.step_g)

    def _accept(self, held: _Open, t_s: float, mass_g: float, off: float, elapsed: float) -> None:
        held.level_g += off * min(0.5, elapsed / 1.5)
        held.t1_s = t_s
        tail = held.tail
        tail.append((t_s, mass_g))
        while t_s - tail[0][0] > TAIL_S:
            tail.popleft()
        age = t_s - held.edge.to_s
        if DRIPS_S <= age <= SETTLED_TO_S:
            held.settled.append(mass_g)
            held.settled_to_s = age

    def _settle(self) -> None:
        """See whether the youngest readings lie level; open or take up a plateau if so."""
        seek = self._seek
        newest = seek[-1]
        allowed = max(2.4, 5.0 * self.noise_g, 1.5 * self.step_g)
        low = high = newest[1]
        start = len(seek) - 1
        while start > 0:
            value = seek[start - 1][1]
            if max(high, value) - min(low, value) > allowed:
                break
            if seek[start][0] - seek[start - 1][0] > max(1.5, 4 * self.period_s):
                break
            low, high = min(low, value), max(high, value)
            start -= 1
            if newest[0] - seek[start][0] >= 1.0:
                break
        count = len(seek) - start
        lasts = newest[0] - seek[start][0]
        if count < 3 or lasts < min(0.45, 8 * self.period_s) or lasts < 1.9 * self.period_s:
            return
        window = seek[start:]
        level = sum(value for _, value in window) / count
        held = self._open
        if held is not None:
            before, _ = _level(held.tail, self.noise_g, self.step_g)
            if abs(level - before) < max(self.min_step_g, 6 * self.noise_g):
                self._resume(held, window, level)
                return
        self._begin(window, level)

    def _resume(self, held: _Open, window: list[Sample], level_g: float) -> None:
        held.level_g = level_g
        for t_s, mass_g in window:
            if t_s > held.t1_s:
                self._accept(held, t_s, mass_g, mass_g - level_g, 0.0)
        self._quiet = True
        self._seek = []

    def _begin(self, window: list[Sample], level_g: float) -> None:
        first = window[0][0]
        if self._open is None:
            edge = Edge(first, first, first, 0.0, 0.0, False)
            tared = False
        else:
            closed = self._close(self._open)
            self.finished.append(closed)
            edge = edge_of(
                self._seek,
                closed.out_g,
                level_g,
                gap_s=max(1.5, 4 * self.period_s),
                span_s=first - closed.t1_s,
            )
            tared = self._pending_tare(window[-1][0])
        self._tare_s = None if tared else self._tare_s
        self._open = _Open(first, window[-1][0], level_g, level_g, edge, tared=tared)
        for t_s, mass_g in window:
            self._accept(self._open, t_s, mass_g, 0.0, 0.0)
        self._quiet = True
        self._seek = []

    def _pending_tare(self, t_s: float) -> bool:
        return self._tare_s is not None and -2.0 <= t_s - self._tare_s <= 6.0

    def _close(self, held: _Open) -> Plateau:
        out_g, u_out = _level(held.tail, self.noise_g, self.step_g)
        if len(held.settled) >= 3:
            settled = deque((0.0, value) for value in held.settled)
            in_g, u_in = _level(settled, self.noise_g, self.step_g)
            age = 1e9
        else:
            in_g, u_in = _level(held.tail, self.noise_g, self.step_g, youngest=1.2)
            age = held.t1_s - held.edge.to_s
        return Plateau(
            t0_s=held.t0_s,
            t1_s=held.t1_s,
            early_g=held.early_g,
            in_g=in_g,
            out_g=out_g,
            u_in_g=u_in,
            u_out_g=u_out,
            since_edge_s=age,
            edge_s=held.edge.at_s,
            edge_from_s=held.edge.from_s,
            edge_to_s=held.edge.to_s,
            rise_s=held.edge.rise_s,
            span_s=held.edge.span_s,
            hidden=held.edge.hidden,
            tared=held.tared,
        )


def _level(
    samples: deque[Sample], noise_g: float, step_g: float, *, youngest: float = 1e9
) -> tuple[float, float]:
    """Level of some readings and its standard uncertainty [g]: short touches don't count."""
    newest = samples[-1][0]
    values = sorted(value for t_s, value in samples if newest - t_s <= youngest)
    middle = values[len(values) // 2]
    reach = 2.5 * noise_g + step_g
    near = [value for value in values if abs(value - middle) <= reach]
    # Noise of a filtered scale is alike from reading to reading: count a third of them. Steps much
    # larger than the noise do not average out.
    from_noise = noise_g / max(1.0, len(near) / 3) ** 0.5
    from_steps = step_g / 12**0.5 * (1.0 if noise_g < 0.4 * step_g else 0.4)
    return sum(near) / len(near), (from_noise**2 + from_steps**2) ** 0.5
