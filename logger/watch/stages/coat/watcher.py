"""Coating: coat mass and thickness of each piece, the spread, and the dwell it will need.

Pure; a stage watcher. Either the piece is on the bench scale before and after its dip, or the
vessel of coat is. Thickness is exact geometry, on the sheet's body scaled by the piece's mass;
the needed dwell is that of the sheet's bath, at the bath's temperature now.
"""

import math

from logger.batch.amounts import body_of, coat_amounts, set_stage_of
from logger.model.event import Event
from logger.model.kinds.coat import CoatStage
from logger.model.reading import Reading
from logger.model.state import StageView, Tone
from logger.science.gel.dwell import NeededDwell
from logger.watch.engine.contract import Context, Watcher
from logger.watch.engine.plain import Plain
from logger.watch.scale import pieces
from logger.watch.scale.loads import LoadChange, LoadDetector, Range
from logger.watch.sensors.probe import Probe
from logger.watch.stages.coat import findings
from logger.watch.stages.coat.dips import (
    SURE,
    Dip,
    DippingVessel,
    DipTracker,
    Weighing,
    least_pickup_g,
)
from logger.watch.stages.coat.thickness import Thickness, needed_for
from logger.watch.verdict import checks
from logger.words.values import rounded_text, value_text

USUAL_PIECE_G = 150.0
"""What a piece weighs at most where nothing says it [g]: from memory."""
CORRECTED_G = 0.02
"""A coat that changes by more than this is announced again [g]."""


