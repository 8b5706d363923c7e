"""The setting bath: dwells by themselves, skins set through, calcium left.

Pure; registered in ``kinds``. The immersions come from the scale under the bath
(``immersion``), which ``bath`` watches all the time; how far each skin has set from the bath probe
and the sheet (``skin``), and what to do next is on the ``board``. Without a scale the same table is
kept by foot switch, key or button. A stage that is begun again goes on with its pieces.
"""

import math
from collections.abc import Sequence
from typing import Any

from logger.model.event import Event
from logger.model.finding import Finding
from logger.model.kinds.set import SetStage
from logger.model.reading import Reading
from logger.model.state import StageView
from logger.science.calcium.salts import CAUTION
from logger.watch.engine.contract import Condition, Context, Watcher, seconds
from logger.watch.engine.plain import Plain
from logger.watch.scale import pieces as formed
from logger.watch.sensors.probe import Probe
from logger.watch.stages.set import findings, results
from logger.watch.stages.set.bath import BathDetector
from logger.watch.stages.set.board import alarm_conditions, board, notes, sentence
from logger.watch.stages.set.immersion.detector import ImmersionDetector
from logger.watch.stages.set.pieces import (
    Piece,
    came_at_s,
    coat_of_mm,
    coats_mm,
    expected_pieces,
    left_at_s,
    masses_in_g,
    one_a_piece,
    planned_dwell_s,
    usual_mass_g,
)
from logger.watch.stages.set.results import ImmersionEvents
from logger.watch.stages.set.rises import HiddenRises
from logger.watch.stages.set.skin import gone_of, skin_clock
from logger.watch.stages.set.statements import mark_statement, operator_statement
from logger.watch.verdict.checks import number
from logger.watch.verdict.extremes import Extremes
from logger.watch.verdict.limits import band_conditions

SILENT_NS = 10_000_000_000
"""A scale silent for longer than this sees no piece: marks count instead [ns]."""
WET_CAUTION = (
    "A wet or frozen skin spits and can burst in hot oil: rinse, dry and lower it slowly. Follow "
    "local rules and licensed practice."
)


