"""The setting bath: dwells by themselves, skins set through, calcium left.

Pure; registered in ``kinds``. The scale under the bath tells the immersions (``immersion``), the
bath probe and the sheet tell how far each skin has set (``skin``), and what to do next is worded by
``bathboard``. Without a scale the same table is kept by foot switch, key or button.
"""

import math
from typing import Any

from logger.model.event import Event
from logger.model.finding import Finding
from logger.model.reading import Reading
from logger.model.sheet import SetStage
from logger.model.state import StageView
from logger.science.calcium import CAUTION, WAIT_FOR_TEMPERATURE
from logger.science.inventory import refresh_advice
from logger.watch import bathfindings
from logger.watch import pieces as formed
from logger.watch.bathboard import Piece, board, clock, sentence
from logger.watch.bathfindings import Worst
from logger.watch.bathgaps import placed_in_gaps
from logger.watch.bathnews import News
from logger.watch.checks import finding, number
from logger.watch.contract import Condition, Context, Watcher, seconds
from logger.watch.immersion.detector import ImmersionDetector
from logger.watch.limits import band_conditions
from logger.watch.plain import Plain
from logger.watch.probe import Probe
from logger.watch.skin import Gone, skin_clock

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
        self.expected = stage.pieces or (len(context.batch.pieces) or None)
        planned = None
        if self.low_s is not None and self.high_s is not None:
            planned = (self.low_s, self.high_s)
        self.masses_g = self._masses()
        self.detector = ImmersionDetector(
            masses_g=self.masses_g if self._all_weighed() else {},
            planned_s=planned,
            pieces=self.expected,
        )
        self.skin = skin_clock(context.sheet, stage, context.batch.weighed_g, context.batch.slabs)
        if stage.expected_coat_mm is None and not self._coats():
            self.skin.missing.append("a coat thickness, measured or expected")
        self.skin.begin(
            sorted(self._coats()) or [stage.expected_coat_mm or 0.5], self.expected or 1
        )
        self.news = News(context, self.scale)
        self.gaps_s: list[tuple[float, float]] = []
        """Silences of the bath scale."""
        self._heard_ns: int | None = None
        """Last value of the bath scale."""
        self._worst = {True: Worst(stage.bath_c), False: Worst(stage.bath_c)}
        """Bath temperature with pieces in, and without."""

    # What comes in.

    def reading(self, reading: Reading) -> None:
        """Take one reading."""
        if reading.channel == self.scale:
            self.detector.feed(seconds(reading.t_ns), reading.value)
            if reading.value is not None:
                self._heard_ns = reading.t_ns
        else:
            self.probe.take(reading)

    def event(self, event: Event) -> None:
        """Take one event."""
        at_s = seconds(event.t_ns)
        piece = event.data.get("piece")
        if event.kind == "piece_in" and isinstance(piece, int):
            self.detector.say(at_s, "in", piece)
        elif event.kind == "piece_out" and isinstance(piece, int):
            self.detector.say(at_s, "out", piece)
        elif event.kind in ("mark", "foot_mark"):
            self._mark(event.t_ns, piece if isinstance(piece, int) else None)
        elif event.kind == "register_piece":
            by_hand = formed.registered_by_hand(event)
            if by_hand is not None:
                self._register(*by_hand)
        elif event.kind == "confirm_piece":
            self._confirm(event.data.get("immersion"), piece)
        elif event.kind in ("accept", "decline"):
            taken = self.news.answered(event)
            if taken is not None:
                self._confirm(*taken)
        elif event.kind == "gap" and event.channel == self.scale:
            self.gaps_s.append((float(event.data["from_s"]), float(event.data["to_s"])))
        elif event.kind == "tare" and event.channel == self.scale:
            self.detector.tare(at_s)

    def tick(self, t_ns: int) -> None:
        """Let a second pass: skins set, news are told."""
        super().tick(t_ns)
        self.skin.sample(
            seconds(t_ns), self.probe.value(t_ns), {self._coat_mm(p) for p in self._numbers()}
        )
        pieces = self.pieces(t_ns)
        self._account(pieces)
        occupied = any(p.inside for p in pieces)
        self._worst[occupied].take(self.probe.value(t_ns), self.probe.u, t_ns)
        self.news.tell(t_ns, pieces, ended=self.detector.ended)
        self.news.ask(t_ns, pieces)
        self._write_rows(pieces)

    def end(self, t_ns: int) -> None:
        """Judge every piece and the bath."""
        super().end(t_ns)
        self.detector.end()
        pieces = self.pieces(t_ns)
        self.news.tell(t_ns, pieces, ended=True)
        for piece in pieces:
            self._judge_piece(piece, t_ns)
        out, dwell = self.context.out, self.stage.dwell_s
        if not pieces:
            why = "the bench has no bath scale" if self.scale is None else "no piece was seen"
            out.find(finding(self.context, "dwell", None, "s", math.nan, dwell,
                             self.context.start_ns, t_ns, self.scale, why_missing=why))  # fmt: skip
        out.find(self._temperature_finding(t_ns))
        if self.skin.known:
            unknowns = self.skin.unknowns
            out.results.values["skin_diffusivity_m2_s"] = unknowns.d25_m2_s
            out.results.values["skin_diffusivity_by"] = unknowns.by or "published range"
        for found in bathfindings.calcium_findings(
            self.context, self.skin.strength, self.skin.demand, t_ns, self._why_no_skin()
        ):
            out.find(found)
        self._write_rows(pieces)

    # What is known now.

    def pieces(self, t_ns: int) -> list[Piece]:
        """Return every immersion so far with what the physics says of it."""
        now_s = seconds(t_ns)
        found = []
        rows = placed_in_gaps(self.detector.table().immersions, self.detector.log, self.gaps_s)
        for row in rows:
            coat_mm = self._coat_mm(row.piece)
            share = None
            if row.in_s is not None:
                out_s = row.out_s
                if out_s is None and row.out_between_s is not None:
                    out_s = row.out_between_s[0]  # no credit inside a gap
                share = self.skin.share(coat_mm, row.in_s, now_s if out_s is None else out_s)
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
        view.say, view.tone = sentence(pieces, now_s, self.expected)
        if self.skin.refused:
            view.say, view.tone = self.skin.refused.partition(". (")[0] + ".", "stop"
        view.board = board(pieces, now_s)
        view.more = self._more(pieces)
        view.numbers = [
            number(
                self.context, "Bath", self.probe.value(t_ns), "degC", self.probe.u,
                self.stage.bath_c, text="" if self.probe.channel else "not measured",
            )
        ]  # fmt: skip
        if self.skin.strength is not None:
            view.numbers.append(
                number(
                    self.context, "Calcium left", 100.0 * self.skin.strength, "%",
                    bathfindings.U_STRENGTH_PERCENT, bathfindings.REFRESH,
                )
            )  # fmt: skip
        view.cautions = [CAUTION, WET_CAUTION]
        return view

    def conditions(self) -> list[Condition]:
        """Return what calls for action: an overdue piece, a bath too warm or too cold."""
        found = band_conditions(
            f"{self.stage.id}.bath", "The bath", self.probe.value(self.now_ns),
            self.stage.bath_c, channel=self.probe.channel,
        )  # fmt: skip
        now_s = seconds(self.now_ns)
        if self.high_s is not None:
            for piece in self.pieces(self.now_ns):
                age_s = piece.age_s(now_s) if piece.inside else None
                over = age_s is not None and age_s > self.high_s
                found.append(
                    Condition(
                        id=f"{self.stage.id}.piece{piece.row.piece}.overdue",
                        text=f"Piece {piece.row.piece} is too long in the bath: take it out",
                        active=over,
                        cleared=not over,
                        on_delay_s=2.0,
                        off_delay_s=1.0,
                        channel=self.scale,
                    )
                )
        if self.skin.refused:
            found.append(
                Condition(
                    id=f"{self.stage.id}.cannot_set", text=self.skin.refused, active=True,
                    cleared=False, channel=self.scale,
                )
            )  # fmt: skip
        return found

    def finished(self) -> str | None:
        """Return that all pieces are out, once they are."""
        pieces = self.pieces(self.now_ns)
        if not pieces or self.expected is None or len(pieces) < self.expected:
            return None
        return None if any(p.inside for p in pieces) else f"All {len(pieces)} pieces are out."

    # Inside.

    def _masses(self) -> dict[int, float]:
        """Return the masses with which the pieces go in: as weighed, else as the sheet says.

        A bare mass counts only where no coat comes on it: 8 g of coat would pass for another piece.
        """
        coated = any(s.kind == "coat" for s in self.context.sheet.stage)
        known = {
            n: p.coated_mass_g
            for n, p in self.context.batch.pieces.items()
            if p.coat_mass_g is not None or not coated
        }
        measured = {n: mass for n, mass in known.items() if mass is not None}
        return measured or dict(enumerate(self.stage.piece_masses_g or [], start=1))

    def _all_weighed(self) -> bool:
        """Return whether every piece has a mass: else one without would pass for no piece."""
        return len(self.masses_g) >= (self.expected or 0)

    def _register(self, piece: int, mass_g: float) -> None:
        self.masses_g[piece] = mass_g
        if self._all_weighed():
            for number, known_g in self.masses_g.items():
                self.detector.register(number, known_g)

    def _coats(self) -> set[float]:
        coats = (p.coat_mm for p in self.context.batch.pieces.values())
        return {round(mm, 3) for mm in coats if mm}

    def _coat_mm(self, piece: int) -> float:
        facts = self.context.batch.pieces.get(piece)
        if facts is not None and facts.coat_mm:
            return round(facts.coat_mm, 3)
        if self.stage.expected_coat_mm is not None:
            return self.stage.expected_coat_mm
        coats = self._coats()
        return max(coats) if coats else 0.5

    def _numbers(self) -> set[int]:
        rows = {row.piece for row in self.detector.table().immersions}
        return rows or {0}

    def _mark(self, t_ns: int, piece: int | None) -> None:
        """A mark without a scale: the named piece goes in or comes out; without a name the next
        one goes in until all are in, then the one that has been in longest comes out."""
        speaks = self._heard_ns is not None and t_ns - self._heard_ns <= SILENT_NS
        if speaks and piece is None:
            return
        at_s, rows = seconds(t_ns), self.detector.table().immersions
        inside = [r for r in rows if r.out_s is None and r.out_between_s is None]
        if piece is not None:
            what = "out" if any(r.piece == piece for r in inside) else "in"
            self.detector.say(at_s, what, piece)
        elif inside and (self.expected is None or len(rows) >= self.expected):
            first = min(inside, key=lambda r: r.in_s if r.in_s is not None else -math.inf)
            self.detector.say(at_s, "out", first.piece)
        else:
            self.detector.say(at_s, "in", max((r.piece for r in rows), default=0) + 1)

    def _confirm(self, row_number: Any, piece: Any) -> None:
        if isinstance(row_number, int) and isinstance(piece, int):
            self.detector.confirm(row_number, piece)

    def _account(self, pieces: list[Piece]) -> None:
        """Work out the calcium left; what was poured before the first piece made up the bath."""
        table = self.detector.table()
        began_s = min(
            (-math.inf if p.row.in_s is None else p.row.in_s for p in pieces), default=math.inf
        )
        self.skin.account(
            [
                Gone(
                    coat_mm=self._coat_mm(p.row.piece),
                    set_fraction=1.0 if p.set_fraction is None else p.set_fraction,
                    out=not p.inside,
                )
                for p in pieces
            ],
            table.drag_g,
            [o.change_g for o in table.others if o.t_s >= began_s],
        )

    def _write_rows(self, pieces: list[Piece]) -> None:
        results = self.context.out.results
        mine = [
            bathfindings.row_of(p, self.stage.id, self.scale, self._dwell_finding(p, self.now_ns))
            for p in pieces
        ]
        others = [r for r in results.immersions if r.get("stage") != self.stage.id]
        results.immersions[:] = [*others, *mine]
        for facts in self.context.batch.pieces.values():
            facts.dwell_s = facts.set_fraction = None  # a row may have become another piece's
        for piece in pieces:
            if piece.number is not None:
                facts = formed.facts_of(self.context.batch, piece.number)
                facts.dwell_s, facts.set_fraction = piece.row.dwell_s, piece.set_fraction
        formed.write(self.context)
        if self.skin.strength is not None:
            results.values["bath_strength"] = self.skin.strength

    def _dwell_finding(self, piece: Piece, t_ns: int) -> Finding:
        return bathfindings.dwell_finding(self.context, piece, self.stage.dwell_s, self.scale, t_ns)

    def _judge_piece(self, piece: Piece, t_ns: int) -> None:
        out, needed = self.context.out, self.skin.needed(self._coat_mm(piece.row.piece))
        out.find(self._dwell_finding(piece, t_ns))
        out.find(
            bathfindings.skin_finding(self.context, piece, needed, self.scale, self._why_no_skin())
        )

    def _temperature_finding(self, t_ns: int) -> Finding:
        """Judge the bath while pieces were in it; where none was seen, over the whole stage."""
        with_pieces, without = self._worst[True], self._worst[False]
        worst = without if with_pieces.temp_c is None else with_pieces
        return finding(
            self.context, "bath temperature", worst.temp_c, "degC", worst.u_k, self.stage.bath_c,
            self.context.start_ns if worst.temp_c is None else worst.t_ns,
            t_ns if worst.temp_c is None else worst.t_ns, self.probe.channel,
            why_missing=self.probe.why_missing("bath"),
        )  # fmt: skip

    def _why_no_skin(self) -> str:
        if self.skin.missing:
            return "the sheet lacks " + ", ".join(self.skin.missing)
        return self.skin.refused or ("" if self.probe.channel else "the bench has no bath probe")

    def _more(self, pieces: list[Piece]) -> list[str]:
        told = []
        if self.skin.refused:
            told.append(self.skin.refused)
        unsure = [p for p in pieces if p.unsure and not p.inside]
        if unsure:
            told.append("Which piece came out is not sure; tap to say, or weigh it on its way out.")
        if self.masses_g and not self._all_weighed():
            told.append(
                f"Only {len(self.masses_g)} of {self.expected} pieces were weighed: they are "
                "numbered as they go in."
            )
        needed = self.skin.needed(max(self._coats(), default=self._coat_mm(0)))
        if needed is not None:
            says = needed.says()
            told.append(says[0].upper() + says[1:] + ".")
            if self.high_s is not None and needed.likely_s > self.high_s:
                told.append(
                    f"The sheet's longest dwell, {clock(self.high_s)}, will likely not set it "
                    "through: warm or strengthen the bath, or let it go on."
                )
        if self.skin.now is not None and self.skin.known:
            advice = refresh_advice(self.skin.now)
            told.append(advice.reason[0].upper() + advice.reason[1:] + ".")
        if self.skin.missing:
            told.append("How far a skin has set is not told: the sheet lacks "
                        + ", ".join(self.skin.missing) + ".")  # fmt: skip
        told.append(WAIT_FOR_TEMPERATURE)
        return told


def make(context: Context) -> Watcher:
    """Return the watcher of a ``set`` stage."""
    if not isinstance(context.stage, SetStage):
        raise TypeError(f"a bath watcher needs a set stage, not {context.stage!r}")
    return SetBath(context, context.stage)
