"""How large the change between two plateaus is, and how well that is known.

Pure functions of plateaus; used by `lattice`. Plateaus in between are skipped when they are short:
a touch, a hand in the bath, a lift and redip.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from logger.watch.stages.set.immersion.segmentation import Plateau

SHORT_S = 8.0  # a plateau that a touch can explain lasts no longer
REDIP_S = 20.0  # a piece lifted for longer than this was taken out
DRIPPING_G = 1.6  # standard deviation of what still drips right after a lift
DRIP_TIME_S = 1.3
UNEVEN_G = 0.06  # creep, slosh, drift over the seconds between the two levels


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The way from plateau `before` to plateau `after`.

    Attributes
    ----------
    before, after : int
        Places in the list of plateaus.
    net_g, u_g : float
        Change of level and its standard uncertainty [g].
    ups_g : tuple of float
        The single edges on the way [g]; the last belongs to `after`.
    lasts_s : tuple of float
        How long each plateau in between lasts [s].
    from_s, to_s : float
        End of the plateau before, start of the one after [s].
    """

    before: int
    after: int
    net_g: float
    u_g: float
    ups_g: tuple[float, ...]
    lasts_s: tuple[float, ...]
    from_s: float
    to_s: float

    @property
    def single(self) -> bool:
        """Whether the two plateaus follow each other."""
        return self.after == self.before + 1

    def nearest_edge(self, wanted_g: float) -> int:
        """Place of the plateau whose edge is most like a change: one of two within this step."""
        off = [abs(up - wanted_g) for up in self.ups_g]
        return self.before + 1 + off.index(min(off))

    def edge_like(self, wanted_g: float) -> int:
        """Place of the plateau whose edge holds a change of this size; the rest are touches.

        The edge is taken that leaves the least push on the bath, force times time, before and after
        it: a hand may come or go in the very edge in which a piece does.
        """
        if self.single:
            return self.after
        best, place = float("inf"), self.after
        for edge in range(len(self.ups_g)):
            push, level = 0.1 * abs(self.ups_g[edge] - wanted_g), 0.0
            for index, lasts_s in enumerate(self.lasts_s):
                level += self.ups_g[index]
                push += abs(level - (wanted_g if index >= edge else 0.0)) * lasts_s
            if push < best:
                best, place = push, self.before + 1 + edge
        return place


def step_between(plateaus: Sequence[Plateau], before: int, after: int) -> Step | None:
    """Step from one plateau to a later one, or None when too much lies between."""
    first, last = plateaus[before], plateaus[after]
    between = plateaus[before + 1 : after]
    limit = REDIP_S if len(between) == 1 else SHORT_S
    if any(p.t1_s - p.t0_s > limit for p in between):
        return None
    if between and (last.t0_s - first.t1_s > REDIP_S + 6 or last.tared):
        return None
    if any(p.tared for p in between):
        return None
    dripping = DRIPPING_G * 2.718 ** (-max(0.0, last.since_edge_s) / DRIP_TIME_S)
    variance = first.u_out_g**2 + last.u_in_g**2 + UNEVEN_G**2 + dripping**2
    ups = tuple(
        plateaus[place].in_g - plateaus[place - 1].out_g for place in range(before + 1, after + 1)
    )
    return Step(
        before=before,
        after=after,
        net_g=last.in_g - first.out_g,
        u_g=variance**0.5,
        ups_g=ups,
        lasts_s=tuple(p.t1_s - p.t0_s for p in between),
        from_s=first.t1_s,
        to_s=last.t0_s,
    )
