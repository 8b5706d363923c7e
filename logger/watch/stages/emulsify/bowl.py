"""The bowl scale, followed from the start of the run to its end; stages ask what was poured.

Pure; a detector (``logger.watch.engine.contract``). It owns the levels of the bowl scale and the
pours of each stage of combining, so that a pour that began before its stage is whole and a stage
that is begun once more keeps what was poured in it. A pour outside any such stage is told by
`outside`.
"""

from logger.batch import phases
from logger.model.event import Event
from logger.model.kinds.emulsify import EmulsifyStage
from logger.model.kinds.registry import kind_named
from logger.model.reading import Reading
from logger.watch.engine.contract import Context, Outside, seconds
from logger.watch.engine.plain import Plain
from logger.watch.scale.pour import Pour, PourDetector
from logger.watch.scale.pour_hands import Plan
from logger.watch.scale.pour_levels import Levels
from logger.words.durations import clock, clock_span
from logger.words.values import rounded_text

DEFAULT_STEP_G = 0.1
STAGES_FORGOTTEN = 2
"""So many stages may have been forgotten between the one under way and that of combining."""
BEFORE_S = 3.0
"""A stage that begins at an earlier time begins this long before its pour [s]."""
LEAST_G, LEAST_SHARE, MOST_SHARE = 10.0, 0.1, 1.15
"""A pour outside its stage is told from so much on [g], and from so much of what there was to pour;
more than there was, it was something else."""
FILLED_SHARE = 0.8
"""The bowl has held so much of what is poured into, or the pour is that phase itself."""
NEAR_ZERO_G = 3.0
LIKE_OTHER, UNLIKE_OWN = 0.07, 0.15
"""A pour within this share of the other phase's mass, and not within that of its own, is it."""
SAME_S = 10.0
"""The beginning of a pour may be told so much earlier or later as more is seen [s]."""
LOOK_BACK_S = 1800.0


