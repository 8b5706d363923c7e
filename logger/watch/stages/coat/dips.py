"""What each dip took: from the pieces on the scale before and after it, or from the vessel of coat.

Pure; used by the watcher of coating. With the pieces on the scale, each may be weighed before and
after its dip, in any order, and a thick coat may make one as heavy as the next: so several
hypotheses of what each weighing was are followed (multiple-hypothesis tracking), and a later
weighing may correct an earlier one. With the vessel on the scale each dip leaves it lighter.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from logger.model.event import Event
from logger.model.reading import Reading
from logger.watch.scale.loads import LIGHTEST_G, LoadDetector, Range

SAME_G, SAME_WIDE_G = 0.3, 1.5
"""Standard deviation of a piece's mass since forming [g], for most pieces and for a tenth: some
drips off, some dries."""
ODD_SHARE = 0.3
"""Share of coats that may weigh anything: the odd one is what must be found."""
NEW_OVER_G = 80.0
"""A piece that was never weighed may weigh anything within this range [g]."""
LEAST_G = 0.05
"""A coat weighs at least this [g]."""
ALIKE_G = 0.3
"""Coats that differ by no more are the same [g]."""
SURE = 0.8
"""A coat counts only where hypotheses of this share of the weight agree about it [1]: with a
weighing that was missed, thin coats may be read as those of other pieces."""
MOST_HYPOTHESES = 40
"""So many hypotheses are kept, the likeliest."""
DRIPS_G = 3.0
"""What drips back into the vessel, or is put right, after a dip [g]."""
TOPPED_UP_NS = 25_000_000_000
"""A vessel that stays heavier for this long was filled up [ns]."""

Weighing = tuple[int, str]
"""Piece, and ``before`` or ``after`` its dip."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """One reading of all weighings so far: which piece each was, and whether before its dip.

    Attributes
    ----------
    bare_g, coated_g : dict
        Mass before the dip, here or at forming, and after it, by piece [g].
    before, after : tuple of int
        Pieces weighed here before, and after their dip, in that order.
    weighings : tuple
        Piece and ``before`` or ``after``, of each weighing.
    log_weight : float
        Logarithm of its joint probability, up to a constant [1].
    """

    bare_g: dict[int, float] = field(default_factory=dict)
    coated_g: dict[int, float] = field(default_factory=dict)
    before: tuple[int, ...] = ()
    after: tuple[int, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    log_weight: float = 0.0

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

    def coat_g(self, piece: int) -> float | None:
        """Return what the coat of a piece weighs [g], or None where one of its masses lacks."""
        bare_g, coated_g = self.bare_g.get(piece), self.coated_g.get(piece)
        return None if bare_g is None or coated_g is None else coated_g - bare_g

    def with_weighing(self, weighing: Weighing, mass_g: float, log_weight: float) -> "Hypothesis":
        """Return the hypothesis extended by one weighing.

        Parameters
        ----------
        weighing : tuple
            Piece, and ``before`` or ``after`` its dip.
        mass_g : float
            What the scale showed [g].
        log_weight : float
            Of the extended hypothesis [1].
        """
        piece, when = weighing
        weighings = (*self.weighings, weighing)
        extended = replace(self, weighings=weighings, log_weight=log_weight)
        if when == "before":
            before = self.before if piece in self.before else (*self.before, piece)
            bare_g = {**self.bare_g, piece: mass_g}
            return replace(extended, bare_g=bare_g, before=before)
        after = self.after if piece in self.after else (*self.after, piece)
        coated_g = {**self.coated_g, piece: mass_g}
        return replace(extended, coated_g=coated_g, after=after)

    def prior(self) -> dict[Weighing, float]:
        """Return the prior weight of each weighing that may come next, whatever its mass [1].

        Notes
        -----
        It follows from what was done so far: each piece before and after its dip, all pieces before
        the first dip, or only after it. Rough shares, no source.
        """
        found = self._prior_while_waiting() if self.waiting else self._prior_otherwise()
        if self.after:
            found[self.after[-1], "after"] = 0.03  # the same once more
        return found

    def _prior_while_waiting(self) -> dict[Weighing, float]:
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

    def _prior_otherwise(self) -> dict[Weighing, float]:
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


class DipTracker:
    """Tracks which weighing belongs to which piece while a batch is being coated.

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
        self.hypotheses = [Hypothesis(bare_g=dict(bare_g))]
        self._earlier = self.hypotheses

    @property
    def best(self) -> Hypothesis:
        """The likeliest hypothesis."""
        return self.hypotheses[0]

    def agreed(self, piece: int) -> float:
        """Return the share of the hypotheses' weight that has the same coat for a piece [1].

        Parameters
        ----------
        piece : int
            Its number.
        """
        coat_g = self.best.coat_g(piece)
        if coat_g is None:
            return 0.0
        top = self.best.log_weight
        share = whole = 0.0
        for each in self.hypotheses:
            weight = math.exp(each.log_weight - top)
            whole += weight
            other_g = each.coat_g(piece)
            if other_g is not None and abs(other_g - coat_g) <= ALIKE_G:
                share += weight
        return share / whole

    def take(self, mass_g: float) -> None:
        """Take one more weighing [g]."""
        self._earlier = self.hypotheses
        self._extend(mass_g)

    def correct(self, mass_g: float) -> None:
        """Take a correction of the last weighing [g]."""
        self._extend(mass_g)

    def register(self, piece: int, mass_g: float, when: str) -> None:
        """Take the operator's word for what a piece weighs.

        Parameters
        ----------
        piece : int
            Its number.
        mass_g : float
            Its mass [g].
        when : str
            ``before`` or ``after`` its dip.
        """
        self.hypotheses = [_registered(each, piece, mass_g, when) for each in self.hypotheses]
        self._earlier = [_registered(each, piece, mass_g, when) for each in self._earlier]

    def _extend(self, mass_g: float) -> None:
        found = [new for each in self._earlier for new in self._extensions(each, mass_g)]
        # The sort is stable: of two alike the one named first stays first.
        found.sort(key=lambda each: -each.log_weight)
        self.hypotheses = found[:MOST_HYPOTHESES]

    def _extensions(self, hypothesis: Hypothesis, mass_g: float) -> Iterator[Hypothesis]:
        for weighing, prior in hypothesis.prior().items():
            piece, when = weighing
            likelihood = self._bare_likelihood if when == "before" else self._coat_likelihood
            weight = prior * likelihood(hypothesis, piece, mass_g)
            if weight > 0.0:
                log_weight = hypothesis.log_weight + math.log(weight)
                yield hypothesis.with_weighing(weighing, mass_g, log_weight)

    def _bare_likelihood(self, hypothesis: Hypothesis, piece: int, mass_g: float) -> float:
        """Density of a bare piece's mass [1/g]; never quite 0, since any load must be something."""
        bare_g = hypothesis.bare_g.get(piece)
        if bare_g is None:
            return 1.0 / NEW_OVER_G
        return _same(mass_g - bare_g) + 1e-12

    def _coat_likelihood(self, hypothesis: Hypothesis, piece: int, mass_g: float) -> float:
        """Density of a coated piece's mass [1/g]."""
        if piece in hypothesis.coated_g:
            return _same(mass_g - hypothesis.coated_g[piece])
        picked_g = mass_g - hypothesis.bare_g[piece]
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


