"""What is added to taste, once all the rest is weighed in: seen on the scale, or typed.

Pure; used by logger.watch.stages.weigh.weighing. Nobody says how much it should be, so it has no
verdict: each is asked about once, at the load that may have been it, and noted with the run.
"""

from collections.abc import Sequence

from logger.model.recipe.entry import Entry
from logger.model.rows import NoteRow
from logger.model.state import Proposal
from logger.watch.engine.contract import Context, seconds
from logger.watch.stages.weigh.weighed import Weighed
from logger.watch.verdict.checks import COVERAGE
from logger.words.values import exact_text, value_text

WHAT = "to_taste"
"""Proposals of this module."""
_LEAST_STEPS = 5.0
"""A change of so many display steps is a load [1]."""


class Tasting:
    """What is to taste in one weighing.

    Parameters
    ----------
    context : Context
        Of the stage.
    stage_id : str
        The stage.
    asked : sequence of Entry
        What is to taste, in the order of the sheet.
    account : Weighed
        Of the weighing.
    """

    def __init__(
        self, context: Context, stage_id: str, asked: Sequence[Entry], account: Weighed
    ) -> None:
        self.context = context
        self._stage_id, self._account, self._levels = stage_id, account, account.levels
        self._left = [one.name for one in asked]
        self._base: int | None = None
        """Index of the level on which everything else was weighed in."""
        self._denied: set[tuple[str, int]] = set()
        self._asked: dict[str, tuple[str, int, float, str]] = {}

    @property
    def left(self) -> list[str]:
        """What nobody has added yet."""
        return list(self._left)

    def begin(self) -> None:
        """Take that all the rest is weighed in: what comes onto the scale now is to taste."""
        if self._left and self._levels.found and self._base is None:
            self._base = len(self._levels.found) - 1

    def load(self) -> tuple[int, float] | None:
        """Return the level at which a load to taste ends, and its mass [g]; None without one."""
        if self._base is None or not self._left:
            return None
        found = self._levels.found
        for place in range(self._base + 1, len(found)):
            one = found[place]
            if one.tared or one.zeroed_g or one.in_gap:
                self._base = place
        last, base = len(found) - 1, found[self._base]
        shift_g = sum(one.shift_g for one in found[self._base + 1 :])
        mass_g = found[-1].final_g - base.final_g - shift_g
        if last == self._base or mass_g < _LEAST_STEPS * self._levels.step_g:
            return None
        return last, mass_g

    def question(self, t_ns: int) -> Proposal | None:
        """Return what to ask of the load on the scale; None where all is told.

        Parameters
        ----------
        t_ns : int
            Now [ns].
        """
        load = self.load()
        if load is None:
            return None
        level, mass_g = load
        name = next((one for one in self._left if (one, level) not in self._denied), None)
        if name is None:
            return None
        key = f"{self._stage_id}.to_taste.{name}.{level}"
        u_g = self._account.u_between_g(self._base or 0, level)
        mass = value_text(mass_g, "g", COVERAGE * u_g)
        self._asked[key] = name, level, mass_g, mass
        at_s = seconds(self._levels.found[level].t_ns)
        return Proposal(
            id=key,
            text=f"Was this the {name}, to taste? {mass}",
            what=WHAT,
            t_s=seconds(t_ns),
            data={"ingredient": name, "mass_g": mass_g, "at_s": at_s},
        )

    def answer(self, key: str, t_ns: int, *, was: bool) -> int | None:
        """Take an answer; return the level of a load that was no weighed ingredient.

        Parameters
        ----------
        key : str
            Of the question.
        t_ns : int
            Now [ns].
        was : bool
            Whether it was that.
        """
        asked = self._asked.get(key)
        if asked is None:
            return None
        name, level, mass_g, mass = asked
        if not was:
            self._denied.add((name, level))
            return None
        self._base = level
        self._note(name, mass, t_ns)
        self.context.out.emit(t_ns, "weighed", f"{name}: {mass}, to taste", mass_g=mass_g)
        return level

    def typed(self, name: str, mass_g: float, t_ns: int) -> None:
        """Take a mass that was typed.

        Parameters
        ----------
        name : str
            Of the ingredient.
        mass_g : float
            Its mass [g].
        t_ns : int
            Now [ns].
        """
        if name in self._left:
            self._note(name, exact_text(mass_g, "g"), t_ns)

    def _note(self, name: str, mass: str, t_ns: int) -> None:
        self._left.remove(name)
        text = f"{name}, to taste: {mass}"
        note = NoteRow(t_s=seconds(t_ns), text=text, stage=self._stage_id)
        self.context.out.results.notes.append(note)
