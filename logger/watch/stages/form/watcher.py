"""Forming: each piece goes on the bench scale and is registered.

Pure; a stage watcher. A piece counts as soon as the scale rests; a tray, a hand or a tare is none.
Later stages tell the pieces apart by these masses.
"""

import math

from logger.batch.amounts import body_of
from logger.model.event import Event
from logger.model.kinds.form import FormStage
from logger.model.reading import Reading
from logger.model.state import StageView, Tone
from logger.science.gel.coating import spread
from logger.watch.engine.contract import Context, Watcher, judged_rule
from logger.watch.engine.plain import Plain
from logger.watch.scale import pieces
from logger.watch.scale.loads import LoadChange, LoadDetector, Range
from logger.watch.verdict import checks
from logger.watch.verdict.measured import Measured
from logger.words.bands import span_text, target_text
from logger.words.counts import count_text
from logger.words.values import value_text

CLEAR_OF = 1.5
"""Masses of two loads this far apart, as a ratio, are not two pieces of one batch."""

TARED_NS = 10_000_000_000
"""How long after a load vanished a tare may still come that explains it [ns]."""


def make(context: Context) -> Watcher:
    """Return the watcher of a forming stage.

    Raises
    ------
    TypeError
        If the context's stage is of another kind.
    """
    return Form(context)


