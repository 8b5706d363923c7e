"""One weighing: loads become ingredients, rows, findings and questions.

Pure; lives in the detector `bench`, so that it also takes what was weighed in before its stage and
after it. `assignment` says which load was what, `weighed` writes it down; here is what follows for
the operator: whose turn it is, and what only a tap can tell.
"""

from logger.batch.mixture import tolerance_g
from logger.model.event import Event
from logger.model.kinds.weigh import WeighStage
from logger.model.recipe.entry import Entry
from logger.model.sheet import Ingredient
from logger.model.state import Proposal
from logger.watch.engine.contract import Context, seconds
from logger.watch.stages.weigh import likelihood as lk
from logger.watch.stages.weigh.assignment import Assignment
from logger.watch.stages.weigh.booking import Booking, Question
from logger.watch.stages.weigh.levels import Levels
from logger.watch.stages.weigh.states import Wanted
from logger.watch.stages.weigh.tasting import WHAT as TO_TASTE
from logger.watch.stages.weigh.tasting import Tasting
from logger.watch.stages.weigh.weighed import Weighed
from logger.words.values import exact_text, value_text

WHAT = "ingredient"
"""Proposals of this module."""
BY_HAND = "mass_g."
"""A typed value of this name and an ingredient's name stands for its mass [g]."""
_SETTLED_NS = 2_000_000_000
"""A question is asked once the scale has been as it is for so long [ns]."""


