"""What may have happened between two levels of a scale: ingredient, vessel, tare, hand.

Pure; for a hypothesis of all that happened so far and an observed change of level, gives every
hypothesis that explains the change too, with its log-weight. `assignment` keeps the likeliest.
"""

import math
from collections.abc import Iterator, Sequence

from logger.watch.stages.weigh import likelihood as lk
from logger.watch.stages.weigh.states import NONE, Act, Change, Hypothesis, Pan, Wanted

GATE = 22.0
"""Hypotheses less likely than the best by more than this are dropped [1]."""
_STILL_G, _NUDGE_G = 0.4, 0.15
"""Standard deviation of what a lifted bowl shows again beside its steps, and scale of a nudge [g].
"""
_LEAST_STEPS = 0.5
"""Least change in display steps that is a load [1]."""
_MOST_OUT = 0.8
"""Most of an ingredient that is taken back again: more is another act [1]."""


class TransitionModel:
    """Enumerates what a change of level may have been.

    Parameters
    ----------
    wanted : sequence of Wanted
        In the order of the sheet.
    vessels_g : tuple of float
        Masses of the vessels that the sheet names [g].

    Attributes
    ----------
    by_hand : set of int
        Ingredients whose mass was typed: their turn is over.
    answers : dict
        What the operator said of the load that ends at a level: ingredient, and whether it was it.
    """

    def __init__(self, wanted: Sequence[Wanted], vessels_g: tuple[float, ...]) -> None:
        self.wanted = list(wanted)
        self.vessels_g = vessels_g
        self.by_hand: set[int] = set()
        self.answers: dict[int, list[tuple[int, bool]]] = {}
        self.floor = -math.inf
        """Log-weight below which an explanation is not worth keeping; rises as better ones come."""
        self._totals: dict[tuple[int, float], float] = {}
        self._opens: dict[tuple[int, float], float] = {}
        self._starts: tuple[Hypothesis, list[float]] | None = None
        """Log-prior that each ingredient comes next, of the hypothesis last asked for."""

    def __deepcopy__(self, memo: dict[int, object]) -> "TransitionModel":
        """Copy what was said; what was worked out is worked out again."""
        new = memo[id(self)] = TransitionModel(self.wanted, self.vessels_g)
        new.by_hand = set(self.by_hand)
        new.answers = {level: list(said) for level, said in self.answers.items()}
        return new

    def total(self, ingredient: int, mass_g: float) -> float:
        """Return the log-density of a complete mass [g] of an ingredient."""
        if mass_g <= 0.0:
            return 0.0
        key = (ingredient, round(mass_g, 4))
        found = self._totals.get(key)
        if found is None:
            each = self.wanted[ingredient]
            found = lk.total_log_density(mass_g, each.target_g, each.aimed_sd_g)
            self._totals[key] = found
        return found

    def begin(self) -> None:
        """Begin with another change: nothing is known of its explanations."""
        self.floor = -math.inf

    def weight(self, h: Hypothesis) -> float:
        """Return the log-weight of a hypothesis of which more may follow [1]."""
        return h.log_weight + h.mass_log_weight + self._unfinished(h)

    def _unfinished(self, h: Hypothesis) -> float:
        """Return what the ingredient under way weighs more for being incomplete [1]."""
        if h.current == NONE or h.signal:
            return 0.0
        i, mass_g = h.current, h.masses_g[h.current]
        return self._open(i, mass_g) - self.total(i, mass_g)

    def _open(self, ingredient: int, mass_g: float) -> float:
        key = (ingredient, round(mass_g, 4))
        found = self._opens.get(key)
        if found is None:
            each = self.wanted[ingredient]
            found = lk.open_log_density(mass_g, each.target_g, each.aimed_sd_g)
            self._opens[key] = found
        return found

    def transitions(self, hypothesis: Hypothesis, change: Change) -> Iterator[Hypothesis]:
        """Yield every hypothesis that explains a change too."""
        if change.shift_g and hypothesis.empty_g is not None:
            hypothesis = hypothesis._replace(empty_g=hypothesis.empty_g + change.shift_g)
        if change.last - change.first > 1:
            hypothesis = self._passing(hypothesis, change)
        for found in self._explanations(hypothesis, change):
            if found is None:
                continue
            act = found.acts
            against = self._against(change.last, act.ingredient if act is not None else NONE)
            yield found._replace(log_weight=found.log_weight + against) if against else found

    def _against(self, level: int, of: int) -> float:
        """Return what the answers on a level weigh against its load being one of an ingredient."""
        said = self.answers.get(level, ())
        return lk.IMPOSSIBLE * sum((of == ingredient) != was for ingredient, was in said)

    def marked(self, hypothesis: Hypothesis) -> Hypothesis:
        """Return the hypothesis after a mark."""
        return hypothesis._replace(signal=True) if not hypothesis.signal else hypothesis

    # The kinds of explanation.

    def _explanations(self, h: Hypothesis, change: Change) -> Iterator[Hypothesis | None]:
        net_g = change.net_g
        if change.tared or change.zeroed_g or abs(change.to_g) <= change.zero_g:
            yield self._tare(h, change)
        if change.tared:
            return
        if change.in_gap:
            yield self._after(h, change, "foreign", lk.LOG_PRIOR_IN_A_GAP, density=True)
        if abs(net_g) <= max(1.0, 6.0 * change.step_g):
            yield self._nothing(h, change)
        if abs(net_g) < _LEAST_STEPS * change.step_g:
            return
        yield from self._rise(h, change) if net_g > 0.0 else self._fall(h, change)

    def _rise(self, h: Hypothesis, change: Change) -> Iterator[Hypothesis | None]:
        way = _way(change, jumped=False)
        for i in range(len(self.wanted)):
            yield self._add(h, change, i, change.net_g, lk.LOG_PRIOR_ADD[h.pan] + way)
        yield self._vessel(h, change, way)
        foreign = lk.LOG_PRIOR_FOREIGN_OUTSIDE if change.outside else lk.LOG_PRIOR_FOREIGN_INSIDE
        yield self._after(h, change, "foreign", foreign + way, density=True)
        if h.from_jar and change.net_g <= _MOST_OUT * h.masses_g[h.current]:
            yield self._less(h, change, change.net_g, lk.LOG_PRIOR_BACK_INTO_JAR + way)

    def _fall(self, h: Hypothesis, change: Change) -> Iterator[Hypothesis | None]:
        way, mass_g = _way(change, jumped=False), -change.net_g
        yield self._off(h, change, way)
        in_a_bowl = h.current != NONE and not h.from_jar and not h.fresh and h.pan != "empty"
        if in_a_bowl and mass_g <= _MOST_OUT * h.masses_g[h.current]:
            yield self._less(h, change, mass_g, lk.LOG_PRIOR_SPOONED_OUT + way)
        if h.pan in ("vessel", "unknown"):
            prior = lk.LOG_PRIOR_FROM_JAR
            if h.from_jar:
                prior = lk.LOG_PRIOR_FROM_JAR_AGAIN
            elif h.fresh:
                prior = lk.LOG_PRIOR_FROM_JAR_FRESH
            for i in range(len(self.wanted)):
                yield self._add(h, change, i, mass_g, prior + way, from_jar=True)
        foreign = lk.LOG_PRIOR_FOREIGN_OUTSIDE if change.outside else lk.LOG_PRIOR_FOREIGN_INSIDE
        yield self._after(h, change, "foreign", foreign + way, density=True)

    def _passing(self, h: Hypothesis, change: Change) -> Hypothesis:
        """Return the hypothesis after a touch, or a bowl that was lifted and set back."""
        between_g = change.between_g or 0.0
        off_g = between_g - change.from_g
        touch = lk.LOG_PRIOR_TOUCH + lk.foreign_log_density(off_g)
        touch += lk.LOG_PENALTY_TOUCH_S * change.between_s
        if h.empty_g is not None and off_g < 0.0:
            lifted = lk.LOG_PRIOR_LIFTED + lk.normal(between_g - h.empty_g, 2.0 * change.sd_g)
            touch = max(touch, lifted)
        elif off_g < 0.0 and h.pan == "unknown":
            touch = max(touch, lk.LOG_PRIOR_LIFTED + lk.vessel_log_density(-off_g, self.vessels_g))
        for jumped in change.jumps:
            if jumped is not None:
                touch += lk.LOG_POURED_INSTANT if jumped else lk.LOG_POURED
        return h._replace(log_weight=h.log_weight + touch)

    def _tare(self, h: Hypothesis, change: Change) -> Hypothesis:
        shift_g = change.to_g - change.from_g
        prior = lk.LOG_PRIOR_TARE_EMPTY if h.pan == "empty" else lk.LOG_PRIOR_TARE
        weight, sd_g = 0.0, change.step_g
        if change.zeroed_g:
            sd_g = max(sd_g, 0.5 * change.zeroed_g)
        if not change.tared:
            weight = prior + lk.normal(change.to_g, sd_g) + _way(change, jumped=True)
        empty_g = h.empty_g + shift_g if h.empty_g is not None else None
        if h.pan == "empty":
            empty_g = change.to_g
        act = _then(h, "tare", change)
        return h._replace(log_weight=h.log_weight + weight, empty_g=empty_g, signal=True, acts=act)

    def _nothing(self, h: Hypothesis, change: Change) -> Hypothesis:
        """Return the hypothesis of a nudge, a draught, or a bowl that is back as it was."""
        off_g = change.net_g
        nudge = lk.LOG_PRIOR_NOTHING - abs(off_g) / _NUDGE_G - math.log(2.0 * _NUDGE_G)
        if change.last - change.first > 1:
            back = lk.normal(off_g, math.hypot(change.sd_g, _STILL_G * change.step_g))
            nudge = max(nudge, back)
        act = _then(h, "nothing", change)
        return h._replace(log_weight=h.log_weight + nudge, acts=act)

    def _after(
        self, h: Hypothesis, change: Change, what: str, weight: float, *, density: bool
    ) -> Hypothesis:
        if density:
            weight += lk.foreign_log_density(change.net_g)
        act = _then(h, what, change)
        return h._replace(log_weight=h.log_weight + weight, acts=act)

    def _vessel(self, h: Hypothesis, change: Change, way: float) -> Hypothesis:
        known_g = self.vessels_g if h.vessel_g is None else (*self.vessels_g, h.vessel_g)
        weight = lk.LOG_PRIOR_VESSEL[h.pan] + lk.vessel_log_density(change.net_g, known_g) + way
        empty_g = h.empty_g
        if h.pan == "unknown" and empty_g is None:
            empty_g = change.from_g
        act = _then(h, "vessel", change)
        return h._replace(
            log_weight=h.log_weight + weight,
            pan="vessel",
            empty_g=empty_g,
            fresh=True,
            from_jar=False,
            after_vessel=True,
            signal=False,
            vessel_g=change.net_g,
            acts=act,
        )

    def _off(self, h: Hypothesis, change: Change, way: float) -> Hypothesis | None:
        """Return the hypothesis that everything was taken off the scale."""
        if h.pan == "empty":
            return None
        if h.empty_g is not None:
            shown = lk.normal(change.to_g - h.empty_g, 3.0 * change.sd_g)
            lost = lk.LOG_PRIOR_LOST_COUNT + lk.vessel_log_density(-change.net_g, self.vessels_g)
            shown = max(shown, lost)
        elif change.to_g < -change.zero_g:
            shown = lk.vessel_log_density(-change.to_g, self.vessels_g)
        else:
            shown = lk.normal(change.to_g, 2.0 * change.step_g) + math.log(0.3)
        act = _then(h, "off", change)
        return h._replace(
            log_weight=h.log_weight + lk.LOG_PRIOR_OFF + shown + way,
            pan="empty",
            empty_g=change.to_g,
            signal=True,
            from_jar=False,
            after_vessel=False,
            acts=act,
        )

    # One ingredient.

    def _add(
        self,
        h: Hypothesis,
        change: Change,
        i: int,
        mass_g: float,
        weight: float,
        *,
        from_jar: bool = False,
    ) -> Hypothesis | None:
        before_g = h.masses_g[i]
        weight += h.log_weight + self._begins(h)[i]
        if before_g > 0.0:
            weight += lk.portion_log_density(mass_g, self.wanted[i].target_g)
        masses_weight = h.mass_log_weight - self.total(i, before_g)
        full = weight + masses_weight + self._open(i, before_g + mass_g)
        full += self._against(change.last, i)
        if full < self.floor:
            return None
        self.floor = max(self.floor, full - GATE)
        in_turn, signalled = self._counts(h, i)
        masses_g = (*h.masses_g[:i], before_g + mass_g, *h.masses_g[i + 1 :])
        # What is put in where nothing was seen to come before lies in a bowl that was tared.
        pan: Pan = "food" if h.pan in ("empty", "food") else "vessel"
        return h._replace(
            log_weight=weight,
            mass_log_weight=masses_weight + self.total(i, before_g + mass_g),
            masses_g=masses_g,
            current=i,
            signal=False,
            pan=pan,
            fresh=h.fresh and from_jar,
            from_jar=from_jar,
            after_vessel=False,
            in_turn=in_turn,
            signalled=signalled,
            acts=_then(h, "add", change, i, mass_g),
        )

    def _less(self, h: Hypothesis, change: Change, mass_g: float, weight: float) -> Hypothesis:
        """Return the hypothesis that some of the ingredient was taken back."""
        i = h.current
        before_g = h.masses_g[i]
        weight += lk.portion_log_density(mass_g, self.wanted[i].target_g)
        weight += lk.LOG_SIGNAL_WITHIN if h.signal else lk.LOG_NO_SIGNAL_WITHIN
        masses_g = (*h.masses_g[:i], before_g - mass_g, *h.masses_g[i + 1 :])
        return h._replace(
            log_weight=h.log_weight + weight,
            mass_log_weight=h.mass_log_weight
            + self.total(i, before_g - mass_g)
            - self.total(i, before_g),
            masses_g=masses_g,
            signal=False,
            acts=_then(h, "out", change, i, -mass_g),
        )

    def _begins(self, h: Hypothesis) -> list[float]:
        """Return the log-prior that each ingredient comes next, and of its signal."""
        known = self._starts
        if known is not None and known[0] is h:
            return known[1]
        another = self._signal_of_another(h) + (lk.LOG_ANOTHER if h.current != NONE else 0.0)
        found = [another + turn for turn in self._turns(h)]
        if h.current != NONE and h.after_vessel:
            found[h.current] = lk.LOG_SIGNAL_WITHIN + lk.LOG_MORE
        elif h.current != NONE:
            signal = lk.LOG_SIGNAL_WITHIN if h.signal else lk.LOG_NO_SIGNAL_WITHIN
            found[h.current] = lk.LOG_MORE + signal
        self._starts = h, found
        return found

    def _signal_of_another(self, h: Hypothesis) -> float:
        """Return the log-prior of a mark or tare, or none, before another ingredient."""
        if h.after_vessel:
            return lk.LOG_SIGNAL_AFTER_VESSEL if h.signal else lk.LOG_NO_SIGNAL_AFTER_VESSEL
        if h.current == NONE:
            return 0.0
        given, none = (a + b for a, b in zip(lk.SIGNALS_PRIOR, h.signalled, strict=True))
        return math.log((given if h.signal else none) / (given + none))

    def _turns(self, h: Hypothesis) -> list[float]:
        """Return the log-prior of each ingredient: mostly in the order of the sheet."""
        left = self.left(h)
        turn = _in_turn(left, h.current)
        right, wrong = (a + b for a, b in zip(lk.ORDER_PRIOR, h.in_turn, strict=True))
        share = right / (right + wrong)
        begun = max(1, len(self.wanted) - len(left))
        found = [math.log((1.0 - share) * lk.AGAIN_SHARE / begun)] * len(self.wanted)
        others = max(1, len(left) - len(turn))
        for k in left:
            found[k] = math.log((1.0 - share) * (1.0 - lk.AGAIN_SHARE) / others)
        for k in turn:
            found[k] = math.log(share / len(turn))
        return found

    def left(self, h: Hypothesis) -> list[int]:
        """Return the ingredients that have not begun, in the order of the sheet."""
        return [k for k, mass_g in enumerate(h.masses_g) if mass_g <= 0.0 and k not in self.by_hand]

    def _counts(self, h: Hypothesis, i: int) -> tuple[tuple[int, int], tuple[int, int]]:
        if i == h.current:
            return h.in_turn, h.signalled
        left = self.left(h)
        in_turn, signalled = h.in_turn, h.signalled
        if i in left and len(left) > 1:
            right = i in _in_turn(left, h.current)
            in_turn = (in_turn[0] + right, in_turn[1] + (not right))
        if h.current != NONE and not h.after_vessel:
            signalled = (signalled[0] + h.signal, signalled[1] + (not h.signal))
        return in_turn, signalled


def _in_turn(left: list[int], current: int) -> list[int]:
    """Return which of the ingredients left may come in turn: the first, or the next one on."""
    after = [k for k in left if k > current]
    return list(dict.fromkeys([*left[:1], *after[:1]]))


def _then(
    h: Hypothesis, what: str, change: Change, ingredient: int = NONE, mass_g: float = 0.0
) -> Act:
    """Return what a change was, after all that was before it."""
    return Act(
        before=h.acts,
        what=what,
        ingredient=ingredient,
        first=change.first,
        last=change.last,
        mass_g=mass_g,
    )


def _way(change: Change, *, jumped: bool) -> float:
    """Return the log-likelihood that the display jumped, or did not."""
    if change.instant is None:
        return 0.0
    if jumped:
        return lk.LOG_INSTANT if change.instant else lk.LOG_NOT_INSTANT
    return lk.LOG_POURED_INSTANT if change.instant else lk.LOG_POURED
