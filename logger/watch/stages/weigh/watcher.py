"""Weighing in, ingredient by ingredient, on the bench scale.

Pure; a stage watcher. One ingredient after the other goes into one bowl, with or without a press
of the tare key between them. An ingredient is taken when the user marks it, tares, takes the
vessel off, or, where the sheet gives a tolerance, goes on with the next one once it is met.
"""

import math

from logger.batch.mixture import mass_band, shares, tolerance_g, too_much
from logger.model.event import Event
from logger.model.kinds.weigh import WeighStage
from logger.model.reading import Reading
from logger.model.sheet import Ingredient
from logger.model.state import StageView, Tone
from logger.watch.engine.contract import Context, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.stages.weigh.pan import Pan
from logger.watch.stages.weigh.weighed import Weighed
from logger.watch.verdict import checks
from logger.words.values import exact_text, value_text

MARKS = ("mark", "foot_mark")
BY_HAND = "mass_g."
"""A typed value of this name and an ingredient's name stands for its mass [g]."""
_GOES_ON_SHARE = 0.01
_CLOSE_SHARE = 0.1
"""A load this close to the wanted mass, as a share, is the ingredient; else it is a vessel."""
_END_SHARE = 0.5
_VESSEL_TIMES = 2.0
"""A marked load of more than this many times the wanted mass is a vessel: it is set to zero."""


def make(context: Context) -> Watcher:
    """Return the watcher of a weighing stage."""
    return Weigh(context)