class SetBath(Plain):
    """Watches one bath stage."""

    def __init__(self, context: Context, stage: SetStage) -> None:
        super().__init__(context)
        self.stage = stage
        self.scale = context.channel_id("bath_scale")
        self.probe = Probe(context, "bath")
        dwell = stage.dwell_s
        self.low_s = dwell.low if dwell is not None else None
        self.high_s = dwell.high if dwell is not None else None
        self.expected = expected_pieces(context, stage)
        self.masses_g = masses_in_g(context, stage)
        self.bath = context.detector(BathDetector)
        self.detector = ImmersionDetector(
            masses_g=self.masses_g if self._all_weighed() else {},
            planned_s=planned_dwell_s(stage),
            pieces=self.expected,
            usual_g=usual_mass_g(context, stage),
            segmenter=self.bath.segmenter,
            first=self.bath.first_level(stage),
        )
        self.skin = skin_clock(context.sheet, stage, context.batch.weighed_g, context.batch.slabs)
        if stage.expected_coat_mm is None and not self._coats():
            self.skin.missing.append("a coat thickness, measured or expected")
        self.skin.begin(sorted(self._coats()) or [self._coat_mm(0)], self.expected or 1)
        self.events = ImmersionEvents(context, self.scale)
        self.rises = HiddenRises(context)
        self._heard_ns: int | None = None
        """Last value of the bath scale."""
        self._seen: list[Piece] = []
        """The pieces at the last tick."""
        self._bath = {True: Extremes(), False: Extremes()}
        """Bath temperature with pieces in, and without."""
        earlier = self.bath.earlier(stage.id)
        if isinstance(earlier, SetBath):
            self._go_on_from(earlier)

    # What comes in.

    def reading(self, reading: Reading) -> None:
        """Take one reading."""
        if reading.channel == self.scale:
            self.detector.take(seconds(reading.t_ns))
            if reading.value is not None:
                self._heard_ns = reading.t_ns
        else:
            self.probe.take(reading)

    def event(self, event: Event) -> None:
        """Take one event."""
        at_s, statement = seconds(event.t_ns), operator_statement(event)
        if statement is not None:
            self.detector.say(at_s, *statement)
        elif event.kind in ("mark", "foot_mark"):
            self._mark(event.t_ns, formed.number_of(event.data.get("piece")))
        elif event.kind == "register_piece":
            by_hand = formed.registered_by_hand(event)
            if by_hand is not None:
                self._register(*by_hand)
        elif event.kind == "confirm_piece":
            self._say_piece(event.data.get("immersion"), event.data.get("piece"))
        elif event.kind in ("accept", "decline"):
            self.rises.answer(event)
            answer = self.events.answer(event)
            if answer is not None:
                said = answer.immersion, answer.piece
                self._say_piece(*said, yes=answer.yes, out_s=answer.out_s)
        elif event.kind in ("tare", "tare_counted") and event.channel == self.scale:
            self.detector.note_tare(at_s)

    def tick(self, t_ns: int) -> None:
        """Let a second pass: skins set, events are emitted."""
        super().tick(t_ns)
        self.skin.sample(
            seconds(t_ns), self.probe.value(t_ns), {self._coat_mm(p) for p in self._numbers()}
        )
        pieces = self._seen = self.pieces(t_ns)
        self._account(pieces)
        occupied = any(p.inside for p in pieces)
        bath_c = self.probe.value(t_ns)
        if bath_c is not None:
            self._bath[occupied].note(bath_c, self.probe.u, t_ns, self.probe.channel)
        self.events.emit(t_ns, pieces, ended=self.detector.ended)
        self.events.propose(t_ns, pieces)
        self.rises.look(t_ns, self.detector.table(), list(self.masses_g.values()))
        self._write_rows(pieces)

    def end(self, t_ns: int) -> None:
        """Judge every piece and the bath; pieces that are still in are followed until they are out.

        Only then, or at the end of the run, is a rise that never came out again no piece.
        """
        super().end(t_ns)
        self.detector.look()
        waits = not self.bath.over and not self._all_out(self.pieces(t_ns))
        if not waits:
            self.detector.end()
        pieces = self.pieces(t_ns)
        self._forget_findings()
        self.events.emit(t_ns, pieces, ended=True)
        for piece in one_a_piece(pieces):
            self._judge_piece(piece, t_ns)
        out = self.context.out
        seen = {p.row.piece for p in pieces}
        if not seen or len(seen) < (self.expected or 0):
            out.find(
                findings.unseen_finding(
                    self.context, len(seen), self.expected, self.stage.dwell_s, self.scale, t_ns
                )
            )
        bath = self._bath[self._bath[True].first is not None]
        out.find(
            findings.temperature_finding(self.context, bath, self.stage.bath_c, self.probe, t_ns)
        )
        if self.skin.known:
            unknowns = self.skin.unknowns
            out.results.values["skin_diffusivity_m2_s"] = unknowns.d25_m2_s
            out.results.values["skin_diffusivity_by"] = unknowns.by or "published range"
        for found in findings.calcium_findings(
            self.context,
            self.skin.strength,
            self.skin.demand_of(len(seen)),
            t_ns,
            self._why_no_skin(),
        ):
            out.find(found)
        self._write_rows(pieces)
        self.bath.follow(self.stage.id, self, until=self.all_out if waits else None)
        self.detector.go_on()

    # What is known now.

    def all_out(self) -> bool:
        """Return whether every piece there is came in and out by the last tick."""
        return self._all_out(self._seen)

    def pieces(self, t_ns: int) -> list[Piece]:
        """Return every immersion so far with what the physics says of it."""
        now_s = seconds(t_ns)
        found = []
        for row in self.detector.table().immersions:
            coat_mm, share, in_s = self._coat_mm(row.piece), None, came_at_s(row)
            if in_s is not None:
                share = self.skin.share(coat_mm, in_s, left_at_s(row, now_s))
            inside = row.out_s is None and row.out_between_s is None
            found.append(
                Piece(
                    row=row,
                    share=share,
                    left_s=self.skin.left_s(coat_mm, share or 0.0) if inside else None,
                    needed=self.skin.needed(coat_mm),
                    low_s=self.low_s,
                    high_s=self.high_s,
                )
            )
        return found

    def view(self, t_ns: int) -> StageView:
        """Return the board, the sentence and the numbers."""
        view = super().view(t_ns)
        pieces = self.pieces(t_ns)
        now_s = seconds(t_ns)
        verdicts = self._verdicts()
        view.say, view.tone = sentence(pieces, now_s, self.expected, verdicts)
        asked = self.rises.asks(inside=any(p.inside for p in pieces)) if pieces else ""
        if asked:
            view.say, view.tone = asked, "warn"
        if self.skin.refused:
            view.say, view.tone = self.skin.refused, "stop"
        view.board = board(pieces, now_s, verdicts)
        view.more = notes(
            pieces,
            self.skin,
            self.skin.needed(max(self._coats(), default=self._coat_mm(0))),
            low_s=self.low_s,
            high_s=self.high_s,
            weighed=len(self.masses_g),
            expected=self.expected,
        )
        view.numbers = [
            number(
                self.context,
                "Bath",
                self.probe.value(t_ns),
                "degC",
                self.probe.u,
                self.stage.bath_c,
                text="" if self.probe.channel else "not measured",
                left_s=self.probe.there_in_s(t_ns, self.stage.bath_c),
            )
        ]
        if self.skin.strength is not None:
            view.numbers.append(
                number(
                    self.context,
                    "Calcium left",
                    100.0 * self.skin.strength,
                    "%",
                    findings.U_STRENGTH_PERCENT,
                    findings.REFRESH,
                )
            )
        view.cautions = [CAUTION, WET_CAUTION]
        return view

    def conditions(self) -> list[Condition]:
        """Return what calls for action: an overdue piece, a bath too warm or too cold."""
        found = band_conditions(
            f"{self.stage.id}.bath",
            "The bath",
            self.probe.value(self.now_ns),
            self.stage.bath_c,
            channel=self.probe.channel,
        )
        return found + alarm_conditions(
            self.stage.id,
            self._seen,
            seconds(self.now_ns),
            high_s=self.high_s,
            refused=self.skin.refused,
            channel=self.scale,
        )

    def finished(self) -> str | None:
        """Return that all pieces are out, once they are."""
        pieces = self._seen
        count = len({p.row.piece for p in pieces})
        if not pieces or self.expected is None or count < self.expected:
            return None
        not_over = any(p.inside for p in pieces) or self.rises.asks(inside=False)
        return None if not_over else f"All {count} pieces are out."

    # Inside.

    def _all_out(self, pieces: Sequence[Piece]) -> bool:
        count = len({p.row.piece for p in pieces})
        return count >= (self.expected or 0) and not any(p.inside for p in pieces)

    def _go_on_from(self, earlier: "SetBath") -> None:
        """Go on with the pieces of the same stage, which was begun before."""
        self.detector, self.skin, self.events = earlier.detector, earlier.skin, earlier.events
        self.masses_g, self._bath = earlier.masses_g, earlier._bath
        self.rises = earlier.rises
        self._heard_ns, self._seen = earlier._heard_ns, earlier._seen

    def _forget_findings(self) -> None:
        """Take back what was judged when the stage ended before."""
        found = self.context.out.results.findings
        mine = self.stage.id
        found[:] = [f for f in found if f.stage != mine or not f.key.startswith("set.")]

    def _all_weighed(self) -> bool:
        """Return whether every piece has a mass: else one without would pass for no piece."""
        return len(self.masses_g) >= (self.expected or 0)

    def _register(self, piece: int, mass_g: float) -> None:
        self.masses_g[piece] = mass_g
        if self._all_weighed():
            for number, known_g in self.masses_g.items():
                self.detector.register(number, known_g)

    def _coats(self) -> set[float]:
        return coats_mm(self.context.batch)

    def _coat_mm(self, piece: int) -> float:
        return coat_of_mm(self.context.batch, self.stage, piece)

    def _numbers(self) -> set[int]:
        return {row.piece for row in self.detector.table().immersions} or {0}

    def _mark(self, t_ns: int, piece: int | None) -> None:
        """A mark counts where the scale is silent, or where it names its piece."""
        if not self._speaks(t_ns) or piece is not None:
            statement = mark_statement(piece, self.detector.table().immersions, self.expected)
            if statement is not None:
                self.detector.say(seconds(t_ns), *statement)

    def _speaks(self, t_ns: int) -> bool:
        return self._heard_ns is not None and t_ns - self._heard_ns <= SILENT_NS

    def _say_piece(
        self,
        row_number: Any,
        piece: Any,
        *,
        yes: bool = True,
        out_s: tuple[float, float] | None = None,
    ) -> None:
        number = formed.number_of(piece)
        if number is not None and formed.number_of(row_number) is not None:
            self.detector.answer(row_number, number, yes=yes, out_s=out_s)

    def _account(self, pieces: list[Piece]) -> None:
        """Work out the calcium left; what was poured before the first piece made up the bath."""
        table = self.detector.table()
        began_s = min((came_at_s(p.row) or -math.inf for p in pieces), default=math.inf)
        poured_g = [o.change_g for o in table.others if o.t_s >= began_s]
        self.skin.account(gone_of(pieces, self._coat_mm), table.drag_g, poured_g)

    def _write_rows(self, pieces: list[Piece]) -> None:
        verdicts = [self._dwell_finding(p, self.now_ns).verdict for p in pieces]
        results.write(self.context, self.scale, pieces, verdicts)
        if self.skin.strength is not None:
            self.context.out.results.values["bath_strength"] = self.skin.strength

    def _verdicts(self) -> dict[int, str]:
        """Return the verdict on each dwell at the last tick, by the number of its row."""
        rows = self.context.out.results.immersions
        return {r.immersion: r.verdict for r in rows if r.stage == self.stage.id}

    def _dwell_finding(self, piece: Piece, t_ns: int) -> Finding:
        return findings.dwell_finding(
            self.context,
            piece,
            self.stage.dwell_s,
            self.scale,
            t_ns,
            silent=self._heard_ns is not None and not self._speaks(t_ns),
        )

    def _judge_piece(self, piece: Piece, t_ns: int) -> None:
        out, needed = self.context.out, self.skin.needed(self._coat_mm(piece.row.piece))
        out.find(self._dwell_finding(piece, t_ns))
        out.find(
            findings.skin_finding(self.context, piece, needed, self.scale, self._why_no_skin())
        )

    def _why_no_skin(self) -> str:
        if self.skin.missing:
            return "the sheet lacks " + ", ".join(self.skin.missing)
        return self.skin.why or ("" if self.probe.channel else "the bench has no bath probe")


def make(context: Context) -> Watcher:
    """Return the watcher of a ``set`` stage.

    Raises
    ------
    TypeError
        If the context's stage is of another kind.
    """
    if not isinstance(context.stage, SetStage):
        raise TypeError(f"a bath watcher needs a set stage, not {context.stage!r}")
    return SetBath(context, context.stage)
