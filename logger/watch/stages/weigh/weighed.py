"""What was weighed in: a row of each ingredient, with shares and cost, and its mass judged.

Pure; used by logger.watch.stages.weigh.weighing, which knows which load was which. A mass that is
not sure has its row, with its probability, and neither a verdict nor a part in what follows.
"""

import math
from collections.abc import Sequence

from logger.batch.amounts import pieces_of
from logger.batch.cost import Cost, cost_of
from logger.batch.mixture import mass_band, shares
from logger.correct.channel import difference_uncertainty
from logger.model.finding import Finding
from logger.model.kinds.weigh import WeighStage
from logger.model.rows import SURE_WEIGHED, CostRow, WeighingRow
from logger.model.sheet import Ingredient
from logger.watch.engine.contract import Context, seconds
from logger.watch.stages.weigh.booking import Booking
from logger.watch.stages.weigh.levels import SILENT_NS, Levels
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.words.durations import clock_span
from logger.words.values import value_text

_SAID_AGAIN_G, _SAID_AGAIN_SHARE = 0.1, 0.005
"""A mass that changes by more than this [g], or such a share, is said again."""
_STEPS_HASTY = 3.0
"""Standard uncertainty of a level that was not at rest, in display steps [1]: rough, no source."""


class Weighed:
    """The account of one weighing stage.

    Parameters
    ----------
    context : Context
        Of the stage, or of the run before it.
    stage : WeighStage
        With the ingredients that belong to it.
    channel : str or None
        The scale.
    levels : Levels
        Of the scale.

    Attributes
    ----------
    by_hand : dict
        Mass that was typed [g] and when [ns], by the ingredient's place.
    ended_ns : int
        When the stage ended last [ns].
    """

    def __init__(
        self, context: Context, stage: WeighStage, channel: str | None, levels: Levels
    ) -> None:
        self.context = context
        self.stage, self.channel, self.levels = stage, channel, levels
        self.wanted = _wanted(context, stage)
        self.unknown = [
            n for n in stage.ingredients or [] if n not in {i.name for i in self.wanted}
        ]
        self.by_hand: dict[int, tuple[float, int]] = {}
        self.ended_ns = context.start_ns
        self._said_g: dict[int, float] = {}

    def write(self, bookings: Sequence[Booking], first: int) -> None:
        """Write the rows anew; say what is new and sure.

        Parameters
        ----------
        bookings : sequence of Booking
            What was weighed in so far; what is under way has no row yet.
        first : int
            Index of the first level that they know.
        """
        batch, results = self.context.batch, self.context.out.results
        names = {i.name for i in self.wanted}
        results.weighings[:] = [r for r in results.weighings if r.ingredient not in names]
        for name in names:
            batch.weighed_g.pop(name, None)
            results.values.pop(f"share_percent.{name}", None)
        for booking in bookings:
            if booking.closed and booking.ingredient not in self.by_hand:
                self._write(booking, first)
        for place, (mass_g, t_ns) in self.by_hand.items():
            self._add_row(self.wanted[place], mass_g, math.nan, t_ns, how="typed by hand")
            batch.weighed_g[self.wanted[place].name] = mass_g
            self._say(place, mass_g, math.nan, t_ns)
        for share in shares(self.wanted, batch.weighed_g):
            results.values[f"share_percent.{share.name}"] = share.percent
        cost = self.cost()
        results.cost = None if cost is None else _cost_row(cost)

    def cost(self) -> Cost | None:
        """Return what was weighed in costs so far; pieces as the sheet plans them."""
        sheet = self.context.sheet
        return cost_of(sheet, self.context.batch.weighed_g, pieces_of(sheet))

    def judge(self, missing: Sequence[float]) -> None:
        """Judge every ingredient.

        Parameters
        ----------
        missing : sequence of float
            Probability that each was not weighed in [1].
        """
        rows = {row.ingredient: row for row in self.context.out.results.weighings}
        for place, ingredient in enumerate(self.wanted):
            found = self._finding(ingredient, rows.get(ingredient.name), missing[place])
            self.context.out.find(found)
        for name in self.unknown:
            self.context.out.find(
                checks.finding(
                    self.context,
                    "weigh.mass_g",
                    Measured(to_ns=self.ended_ns),
                    subject=name,
                    why_missing="the sheet lists no such ingredient",
                )
            )

    # Rows.

    def _write(self, booking: Booking, first: int) -> None:
        ingredient, found = self.wanted[booking.ingredient], self.levels.found
        u_g = self._u_g(booking, first)
        t_ns = found[booking.portions[-1].last + first].t_ns
        self._add_row(
            ingredient,
            booking.mass_g,
            u_g,
            t_ns,
            confidence=booking.confidence,
            portions=len(booking.portions),
        )
        if booking.sure:
            self.context.batch.weighed_g[ingredient.name] = booking.mass_g
            self._say(booking.ingredient, booking.mass_g, u_g, found[-1].t_ns)

    def _add_row(
        self,
        ingredient: Ingredient,
        mass_g: float,
        u_g: float,
        t_ns: int,
        *,
        how: str = "scale",
        confidence: float | None = None,
        portions: int = 1,
    ) -> None:
        self.context.out.results.weighings.append(
            WeighingRow(
                ingredient=ingredient.name,
                phase=ingredient.phase,
                lot=ingredient.lot,
                target_g=ingredient.mass_g,
                mass_g=mass_g,
                expanded_uncertainty_g=None if math.isnan(u_g) else checks.COVERAGE * u_g,
                t_s=seconds(t_ns),
                how=how,
                confidence=confidence,
                portions=portions,
            )
        )

    def _u_g(self, booking: Booking, first: int) -> float:
        """Return the standard uncertainty of a mass [g]: of each run of levels, added up."""
        runs: list[list[int]] = []
        for portion in booking.portions:
            if runs and runs[-1][1] == portion.first:
                runs[-1][1] = portion.last
            else:
                runs.append([portion.first, portion.last])
        return math.hypot(*(self.u_between_g(a + first, b + first) for a, b in runs))

    def u_between_g(self, a: int, b: int) -> float:
        """Return the standard uncertainty of the difference of two levels, by their indices [g]."""
        before, after = self.levels.found[a], self.levels.found[b]
        corrector = self.context.correctors.get(self.channel or "")
        if corrector is None:
            last = self.levels.last
            u_g = math.sqrt(2.0) * last.u if last is not None else math.nan
        else:
            u_g = difference_uncertainty(corrector, after.level_g, corrector, before.final_g)
        hasty_g = _STEPS_HASTY * self.levels.step_g
        return math.hypot(u_g, *(hasty_g for level in (before, after) if level.hasty))

    def _say(self, place: int, mass_g: float, u_g: float, t_ns: int) -> None:
        said_g = self._said_g.get(place)
        reach_g = max(_SAID_AGAIN_G, _SAID_AGAIN_SHARE * mass_g)
        if said_g is not None and abs(mass_g - said_g) <= reach_g:
            return
        self._said_g[place] = mass_g
        text = f"{self.wanted[place].name}: {value_text(mass_g, 'g', checks.COVERAGE * u_g)}"
        self.context.out.emit(t_ns, "weighed", text, channel=self.channel, mass_g=mass_g)

    # Findings.

    def _finding(self, ingredient: Ingredient, row: WeighingRow | None, missing: float) -> Finding:
        at_ns = self.ended_ns if row is None or row.t_s is None else round(row.t_s * 1e9)
        mass_g = expanded = None
        by_hand = ""
        why = self._why_missing(row, missing)
        if row is not None and row.sure:
            mass_g, expanded = row.mass_g, row.expanded_uncertainty_g
            by_hand = "" if row.how == "scale" else "typed by hand without an uncertainty"
        weighed = Measured(
            value=mass_g,
            u=expanded / checks.COVERAGE if expanded is not None else math.nan,
            from_ns=self.context.start_ns if row is None else at_ns,
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
            why_unknown=by_hand,
        )

    def _why_missing(self, row: WeighingRow | None, missing: float) -> str:
        if self.channel is None:
            return "the bench has no scale to weigh on"
        if row is not None:
            return f"can't tell whether {value_text(row.mass_g, 'g')} on the scale was it"
        if self.levels.last is None:
            return "no reading of the scale"
        if missing < SURE_WEIGHED:
            return "can't tell which load on the scale was it"
        silent_ns = self._longest_silence()
        if silent_ns is not None:
            span = clock_span(*(seconds(t_ns) for t_ns in silent_ns))
            return f"can't tell: the scale was silent from {span}"
        return "it was not weighed in"

    def _longest_silence(self) -> tuple[int, int] | None:
        """Return from when to when the scale was silent during the weighing [ns]."""
        last = self.levels.last
        silences_ns = list(self.levels.silences_ns)
        if last is not None and self.ended_ns - last.t_ns > SILENT_NS:
            silences_ns.append((last.t_ns, self.ended_ns))
        rows = self.context.out.results.weighings
        begun_ns = [round(row.t_s * 1e9) for row in rows if row.t_s is not None]
        from_ns = min([self.context.start_ns, *begun_ns])
        during = [(a, b) for a, b in silences_ns if b > from_ns and a < self.ended_ns]
        return max(during, key=lambda ab: ab[1] - ab[0], default=None)


def _cost_row(cost: Cost) -> CostRow:
    return CostRow(
        currency=cost.currency,
        batch=cost.batch,
        piece=cost.piece,
        kg=cost.kg,
        without=list(cost.without),
        says=cost.says(),
    )


def _wanted(context: Context, stage: WeighStage) -> list[Ingredient]:
    if stage.ingredients is None:
        return list(context.sheet.ingredient)
    by_name = {i.name: i for i in context.sheet.ingredient}
    return [by_name[name] for name in stage.ingredients if name in by_name]