class Weighing:
    """The weighing of one stage.

    Parameters
    ----------
    context : Context
        Of the run, or of the stage.
    stage : WeighStage
        With the ingredients that belong to it.
    channel : str or None
        The scale.
    levels : Levels
        Of the scale.
    first : int
        Index of the first level that may belong to it.

    Attributes
    ----------
    bookings : list of Booking
        What was weighed in so far.
    began : bool
        Whether its stage was ever begun.
    """

    def __init__(
        self,
        context: Context,
        stage: WeighStage,
        channel: str | None,
        levels: Levels,
        *,
        first: int = 0,
    ) -> None:
        self.stage, self.channel, self.levels = stage, channel, levels
        self.account = Weighed(context, stage, channel, levels)
        self.tasting = Tasting(context, stage.id, _to_taste(context, stage), self.account)
        self.began = self._over = False
        self._first = first
        vessels_g = tuple(v.mass_g for v in context.sheet.vessel if v.mass_g is not None)
        wanted = [_wanted(i, levels.step_g) for i in self.account.wanted]
        self.assignment = Assignment(wanted, vessels_g)
        self.bookings: list[Booking] = []
        self._open = True
        self._question: Question | None = None
        self._looked = False
        """Whether the question is still what it was."""
        self._asked: dict[str, Question] = {}
        self._changed_ns = 0

    # What comes in.

    def begin(self, context: Context) -> None:
        """Begin its stage, or go on with it."""
        self.account.context = self.tasting.context = context
        self.began, self._over = True, False
        if not self._open:
            self._open = True
            self.take(self._first + len(self.assignment.levels), outside=True)
        self._judge_anew()

    def take(self, changed_from: int, *, outside: bool) -> None:
        """Take levels of the scale.

        Parameters
        ----------
        changed_from : int
            Index of the first that is new or has changed.
        outside : bool
            No stage of weighing is under way.
        """
        found = self.levels.found[self._first :]
        if not self._open or not found:
            return
        self.assignment.take(
            found,
            max(0, changed_from - self._first),
            outside=outside,
            step_g=self.levels.step_g,
            zero_g=self.levels.zero_g,
        )
        self._changed_ns = found[-1].t_ns
        self._judge_anew()

    def event(self, event: Event) -> None:
        """Take typed masses and answers."""
        if event.kind == "set_value":
            self._typed(event)
        elif event.kind in ("accept", "decline"):
            key, was = str(event.data.get("proposal")), event.kind == "accept"
            question = self._asked.get(key)
            if question is not None:
                self.assignment.answer(question, was=was)
                self._judge_anew()
            level = self.tasting.answer(key, event.t_ns, was=was)
            if level is not None:
                self._is_none(level)

    def tick(self, t_ns: int) -> None:
        """Ask what only the operator can tell, one thing at a time.

        Parameters
        ----------
        t_ns : int
            Now [ns].
        """
        proposals = self.account.context.out.proposals
        question = None
        if self.began and not self._over and self._all_sure():
            self.tasting.begin()
        if self._asks_to_taste(t_ns):
            return
        if self.began and t_ns - self._changed_ns >= _SETTLED_NS:
            if not self._looked:
                self._question = self.assignment.question(over=self._over)
                self._looked = True
            question = self._question
        key = self._key(question) if question is not None else ""
        for old in [k for k, p in proposals.items() if p.what == WHAT and k != key]:
            del proposals[old]
        if question is not None and key not in proposals:
            self._asked[key] = question
            proposals[key] = self._proposal(question, key, t_ns)

    def _asks_to_taste(self, t_ns: int) -> bool:
        """Ask about a load that may be to taste; that comes before which ingredient it was."""
        proposals = self.account.context.out.proposals
        asked = None
        if self.began and not self._over and t_ns - self._changed_ns >= _SETTLED_NS:
            asked = self.tasting.question(t_ns)
        key = asked.id if asked is not None else ""
        for old in [k for k, p in proposals.items() if p.what == TO_TASTE and k != key]:
            del proposals[old]
        if asked is None:
            return False
        for old in [k for k, p in proposals.items() if p.what == WHAT]:
            del proposals[old]
        proposals.setdefault(key, asked)
        return True

    def _is_none(self, level: int) -> None:
        """Take that the load that ends at a level is none of the ingredients with a mass."""
        for place in range(len(self.account.wanted)):
            asked = Question(ingredient=place, level=level - self._first, mass_g=0.0)
            self.assignment.answer(asked, was=False)
        self._judge_anew()

    def end(self, t_ns: int) -> None:
        """End its stage, and judge every ingredient; what follows may still correct it.

        Parameters
        ----------
        t_ns : int
            When [ns].
        """
        self._over = True
        self.account.ended_ns = t_ns
        self._judge_anew()

    def close(self) -> None:
        """Another stage uses the scale: nothing on it belongs here."""
        self._open = False

    def reopen(self, index: int) -> None:
        """Take levels again, from an index on."""
        if not self.began:
            self._first, self._open = index, True
            self.assignment = Assignment(self.assignment.wanted, self.assignment.model.vessels_g)

    # What is known.

    @property
    def current(self) -> Ingredient | None:
        """The ingredient that is weighed in now, or comes next; None when all are done."""
        wanted = self.account.wanted
        best = self.assignment.best()
        if self.tasting.load() is not None:
            return None
        if best is None:
            left = [k for k in range(len(wanted)) if k not in self.assignment.model.by_hand]
            return wanted[left[0]] if left else None
        if best.current >= 0 and not best.signal and not best.after_vessel:
            return wanted[best.current]
        left = self.assignment.model.left(best)
        return wanted[left[0]] if left else None

    def net_g(self) -> float | None:
        """Return what of the current ingredient is there now [g]; None without a level."""
        best, current, last = self.assignment.best(), self.current, self.levels.last
        if best is None or current is None or last is None or last.value is None:
            return None
        off_g = last.value - self.levels.found[-1].final_g
        if abs(off_g) <= self.levels.moved_g:
            off_g = 0.0
        place = self.account.wanted.index(current)
        return best.masses_g[place] + (-off_g if best.from_jar else off_g)

    def claimed(self) -> int:
        """Return the index of the first level that nothing of it reaches."""
        return max((p.last for b in self.bookings for p in b.portions), default=0) + self._first

    def began_ns(self, booking: Booking) -> int:
        """Return when the level was found on which an ingredient began [ns]."""
        return self.levels.found[booking.portions[0].first + self._first].t_ns

    def done(self) -> bool:
        """Return whether everything is weighed in and nothing is to be asked."""
        return self.tasting.load() is None and self._all_sure()

    def _all_sure(self) -> bool:
        sure = {b.ingredient for b in self.bookings if b.sure and b.closed}
        wanted = range(len(self.account.wanted))
        return bool(wanted) and all(k in sure or k in self.assignment.model.by_hand for k in wanted)

    # What follows.

    def _judge_anew(self) -> None:
        self._looked = False
        self.bookings = self.assignment.bookings(over=self._over)
        if not self.began:
            return
        self.account.write(self.bookings, self._first)
        if self._over:
            missing = [
                self.assignment.missing(k, over=True) for k in range(len(self.account.wanted))
            ]
            self.account.judge(missing)

    def _typed(self, event: Event) -> None:
        name, value = str(event.data.get("name", "")), event.data.get("value")
        if not name.startswith(BY_HAND) or not isinstance(value, (int, float)):
            return
        self.tasting.typed(name.removeprefix(BY_HAND), float(value), event.t_ns)
        for place, ingredient in enumerate(self.account.wanted):
            if ingredient.name == name.removeprefix(BY_HAND):
                self.assignment.typed(place)
                self.account.by_hand[place] = (float(value), event.t_ns)
                self._judge_anew()

    def _key(self, question: Question) -> str:
        level = question.level + self._first
        whole = f".{question.mass_g:.2f}" if question.whole else ""
        return f"{self.stage.id}.weighed.{question.ingredient}.{level}{whole}"

    def _proposal(self, question: Question, key: str, t_ns: int) -> Proposal:
        ingredient = self.account.wanted[question.ingredient]
        mass = value_text(question.mass_g, "g")
        ask = "Was this all of the" if question.whole else "Was this the"
        level = self.levels.found[question.level + self._first]
        return Proposal(
            id=key,
            text=f"{ask} {ingredient.name}? {mass} of {exact_text(ingredient.mass_g, 'g')}",
            what=WHAT,
            t_s=seconds(t_ns),
            data={
                "ingredient": ingredient.name,
                "mass_g": question.mass_g,
                "at_s": seconds(level.t_ns),
                "whole": question.whole,
            },
        )


def _to_taste(context: Context, stage: WeighStage) -> list[Entry]:
    """Return what is added without a mass in a stage."""
    asked = stage.ingredients
    return [one for one in context.sheet.to_taste if asked is None or one.name in asked]


def _wanted(ingredient: Ingredient, step_g: float) -> Wanted:
    percent = lk.AIMED_PERCENT / 100.0 * ingredient.mass_g
    return Wanted(
        name=ingredient.name,
        target_g=ingredient.mass_g,
        aimed_sd_g=max(lk.AIMED_STEPS * step_g, percent, 0.3 * tolerance_g(ingredient)),
    )