def make(context: Context) -> Watcher:
    """Return the watcher of a coating stage.

    Raises
    ------
    TypeError
        If the context's stage is of another kind.
    """
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
        self.geometry = Thickness(
            body_of(context.sheet), coat_amounts(context.sheet, context.batch.weighed_g)
        )
        self.bath = Probe(context, "bath")
        pickup_g, most_g = self.geometry.pickup_g(stage)
        bare = {n: p.bare_mass_g for n, p in context.batch.pieces.items()}
        self.bare_g = {n: mass_g for n, mass_g in bare.items() if mass_g is not None}
        self.formed = bool(self.bare_g)
        """Whether the pieces were weighed at forming."""
        self.dips = DipTracker(self.bare_g, pickup_g, most_g)
        self.loads: list[LoadChange] = []
        """Weighings of pieces, in order; the last one may still be put right."""
        self.scale = LoadDetector(context, self.channel)
        self.vessel: DippingVessel | None = None
        if stage.scale_holds == "vessel":
            likely_g = pieces.likely_mass_g(self.geometry.body)
            heaviest_g = max(self.bare_g.values(), default=likely_g) or USUAL_PIECE_G
            self.vessel = DippingVessel(
                self.scale, least_pickup_g(pickup_g), most_g, 1.5 * heaviest_g
            )
        else:
            self.scale.may_weigh_g = self._may_weigh(pickup_g)
        self.coats: dict[int, tuple[float, float, int]] = {}
        """Mass, its standard uncertainty [g] and time [ns] of each coat weighed here."""
        self.by_hand: set[int] = set()
        self.on_scale: Weighing | None = None
        """Piece on the scale, and whether that is before or after its dip."""
        self.needed: NeededDwell | None = None
        self.refused = ""

    def reading(self, reading: Reading) -> None:
        """Take one reading of the bench scale or the bath probe."""
        self.bath.take(reading)
        if self.vessel is not None:
            dip = self.vessel.take(reading)
            if dip is not None:
                self._dip(dip)
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
        """Judge the coat of each piece; one that may be another piece's is none."""
        self.now_ns = t_ns
        self._leave_out_untold()
        for number in sorted(self.coats):
            for one in findings.coat_findings(
                self.context,
                self.stage,
                number,
                self.coats[number],
                self._thickness(number),
                channel=self.channel,
                why_none=self.geometry.why_none(),
                typed=number in self.by_hand,
            ):
                self.context.out.find(one)
        missing = self._missing()
        if not self.coats or missing:
            why = self._why()
            if self.coats:
                why = f"{missing} of {self.stage.pieces} coats were not weighed"
            if self._untold():
                why = "can't tell which piece each weighing was"
            for one in findings.unweighed_findings(
                self.context, self.stage, self.channel, why, t_ns
            ):
                self.context.out.find(one)
        thick = self._thicknesses()
        if thick:
            self.context.out.results.values.update(findings.spread_values(thick))

    def view(self, t_ns: int) -> StageView:
        """Return what to do next, the last coat, and the dwell it will need."""
        say, tone = self._say()
        view = StageView(say=say, tone=tone, pieces=pieces.rows(self.context.batch))
        if self.refused:
            view.say, view.tone = self.refused, "stop"
        if self.coats:
            number = max(self.coats, key=lambda n: self.coats[n][2])
            mass_g, u_g, _ = self.coats[number]
            view.numbers.append(
                checks.number(self.context, f"Coat {number}", mass_g, "g", u_g, self.stage.pickup_g)
            )
            coat_mm, u_mm = self._thickness(number)
            view.numbers.append(
                checks.number(
                    self.context,
                    "Thickness",
                    coat_mm,
                    "mm",
                    u_mm,
                    self.stage.thickness_mm,
                    text="" if coat_mm is not None else self.geometry.why_none(),
                )
            )
        view.more = findings.notes(
            self.needed,
            self.refused,
            self._thicknesses(),
            self.geometry.why_none() if self.coats else "",
        )
        return view

    def finished(self) -> str | None:
        """Return that all coats are weighed."""
        if self.stage.pieces is None or self._missing() or self.on_scale is not None:
            return None
        return f"All {self.stage.pieces} pieces are coated and weighed"

    # What the scale shows.

    def _step(self, step: LoadChange) -> None:
        if step.what == "off":
            self.on_scale = None
            return
        if step.what == "on":
            self.loads.append(step)
            self.dips.take(step.mass_g)
        elif self.loads:
            self.loads[-1] = step
            self.dips.correct(step.mass_g)
        self._reread(step.t_ns)

    def _reread(self, t_ns: int) -> None:
        """Read all weighings by the likeliest hypothesis, which may correct an earlier coat."""
        best = self.dips.best
        self.on_scale = best.weighings[-1] if best.weighings else None
        self.bare_g = dict(best.bare_g)
        u_bare_g: dict[int, float] = {}
        coats = {n: coat for n, coat in self.coats.items() if n in self.by_hand}
        for step, (number, when) in zip(self.loads, best.weighings, strict=True):
            if when == "before":
                u_bare_g[number] = step.u_g
            elif number not in self.by_hand:
                u_g = math.hypot(step.u_g, u_bare_g.get(number, step.u_g))
                coats[number] = step.mass_g - self.bare_g[number], u_g, step.t_ns
        before, self.coats = self.coats, coats
        for number, facts in self.context.batch.pieces.items():
            facts.bare_mass_g = self.bare_g.get(number)
            if number in before and number not in coats:
                facts.coat_mass_g = facts.coat_mm = None
        for number, mass_g in self.bare_g.items():
            pieces.facts_of(self.context.batch, number).bare_mass_g = mass_g
        for number, coat in coats.items():
            if number not in before or abs(before[number][0] - coat[0]) > CORRECTED_G:
                self._announce(number, t_ns)
        self._write()

    def _dip(self, dip: Dip) -> None:
        last = max(self.coats, key=lambda n: self.coats[n][2], default=None)
        number = last if dip.corrects and last is not None else self._next_in_turn()
        self.coats[number] = dip.mass_g, dip.u_g, dip.t_ns
        self._announce(number, dip.t_ns)
        self._write()

    def _by_hand(self, number: int, mass_g: float, t_ns: int) -> None:
        """A mass typed for a piece: before its dip if none or a larger one is known, else the
        coated mass."""
        bare_g = self.bare_g.get(number)
        if bare_g is not None and mass_g - bare_g > self.dips.most_g:
            coat = rounded_text(mass_g - bare_g, "g")
            text = f"piece {number}: {coat} is too much for a coat; enter its mass again"
            self.context.out.emit(t_ns, "not_done", text, piece=number)
            return
        if bare_g is None or mass_g <= bare_g:
            self.bare_g[number] = mass_g
            self.dips.register(number, mass_g, "before")
            pieces.facts_of(self.context.batch, number).bare_mass_g = mass_g
        else:
            self.by_hand.add(number)
            self.dips.register(number, mass_g, "after")
            self.coats[number] = mass_g - bare_g, math.nan, t_ns
            self._announce(number, t_ns)
        self._write()

    def _next_in_turn(self) -> int:
        left = [n for n in sorted(self.bare_g) if n not in self.coats]
        return left[0] if left else max([0, *self.bare_g, *self.coats]) + 1

    def _write(self) -> None:
        """Put coats and thicknesses into the facts: each thickness hangs on the mean of all."""
        for number, (mass_g, _, _) in self.coats.items():
            facts = pieces.facts_of(self.context.batch, number)
            facts.coat_mass_g, facts.coat_mm = mass_g, self._thickness(number)[0]
        pieces.write(self.context)

    def _announce(self, number: int, t_ns: int) -> None:
        mass_g, u_g, _ = self.coats[number]
        coat_mm = self._thickness(number)[0]
        text = f"piece {number}: coat {value_text(mass_g, 'g', 2.0 * u_g)}"
        if coat_mm is not None:
            text += f", {value_text(coat_mm, 'mm')}"
        self._work_out_dwell(coat_mm, t_ns)
        self.context.out.emit(
            t_ns,
            "piece_registered",
            text,
            channel=self.channel,
            piece=number,
            coat_mass_g=mass_g,
            coat_mm=coat_mm,
        )

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
        mass_g, u_g, _ = self.coats[number]
        return self.geometry.of(mass_g, u_g, self.bare_g.get(number), list(self.bare_g.values()))

    def _thicknesses(self) -> list[float]:
        found = (self._thickness(n)[0] for n in sorted(self.coats))
        return [mm for mm in found if mm is not None]

    def _may_weigh(self, pickup_g: Range) -> Range | None:
        """Return what a bare or coated piece may weigh, to distinguish it from a tray [g]."""
        masses_g = list(self.bare_g.values())
        if not masses_g:
            likely_g = pieces.likely_mass_g(self.geometry.body)
            masses_g = [] if likely_g is None else [likely_g]
        if not masses_g:
            return None
        return 0.5 * min(masses_g), 1.4 * max(masses_g) + pickup_g[1]

    # Sentences.

    def _leave_out_untold(self) -> None:
        """Drop coats that only some hypotheses have, once no later weighing can tell more.

        Without masses from forming the order alone says which piece is which, and stands.
        """
        if self.vessel is not None or not self.formed:
            return
        for number in [n for n in self.coats if n not in self.by_hand]:
            if self.dips.agreed(number) < SURE:
                del self.coats[number]
                facts = pieces.facts_of(self.context.batch, number)
                facts.coat_mass_g = facts.coat_mm = None
        self._write()

    def _untold(self) -> bool:
        """Whether a coat was weighed, but not surely that of its piece."""
        return self.vessel is None and any(n not in self.coats for n in self.dips.best.coated_g)

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
        if self.stage.pieces is not None and not self._missing() and self.on_scale is None:
            return "All coats are weighed: into the bath", "do"
        if self.vessel is not None:
            number = self._next_in_turn()
            return f"Dip piece {number}, let it drip into the vessel, hands off", "do"
        if self.on_scale is not None:
            number, when = self.on_scale
            if when == "before":
                return f"Piece {number}: {value_text(self.bare_g[number], 'g')} bare. Dip it", "do"
            mass_g, _, _ = self.coats[number]
            coat_mm = self._thickness(number)[0]
            thick = "" if coat_mm is None else f", {value_text(coat_mm, 'mm')}"
            return f"Piece {number}: coat {value_text(mass_g, 'g')}{thick}. Next one", "do"
        waiting = self.dips.best.waiting
        if waiting:
            return f"Dip piece {waiting[0]}, let it drip, then back on the scale", "do"
        return f"Piece {self.dips.best.next_before}: weigh it, dip it, weigh it again", "do"
