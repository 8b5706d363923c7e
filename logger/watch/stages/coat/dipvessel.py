"""The vessel of coat on a scale: each dip leaves it lighter by one coat.

Pure; used by the watcher of coating.
"""

from dataclasses import dataclass

from logger.model.event import Event
from logger.model.reading import Reading
from logger.watch.scale.singles import LIGHTEST_G, Range, Singles

DRIPS_G = 3.0
"""What drips back into the vessel, or is put right, after a dip [g]."""
TOPPED_UP_NS = 25_000_000_000
"""A vessel that stays heavier for this long was filled up [ns]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What a dip took out of the vessel [g], and whether this corrects the one before."""

    mass_g: float
    u_g: float
    t_ns: int
    again: bool


class DippingVessel:
    """The vessel of coat on the scale: each dip leaves it lighter.

    Parameters
    ----------
    scale : Singles
        For the scale's rest and its uncertainty.
    least_g, most_g : float
        What one coat may weigh [g].
    piece_g : float
        A rise of more than this is no piece that hangs in it: another vessel [g].

    Notes
    -----
    A piece or a hand in the vessel makes it heavier for a while: a level above the last is not
    believed until it has stayed. Drips after a dip are counted to it.
    """

    def __init__(self, scale: Singles, least_g: float, most_g: float, piece_g: float) -> None:
        self.scale = scale
        self.least_g, self.most_g, self.piece_g = least_g, most_g, piece_g
        self.level: Reading | None = None
        """Before the dip under way."""
        self.after: Reading | None = None
        """Since the last dip, while its drips may still fall."""
        self.heavier_ns: int | None = None

    def take(self, reading: Reading) -> Taken | None:
        """Take one reading; returns a dip, or a dip put right."""
        scale = self.scale
        if reading.channel != scale.channel:
            return None
        if reading.value is not None:
            scale.last = reading
        rest = scale.steady.take(reading)
        if rest is None or rest.value is None:
            return None
        if self.level is None or self.level.value is None:
            self.level = rest
            return None
        return self._at_rest(rest, rest.value)

    def event(self, event: Event) -> None:
        """Take a tare or a gap: the level begins anew."""
        self.scale.event(event)
        if event.kind in ("tare", "tare_suspected", "gap") and event.channel == self.scale.channel:
            self.level = self.after = self.heavier_ns = None

    def _at_rest(self, rest: Reading, value_g: float) -> Taken | None:
        level = self.level
        level_g = level.value or 0.0 if level is not None else 0.0
        reach_g = self.scale.reach_g(value_g)
        if self.after is not None and abs(value_g - (self.after.value or 0.0)) <= DRIPS_G:
            moved = abs(value_g - (self.after.value or 0.0)) > self.scale.moved_g(value_g)
            taken_g = level_g - value_g
            if not moved or not self.least_g <= taken_g <= self.most_g:
                return None
            if taken_g - (level_g - (self.after.value or 0.0)) >= self.least_g:
                self.level = self.after  # as much again: a dip of its own
                return self._dip(rest, again=False)
            return self._dip(rest, again=True)
        if self.after is not None:
            self.level, self.after = self.after, None
            level_g = self.level.value or 0.0
        taken_g = level_g - value_g
        if taken_g < -reach_g:
            self._heavier(rest)
            return None
        self.heavier_ns = None
        if self.least_g <= taken_g <= self.most_g:
            return self._dip(rest, again=False)
        if taken_g > self.most_g or abs(taken_g) <= reach_g:
            self.level = rest  # another vessel, or drift
        return None

    def _heavier(self, rest: Reading) -> None:
        level_g = (self.level.value or 0.0) if self.level is not None else 0.0
        if (rest.value or 0.0) - level_g > self.piece_g:
            self.level, self.heavier_ns = rest, None
        elif self.heavier_ns is None:
            self.heavier_ns = rest.t_ns
        elif rest.t_ns - self.heavier_ns >= TOPPED_UP_NS:
            self.level, self.heavier_ns = rest, None

    def _dip(self, rest: Reading, *, again: bool) -> Taken | None:
        level = self.level
        if level is None:
            return None
        self.after = rest
        self.scale.base = level
        return Taken(
            mass_g=(level.value or 0.0) - (rest.value or 0.0),
            u_g=self.scale.u_of(rest),
            t_ns=rest.t_ns,
            again=again,
        )


def least_pickup_g(pickup_g: Range) -> float:
    """Return the least that is taken for a coat out of a vessel [g]."""
    return max(0.3, min(LIGHTEST_G, 0.3 * pickup_g[0]))
