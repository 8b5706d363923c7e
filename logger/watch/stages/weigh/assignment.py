"""Assigns the loads on a scale to ingredients, over the whole weighing.

Pure; fed with the levels of `levels`, explains each change by `hypotheses` and keeps the likeliest
explanations of all changes so far (a beam search). How sure a mass is follows from the weights of
all that are kept: an ingredient is booked where nearly all agree about its mass, whatever they say
of the rest.
"""

import math
from collections.abc import Iterable, Mapping, Sequence

from logger.model.rows import SURE_WEIGHED
from logger.watch.stages.weigh import doubts
from logger.watch.stages.weigh import likelihood as lk
from logger.watch.stages.weigh.booking import Booking, Portion, Question
from logger.watch.stages.weigh.hypotheses import GATE, TransitionModel
from logger.watch.stages.weigh.levels import SECOND_NS, Level
from logger.watch.stages.weigh.states import Act, Change, Hypothesis, Wanted

KEPT = 90
"""Hypotheses that are kept."""
ASKED = 0.1
"""Probability from which an ingredient is worth a question [1]."""
FEWEST_SHARE, MOST_SHARE, ODD_CONFIDENCE = 0.2, 4.0, 0.9
"""A mass beyond such shares of its target is asked, however likely it looks [1]."""
DOUBTFUL_CONFIDENCE = 0.5
"""Most that a mass is worth that may be a vessel, or that came beside a gap and is odd [1]."""
MAY_BE_VESSEL = 1e-3
"""Probability of a vessel from which a load is asked [1]: one may weigh what a target is."""
_SAME_STEPS, _SAME_SHARE = 3.0, 0.007
"""Masses this close, in steps or as a share, are the same weighing."""