def _registered(hypothesis: Hypothesis, piece: int, mass_g: float, when: str) -> Hypothesis:
    if when == "before":
        return replace(hypothesis, bare_g={**hypothesis.bare_g, piece: mass_g})
    after = hypothesis.after if piece in hypothesis.after else (*hypothesis.after, piece)
    return replace(hypothesis, coated_g={**hypothesis.coated_g, piece: mass_g}, after=after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dip:
    """What a dip took out of the vessel.

    Attributes
    ----------
    mass_g, u_g : float
        Mass and its standard uncertainty [g].
    t_ns : int
        When the vessel was at rest again [ns].
    corrects : bool
        Whether this corrects the dip before, as by what dripped back.
    """

    mass_g: float
    u_g: float
    t_ns: int
    corrects: bool


class DippingVessel:
    """The vessel of coat on the scale: each dip leaves it lighter.

    Parameters
    ----------
    scale : LoadDetector
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

    def __init__(self, scale: LoadDetector, least_g: float, most_g: float, piece_g: float) -> None:
        self.scale = scale
        self.least_g, self.most_g, self.piece_g = least_g, most_g, piece_g
        self.level: Reading | None = None
        """Before the dip under way."""
        self.after: Reading | None = None
        """Since the last dip, while its drips may still fall."""
        self.heavier_ns: int | None = None

    def take(self, reading: Reading) -> Dip | None:
        """Take one reading; return a dip, or a correction of the last one, if it shows one."""
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

    def _at_rest(self, rest: Reading, value_g: float) -> Dip | None:
        level = self.level
        level_g = level.value or 0.0 if level is not None else 0.0
        reach_g = self.scale.reach_g(value_g)
        if self.after is not None and abs(value_g - (self.after.value or 0.0)) <= DRIPS_G:
            moved = abs(value_g - (self.after.value or 0.0)) > self.scale.moved_g(value_g)
            taken_g = level_g - value_g
            if not moved or not self.least_g <= taken_g <= self.most_g:
                return None
            if taken_g - (level_g - (self.after.value or 0.0)) >= self.least_g:
                self.level = self.after  # as much once more: a dip of its own
                return self._dip(rest, corrects=False)
            return self._dip(rest, corrects=True)
        if self.after is not None:
            self.level, self.after = self.after, None
            level_g = self.level.value or 0.0
        taken_g = level_g - value_g
        if taken_g < -reach_g:
            self._heavier(rest)
            return None
        self.heavier_ns = None
        if self.least_g <= taken_g <= self.most_g:
            return self._dip(rest, corrects=False)
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

    def _dip(self, rest: Reading, *, corrects: bool) -> Dip | None:
        level = self.level
        if level is None:
            return None
        self.after = rest
        self.scale.base = level
        return Dip(
            mass_g=(level.value or 0.0) - (rest.value or 0.0),
            u_g=self.scale.u_of(rest),
            t_ns=rest.t_ns,
            corrects=corrects,
        )


def least_pickup_g(pickup_g: Range) -> float:
    """Return the least that is taken for a coat out of a vessel [g]."""
    return max(0.3, min(LIGHTEST_G, 0.3 * pickup_g[0]))
