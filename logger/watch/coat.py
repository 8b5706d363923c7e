"""Coating: coat mass and thickness of each piece, the spread, and the dwell it will need.

Pure; a stage watcher. Either the piece lies on the bench scale before and after its dip, or the
vessel of coat does. Thickness is exact geometry, on the sheet's body scaled by the piece's mass;
the needed dwell is that of the sheet's bath, at the bath's temperature now.
"""

import math

from logger.model.errors import OutOfRangeError
from logger.model.event import Event
from logger.model.reading import Reading
from logger.model.sheet import CoatStage
from logger.model.state import StageView, Tone
from logger.science.coating import Body, coat_mass_g, coat_thickness_mm, spread, u_coat_thickness_mm
from logger.science.dwell import NeededDwell
from logger.watch import checks, pieces
from logger.watch.amounts import CoatAmounts, body_of, coat_amounts, set_stage_of
from logger.watch.contract import Context, Watcher
from logger.watch.dips import DippingVessel, Dips, Range, Taken, least_pickup_g
from logger.watch.needed import needed_for
from logger.watch.plain import Plain
from logger.watch.probe import Probe
from logger.watch.singles import Singles, Step

U_SHAPE = 0.03
"""Standard uncertainty of a piece's surface, as a share: the sheet's shape is not measured on each
piece; from memory."""
USUAL_PICKUP_G = (1.0, 15.0)
"""What a coat may weigh where sheet and shape say nothing [g]: from memory."""

USUAL_PIECE_G = 150.0
"""What a piece weighs at most where nothing says it [g]: from memory."""


def make(context: Context) -> Watcher:
    """Return the watcher of a coating stage."""
    return CoatWatch(context)


