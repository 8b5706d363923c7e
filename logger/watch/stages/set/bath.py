"""The bath, watched from the start of the run to its end; bath stages ask what happened in it.

Pure; a detector (``logger.watch.engine.contract``). It owns the segmentation of the bath scale. A
stage that begins late finds the pieces that are in the bath already; one that ends early is
followed until they are out; pieces in the bath outside any bath stage are told by `outside`.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise

from logger.model.event import Event
from logger.model.kinds.set import SetStage
from logger.model.reading import Reading
from logger.watch.engine.contract import Condition, Context, Outside, Watcher, seconds
from logger.watch.engine.plain import Plain
from logger.watch.stages.set.immersion.detector import ImmersionDetector
from logger.watch.stages.set.immersion.ends import NEAR_S
from logger.watch.stages.set.immersion.segmentation import Segmenter
from logger.watch.stages.set.pieces import (
    expected_pieces,
    masses_in_g,
    planned_dwell_s,
    usual_mass_g,
)
from logger.watch.stages.set.rows import Immersion
from logger.words.durations import clock

LOOK_BACK_S, LOOK_BACK_LEVELS = 1800.0, 60
"""How far back pieces are looked for that no stage has: in time [s], and in levels of the scale."""
STAGES_FORGOTTEN = 2
"""So many stages may have been forgotten between the one under way and the bath."""
BEFORE_S = 3.0
"""A stage that begins at an earlier time begins this long before its first piece went in [s]."""
LIKELY = 0.5
"""Probability from which on a rise outside a stage counts as a piece."""
LIGHTEST, HEAVIEST = 0.6, 1.6
"""Mass of such a piece with its coat, as a share of the lightest and of the heaviest known bare."""
LIKE_G, LIKE_SHARE = 3.0, 0.07
"""How far its mass may be from that of a weighed piece [g], or as a share of it, as it may hang."""


class BathDetector(Plain):
    """Watches the bath scale for the whole run."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.scale = context.channel_id("bath_scale")
        self.stages = [s for s in context.sheet.stage if isinstance(s, SetStage)]
        self.segmenter = Segmenter()
        self._at = -1
        """Place in the sheet of the stage that began last."""
        self._stage_from_s = -1.0
        """When it began [s]."""
        self._acts_ns: list[int] = []
        """When stages began or ended [ns]."""
        self._bath_stage: SetStage | None = None
        """The bath stage under way."""
        self._open_from = 0
        """Level from which on pieces belong to no stage yet."""
        self._ended: dict[str, Watcher] = {}
        """Watchers of bath stages that have ended, by id of the stage."""
        self._followed: Watcher | None = None
        """The one of them whose pieces are not all out."""
        self._until: Callable[[], bool] | None = None
        """Whether that is over."""
        self._looked = 0
        self._look_ns: int | None = None
        """When the levels are looked at again: those that have just settled are known better."""
        self._outside: Outside | None = None
        self.over = False
        """The run has ended: no reading will follow."""

    def wanted(self) -> bool:
        """Return whether there is a bath scale and a stage for it."""
        return self.scale is not None and bool(self.stages)

    # What comes in.

    def reading(self, reading: Reading) -> None:
        """Take one reading."""
        if reading.channel == self.scale:
            self.segmenter.feed(seconds(reading.t_ns), reading.value)
        if self._followed is not None:
            self._followed.reading(reading)

    def event(self, event: Event) -> None:
        """Take tares, and which stage is under way."""
        if event.kind in ("tare", "tare_counted") and event.channel == self.scale:
            self.segmenter.tare(seconds(event.t_ns))
        elif event.kind == "stage_start":
            self._acts_ns.append(event.t_ns)
            self._begun(event)
        elif event.kind == "stage_end" and self._bath_stage is not None:
            self._bath_stage = None
            self._open_from = len(self.segmenter.finished)
            self._look_ns = event.t_ns
        if self._followed is not None and not event.kind.endswith("mark"):
            self._followed.event(event)

    def tick(self, t_ns: int) -> None:
        """Look whether there is a new level; ask the stage that is followed whether it is over."""
        super().tick(t_ns)
        levels = len(self.segmenter.finished)
        if levels != self._looked and not self.segmenter.moving:
            self._looked = levels
            self._look_ns = t_ns + 12_000_000_000
            self._outside = self._look(t_ns)
        elif self._look_ns is not None and t_ns >= self._look_ns:
            self._look_ns = None
            self._outside = self._look(t_ns)
        followed = self._followed
        if followed is not None:
            followed.tick(t_ns)
            settled = self._look_ns is None and not self.segmenter.moving
            if settled and self._until is not None and self._until():
                self._followed = None
                followed.end(t_ns)

    def end(self, t_ns: int) -> None:
        """Let the stage that is followed judge once more."""
        super().end(t_ns)
        self.over = True
        if self._followed is not None:
            self._followed.end(t_ns)

    def conditions(self) -> list[Condition]:
        """Return those of pieces that were left in the bath."""
        return self._followed.conditions() if self._followed is not None else []

    # What stages ask.

    def follow(self, stage_id: str, watcher: Watcher, *, until: Callable[[], bool] | None) -> None:
        """Keep the watcher of a stage that ends, until it is over and the level has settled.

        Parameters
        ----------
        stage_id : str
            Id of the stage.
        watcher : Watcher
            Goes on with the pieces if the stage begins again.
        until : callable or None
            Pieces are still to come in or out: it is fed until this is true, then judges again.
        """
        self._ended[stage_id] = watcher
        self._followed, self._until = (watcher if until is not None else None), until

    def earlier(self, stage_id: str) -> Watcher | None:
        """Return the watcher of a stage when it was run before, and follow it no longer."""
        before = self._ended.pop(stage_id, None)
        if before is self._followed:
            self._followed = None
        return before

    def first_level(self, stage: SetStage) -> int:
        """Return the level from which on a stage that begins now counts.

        The present one; or, where pieces went in during the stage before and one of them is still
        in, the one before the first of them: *Next* came late.
        """
        now = len(self.segmenter.finished)
        detector = self._detector(stage)
        if detector is None:
            return now
        rows = [row for row in self._told(detector, stage) if _came_s(row) >= self._stage_from_s]
        if all(_is_out(row) for row in rows):
            return now
        return detector.level_before(min(_came_s(row) for row in rows))

    def outside(self) -> Outside | None:
        """Return which pieces were in the bath outside its stage."""
        return self._outside

    # Inside.

    def _begun(self, event: Event) -> None:
        sheet = self.context.sheet.stage
        self._at = next((n for n, s in enumerate(sheet) if s.id == event.stage), self._at)
        self._stage_from_s = seconds(event.t_ns)
        stage = sheet[self._at]
        self._bath_stage = stage if isinstance(stage, SetStage) else None
        self._look_ns = event.t_ns

    def _meant(self) -> SetStage | None:
        """Return the stage to which pieces in the bath now belong: it was forgotten, or left."""
        if self._bath_stage is not None:
            return self._bath_stage
        sheet = self.context.sheet.stage
        ahead = sheet[self._at + 1 : self._at + 2 + STAGES_FORGOTTEN]
        behind = sheet[max(0, self._at - STAGES_FORGOTTEN) : self._at]
        return next((s for s in (*ahead, *reversed(behind)) if isinstance(s, SetStage)), None)

    def _look(self, t_ns: int) -> Outside | None:
        stage = self._meant()
        if stage is None:
            return None
        before_s = self._stage_from_s if self._bath_stage is not None else float("inf")
        if not self._rose_before(before_s):
            return None
        detector = self._detector(stage)
        told = self._told(detector, stage) if detector is not None else []
        # A stage that began while the scale was silent has what went in then.
        rows = [row for row in told if _came_by_s(row) < before_s]
        if not rows:
            return None
        first = min(rows, key=_came_s)
        first_s = _came_s(first)
        return Outside(
            key=f"{stage.id}.{first_s:.0f}",
            stage=stage.id,
            from_ns=self._before_ns(first),
            text=_sentence(rows, first_s),
        )

    def _rose_before(self, before_s: float) -> bool:
        """Return whether the level may have risen before a time [s]: else nothing went in."""
        levels = self.segmenter.levels[self._open_from :]
        return any(
            before.end_s < before_s + NEAR_S
            and (after.hides or after.start_g > before.end_g or before.swings or after.swings)
            for before, after in pairwise(levels)
        )

    def _before_ns(self, first: Immersion) -> int:
        """Return when a stage begins whose first piece is this one: what was said before it stays.

        Where a gap hides when it went in, that counts as late as it can be.
        """
        acts_ns = [t_ns for t_ns in self._acts_ns if t_ns <= _came_by_s(first) * 1e9]
        return max(round((_came_s(first) - BEFORE_S) * 1e9), max(acts_ns, default=0) + 1)

    def _detector(self, stage: SetStage) -> ImmersionDetector | None:
        """Return a reader of the levels that no stage has, or None without a change of level."""
        levels = self.segmenter.levels
        if len(levels) <= self._open_from + 1:
            return None
        oldest_s = levels[-1].end_s - LOOK_BACK_S
        first = max(self._open_from, len(levels) - LOOK_BACK_LEVELS)
        while first < len(levels) - 1 and levels[first].end_s < oldest_s:
            first += 1
        masses_g = masses_in_g(self.context, stage)
        expected = expected_pieces(self.context, stage)
        detector = ImmersionDetector(
            masses_g=masses_g if len(masses_g) >= (expected or 0) else {},
            planned_s=planned_dwell_s(stage),
            pieces=expected,
            usual_g=usual_mass_g(self.context, stage),
            segmenter=self.segmenter,
            first=first,
        )
        detector.look()
        return detector

    def _told(self, detector: ImmersionDetector, stage: SetStage) -> list[Immersion]:
        """Return what is likely a piece on its way through the bath."""
        rows, masses_g = detector.table().immersions, masses_in_g(self.context, stage)
        return [row for row in rows if not row.at_start and self._likely(row, masses_g)]

    def _likely(self, row: Immersion, masses_g: dict[int, float]) -> bool:
        """Return whether a row is a piece, judged by its probability and the masses known."""
        mass_g = row.mass_in_g
        if row.confidence < LIKELY:
            return False
        if mass_g is None:
            return row.in_between_s is not None  # a gap hides more than one piece
        if masses_g:
            known_g = masses_g.values()
            return any(abs(mass_g - m) <= max(LIKE_G, LIKE_SHARE * m) for m in known_g)
        facts = self.context.batch.pieces.values()
        bare_g = [p.bare_mass_g for p in facts if p.bare_mass_g is not None]
        if not bare_g:
            return True
        return LIGHTEST * min(bare_g) <= mass_g <= HEAVIEST * max(bare_g)


