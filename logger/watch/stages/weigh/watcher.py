"""Weighing in, ingredient by ingredient, on the bench scale.

Pure; a stage watcher. What was weighed in is worked out by `weighing` over all loads, in whatever
order and however the scale was tared; here the screen is told whose turn it is and how much is
missing.
"""

import math

from logger.batch.mixture import mass_band, shares, tolerance_g, too_much
from logger.correct.channel import difference_uncertainty
from logger.model.kinds.weigh import WeighStage
from logger.model.state import StageView, Tone
from logger.watch.engine.contract import Context, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.scale.loads import FRESH_NS
from logger.watch.stages.weigh.bench import BenchScale
from logger.watch.verdict import checks
from logger.words.values import exact_text, value_text


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
        self.bench = context.detector(BenchScale)
        self.channel = self.bench.channel
        self.weighing = self.bench.begin(context, stage)

    def end(self, t_ns: int) -> None:
        """Judge every ingredient."""
        self.now_ns = t_ns
        self.weighing.end(t_ns)

    def view(self, t_ns: int) -> StageView:
        """Return what to weigh in now, how much is missing, and the shares so far."""
        say, tone = self._say()
        view = StageView(say=say, tone=tone)
        account, current = self.weighing.account, self.weighing.current
        net_g, u_g = self._net_now()
        if current is not None:
            view.numbers.append(
                checks.progress(self.context, current.name, net_g, "g", u_g, mass_band(current))
            )
            if current.lot:
                view.more.append(f"Lot {current.lot}")
        so_far_g = dict(self.context.batch.weighed_g)
        if current is not None and net_g is not None and net_g > 0.0:
            so_far_g[current.name] = net_g
        view.more += too_much(account.wanted, so_far_g)
        for share in shares(account.wanted, self.context.batch.weighed_g):
            view.more.append(share.says())
        cost = account.cost()
        if cost is not None:
            view.more.append(cost.says())
        if self.weighing.tasting.left:
            view.more.append("To taste has no target: how much goes in is noted, not judged")
        return view

    def finished(self) -> str | None:
        """Return that everything is weighed in."""
        return "Everything is weighed in" if self.weighing.done() else None

    def _net_now(self) -> tuple[float | None, float]:
        """Return what of the current ingredient is there, with its standard uncertainty [g]."""
        last = self.bench.levels.last
        if last is None or self.now_ns - last.t_ns > FRESH_NS:
            return None, math.nan
        net_g = self.weighing.net_g()
        corrector = self.context.correctors.get(self.channel or "")
        if net_g is None or last.value is None:
            return None, math.nan
        if corrector is None:
            return net_g, math.sqrt(2.0) * last.u
        return net_g, difference_uncertainty(corrector, last.value, corrector, last.value - net_g)

    def _say(self) -> tuple[str, Tone]:
        if self.channel is None:
            return "Weigh in: the bench has no scale to weigh on", "warn"
        current = self.weighing.current
        if current is None:
            left = self.weighing.tasting.left
            where = "on the scale, or write a note of how much"
            taste = f". Now to taste: {', '.join(left)}, {where}" if left else ""
            return f"Everything is weighed in{taste}", "do"
        name = current.name[:1].upper() + current.name[1:]
        net_g, _ = self._net_now()
        if net_g is None:
            return (
                f"{name}: {exact_text(current.mass_g, 'g')}. Waiting for the scale to settle",
                "do",
            )
        left_g = current.mass_g - net_g
        reach_g = max(tolerance_g(current), self.bench.levels.steady.rest_g(0.0))
        if left_g > reach_g:
            target = exact_text(current.mass_g, "g")
            return f"{name}: {value_text(left_g, 'g')} to go of {target}", "do"
        if left_g < -reach_g:
            return f"{name}: {value_text(-left_g, 'g')} too much", "warn"
        return f"{name} is weighed in: press Mark, tare, or add the next", "do"
