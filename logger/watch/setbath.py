"""The setting bath: dwells by themselves, skins set through, calcium left.

Pure; registered in ``kinds``. The scale under the bath tells the immersions (``immersion``), the
bath probe and the sheet tell how far each skin has set (``skin``), and what to do next is worded by
``bathboard``. Without a scale the same table is kept by foot switch, key or button.
"""

import math
from typing import Any

from logger.model.event import Event
from logger.model.reading import Reading
from logger.model.sheet import SetStage
from logger.model.state import Proposal, StageView
from logger.model.written import Band
from logger.science.calcium import CAUTION, WAIT_FOR_TEMPERATURE
from logger.science.inventory import REFRESH_BELOW, refresh_advice
from logger.watch.bathboard import Piece, board, sentence, without_number
from logger.watch.checks import finding, number, shown
from logger.watch.contract import Condition, Context, PieceFacts, Watcher, seconds
from logger.watch.immersion.detector import ImmersionDetector
from logger.watch.immersion.table import Immersion
from logger.watch.limits import band_conditions
from logger.watch.plain import Plain
from logger.watch.probe import Probe
from logger.watch.skin import Gone, skin_clock

U_EDGE_S = 0.3
"""Standard uncertainty of a moment read off the scale [s]: two thirds of the p95 that
``python -m tests.bench bath`` prints."""
STANDS_NS = 4_000_000_000
"""How long a row must read the same before it is told [ns]: a lift and redip, a splash or a hand is
none."""
U_BY_HAND_S = 1.5
"""Standard uncertainty of a moment told by a tap [s]: common practice, no source."""
U_STRENGTH_PERCENT = 5.0
"""Standard uncertainty of the bath's strength as worked out [% of its start]: drag and uptake are
from memory."""
WET_CAUTION = (
    "A wet or frozen skin spits and can burst in hot oil: rinse, dry and lower it slowly. Follow "
    "local rules and licensed practice."
)
REFRESH = Band(
    low=100.0 * REFRESH_BELOW, unit="%", source="proposal of this tool, no published threshold"
)
WANTED = Band(high=100.0, unit="%", source="binding capacity of the alginate")
U_DEMAND = 0.15
"""Standard uncertainty of the calcium wanted, as a share: binding 0.35 to 0.5 per uronate."""
THROUGH = Band(low=100.0, unit="%", source="gel front, Neumann solution")


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
        self.detector = ImmersionDetector(
            masses_g=self._masses(), planned_s=planned, pieces=self.expected
        )
        self.skin = skin_clock(context.sheet, stage, context.batch.weighed_g)
        if stage.expected_coat_mm is None and not self._coats():
            self.skin.missing.append("a coat thickness, measured or expected")
        self.skin.begin(
            sorted(self._coats()) or [stage.expected_coat_mm or 0.5], self.expected or 1
        )
        self._told: dict[int, Immersion] = {}
        self._news: dict[int, tuple[Immersion | None, int]] = {}
        self._worst_c: float | None = None
        self._worst_ns = context.start_ns

    # What comes in.

    def reading(self, reading: Reading) -> None:
        """Take one reading."""
        if reading.channel == self.scale:
            self.detector.feed(seconds(reading.t_ns), reading.value)
        elif self.probe.take(reading) and reading.value is not None:
            self._remember_worst(reading.value, reading.t_ns)

    def event(self, event: Event) -> None:
        """Take one event."""
        at_s = seconds(event.t_ns)
        piece = event.data.get("piece")
        if event.kind == "piece_in" and isinstance(piece, int):
            self.detector.say(at_s, "in", piece)
        elif event.kind == "piece_out" and isinstance(piece, int):
            self.detector.say(at_s, "out", piece)
        elif event.kind == "mark":
            self._mark(at_s, piece if isinstance(piece, int) else None)
        elif event.kind == "register_piece" and isinstance(piece, int):
            mass_g = event.data.get("mass_g")
            if isinstance(mass_g, int | float):
                self.detector.register(piece, float(mass_g))
        elif event.kind == "confirm_piece":
            self._confirm(event.data.get("immersion"), piece)
        elif event.kind == "accept":
            proposal = self.context.out.proposals.get(str(event.data.get("proposal")))
            if proposal is not None and proposal.what == "piece":
                self._confirm(proposal.data.get("immersion"), proposal.data.get("piece"))
        elif event.kind == "tare" and event.channel == self.scale:
            self.detector.tare(at_s)

    def tick(self, t_ns: int) -> None:
        """Let a second pass: skins set, news are told."""
        super().tick(t_ns)
        self.skin.sample(
            seconds(t_ns), self.probe.value(t_ns), {self._coat_mm(p) for p in self._numbers()}
        )
        pieces = self.pieces(t_ns)
        self.skin.account(
            [
                Gone(
                    coat_mm=self._coat_mm(p.row.piece),
                    set_fraction=p.set_fraction or 0.0,
                    out=not p.inside,
                )
                for p in pieces
            ],
            self.detector.table().drag_g,
            [o.change_g for o in self.detector.table().others],
        )
        self._tell(t_ns, pieces)
        self._ask(t_ns, pieces)

    def end(self, t_ns: int) -> None:
        """Judge every piece and the bath."""
        super().end(t_ns)
        self.detector.end()
        pieces = self.pieces(t_ns)
        self._tell(t_ns, pieces)
        for piece in pieces:
            self._judge_piece(piece, t_ns)
        if not pieces:
            why = "the bench has no bath scale" if self.scale is None else "no piece was seen"
            self._find("dwell", None, "s", math.nan, self.stage.dwell_s, t_ns, why=why)
        self._judge_bath(t_ns)
        self._write_rows(pieces)

    # What is known now.

    def pieces(self, t_ns: int) -> list[Piece]:
        """Return every immersion so far with what the physics says of it."""
        now_s = seconds(t_ns)
        found = []
        for row in self.detector.table().immersions:
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
                    needed=self.skin.needed(coat_mm) if inside else None,
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
                    U_STRENGTH_PERCENT, REFRESH,
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
        if self.stage.piece_masses_g is not None:
            return dict(enumerate(self.stage.piece_masses_g, start=1))
        known = {n: p.coated_mass_g for n, p in self.context.batch.pieces.items()}
        return {n: mass for n, mass in known.items() if mass is not None}

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

    def _mark(self, at_s: float, piece: int | None) -> None:
        """A mark without a scale: the named piece goes in or comes out; without a name the next
        one goes in until all are in, then the one that has been in longest comes out."""
        if self.scale is not None and piece is None:
            return
        rows = self.detector.table().immersions
        inside = [r for r in rows if r.out_s is None]
        if piece is not None:
            what = "out" if any(r.piece == piece for r in inside) else "in"
            self.detector.say(at_s, what, piece)
        elif inside and (self.expected is None or len(rows) >= self.expected):
            first = min(inside, key=lambda r: r.in_s if r.in_s is not None else -math.inf)
            self.detector.say(at_s, "out", first.piece)
        else:
            self.detector.say(at_s, "in", len(rows) + 1)

    def _confirm(self, row_number: Any, piece: Any) -> None:
        if isinstance(row_number, int) and isinstance(piece, int):
            self.detector.confirm(row_number, piece)

    def _remember_worst(self, temp_c: float, t_ns: int) -> None:
        """Keep the bath temperature that lies farthest out of its band, or nearest its edge."""
        band = self.stage.bath_c
        low = band.low if band is not None and band.low is not None else -math.inf
        high = band.high if band is not None and band.high is not None else math.inf

        def inside_k(value: float) -> float:
            return min(value - low, high - value)

        if self._worst_c is None or inside_k(temp_c) < inside_k(self._worst_c):
            self._worst_c, self._worst_ns = temp_c, t_ns

    def _tell(self, t_ns: int, pieces: list[Piece]) -> None:
        """Say what is new: a piece in, a piece out, a row that reads otherwise than before."""
        out = self.context.out
        for piece in pieces:
            row = piece.row
            old = self._told.get(row.number)
            if old is not None and without_number(old) == without_number(row):
                self._news.pop(row.number, None)
                continue
            news, since_ns = self._news.get(row.number, (None, t_ns))
            if news is None or without_number(news) != without_number(row):
                since_ns = t_ns
            self._news[row.number] = row, since_ns
            if t_ns - since_ns < STANDS_NS and not self.detector.ended:
                continue
            self._told[row.number] = row
            about = {"immersion": row.number, "piece": row.piece, "in_s": row.in_s,
                     "out_s": row.out_s, "dwell_s": row.dwell_s}  # fmt: skip
            if old is None:
                out.emit(t_ns, "immersion_in", f"piece {row.piece} into the bath",
                         channel=self.scale, stage=self.stage.id, **about)  # fmt: skip
            if not piece.inside and (old is None or old.out_s is None):
                took = "" if row.dwell_s is None else f" after {shown(row.dwell_s, 's')}"
                out.emit(t_ns, "immersion_out", f"piece {row.piece} out of the bath{took}",
                         channel=self.scale, stage=self.stage.id, **about)  # fmt: skip
            elif old is not None and piece.inside == (old.out_s is None):
                out.emit(t_ns, "immersion_changed", f"row {row.number} is piece {row.piece}",
                         channel=self.scale, stage=self.stage.id, **about)  # fmt: skip
        self._write_rows(pieces)

    def _ask(self, t_ns: int, pieces: list[Piece]) -> None:
        """Propose which piece an ambiguous row is; one tap confirms it."""
        proposals = self.context.out.proposals
        for piece in pieces:
            key = f"{self.stage.id}.piece.{piece.row.number}"
            if piece.unsure and not piece.inside:
                if key not in proposals:
                    proposals[key] = Proposal(
                        id=key,
                        text=f"Was that piece {piece.row.piece} that came out?",
                        what="piece",
                        t_s=seconds(t_ns),
                        data={"immersion": piece.row.number, "piece": piece.row.piece},
                    )
            else:
                proposals.pop(key, None)

    def _write_rows(self, pieces: list[Piece]) -> None:
        results = self.context.out.results
        mine = [self._as_row(p) for p in pieces]
        others = [r for r in results.immersions if r.get("stage") != self.stage.id]
        results.immersions[:] = [*others, *mine]
        for piece in pieces:
            facts = self.context.batch.pieces.setdefault(
                piece.row.piece, PieceFacts(number=piece.row.piece)
            )
            facts.dwell_s, facts.set_fraction = piece.row.dwell_s, piece.set_fraction
        if self.skin.strength is not None:
            results.values["bath_strength"] = self.skin.strength

    def _as_row(self, piece: Piece) -> dict[str, Any]:
        row = piece.row
        dwell = self._dwell_finding(piece, self.now_ns)
        return {
            "stage": self.stage.id,
            "immersion": row.number,
            "piece": row.piece,
            "channel": self.scale,
            "in_s": row.in_s,
            "out_s": row.out_s,
            "dwell_s": row.dwell_s,
            "in_between_s": list(row.in_between_s) if row.in_between_s else None,
            "out_between_s": list(row.out_between_s) if row.out_between_s else None,
            "dwell_between_s": list(row.dwell_between_s) if row.dwell_between_s else None,
            "mass_in_g": row.mass_in_g,
            "mass_out_g": row.mass_out_g,
            "set_fraction": piece.set_fraction,
            "confidence": row.confidence,
            "ambiguous": row.ambiguous,
            "by_hand": row.by_hand,
            "candidates": [c.dwell_s for c in row.candidates],
            "verdict": dwell.verdict,
        }

    def _dwell_finding(self, piece: Piece, t_ns: int) -> Any:
        """Judge one dwell. A row that cannot be told has no certain dwell: its uncertainty spans
        the candidates, so a planned dwell never hides an early pull-out."""
        row = piece.row
        u_s = math.sqrt(2.0) * (U_BY_HAND_S if row.by_hand else U_EDGE_S)
        dwell_s, why = row.dwell_s, ""
        if row.dwell_between_s is not None:
            low_s, high_s = row.dwell_between_s
            dwell_s, u_s = (low_s + high_s) / 2.0, (high_s - low_s) / 2.0 / math.sqrt(3.0)
        elif row.ambiguous and row.candidates and dwell_s is not None:
            dwells = [dwell_s, *(c.dwell_s for c in row.candidates)]
            u_s = max(u_s, (max(dwells) - min(dwells)) / 2.0)
            why = "it cannot be told which piece this was"
        elif dwell_s is None:
            why = "it was in before the recording" if row.at_start else "it is still in the bath"
        return finding(
            self.context, "dwell", dwell_s, "s", u_s, self.stage.dwell_s,
            None if row.in_s is None else round(row.in_s * 1e9),
            t_ns if row.out_s is None else round(row.out_s * 1e9),
            channel=self.scale, piece=row.piece, why_missing=why,
        )  # fmt: skip

    def _judge_piece(self, piece: Piece, t_ns: int) -> None:
        out = self.context.out
        out.find(self._dwell_finding(piece, t_ns))
        row = piece.row
        why = self._why_no_skin()
        needed = self.skin.needed(self._coat_mm(row.piece))
        percent = None if piece.share is None or row.dwell_s is None else 100.0 * piece.share
        u_percent = math.nan
        if percent is not None and needed is not None:
            # The front goes with the root of time: half the relative range of the time; 4 sigma.
            spread = (needed.high_s - needed.low_s) / needed.likely_s / 4.0
            u_percent = percent * spread / 2.0
        out.find(
            finding(
                self.context, "skin set through", percent, "%", u_percent, THROUGH,
                None if row.in_s is None else round(row.in_s * 1e9),
                None if row.out_s is None else round(row.out_s * 1e9),
                channel=self.scale, piece=row.piece, why_missing=why or "its dwell is not known",
            )
        )  # fmt: skip

    def _judge_bath(self, t_ns: int) -> None:
        self._find(
            "bath temperature", self._worst_c, "degC", self.probe.u, self.stage.bath_c, t_ns,
            channel=self.probe.channel, why=self.probe.why_missing("bath"),
        )  # fmt: skip
        strength, demand = self.skin.strength, self.skin.demand
        why = self._why_no_skin()
        self._find(
            "calcium wanted by all coats", None if demand is None else 100.0 * demand, "%",
            math.nan if demand is None else U_DEMAND * 100.0 * demand, WANTED, t_ns, why=why,
        )  # fmt: skip
        self._find(
            "calcium left", None if strength is None else 100.0 * strength, "%",
            U_STRENGTH_PERCENT, REFRESH, t_ns, why=why,
        )  # fmt: skip

    def _find(
        self, check: str, value: float | None, unit: str, u: float, band: Band | None, t_ns: int,
        *, channel: str | None = None, why: str = "",
    ) -> None:  # fmt: skip
        self.context.out.find(
            finding(
                self.context, check, value, unit, u, band, self.context.start_ns, t_ns,
                channel=channel, why_missing=why,
            )
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
        needed = self.skin.needed(max(self._coats(), default=self._coat_mm(0)))
        if needed is not None:
            says = needed.says()
            told.append(says[0].upper() + says[1:] + ".")
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
