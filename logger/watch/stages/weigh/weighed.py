"""What was weighed in: a row of each ingredient, with shares and cost, and its mass judged.

Pure; used by logger.watch.stages.weigh.watcher, which knows when an ingredient is taken. Keeps
whose turn it is.
"""

import math

from logger.batch.amounts import pieces_of
from logger.batch.cost import Cost, cost_of
from logger.batch.mixture import mass_band, shares
from logger.model.finding import Finding
from logger.model.kinds.weigh import WeighStage
from logger.model.rows import CostRow, WeighingRow
from logger.model.sheet import Ingredient
from logger.watch.engine.contract import Context, seconds
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.words.values import value_text


class Weighed:
    """The account of one weighing stage.

    Parameters
    ----------
    context : Context
        Of the stage.
    stage : WeighStage
        With the ingredients that belong to it.
    channel : str or None
        The scale.
    """

    def __init__(self, context: Context, stage: WeighStage, channel: str | None) -> None:
        self.context = context
        self.channel = channel
        self.wanted = _wanted(context, stage)
        self.unknown = [
            n for n in stage.ingredients or [] if n not in {i.name for i in self.wanted}
        ]
        self.place = 0
        """Place of the ingredient under way among the wanted ones."""

    @property
    def current(self) -> Ingredient | None:
        """The ingredient that is weighed in now; None when all are."""
        return self.wanted[self.place] if self.place < len(self.wanted) else None

    def note(self, ingredient: Ingredient, net_g: float, u_g: float, t_ns: int, how: str) -> None:
        """Write down what was weighed in.

        Parameters
        ----------
        ingredient : Ingredient
            What it is.
        net_g, u_g : float
            Its mass and standard uncertainty [g]; the latter NaN if unknown.
        t_ns : int
            Time on the run's axis [ns].
        how : str
            Where the mass comes from; empty for the scale.
        """
        rows = self.context.out.results.weighings
        rows[:] = [row for row in rows if row.ingredient != ingredient.name]
        self.context.batch.weighed_g[ingredient.name] = net_g
        rows.append(
            WeighingRow(
                ingredient=ingredient.name,
                phase=ingredient.phase,
                lot=ingredient.lot,
                target_g=ingredient.mass_g,
                mass_g=net_g,
                expanded_uncertainty_g=None if math.isnan(u_g) else 2.0 * u_g,
                t_s=seconds(t_ns),
                how=how or "scale",
            )
        )
        values = self.context.out.results.values
        for share in shares(self.wanted, self.context.batch.weighed_g):
            values[f"share_percent.{share.name}"] = share.percent
        cost = self.cost()
        if cost is not None:
            self.context.out.results.cost = CostRow(
                currency=cost.currency,
                batch=cost.batch,
                piece=cost.piece,
                kg=cost.kg,
                without=list(cost.without),
                says=cost.says(),
            )
        text = f"{ingredient.name}: {value_text(net_g, 'g', 2.0 * u_g)}"
        self.context.out.emit(t_ns, "weighed", text, channel=self.channel, mass_g=net_g)
        self._skip_done()

    def cost(self) -> Cost | None:
        """Return what was weighed in costs so far; pieces as the sheet plans them."""
        sheet = self.context.sheet
        return cost_of(sheet, self.context.batch.weighed_g, pieces_of(sheet))

    def judge(self, t_ns: int, why_missing: str) -> None:
        """Judge every ingredient; `why_missing` says why one has no row."""
        taken = {row.ingredient: row for row in self.context.out.results.weighings}
        for ingredient in self.wanted:
            row = taken.get(ingredient.name)
            self.context.out.find(self._finding(ingredient, row, t_ns, why_missing))
        for name in self.unknown:
            self.context.out.find(
                checks.finding(
                    self.context,
                    "weigh.mass_g",
                    Measured(to_ns=t_ns),
                    subject=name,
                    why_missing="the sheet lists no such ingredient",
                )
            )

    def _skip_done(self) -> None:
        done = self.context.batch.weighed_g
        while self.current is not None and self.current.name in done:
            self.place += 1

    def _finding(
        self, ingredient: Ingredient, row: WeighingRow | None, t_ns: int, why_missing: str
    ) -> Finding:
        mass_g = self.context.batch.weighed_g.get(ingredient.name) if row is not None else None
        expanded = row.expanded_uncertainty_g if row is not None else None
        at_ns = t_ns if row is None or row.t_s is None else round(row.t_s * 1e9)
        why = "" if row is not None else why_missing
        if row is not None and row.how != "scale":
            why = "typed by hand without an uncertainty"
        weighed = Measured(
            value=mass_g,
            u=expanded / 2.0 if isinstance(expanded, float) else math.nan,
            from_ns=at_ns if row is not None else self.context.start_ns,
            to_ns=at_ns,
            channel=self.channel,
        )
        return checks.finding(
            self.context,
            "weigh.mass_g",
            weighed,
            mass_band(ingredient),
            subject=ingredient.name,
            why_missing=why,
        )


def _wanted(context: Context, stage: WeighStage) -> list[Ingredient]:
    if stage.ingredients is None:
        return list(context.sheet.ingredient)
    by_name = {i.name: i for i in context.sheet.ingredient}
    return [by_name[name] for name in stage.ingredients if name in by_name]