class Form(Plain):
    """Watches one forming stage."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        stage = context.stage
        if not isinstance(stage, FormStage):
            raise TypeError("a form watcher needs a form stage")
        self.stage = stage
        self.channel = context.channel_id("bench_scale")
        self.scale = LoadDetector(context, self.channel)
        self.scale.may_weigh_g = _may_weigh(context, stage)
        self.knows_range = self.scale.may_weigh_g is not None
        self.weighed: dict[int, tuple[float, float, int]] = {}
        """Mass, its standard uncertainty [g] and time [ns] of each piece of this stage."""
        self.by_hand: set[int] = set()
        self.number: int | None = None
        """Piece on the scale."""
        self.left_ns = -TARED_NS
        """When the last load left."""

    def reading(self, reading: Reading) -> None:
        """Take one reading of the bench scale."""
        step = self.scale.take(reading)
        if step is not None:
            self._step(step)

    def event(self, event: Event) -> None:
        """Take marks, masses by hand, tares and gaps."""
        self.scale.event(event)
        by_hand = pieces.registered_by_hand(event)
        if by_hand is not None:
            self.by_hand.add(by_hand[0])
            self._register(by_hand[0], by_hand[1], math.nan, event.t_ns)
        elif event.kind in ("mark", "foot_mark"):
            step = self.scale.count()
            if step is not None:
                self._step(step)
        elif (
            event.kind in ("tare", "tare_suspected")
            and event.channel == self.channel
            and (self.number is not None or event.t_ns - self.left_ns <= TARED_NS)
        ):
            self._forget_vessel()

    def end(self, t_ns: int) -> None:
        """Judge each piece, and how many there are."""
        self.now_ns = t_ns
        for number, (mass_g, u_g, at_ns) in sorted(self.weighed.items()):
            self.context.out.find(
                checks.finding(
                    self.context,
                    "form.piece_g",
                    Measured(value=mass_g, u=u_g, from_ns=at_ns, to_ns=at_ns, channel=self.channel),
                    self.stage.mass_g,
                    piece=number,
                    why_unknown=pieces.BY_HAND if number in self.by_hand else "",
                )
            )
        missing = self._missing()
        if not self.weighed or missing:
            why = "no piece was weighed"
            if self.weighed:
                why = f"{missing} of {self.stage.pieces} pieces were not weighed"
            self.context.out.find(
                checks.finding(
                    self.context,
                    "form.unweighed_g",
                    Measured(from_ns=self.context.start_ns, to_ns=t_ns, channel=self.channel),
                    self.stage.mass_g,
                    why_missing=self._why(why),
                )
            )
        masses_g = [m for m, _, _ in self.weighed.values()]
        if len(masses_g) > 1:
            relative = spread(masses_g).relative
            if relative is not None:
                self.context.out.results.values["piece_mass_spread_percent"] = 100.0 * relative

    def view(self, t_ns: int) -> StageView:
        """Return which piece goes on next, and the last mass."""
        say, tone = self._say()
        view = StageView(say=say, tone=tone, pieces=pieces.rows(self.context.batch))
        net_g, u_g = self.scale.net_now(t_ns)
        view.numbers.append(
            checks.number(self.context, "On the scale", net_g, "g", u_g)
            if self.number is None
            else checks.number(
                self.context, f"Piece {self.number}", net_g, "g", u_g, self.stage.mass_g
            )
        )
        masses_g = [m for m, _, _ in self.weighed.values()]
        if len(masses_g) > 1:
            found = spread(masses_g)
            view.more.append(
                f"{count_text(found.count, 'piece')}, {value_text(found.mean, 'g')} on average, "
                f"{span_text(found.low, found.high, 'g')}."
            )
        if self.channel is None:
            view.more.append(
                "Enter the mass of each piece; without it the bath tells them apart less surely."
            )
        return view

    def finished(self) -> str | None:
        """Return that all pieces are weighed."""
        if self.stage.pieces is None or self._missing() or self.number is not None:
            return None
        return f"All {self.stage.pieces} pieces are weighed"

    # Inside.

    def _step(self, step: LoadChange) -> None:
        if step.what == "off":
            self.number, self.left_ns = None, step.t_ns
        elif step.what == "changed" and self.number is not None:
            self._register(self.number, step.mass_g, step.u_g, step.t_ns, again=True)
        elif step.what == "on":
            if step.on_top and not self._like_the_first(step.mass_g):
                self._forget_vessel()
            self.number = max([0, *self.context.batch.pieces]) + 1
            self._register(self.number, step.mass_g, step.u_g, step.t_ns)

    def _like_the_first(self, mass_g: float) -> bool:
        """Return whether a load is about as heavy as the first one: that was no tray then."""
        first_g = next(iter(self.weighed.values()), (mass_g, 0.0, 0))[0]
        return 1.0 / CLEAR_OF <= first_g / mass_g <= CLEAR_OF

    def _forget_vessel(self) -> None:
        """Take back the only load so far, where nothing said what a piece weighs: it was a tray."""
        if self.knows_range or len(self.weighed) != 1:
            return
        (number,) = self.weighed
        del self.weighed[number]
        self.context.batch.pieces.pop(number, None)
        self.number = None
        pieces.write(self.context)

    def _register(
        self, number: int, mass_g: float, u_g: float, t_ns: int, *, again: bool = False
    ) -> None:
        self.weighed[number] = mass_g, u_g, t_ns
        if not math.isnan(u_g):
            self.by_hand.discard(number)
        pieces.facts_of(self.context.batch, number).bare_mass_g = mass_g
        if not self.knows_range and len(self.weighed) >= 2:
            middle_g = sorted(m for m, _, _ in self.weighed.values())[len(self.weighed) // 2]
            self.scale.may_weigh_g = 0.4 * middle_g, 2.2 * middle_g
        pieces.write(self.context)
        text = f"piece {number}: {value_text(mass_g, 'g', 2.0 * u_g)}"
        self.context.out.emit(
            t_ns,
            "piece_registered",
            text + (", again" if again else ""),
            channel=self.channel,
            piece=number,
            mass_g=mass_g,
        )

    def _missing(self) -> int:
        return max(0, (self.stage.pieces or 0) - len(self.weighed))

    def _why(self, otherwise: str) -> str:
        if self.channel is None:
            return "the bench has no bench scale"
        return otherwise if self.scale.last is not None else "no reading of the bench scale"

    def _say(self) -> tuple[str, Tone]:
        of = f" of {self.stage.pieces}" if self.stage.pieces is not None else ""
        if self.channel is None:
            return "Form the pieces: the bench has no scale to weigh them on", "do"
        if self.number is not None and self.number in self.weighed:
            mass_g, u_g, _ = self.weighed[self.number]
            verdict, _ = checks.judge(
                mass_g, u_g, self.stage.mass_g, judged_rule(self.context.sheet)
            )
            if verdict == "not met" and self.stage.mass_g is not None:
                wanted = target_text(self.stage.mass_g)
                return f"Piece {self.number}: {value_text(mass_g, 'g')}, target {wanted}", "warn"
            return f"Piece {self.number}{of}: {value_text(mass_g, 'g')}. Next one", "do"
        if self.stage.pieces is not None and not self._missing():
            return f"All {self.stage.pieces} pieces are weighed: go on", "do"
        return f"Piece {len(self.weighed) + 1}{of}: put it on the scale", "do"


def _may_weigh(context: Context, stage: FormStage) -> Range | None:
    """Return what a piece may weigh, by which a tray is no piece [g]: wide, odd ones count too."""
    band = stage.mass_g
    if band is not None and band.low and band.high:
        return 0.5 * band.low, 1.6 * band.high
    likely_g = pieces.likely_mass_g(body_of(context.sheet))
    return None if likely_g is None else (0.5 * likely_g, 1.8 * likely_g)