class Weigh(Plain):
    """Watches one weighing stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, WeighStage):
            raise TypeError("a weigh watcher needs a weigh stage")
        self.channel = context.channel_id("bench_scale") or context.channel_id("bowl_scale")
        step_g = next((c.resolution for c in context.bench.channel if c.id == self.channel), None)
        self.weighed = Weighed(context, stage, self.channel)
        self.pan = Pan(step_g, context.correctors.get(self.channel or ""))
        self.wants_mark = False
        """A mark came while the scale was moving: it counts at the next rest."""

    @property
    def current(self) -> Ingredient | None:
        """The ingredient that is weighed in now; None when all are."""
        return self.weighed.current

    def reading(self, reading: Reading) -> None:
        """Take one reading of the scale."""
        if reading.channel != self.channel:
            return
        level = self.pan.take(reading)
        if level is not None:
            self._at_rest(level)

    def event(self, event: Event) -> None:
        """Take marks, tares, gaps and typed masses."""
        if event.kind in MARKS:
            self.wants_mark = True
            if self.pan.rests():
                self._mark(event.t_ns)
        elif event.kind == "tare_suspected" and event.channel == self.channel:
            self._tared(event)
        elif event.kind == "gap" and event.channel == self.channel:
            self.pan.steady.clear()
        elif event.kind == "set_value":
            self._typed(event)

    def end(self, t_ns: int) -> None:
        """Take what lies on the scale, and judge every ingredient."""
        self.now_ns = t_ns
        current, level = self.current, self.pan.level
        if current is not None and level is not None:
            share = self.pan.net_g(level) / current.mass_g
            if 1.0 - _END_SHARE <= share <= 1.0 + _END_SHARE:
                self._take(level, t_ns)
        self.weighed.judge(t_ns, self._why_missing())

    def view(self, t_ns: int) -> StageView:
        """Return what to weigh in now, how much is missing, and the shares so far."""
        say, tone = self._say()
        view = StageView(say=say, tone=tone)
        current = self.current
        net_g, u_g = self.pan.net_now(self.now_ns)
        if current is not None:
            view.numbers.append(
                checks.progress(self.context, current.name, net_g, "g", u_g, mass_band(current))
            )
            if current.lot:
                view.more.append(f"Lot {current.lot}")
        so_far_g = dict(self.context.batch.weighed_g)
        if current is not None and net_g is not None and net_g > 0.0:
            so_far_g[current.name] = net_g
        view.more += too_much(self.weighed.wanted, so_far_g)
        for share in shares(self.weighed.wanted, self.context.batch.weighed_g):
            view.more.append(share.says())
        cost = self.weighed.cost()
        if cost is not None:
            view.more.append(cost.says())
        return view

    def finished(self) -> str | None:
        """Return that everything is weighed in."""
        return "Everything is weighed in" if self.weighed.wanted and self.current is None else None

    # The scale at rest.

    def _at_rest(self, level: Reading) -> None:
        if self.pan.base is None:
            self.pan.base = self.pan.level = level
            return
        before = self.pan.level
        if before is not None and self.current is not None and level.value is not None:
            rose_g = level.value - (before.value or 0.0)
            rest_g = self.pan.steady.rest_g(level.value)
            if rose_g < -max(4.0 * rest_g, 0.02 * self.current.mass_g):
                self._taken_off(before, level)
                return
            if self._went_on(before, rose_g, rest_g):
                self._take(before, level.t_ns)
        self.pan.level = level
        if self.wants_mark:
            self._mark(level.t_ns)

    def _mark(self, t_ns: int) -> None:
        self.wants_mark = False
        level, current = self.pan.level, self.current
        if level is None or current is None:
            return
        net_g = self.pan.net_g(level)
        if net_g > _VESSEL_TIMES * current.mass_g:
            self.pan.base = level
        elif net_g > self.pan.steady.rest_g(0.0):
            self._take(level, t_ns)

    def _went_on(self, before: Reading, rose_g: float, rest_g: float) -> bool:
        """Return whether the ingredient was there and the rise belongs to the next one."""
        current = self.current
        if current is None or current.tolerance_percent is None:
            return False
        band = mass_band(current)
        net_g = self.pan.net_g(before)
        inside = band is not None and (band.low or 0.0) <= net_g <= (band.high or math.inf)
        more = max(4.0 * rest_g, 3.0 * tolerance_g(current), _GOES_ON_SHARE * current.mass_g)
        return inside and rose_g > more

    def _taken_off(self, before: Reading, level: Reading) -> None:
        """The vessel or some of it was taken off the scale."""
        base_g = self.pan.base.value if self.pan.base is not None else None
        shown_g, rest_g = level.value or 0.0, self.pan.steady.rest_g(0.0)
        # A display at nought is an empty pan or a tare, also where the base lay below nought
        # because the key had been pressed before the scale was at rest.
        spooned_out = shown_g > (base_g or 0.0) + rest_g and abs(shown_g) > rest_g
        if not spooned_out:
            if self._close(before):
                self._take(before, level.t_ns)
            self.pan.base = level
        self.pan.level = level

    def _close(self, level: Reading) -> bool:
        """Return whether a level is that of the ingredient under way, and not of a vessel."""
        current = self.current
        if current is None:
            return False
        reach_g = max(3.0 * tolerance_g(current), _CLOSE_SHARE * current.mass_g)
        return abs(self.pan.net_g(level) - current.mass_g) <= reach_g

    def _tared(self, event: Event) -> None:
        """The scale was set to zero: what lay on it belongs to the ingredient under way."""
        before_g, after_g = event.data.get("before_g"), event.data.get("after_g")
        if not isinstance(before_g, (int, float)) or not isinstance(after_g, (int, float)):
            return
        at_ns = round(float(event.data.get("at_s", event.t_ns / 1e9)) * 1e9)
        if self.pan.base is not None and self.pan.base.t_ns >= at_ns:
            return
        u = self.pan.last.u if self.pan.last is not None else math.nan
        channel = self.channel or ""
        before = Reading(channel, at_ns, float(before_g), u)
        if self._close(before):
            self._take(before, event.t_ns)
        self.pan.base = self.pan.level = Reading(channel, at_ns, float(after_g), u)
        self.pan.steady.clear()

    def _typed(self, event: Event) -> None:
        name = str(event.data.get("name", ""))
        value = event.data.get("value")
        if not name.startswith(BY_HAND) or not isinstance(value, (int, float)):
            return
        for ingredient in self.weighed.wanted:
            if ingredient.name == name.removeprefix(BY_HAND):
                self.weighed.note(ingredient, float(value), math.nan, event.t_ns, "typed by hand")

    # What is taken.

    def _take(self, level: Reading, t_ns: int) -> None:
        current = self.current
        if current is None:
            return
        net_g, u_g = self.pan.net_g(level), self.pan.net_u(level)
        self.weighed.note(current, net_g, u_g, t_ns, "")
        self.pan.base = level
        self.wants_mark = False

    def _why_missing(self) -> str:
        if self.channel is None:
            return "the bench has no scale to weigh on"
        return "it was not weighed in" if self.pan.last is not None else "no reading of the scale"

    # Numbers and words.

    def _say(self) -> tuple[str, Tone]:
        if self.channel is None:
            return "Weigh in: the bench has no scale to weigh on", "warn"
        current = self.current
        if current is None:
            return "Everything is weighed in", "do"
        name = current.name[:1].upper() + current.name[1:]
        net_g, _ = self.pan.net_now(self.now_ns)
        if net_g is None:
            return f"{name}: {exact_text(current.mass_g, 'g')}. Waiting for the scale to rest", "do"
        left_g = current.mass_g - net_g
        reach_g = max(tolerance_g(current), self.pan.steady.rest_g(0.0))
        if left_g > reach_g:
            target = exact_text(current.mass_g, "g")
            return f"{name}: {value_text(left_g, 'g')} to go of {target}", "do"
        if left_g < -reach_g:
            return f"{name}: {value_text(-left_g, 'g')} too much", "warn"
        return f"{name} is there: mark it, tare, or go on with the next", "do"
