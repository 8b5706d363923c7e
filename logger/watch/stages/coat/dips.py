"""Which weighing of a dip belongs to which piece, and whether it was before or after it.

Pure; used by the watcher of coating. Every piece may be weighed before and after its dip, in any
order; a thick coat may make one piece as heavy as the next. So several stories are followed, and
what comes later may correct what was told before.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from logger.watch.scale.singles import Range

SAME_G, SAME_WIDE_G = 0.3, 1.5
"""Standard deviation of a piece's mass since forming [g], for most pieces and for a tenth: some
drips off, some dries."""
ODD_SHARE = 0.3
"""Share of coats that may weigh anything: the odd one is what must be found."""
NEW_OVER_G = 80.0
"""A piece that was never weighed may weigh anything within this range [g]."""
LEAST_G = 0.05
STORIES = 40
"""So many stories are followed."""

Weighing = tuple[int, str]
"""Piece, and ``before`` or ``after`` its dip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One way in which all weighings so far may be read.

    Attributes
    ----------
    bare_g, coated_g : dict
        Mass before the dip, here or at forming, and after it, by piece [g].
    before, after : tuple of int
        Pieces weighed here before, and after their dip, in that order.
    told : tuple
        What each weighing was.
    log : float
        Logarithm of its chance.
    """

    bare_g: dict[int, float] = field(default_factory=dict)
    coated_g: dict[int, float] = field(default_factory=dict)
    before: tuple[int, ...] = ()
    after: tuple[int, ...] = ()
    told: tuple[Weighing, ...] = ()
    log: float = 0.0

    @property
    def waiting(self) -> list[int]:
        """Pieces weighed before their dip and not yet after it."""
        return [n for n in self.before if n not in self.after]

    @property
    def next_before(self) -> int:
        """Piece that comes next, in turn."""
        known = sorted(self.bare_g)
        left = [n for n in known if n not in self.before and n not in self.after]
        return left[0] if left else max(known, default=0) + 1

    def with_weighing(self, weighing: Weighing, mass_g: float, log: float) -> "Story":
        """Return the story that goes on like this [g]."""
        piece, when = weighing
        told = (*self.told, weighing)
        if when == "before":
            before = self.before if piece in self.before else (*self.before, piece)
            bare_g = {**self.bare_g, piece: mass_g}
            return replace(self, bare_g=bare_g, before=before, told=told, log=log)
        after = self.after if piece in self.after else (*self.after, piece)
        coated_g = {**self.coated_g, piece: mass_g}
        return replace(self, coated_g=coated_g, after=after, told=told, log=log)

    def usual(self) -> dict[Weighing, float]:
        """Return how usual each weighing is at this point, whatever its mass.

        Notes
        -----
        It follows from what was done so far: each piece before and after its dip, all pieces before
        the first dip, or only after it. Invented shares.
        """
        found = self._while_one_waits() if self.waiting else self._else()
        if self.after:
            found[self.after[-1], "after"] = 0.03  # the same once more
        return found

    def _while_one_waits(self) -> dict[Weighing, float]:
        waiting = self.waiting
        several = len(waiting) > 1
        in_turn = 0.5 if several else 0.02 if self.after else 0.15
        usual: dict[Weighing, float] = {(self.next_before, "before"): in_turn}
        for piece in self.bare_g:
            if piece not in self.after:
                usual.setdefault((piece, "before"), 0.05 if piece == waiting[-1] else 0.01)
        for piece in waiting:
            usual[piece, "after"] = 0.05 if several else 0.75
        if several:
            usual[waiting[0], "after"] = 0.4
        return usual

    def _else(self) -> dict[Weighing, float]:
        only_after = any(n not in self.before for n in self.after)
        turn = self.next_before
        usual: dict[Weighing, float] = {(turn, "before"): 0.1 if only_after else 0.75}
        for piece in self.bare_g:
            if piece not in self.after:
                usual.setdefault((piece, "before"), 0.01)
                usual[piece, "after"] = 0.01
        if turn in self.bare_g:
            usual[turn, "after"] = 0.8 if only_after else 0.15
        return usual


class Dips:
    """Follows the weighings of a batch that is being coated.

    Parameters
    ----------
    bare_g : dict
        Masses known from forming, by piece [g].
    pickup_g : tuple of float
        What a coat may weigh: likely low and high end [g].
    most_g : float
        More than this is no coat [g].
    """

    def __init__(self, bare_g: dict[int, float], pickup_g: Range, most_g: float) -> None:
        self.pickup_g, self.most_g = pickup_g, most_g
        self.stories = [Story(bare_g=dict(bare_g))]
        self._earlier = self.stories

    @property
    def best(self) -> Story:
        """The likeliest story."""
        return self.stories[0]

    def take(self, mass_g: float) -> None:
        """Take one more weighing [g]."""
        self._earlier = self.stories
        self._go_on(mass_g)

    def correct(self, mass_g: float) -> None:
        """The last weighing now reads otherwise [g]."""
        self._go_on(mass_g)

    def know(self, piece: int, mass_g: float, when: str) -> None:
        """The operator says what a piece weighs ``before`` or ``after`` its dip [g]."""
        self.stories = [_knowing(story, piece, mass_g, when) for story in self.stories]
        self._earlier = [_knowing(story, piece, mass_g, when) for story in self._earlier]

    def _go_on(self, mass_g: float) -> None:
        ways = [way for story in self._earlier for way in self._ways(story, mass_g)]
        # The sort is stable: of two alike the one named first stays first.
        ways.sort(key=lambda story: -story.log)
        self.stories = ways[:STORIES]

    def _ways(self, story: Story, mass_g: float) -> Iterator[Story]:
        for weighing, usual in story.usual().items():
            piece, when = weighing
            fits = self._fits_bare if when == "before" else self._fits_coat
            chance = usual * fits(story, piece, mass_g)
            if chance > 0.0:
                yield story.with_weighing(weighing, mass_g, story.log + math.log(chance))

    def _fits_bare(self, story: Story, piece: int, mass_g: float) -> float:
        """Density of a bare piece's mass [1/g]; never quite 0, since any load must be something."""
        bare_g = story.bare_g.get(piece)
        if bare_g is None:
            return 1.0 / NEW_OVER_G
        return _same(mass_g - bare_g) + 1e-12

    def _fits_coat(self, story: Story, piece: int, mass_g: float) -> float:
        """Density of a coated piece's mass [1/g]."""
        if piece in story.coated_g:
            return _same(mass_g - story.coated_g[piece])
        picked_g = mass_g - story.bare_g[piece]
        if not LEAST_G <= picked_g <= self.most_g:
            return 0.0
        low_g, high_g = self.pickup_g
        sd_g = max(0.5, (high_g - low_g) / 2.0)
        likely = _normal(picked_g - (low_g + high_g) / 2.0, sd_g)
        return (1.0 - ODD_SHARE) * likely + ODD_SHARE / self.most_g


def _same(off_g: float) -> float:
    return 0.9 * _normal(off_g, SAME_G) + 0.1 * _normal(off_g, SAME_WIDE_G)


def _normal(off: float, sd: float) -> float:
    return math.exp(-0.5 * (off / sd) ** 2) / (sd * math.sqrt(2.0 * math.pi))


def _knowing(story: Story, piece: int, mass_g: float, when: str) -> Story:
    if when == "before":
        return replace(story, bare_g={**story.bare_g, piece: mass_g})
    after = story.after if piece in story.after else (*story.after, piece)
    return replace(story, coated_g={**story.coated_g, piece: mass_g}, after=after)
