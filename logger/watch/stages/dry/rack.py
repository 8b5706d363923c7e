"""The rack on a scale: what was laid on it, and the curve of its mass while it lies.

Pure; used by the watcher of drying. A load that goes on or comes off in one go ends a curve and may
begin another; slow losses make the curve. The longest curve is the drying.
"""

import math
from dataclasses import dataclass, field

from logger.batch.amounts import body_of, pieces_of
from logger.correct.channel import Corrector, difference_uncertainty
from logger.model.reading import Reading
from logger.watch.engine.contract import Context, seconds
from logger.watch.scale.loads import StabilityDetector
from logger.watch.scale.pieces import likely_mass_g

JUMP_G = 1.0
"""More than this between two rests within seconds is a load, not drying [g]."""
LEAST_G = 5.0
"""A lighter load is not dried [g]."""
LAID_NS = 30_000_000_000
"""Pieces laid one after the other within this time of each other belong together [ns]."""

UNLIKE_SHARE = 0.5
"""A load that differs this much from what the pieces should weigh, as a share, is not they."""


@dataclass(slots=True, kw_only=True)
class Curve:
    """Rests of one load, about one a second, above the level before it was laid."""

    base: Reading
    points: list[Reading] = field(default_factory=list)
    unsure: bool = False
    """Whether the rack may be part of the load."""

    @property
    def net_g(self) -> float:
        """What was laid there [g]."""
        return (self.points[0].value or 0.0) - (self.base.value or 0.0)

    @property
    def length_ns(self) -> int:
        """How long it has lain there [ns]."""
        return self.points[-1].t_ns - self.points[0].t_ns


class Rack:
    """Follows one scale with a rack on it.

    Parameters
    ----------
    context : Context
        Bench, correctors, and the pieces' masses where they are known.
    channel : str or None
        The scale.

    Attributes
    ----------
    heard : bool
        Whether the scale has given a value.
    """

    def __init__(self, context: Context, channel: str | None) -> None:
        step_g = next((c.resolution for c in context.bench.channel if c.id == channel), None)
        self.steady = StabilityDetector(step_g)
        self.heard = False
        self._corrector: Corrector | None = context.correctors.get(channel or "")
        self._wanted_g = _wanted_g(context)
        self._tared = False
        self._curve: Curve | None = None
        self._longest: Curve | None = None
        self._levels: list[Reading] = []
        """Levels at rest between loads, the last one first laid upon last."""
        self._rest: Reading | None = None
        self._laid_ns = 0

    def take(self, reading: Reading) -> None:
        """Take one reading of the scale."""
        self.heard = self.heard or reading.value is not None
        rest = self.steady.take(reading)
        if rest is None or rest.value is None:
            return
        before = self._rest
        self._rest = rest
        if before is None or before.value is None:
            self._levels = [rest]
        elif abs(rest.value - before.value) > JUMP_G:
            self._jump(before, rest)

    def tick(self, t_ns: int) -> None:
        """Take the last rest of the second into the curve."""
        rest, curve = self._rest, self._curve
        if rest is None or curve is None or rest.t_ns <= curve.points[-1].t_ns:
            return
        if t_ns - rest.t_ns <= 1_000_000_000:
            curve.points.append(rest)

    def gap(self) -> None:
        """Take a gap: rests before it do not count for the next."""
        self.steady.clear()

    def end(self) -> None:
        """Let the curve end with the stage."""
        if self._rest is not None:
            self.tick(self._rest.t_ns)

    def curve(self) -> tuple[list[float], list[float]] | None:
        """Return times since the pieces were laid [s] and net masses [g]; None before."""
        best = self._best()
        if best is None:
            return None
        first_s, base_g = seconds(best.points[0].t_ns), best.base.value or 0.0
        return (
            [seconds(p.t_ns) - first_s for p in best.points],
            [(p.value or 0.0) - base_g for p in best.points],
        )

    def ends(self) -> tuple[Reading, Reading, Reading] | None:
        """Return the level beneath, the first and the last rest of the load, or None."""
        best = self._best()
        return None if best is None else (best.base, best.points[0], best.points[-1])

    @property
    def unsure(self) -> bool:
        """Whether the rack may be part of the load: then a share of it is no loss of the pieces."""
        best = self._best()
        return best is not None and best.unsure

    def u_between(self, low: Reading, high: Reading) -> float:
        """Return the standard uncertainty of a difference of two rests [g]; NaN when unknown."""
        if low.value is None or high.value is None:
            return math.nan
        if self._corrector is None:
            return math.hypot(low.u, high.u)
        return difference_uncertainty(self._corrector, high.value, self._corrector, low.value)

    def _best(self) -> Curve | None:
        both = [c for c in (self._longest, self._curve) if c is not None and c.net_g >= LEAST_G]
        return max(both, key=lambda c: c.length_ns) if both else None

    def _jump(self, before: Reading, rest: Reading) -> None:
        """A load went on, came off, or was tared away."""
        rose = (rest.value or 0.0) > (before.value or 0.0)
        best, self._curve = self._best(), None
        self._longest = best
        if not rose:
            self._levels, self._tared = [rest], True
            return
        if rest.t_ns - self._laid_ns > LAID_NS:
            self._levels = [before]
        elif before not in self._levels:
            self._levels.append(before)
        self._laid_ns = rest.t_ns
        base = self._beneath(rest)
        net_g, wanted_g = (rest.value or 0.0) - (base.value or 0.0), self._wanted_g
        unsure = len(self._levels) > 1 and not self._tared
        if wanted_g is not None:
            unsure = abs(net_g - wanted_g) > UNLIKE_SHARE * wanted_g
        self._curve = Curve(base=base, points=[rest], unsure=unsure)

    def _beneath(self, rest: Reading) -> Reading:
        """Return the level on which the pieces were laid: that above which their known mass lies,
        or, where it is not known, the one before the first of them."""
        if self._wanted_g is None:
            return self._levels[0]
        wanted_g = self._wanted_g
        return min(
            self._levels,
            key=lambda level: abs((rest.value or 0.0) - (level.value or 0.0) - wanted_g),
        )


def _wanted_g(context: Context) -> float | None:
    """Return about what the pieces weigh together [g]: as weighed, or from shape and number."""
    known = [p.coated_mass_g for p in context.batch.pieces.values() if p.coated_mass_g is not None]
    count = pieces_of(context.sheet) or len(known)
    if known:
        return sum(known) / len(known) * count
    each_g = likely_mass_g(body_of(context.sheet))
    return each_g * count if each_g is not None and count else None