class BowlDetector(Plain):
    """Follows the bowl scale from level to level."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.scale = self.only = context.channel_id("bowl_scale")
        known = context.bench.channel_of("bowl_scale")
        self.step_g = (known.resolution if known is not None else None) or DEFAULT_STEP_G
        self.levels = Levels(self.step_g)
        self.stages = [s for s in context.sheet.stage if isinstance(s, EmulsifyStage)]
        self._counted_in_g = 0.0
        self._of_stage: dict[str, PourDetector] = {}
        """Pours of each stage that was begun, by its id."""
        self._at = -1
        """Place in the sheet of the stage that began last."""
        self._under_way: EmulsifyStage | None = None
        self._stage_from_s = float("inf")
        """When it began [s]."""
        self._acts_ns: list[int] = []
        """When stages began or ended [ns]."""
        self._free_from_s = 0.0
        """From when on pours belong to no stage yet [s]."""
        self._weighed_on = False
        """Whether things are weighed in on this scale now."""
        self._stray: PourDetector | None = None
        """Pours that belong to no stage yet."""
        self._looked = -1
        self._told_s = 0.0
        self._outside: Outside | None = None

    def wanted(self) -> bool:
        """Return whether there is a bowl scale and something to pour."""
        return self.scale is not None and bool(self.stages)

    def begin(self, stage: EmulsifyStage, from_s: float) -> PourDetector:
        """Begin the pours of a stage, or go on with them where it was begun before.

        Parameters
        ----------
        stage : EmulsifyStage
            Which begins now.
        from_s : float
            When [s].
        """
        known = self._of_stage.get(stage.id)
        if known is not None:
            known.begin_again(self._plan(stage))
            return known
        self._of_stage[stage.id] = known = self._detector(stage, from_s)
        return known

    def reading(self, reading: Reading) -> None:
        """Take one reading of the bowl scale."""
        if reading.channel == self.scale and reading.value is not None:
            self.levels.add(seconds(reading.t_ns), reading.value - self._counted_in_g)

    def event(self, event: Event) -> None:
        """Take which stage is under way, and what an accepted tare adds: no mass has come."""
        if event.kind == "tare_counted" and event.channel == self.scale:
            self._counted_in_g = float(event.data["total_g"])
        elif event.kind == "stage_start":
            self._acts_ns.append(event.t_ns)
            self._begun(event)
        elif event.kind == "stage_end":
            self._acts_ns.append(event.t_ns)
            if self._under_way is not None or self._weighed_on:
                self._free_from_s = seconds(event.t_ns)
                self._stray = self._outside = None
            self._under_way, self._weighed_on = None, False

    def tick(self, t_ns: int) -> None:
        """Work out the levels so far, and what was poured outside its stage."""
        super().tick(t_ns)
        self.levels.look(seconds(t_ns))
        self._outside = self._look(t_ns)

    def outside(self) -> Outside | None:
        """Return the pour that was, or is, outside its stage."""
        return self._outside

    # Inside.

    def _begun(self, event: Event) -> None:
        sheet = self.context.sheet.stage
        self._at = next((n for n, s in enumerate(sheet) if s.id == event.stage), self._at)
        stage, kind = sheet[self._at], kind_named(str(event.data.get("stage_kind", "")))
        self._under_way = stage if isinstance(stage, EmulsifyStage) else None
        self._stage_from_s = seconds(event.t_ns)
        weighs = kind is not None and kind.weighs_in
        self._weighed_on = weighs and self.context.channel_id("bench_scale") is None
        if self._outside is None or self._outside.stage != stage.id:
            self._stray = self._outside = None

    def _plan(self, stage: EmulsifyStage) -> Plan:
        into = "water" if stage.pour == "fat" else "fat"
        return Plan(
            there_g=phases.phase_g(self.context, stage.pour) or None,
            into_g=phases.phase_g(self.context, into) or None,
            others_g=tuple(
                self.context.batch.weighed_g.get(i.name, i.mass_g)
                for i in self.context.sheet.ingredient
                if i.phase != stage.pour
            ),
        )

    def _detector(self, stage: EmulsifyStage, from_s: float) -> PourDetector:
        return PourDetector(
            levels=self.levels,
            gives=stage.scale_under == "giving",
            step_g=self.step_g,
            from_s=from_s,
            plan=self._plan(stage),
        )

    def _meant(self) -> EmulsifyStage | None:
        """Return the stage to which a pour now belongs: it was forgotten, or left too early."""
        if self._under_way is not None:
            return self._under_way
        if self._weighed_on:
            return None
        sheet = self.context.sheet.stage
        ahead = sheet[self._at + 1 : self._at + 2 + STAGES_FORGOTTEN]
        behind = sheet[max(0, self._at - STAGES_FORGOTTEN) : max(0, self._at)]
        return next((s for s in (*ahead, *reversed(behind)) if isinstance(s, EmulsifyStage)), None)

    def _look(self, t_ns: int) -> Outside | None:
        """Return what was poured outside its stage by a time, or None."""
        stage = self._meant()
        if stage is None or (self._under_way is not None and self._stray is None):
            return None
        now_s = seconds(t_ns)
        if self._stray is None:
            self._stray = self._detector(stage, self._free_from_s)
        elif self.levels.version == self._looked and not self._stray.running:
            return self._outside
        self._looked = self.levels.version
        self._stray.from_s = max(self._free_from_s, 60.0 * ((now_s - LOOK_BACK_S) // 60.0))
        self._stray.look(now_s)
        pour = next((p for p in self._stray.pours if self._is_stray(p, stage)), None)
        if pour is None:
            return None
        told = self._outside
        if told is None or told.stage != stage.id or abs(self._told_s - pour.start_s) > SAME_S:
            self._told_s = pour.start_s
        return Outside(
            key=f"{stage.id}.pour.{self._told_s:.0f}",
            stage=stage.id,
            from_ns=self._before_ns(pour),
            text=_sentence(pour),
        )

    def _is_stray(self, pour: Pour, stage: EmulsifyStage) -> bool:
        """Return whether a pour is one of a stage, and the stage does not have it."""
        own = self._of_stage.get(stage.id)
        before_g = 0.0
        if own is not None:
            if own.running and self._under_way is None:
                return False  # it is followed until it is over
            before_g = sum(p.mass_g for p in own.pours if p.start_s < pour.start_s - SAME_S)
            had_g = sum(p.mass_g for p in own.pours if p.start_s >= pour.start_s - SAME_S)
            if pour.mass_g - had_g < LEAST_G:
                return False
        if self._under_way is not None and pour.start_s >= self._stage_from_s:
            return False
        return self._likely(pour, self._plan(stage), before_g, gives=stage.scale_under == "giving")

    def _likely(self, pour: Pour, plan: Plan, before_g: float, *, gives: bool) -> bool:
        """Return whether a pour is likely of the phase that a stage pours, by what there was."""
        mass_g, there_g, into_g = pour.mass_g, plan.there_g, plan.into_g
        if mass_g < max(LEAST_G, LEAST_SHARE * (there_g or 0.0)):
            return False
        if there_g is not None:
            if before_g > MOST_SHARE * there_g:  # that was not, or not only, this phase
                before_g = 0.0
            if mass_g + before_g > MOST_SHARE * there_g:
                return False
        if into_g is None or gives:
            return True
        over = pour.end_s is not None
        unlike = there_g is None or abs(mass_g - there_g) > UNLIKE_OWN * there_g
        if over and unlike and abs(mass_g - into_g) <= LIKE_OTHER * into_g:
            return False
        return self._filled(pour, into_g)

    def _filled(self, pour: Pour, into_g: float) -> bool:
        """Return whether what is poured into may have been in the bowl as a pour began."""
        before = [c for c in self.levels.changes if c.start_s <= pour.start_s + 2.0]
        if pour.end_s is None and len(before) > 1:
            # Into a bowl that came since, it may be the other phase: its mass at its end tells.
            return before[0].before_g >= FILLED_SHARE * into_g
        if not before or abs(before[-1].before_g) < NEAR_ZERO_G:  # tared: who knows with what
            return True
        return max(c.before_g for c in before) >= FILLED_SHARE * into_g

    def _before_ns(self, pour: Pour) -> int:
        """Return when a stage begins whose pour this is: what was said before it stays."""
        acts_ns = [t_ns for t_ns in self._acts_ns if t_ns <= pour.start_s * 1e9]
        return max(round((pour.start_s - BEFORE_S) * 1e9), max(acts_ns, default=0) + 1)


def _sentence(pour: Pour) -> str:
    """Return what was, or is, poured and since when, as a sentence."""
    mass = rounded_text(pour.mass_g, "g")
    if pour.end_s is None:
        return f"A pour of {mass} has been going on since {clock(pour.start_s)}."
    return f"{mass} were poured from {clock_span(pour.start_s, pour.end_s)}."