class Assignment:
    """The hypotheses of one weighing.

    Parameters
    ----------
    wanted : sequence of Wanted
        In the order of the sheet.
    vessels_g : tuple of float
        Masses of the vessels that the sheet names [g].
    """

    def __init__(self, wanted: Sequence[Wanted], vessels_g: tuple[float, ...] = ()) -> None:
        self.wanted = list(wanted)
        self.model = TransitionModel(wanted, vessels_g)
        self.levels: list[Level] = []
        self._outside: list[bool] = []
        self._beams: list[list[Hypothesis]] = []
        """Hypotheses after each level, its marks counted; only the last three are needed."""
        self._step_g, self._zero_g = 0.1, 0.15
        self._whole_g: dict[int, list[float]] = {}
        self._denied_g: dict[int, list[float]] = {}
        """What the operator said is all of an ingredient [g], and what is not."""
        self._ranked: dict[bool, list[tuple[Hypothesis, float]]] = {}
        """Worked out once for every change."""

    # What comes in.

    def take(
        self,
        levels: Sequence[Level],
        changed_from: int,
        *,
        outside: bool,
        step_g: float,
        zero_g: float,
    ) -> None:
        """Take levels that are new or have changed.

        Parameters
        ----------
        levels : sequence of Level
            All of the weighing.
        changed_from : int
            Index of the first that is new or has changed.
        outside : bool
            No stage of weighing is under way.
        step_g, zero_g : float
            Display step; how near nought is nought [g].
        """
        self._step_g, self._zero_g = step_g, zero_g
        self._ranked.clear()
        del self._beams[changed_from:], self._outside[changed_from:], self.levels[changed_from:]
        if changed_from and changed_from == len(self._beams):
            # What the level before became while it lasted.
            self.levels[-1] = levels[changed_from - 1]
        for level in levels[changed_from:]:
            self.levels.append(level)
            self._outside.append(outside)
            self._beams.append(self._after(len(self.levels) - 1))

    def answer(self, question: Question, *, was: bool) -> None:
        """Take what the operator says, and weigh everything again.

        Parameters
        ----------
        question : Question
            What was asked.
        was : bool
            Whether it was that.
        """
        if question.whole:
            said_g = self._whole_g if was else self._denied_g
            said_g.setdefault(question.ingredient, []).append(question.mass_g)
            self._ranked.clear()
            return
        said = self.model.answers.setdefault(question.level, [])
        said.append((question.ingredient, was))
        self.again()

    def typed(self, ingredient: int) -> None:
        """Take that an ingredient's mass was typed: its turn is over."""
        self.model.by_hand.add(ingredient)
        self._ranked.clear()

    def again(self) -> None:
        """Weigh all changes again."""
        self._beams = []
        self._ranked.clear()
        for k in range(len(self.levels)):
            self._beams.append(self._after(k))

    # What is known.

    def bookings(self, *, over: bool = False) -> list[Booking]:
        """Return what was weighed in of each ingredient that was; by place.

        Parameters
        ----------
        over : bool
            No more will be weighed in.
        """
        ranked = self.ranked(over=over)
        if not ranked:
            return []
        best, vessels = ranked[0][0], doubts.shares_of_vessels(ranked)
        found = []
        for i, mass_g in enumerate(best.masses_g):
            if mass_g <= 0.0:
                continue
            reach_g = self._same_g(mass_g)
            confidence = sum(p for h, p in ranked if abs(h.masses_g[i] - mass_g) <= reach_g)
            share = mass_g / self.wanted[i].target_g
            if self._said(self._whole_g.get(i, []), mass_g):
                confidence = 1.0
            elif not FEWEST_SHARE <= share <= MOST_SHARE:
                confidence = min(confidence, ODD_CONFIDENCE)
            portions = _portions(best.acts, i)
            if confidence < 1.0 and self._doubtful(i, mass_g, best, vessels):
                confidence = min(confidence, DOUBTFUL_CONFIDENCE)
            closed = over or best.current != i or best.signal or best.after_vessel
            found.append(
                Booking(
                    ingredient=i,
                    mass_g=mass_g,
                    confidence=min(1.0, confidence),
                    portions=portions,
                    closed=closed,
                )
            )
        return found

    def _doubtful(
        self, i: int, mass_g: float, best: Hypothesis, vessels: Mapping[int, float]
    ) -> bool:
        """Return whether the levels alone can't carry a mass, and neither does its target."""
        as_wanted = doubts.as_wanted(mass_g, self.wanted[i])
        level = self._may_be_vessel(i, best, vessels)
        # What comes first by the sheet too, with its mass or with nothing on top, is no vessel.
        alone = sum(each_g > 0.0 for each_g in best.masses_g) == 1
        first = i == 0 and (as_wanted or alone) and not doubts.vessel_after(best.acts, level)
        if level and not first:
            return True
        portions = _portions(best.acts, i)
        told = any(self._told(i, portion.last) for portion in portions)
        ends = [(portion.first, portion.last) for portion in portions]
        return not as_wanted and not told and doubts.beside_a_gap(ends, self.levels)

    def _may_be_vessel(self, i: int, best: Hypothesis, vessels: Mapping[int, float]) -> int:
        """Return the level of a load that may be a vessel; 0 if it can't be one, or was told."""
        found = doubts.may_be_vessel(best.acts, i, self.levels, self._zero_g)
        if not found:
            levels = (portion.last for portion in _portions(best.acts, i))
            likely = (k for k in levels if vessels.get(k, 0.0) >= MAY_BE_VESSEL)
            found = next((k for k in likely if doubts.on_a_cleared_scale(best.acts, k)), 0)
        return 0 if self._told(i, found) else found

    def _told(self, i: int, level: int) -> bool:
        return (i, True) in self.model.answers.get(level, [])

    def missing(self, ingredient: int, *, over: bool = False) -> float:
        """Return the probability that an ingredient was not weighed in [1]."""
        ranked = self.ranked(over=over)
        if not ranked:
            return 1.0
        return sum(p for h, p in ranked if h.masses_g[ingredient] <= 0.0)

    def question(self, *, over: bool = False) -> Question | None:
        """Return what to ask, where a tap would tell most; None where all is told.

        Parameters
        ----------
        over : bool
            No more will be weighed in.

        Notes
        -----
        Which ingredient a load was comes first; only then whether a mass is all of one.
        """
        ranked = self.ranked(over=over)
        if not ranked:
            return None
        best = ranked[0][0]
        unsure = [b for b in self.bookings(over=over) if not b.sure and b.closed]
        untold = {b.ingredient for b in unsure}
        untold |= {
            i
            for i, mass_g in enumerate(best.masses_g)
            if mass_g <= 0.0 and self.missing(i, over=over) < SURE_WEIGHED
        }
        asked = [each for i in sorted(untold) for each in self._which(i, ranked, over=over)]
        if asked:
            return min(asked, key=lambda pair: pair[0])[1]
        vessels = doubts.shares_of_vessels(ranked)
        for booking in unsure:
            i, mass_g = booking.ingredient, booking.mass_g
            vessel = self._may_be_vessel(i, best, vessels)
            if vessel:
                return Question(ingredient=i, level=vessel, mass_g=mass_g)
            if not self._said(self._denied_g.get(i, []), mass_g):
                level = booking.portions[-1].last
                return Question(ingredient=i, level=level, mass_g=mass_g, whole=True)
        return None

    def _which(
        self, i: int, ranked: list[tuple[Hypothesis, float]], *, over: bool
    ) -> Iterable[tuple[float, Question]]:
        """Yield each load that may have been an ingredient, and how far from even odds that is."""
        shares: dict[int, float] = {}
        likeliest: dict[int, Hypothesis] = {}
        for h, p in ranked:
            for portion in _portions(h.acts, i):
                shares[portion.last] = shares.get(portion.last, 0.0) + p
                likeliest.setdefault(portion.last, h)
        under_way = not (over or ranked[0][0].signal)
        for k, share in shares.items():
            answered = any(said == i for said, _ in self.model.answers.get(k, []))
            if answered or not ASKED <= share < SURE_WEIGHED:
                continue
            if k < len(self.levels) - 1 or not under_way:
                yield (
                    abs(share - 0.5),
                    Question(ingredient=i, level=k, mass_g=likeliest[k].masses_g[i]),
                )

    def _said(self, said_g: list[float], mass_g: float) -> bool:
        return any(abs(each_g - mass_g) <= self._same_g(mass_g) for each_g in said_g)

    def best(self) -> Hypothesis | None:
        """Return the likeliest hypothesis so far."""
        ranked = self.ranked()
        return ranked[0][0] if ranked else None

    def ranked(self, *, over: bool = False) -> list[tuple[Hypothesis, float]]:
        """Return the hypotheses with their probabilities, the likeliest first.

        Parameters
        ----------
        over : bool
            No more will be weighed in: what was never weighed in counts against a hypothesis.
        """
        if not self._beams:
            return []
        known = self._ranked.get(over)
        if known is not None:
            return known
        weights = [(self._weight(h, over=over), h) for h in self._beams[-1]]
        weights.sort(key=lambda pair: pair[0], reverse=True)
        highest = weights[0][0]
        shares = [math.exp(w - highest) for w, _ in weights]
        total = sum(shares)
        found = [(h, share / total) for (_, h), share in zip(weights, shares, strict=True)]
        self._ranked[over] = found
        return found

    # The search.

    def _after(self, k: int) -> list[Hypothesis]:
        level = self.levels[k]
        if k == 0:
            found = [
                Hypothesis(masses_g=(0.0,) * len(self.wanted)),
                Hypothesis(masses_g=(0.0,) * len(self.wanted), pan="empty", empty_g=level.level_g),
            ]
        else:
            self.model.begin()
            found = list(self._from(k - 1, k))
            passing = self.levels[k - 1]
            told = any(was for _, was in self.model.answers.get(k - 1, []))
            if k > 1 and not (told or passing.tared or passing.marks_ns):
                found += self._from(k - 2, k)
        if level.marks_ns:
            found = [self.model.marked(h) for h in found]
        return self._kept(found)

    def _from(self, first: int, last: int) -> Iterable[Hypothesis]:
        start, end = self.levels[first], self.levels[last]
        between = self.levels[first + 1 : last]
        change = Change(
            first=first,
            last=last,
            from_g=start.final_g,
            to_g=end.level_g,
            between_g=between[0].level_g if between else None,
            between_s=(end.t_ns - between[0].t_ns) / SECOND_NS if between else 0.0,
            jumps=(between[0].instant, end.instant) if between else (),
            shift_g=end.shift_g + sum(level.shift_g for level in between),
            instant=None if between else end.instant,
            tared=end.tared,
            zeroed_g=end.zeroed_g,
            in_gap=end.in_gap or any(level.in_gap for level in between),
            hasty=end.hasty,
            outside=self._outside[last],
            step_g=self._step_g,
            zero_g=self._zero_g,
        )
        for hypothesis in self._beams[first]:
            yield from self.model.transitions(hypothesis, change)

    def _kept(self, found: list[Hypothesis]) -> list[Hypothesis]:
        """Return the likeliest, those that differ in their past alone merged into one."""
        weighted = sorted(
            ((self.model.weight(h), h) for h in found), key=lambda p: p[0], reverse=True
        )
        least = weighted[0][0] - GATE
        merged: dict[tuple[object, ...], tuple[float, float, Hypothesis]] = {}
        for weight, h in weighted:
            if weight < least:
                break
            key = self._key(h)
            known = merged.get(key)
            if known is not None:
                merged[key] = (known[0], known[1] + math.exp(weight - known[0]), known[2])
            elif len(merged) < KEPT:
                merged[key] = (weight, 1.0, h)
        return [
            h if sum_of == 1.0 else h._replace(log_weight=h.log_weight + math.log(sum_of))
            for _, sum_of, h in merged.values()
        ]

    def _key(self, h: Hypothesis) -> tuple[object, ...]:
        empty = None if h.empty_g is None else round(h.empty_g / (3.0 * self._step_g))
        masses = tuple(round(mass_g / self._step_g) for mass_g in h.masses_g)
        return masses, h.current, h.signal, h.pan, empty, h.fresh, h.from_jar, h.after_vessel

    def _weight(self, h: Hypothesis, *, over: bool) -> float:
        denied = self._denied_g.items()
        weight = lk.IMPOSSIBLE * sum(self._said(said_g, h.masses_g[i]) for i, said_g in denied)
        if over:
            never = lk.LOG_NEVER_WEIGHED * len(self.model.left(h))
            return weight + h.log_weight + h.mass_log_weight + never
        return weight + self.model.weight(h)

    def _same_g(self, mass_g: float) -> float:
        return max(_SAME_STEPS * self._step_g, _SAME_SHARE * mass_g)


def _portions(act: Act | None, ingredient: int) -> tuple[Portion, ...]:
    found = []
    while act is not None:
        if act.ingredient == ingredient:
            found.append(Portion(first=act.first, last=act.last, mass_g=act.mass_g))
        act = act.before
    return tuple(reversed(found))