def _came_s(row: Immersion) -> float:
    """Return when a piece went in, at the earliest where a gap hides it [s]."""
    if row.in_s is not None:
        return row.in_s
    return row.in_between_s[0] if row.in_between_s is not None else 0.0


def _came_by_s(row: Immersion) -> float:
    """Return by when a piece had gone in, at the latest where a gap hides it [s]."""
    return row.in_between_s[1] if row.in_between_s is not None else _came_s(row)


def _is_out(row: Immersion) -> bool:
    return row.out_s is not None or row.out_between_s is not None


def _sentence(rows: Sequence[Immersion], first_s: float) -> str:
    """Return which pieces were in the bath since a time [s], as a sentence."""
    outs_s = [row.out_s or (row.out_between_s or (None, None))[1] for row in rows]
    left_s = [out_s for out_s in outs_s if out_s is not None]
    one, since = len(rows) == 1, clock(first_s)
    pieces = "A piece" if one else f"{len(rows)} pieces"
    if not left_s:
        return f"{pieces} {'has' if one else 'have'} been in the bath since {since}."
    if len(left_s) == len(rows):
        was = "was" if one else "were"
        return f"{pieces} {was} in the bath from {since} to {clock(max(left_s))}."
    out = "one is" if len(left_s) == 1 else f"{len(left_s)} are"
    return f"{pieces} have gone into the bath since {since}; {out} out."