class CoatWatch(Plain):
    """Watches one coating stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, CoatStage):
            raise TypeError("a coat watcher needs a coat stage")
        self.stage = stage
        self.channel = context.channel_id("bench_scale")
        self.body: Body | None = body_of(context.sheet)
        self.amounts: CoatAmounts | None = coat_amounts(context.sheet, context.batch.weighed_g)
        self.bath = Probe(context, "bath")
        pickup_g, most_g = self._may_pick_up()
        bare = {n: p.bare_mass_g for n, p in context.batch.pieces.items()}
        self.dips = Dips(
            pickup_g=pickup_g,
            most_g=most_g,
            bare_g={n: mass_g for n, mass_g in bare.items() if mass_g is not None},
        )
        self.scale = Singles(context, self.channel)
        self.vessel: DippingVessel | None = None
        if stage.scale_holds == "vessel":
            heaviest_g = max(self.dips.bare_g.values(), default=pieces.likely_mass_g(self.body))
            self.vessel = DippingVessel(
                self.scale, least_pickup_g(pickup_g), most_g, 1.5 * (heaviest_g or USUAL_PIECE_G)
            )
        else:
            self.scale.may_weigh_g = self._may_weigh()
        self.u_bare_g: dict[int, float] = {}
        self.coats: dict[int, tuple[float, float, int]] = {}
        """Mass, its standard uncertainty [g] and time [ns] of each coat weighed here."""
        self.by_hand: set[int] = set()
        self.lies: tuple[int, str] | None = None
        """Piece on the scale, and whether that is before or after its dip."""
        self.needed: NeededDwell | None = None
        self.refused = ""

    def reading(self, reading: Reading) -> None:
        """Take one reading of the bench scale or the bath probe."""
        self.bath.take(reading)
        if self.vessel is not None:
            taken = self.vessel.take(reading)
            if taken is not None:
                self._taken(taken)
            return
        step = self.scale.take(reading)
        if step is not None:
            self._step(step)

    def event(self, event: Event) -> None:
        """Take gaps, tares and masses by hand."""
        if self.vessel is not None:
            self.vessel.event(event)
        else:
            self.scale.event(event)
        by_hand = pieces.registered_by_hand(event)
        if by_hand is not None:
            self._by_hand(*by_hand, event.t_ns)

    def end(self, t_ns: int) -> None:
        """Judge the coat of each piece."""
        self.now_ns = t_ns
        for number in sorted(self.coats):
            self._judge(number)
        missing = self._missing()
        if not self.coats or missing:
            why = self._why()
            if self.coats:
                why = f"{missing} of {self.stage.pieces} coats were not weighed"
            for check, unit, band in (
                ("coat mass", "g", self.stage.pickup_g),
                ("coat thickness", "mm", self.stage.thickness_mm),
            ):
                self.context.out.find(
                    checks.finding(
                        self.context, check, None, unit, math.nan, band, self.context.start_ns,
                        t_ns, self.channel, why_missing=why,
                    )
                )  # fmt: skip
        thick = self._thicknesses()
        if thick:
            found, values = spread(thick), self.context.out.results.values
            values["coat_mm_mean"] = found.mean
            if found.sd is not None and found.relative is not None:
                values["coat_mm_sd"] = found.sd
                values["coat_spread_percent"] = 100.0 * found.relative

    def view(self, t_ns: int) -> StageView:
        """Return what to do next, the last coat, and the dwell it will need."""
        say, tone = self._say()
        view = StageView(say=say, tone=tone, pieces=pieces.rows(self.context.batch))
        if self.refused:
            view.say, view.tone = self.refused.partition(". (")[0] + ".", "stop"
        if self.coats:
            number = max(self.coats, key=lambda n: self.coats[n][2])
            mass_g, u_g, _ = self.coats[number]
            view.numbers.append(
                checks.number(self.context, f"Coat {number}", mass_g, "g", u_g, self.stage.pickup_g)
            )
            coat_mm, u_mm = self._thickness(number)
            view.numbers.append(
                checks.number(
                    self.context, "Thickness", coat_mm, "mm", u_mm, self.stage.thickness_mm,
                    text="" if coat_mm is not None else self._no_thickness(),
                )
            )  # fmt: skip
        view.more = self._more()
        return view

    def finished(self) -> str | None:
        """Return that all coats are weighed."""
        if self.stage.pieces is None or self._missing() or self.lies is not None:
            return None
        return f"All {self.stage.pieces} pieces are coated and weighed"

    # What the scale tells.

    def _step(self, step: Step) -> None:
        if step.what == "off":
            self.lies = None
            return
        if step.what == "on" or self.lies is None:
            self.lies = self.dips.place(step.mass_g)
        number, when = self.lies
        if when == "before":
            self.dips.bare_g[number], self.u_bare_g[number] = step.mass_g, step.u_g
            if number not in self.dips.before:
                self.dips.before.append(number)
            facts = pieces.facts_of(self.context.batch, number)
            facts.bare_mass_g = step.mass_g
            pieces.write(self.context)
            return
        if number not in self.dips.after:
            self.dips.after.append(number)
        u_g = math.hypot(step.u_g, self.u_bare_g.get(number, step.u_g))
        self._coat(number, step.mass_g - self.dips.bare_g[number], u_g, step.t_ns)

    def _taken(self, taken: Taken) -> None:
        dips = self.dips
        number = dips.after[-1] if taken.again and dips.after else self._next_in_turn()
        if number not in dips.after:
            dips.after.append(number)
        self._coat(number, taken.mass_g, taken.u_g, taken.t_ns)

    def _by_hand(self, number: int, mass_g: float, t_ns: int) -> None:
        """A mass typed for a piece: before its dip if none is known, else the coated mass."""
        bare_g = self.dips.bare_g.get(number)
        if bare_g is None:
            self.dips.bare_g[number] = mass_g
            pieces.facts_of(self.context.batch, number).bare_mass_g = mass_g
            pieces.write(self.context)
        elif mass_g > bare_g:
            if number not in self.dips.after:
                self.dips.after.append(number)
            self.by_hand.add(number)
            self._coat(number, mass_g - bare_g, math.nan, t_ns)

    def _next_in_turn(self) -> int:
        left = [n for n in sorted(self.dips.bare_g) if n not in self.dips.after]
        return left[0] if left else max([0, *self.dips.bare_g, *self.dips.after]) + 1

    def _coat(self, number: int, mass_g: float, u_g: float, t_ns: int) -> None:
        self.coats[number] = mass_g, u_g, t_ns
        facts = pieces.facts_of(self.context.batch, number)
        facts.coat_mass_g = mass_g
        for known in self.coats:
            pieces.facts_of(self.context.batch, known).coat_mm = self._thickness(known)[0]
        pieces.write(self.context)
        text = f"piece {number}: coat {checks.shown(mass_g, 'g', 2.0 * u_g)}"
        if facts.coat_mm is not None:
            text += f", {facts.coat_mm:.2f} mm"
        self._work_out_dwell(facts.coat_mm, t_ns)
        self.context.out.emit(
            t_ns, "piece_registered", text, channel=self.channel, piece=number,
            coat_mass_g=mass_g, coat_mm=facts.coat_mm,
        )  # fmt: skip

    def _work_out_dwell(self, coat_mm: float | None, t_ns: int) -> None:
        stage = set_stage_of(self.context.sheet)
        if coat_mm is None or stage is None:
            return
        count = self.stage.pieces or stage.pieces or len(self.coats)
        self.needed, self.refused = needed_for(
            self.context, stage, self._thicknesses(), coat_mm, count, self.bath.value(t_ns), t_ns
        )

    # Geometry.

    def _thickness(self, number: int) -> tuple[float | None, float]:
        """Return the mean thickness of a coat and its standard uncertainty [mm]."""
        if self.body is None or self.amounts is None or number not in self.coats:
            return None, math.nan
        mass_g, u_g, _ = self.coats[number]
        body = pieces.sized(
            self.body, self.dips.bare_g.get(number), list(self.dips.bare_g.values())
        )
        density = self.amounts.density_kg_m3
        try:
            thick_mm = coat_thickness_mm(mass_g, body, density)
            u_mm = u_coat_thickness_mm(mass_g, u_g, body, density)
        except OutOfRangeError:
            return None, math.nan
        return thick_mm, math.hypot(u_mm, U_SHAPE * thick_mm)

    def _thicknesses(self) -> list[float]:
        found = (self._thickness(n)[0] for n in sorted(self.coats))
        return [mm for mm in found if mm is not None]

    def _no_thickness(self) -> str:
        if self.body is None:
            return "the sheet gives no shape of a piece"
        if self.amounts is None:
            return "the sheet has no alginate in its coat phase"
        return "no coat of that mass fits this piece"

    def _may_pick_up(self) -> tuple[Range, float]:
        """Return what a coat may weigh, likely and at most [g]."""
        most_g = math.inf
        density = self.amounts.density_kg_m3 if self.amounts is not None else 1010.0
        if self.body is not None:
            most_g = 0.5 * coat_mass_g(self.body.radius_mm, self.body, density)
        band, thick = self.stage.pickup_g, self.stage.thickness_mm
        if band is not None and band.low is not None and band.high is not None:
            return (band.low, band.high), max(3.0 * band.high, 1.0)
        if thick is not None and thick.low and thick.high and self.body is not None:
            ends = [coat_mass_g(mm, self.body, density) for mm in (thick.low, thick.high)]
            return (ends[0], ends[1]), min(most_g, 3.0 * ends[1])
        if self.body is not None:
            ends = [coat_mass_g(mm, self.body, density) for mm in (0.2, 1.5)]
            return (ends[0], ends[1]), most_g
        return USUAL_PICKUP_G, 3.0 * USUAL_PICKUP_G[1]

    def _may_weigh(self) -> Range | None:
        """Return what a bare or coated piece may weigh, to tell it from a tray [g]."""
        masses_g = list(self.dips.bare_g.values())
        if not masses_g:
            likely_g = pieces.likely_mass_g(self.body)
            masses_g = [] if likely_g is None else [likely_g]
        if not masses_g:
            return None
        return 0.5 * min(masses_g), 1.4 * max(masses_g) + self.dips.pickup_g[1]

    # Verdicts and words.

    def _judge(self, number: int) -> None:
        mass_g, u_g, at_ns = self.coats[number]
        coat_mm, u_mm = self._thickness(number)
        typed = pieces.BY_HAND if number in self.by_hand else ""
        out = self.context.out
        out.find(
            checks.finding(
                self.context, "coat mass", mass_g, "g", u_g, self.stage.pickup_g, at_ns, at_ns,
                self.channel, number, typed,
            )
        )  # fmt: skip
        out.find(
            checks.finding(
                self.context, "coat thickness", coat_mm, "mm", u_mm, self.stage.thickness_mm,
                at_ns, at_ns, self.channel, number,
                typed if coat_mm is not None else self._no_thickness(),
            )
        )  # fmt: skip

    def _missing(self) -> int:
        return max(0, (self.stage.pieces or 0) - len(self.coats))

    def _why(self) -> str:
        if self.channel is None:
            return "the bench has no bench scale"
        if self.scale.last is None:
            return "no reading of the bench scale"
        return "no coat was weighed"

    def _say(self) -> tuple[str, Tone]:
        if self.channel is None:
            return "Dip the pieces: the bench has no scale to weigh the coats on", "do"
        if self.stage.pieces is not None and not self._missing() and self.lies is None:
            return "All coats are weighed: into the bath", "do"
        if self.vessel is not None:
            number = self._next_in_turn()
            return f"Dip piece {number}, let it drip into the vessel, hands off", "do"
        if self.lies is not None:
            number, when = self.lies
            if when == "before":
                return f"Piece {number}: {self.dips.bare_g[number]:.1f} g bare. Dip it", "do"
            mass_g, _, _ = self.coats[number]
            coat_mm = self._thickness(number)[0]
            thick = "" if coat_mm is None else f", {coat_mm:.2f} mm"
            return f"Piece {number}: coat {mass_g:.1f} g{thick}. Next one", "do"
        waiting = [n for n in self.dips.before if n not in self.dips.after]
        if waiting:
            return f"Dip piece {waiting[0]}, let it drip, then back on the scale", "do"
        return f"Piece {self.dips.next_before}: weigh it, dip it, weigh it again", "do"

    def _more(self) -> list[str]:
        told = []
        if self.needed is not None:
            says = self.needed.says()
            told.append(says[0].upper() + says[1:] + ".")
        if self.refused:
            told.append(self.refused)
        thick = self._thicknesses()
        if len(thick) > 1:
            found = spread(thick)
            told.append(
                f"{found.count} coats, {found.mean:.2f} mm on average, {found.low:.2f} to "
                f"{found.high:.2f} mm. Time goes with the square of it."
            )
        if self.coats and not thick:
            told.append(f"No thickness: {self._no_thickness()}.")
        elif thick:
            told.append("Thickness is the mean: a coat that sags is thicker below.")
        return told
