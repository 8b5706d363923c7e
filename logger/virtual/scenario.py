"""A batch of the smoked beet and barley roll as a timed script of acts and words.

Weigh, soak, warm, combine, shape, firm up, coat, set the skin, rinse, air, cook and keep warm; or,
short, warm, combine and set. Pure and seeded: times wander as a cook's do. ``physics`` acts it out.
"""

from dataclasses import replace
from typing import Any

import numpy as np

from logger.virtual.acts import Dip, Place, PouredFat, Script, StageSpan
from logger.virtual.circumstances import (
    ALGINATE_SHARE,
    BATH_WATER_G,
    PIECES,
    SALT_G,
    Circumstances,
)
from logger.virtual.shapes import coat_g

BOWL_G = 412.0
"""Steel bowl in which the emulsion is made."""
TRAY_G = 1120.0
"""Tray of the calcium bath on the bath scale."""
RESIDUE_G = 2.4
"""Fat that stays in the pan."""
PIECE_TRAY_G = 146.0
"""Tray on the bench scale for the pieces."""
RACK_G = 386.0
FRIDGE_C = 10.0
"""A bath this cold stood in the fridge until the pieces were coated [degC]."""
KINDS = {
    "weigh": "weigh",
    "soak": "hydrate",
    "warm": "heat",
    "combine": "emulsify",
    "shape": "form",
    "firm": "chill",
    "coat": "coat",
    "skin": "set",
    "rinse": "rinse",
    "air": "dry",
    "cook": "cook",
    "keep": "hold",
}
"""Stage ids of the sheet and their kinds."""


def script_of(batch: Circumstances) -> Script:
    """Write the script of a batch.

    Parameters
    ----------
    batch : Circumstances
        What is drawn for it; its seed also draws the times of the acts.

    Returns
    -------
    Script
        Times from the start of the run [s].
    """
    cook = _Cook(batch)
    if batch.short:
        if batch.bath_c > FRIDGE_C:
            cook.bath_is_ready()
        for act in (cook.warm, cook.combine, cook.skin):
            act()
    else:
        for act in (
            cook.weigh, cook.soak, cook.warm, cook.combine, cook.shape, cook.firm, cook.coat,
            cook.skin, cook.rinse, cook.air, cook.cook, cook.keep,
        ):  # fmt: skip
            act()
    return cook.finished()


class _Cook:
    """Writes a script act by act; ``now`` is where the cook is [s]."""

    def __init__(self, batch: Circumstances) -> None:
        self.batch = batch
        self.rng = np.random.default_rng([batch.seed, 3])
        self.script = Script(circumstances=batch)
        self.now = 0.0
        for probe, place in (("fat", "fat"), ("water", "water"), ("emulsion", "air"),
                             ("bath", "air"), ("core", "air")):  # fmt: skip
            self.move(probe, place)  # type: ignore[arg-type]
        self.script.surroundings.append((0.0, "board", batch.room_c, 12.0))

    def takes(self, seconds: float, wander: float = 0.15) -> None:
        """Let about that long pass."""
        self.now += seconds * float(self.rng.uniform(1.0 - wander, 1.0 + wander))

    def move(self, probe: str, place: Place) -> None:
        self.script.places.append((self.now, probe, place))

    def say(self, kind: str, **data: Any) -> None:
        self.script.words.append((self.now, kind, data))

    def begin(self, stage_id: str) -> None:
        """End the stage under way and begin another; the first begins with the run, unsaid."""
        stages = self.script.stages
        if stages:
            self.takes(1.5)
            self.say("next")
            stages[-1] = replace(stages[-1], end_s=self.now)
        stages.append(
            StageSpan(id=stage_id, kind=KINDS[stage_id], start_s=self.now, end_s=self.now)
        )

    def finished(self) -> Script:
        script, last = self.script, self.script.stages[-1]
        self.takes(4.0)
        script.stages[-1] = replace(last, end_s=self.now)
        script.end_s = self.now
        self.say("run_end")
        script.words.sort(key=lambda word: word[0])
        return script

    # -- weighing in ------------------------------------------------------------------------

    def weigh(self) -> None:
        self.begin("weigh")
        batch = self.batch
        coat_g_all = 500.0
        bowls = (
            (210.0, {"cocoa butter": batch.fat_g}),
            (
                BOWL_G,
                {
                    "smoked beet stock": batch.water_g - 11.0,
                    "barley malt binder": 6.0,
                    "salt": 5.0,
                },
            ),
            (180.0, {"cooked barley": 120.0}),
            (
                264.0,
                {
                    "coating water": coat_g_all * (1.0 - ALGINATE_SHARE),
                    "sodium alginate": coat_g_all * ALGINATE_SHARE,
                },
            ),
            (96.0, {"bath water": BATH_WATER_G, "calcium chloride": SALT_G}),
        )
        for bowl_g, contents in bowls:
            self.takes(5.0)
            self.script.bench.put(self.now, bowl_g, 0.4)
            self.takes(4.0)
            self.script.bench.tares_s.append(self.now)
            on_g = bowl_g
            for name, mass_g in contents.items():
                if name == "calcium chloride" and not batch.calcium_weighed:
                    self.say("note", text="bath kept from last time, no fresh calcium")
                    continue
                on_g += self._weigh_in(name, mass_g)
            self.takes(2.5)
            self._clear_bench(on_g)
        if batch.bath_c > FRIDGE_C:
            self.bath_is_ready()
        for name in batch.new_lots:
            self.say("note", text=f"new lot: {name}")
        self.takes(4.0)

    def _weigh_in(self, name: str, mass_g: float) -> float:
        """Add an ingredient in three spoonfuls or pours, wait, mark; give what went in [g]."""
        bench = self.script.bench
        off_g = float(self.rng.normal(0.0, 0.0012)) * mass_g
        fixed = name in ("cocoa butter", "smoked beet stock")  # their error is drawn already
        true_g = mass_g if fixed else mass_g + off_g
        self.takes(3.0)
        for share, rise_s in ((0.82, 4.0), (0.15, 2.0), (0.03, 0.8)):
            bench.put(self.now, share * true_g, rise_s)
            self.now += rise_s
            self.takes(1.5)
        self.takes(5.0)
        self.say("mark")
        self.script.weighed_g[name] = true_g
        return true_g

    def _clear_bench(self, on_g: float) -> None:
        """Take everything off the bench scale and clear its tare."""
        self.script.bench.put(self.now, -on_g, 0.4)
        self.takes(3.0)
        self.script.bench.tares_s.append(self.now)

    def bath_is_ready(self) -> None:
        """Put the bath in its tray on the bath scale, with its probe."""
        self.script.bath_from_s = self.now
        self.move("bath", "bath")

    # -- the emulsion -----------------------------------------------------------------------

    def soak(self) -> None:
        self.begin("soak")
        self.now += self.batch.hydrate_s

    def warm(self) -> None:
        self.begin("warm")
        start_s = self.now
        water_off_s = start_s + self.batch.heat_s - 6.0
        self.now = start_s + self.batch.heat_s
        # The pan stays on a while longer than the bowl, until just before the pour.
        self.script.heat_span_s = (start_s, water_off_s, self.now + 18.0)

    def combine(self) -> None:
        self.begin("combine")
        bowl, batch = self.script.bowl, self.batch
        self.takes(5.0)
        on_s = self.now
        bowl.put(on_s, BOWL_G + batch.water_g, 0.6)
        self.takes(8.0)
        if self.rng.random() < 0.6:
            bowl.tares_s.append(self.now)
        self.move("emulsion", "water")
        bowl.knocks.append((self.now, float(self.rng.uniform(10.0, 60.0)), 0.8))
        self.takes(5.0)
        stirred_s = self.now
        self.takes(8.0)
        pour = self._pour()
        self.script.pour = pour
        bowl.profiles.append((pour.times_s, pour.mass_g, float("inf")))
        self.now = pour.end_s
        self.takes(5.0)
        self.say("mark")
        self.takes(42.0)
        bowl.shaken.append((stirred_s, self.now, 0.12))
        self.say("note", text="all in, stirring on")
        if batch.short:
            self.takes(6.0)
            if batch.bath_c <= FRIDGE_C:
                self.bath_is_ready()
        self.script.bowl_span_s = (on_s, float("inf"))

    def _pour(self) -> PouredFat:
        """Draw the pour: a slow start, a hand that wanders, a last scraping of the pan."""
        batch, step_s = self.batch, 0.1
        target_g = batch.fat_g - RESIDUE_G
        keep = float(np.exp(-step_s / 6.0))
        drift, poured, masses = 0.0, 0.0, [0.0]
        while poured < target_g - 0.05 and len(masses) < 20_000:
            kick = float(self.rng.standard_normal()) * np.sqrt(1.0 - keep * keep)
            drift = keep * drift + batch.unevenness * kick
            start = min(1.0, 0.25 + len(masses) * step_s / 4.0)
            scraped = min(1.0, (target_g - poured) / (0.05 * target_g) + 0.04)
            poured += step_s * batch.pour_g_s * start * scraped * float(np.exp(drift))
            masses.append(min(poured, target_g))
        masses[-1] = target_g
        times_s = self.now + step_s * np.arange(len(masses))
        return PouredFat(times_s=np.asarray(times_s, dtype=float), mass_g=np.asarray(masses))

    # -- the pieces -------------------------------------------------------------------------

    def shape(self) -> None:
        self.begin("shape")
        batch, bench = self.batch, self.script.bench
        self.takes(9.0)
        self.script.bowl_span_s = (self.script.bowl_span_s[0], self.now)
        self.move("emulsion", "air")
        self.move("water", "air")
        self.takes(40.0)
        bench.put(self.now, PIECE_TRAY_G, 0.4)
        self.takes(4.0)
        bench.tares_s.append(self.now)
        for mass_g in batch.piece_g:
            self.takes(9.0)
            bench.put(self.now, mass_g, 0.4)
            self.takes(7.0)
            bench.put(self.now, -mass_g, 0.4)
        self.takes(3.0)

    def firm(self) -> None:
        self.begin("firm")
        start_s = self.now
        self.takes(5.0)
        self.move("core", "core")
        self.script.surroundings.append((self.now, "ice slush", -2.0, 220.0))
        self.now = start_s + self.batch.chill_s
        self.script.surroundings.append((self.now, "board", self.batch.room_c, 12.0))
        self.move("core", "air")

    def coat(self) -> None:
        self.begin("coat")
        batch, bench = self.batch, self.script.bench
        if batch.bath_c <= FRIDGE_C:
            self.bath_is_ready()
        for bare_g, thickness_mm in zip(batch.piece_g, batch.coat_mm, strict=True):
            coated_g = bare_g + coat_g(bare_g, thickness_mm)
            self.takes(5.0)
            bench.put(self.now, bare_g, 0.4)
            self.takes(6.0)
            bench.put(self.now, -bare_g, 0.4)
            self.takes(14.0)
            bench.put(self.now, coated_g, 0.5)
            self.takes(6.0)
            bench.put(self.now, -coated_g, 0.5)
        self.takes(3.0)

    def skin(self) -> None:
        self.begin("skin")
        batch = self.batch
        if not batch.short:
            self.script.surroundings.append((self.now, "bath", batch.bath_c, 400.0))
        apart_s = 15.0 if batch.short else 28.0
        self.takes(8.0)
        ins_s: list[float] = []
        for _ in range(PIECES):
            ins_s.append(self.now)
            self.takes(apart_s, 0.25)
        outs_s = [start + dwell for start, dwell in zip(ins_s, batch.dwell_s, strict=True)]
        dips: list[Dip] = []
        busy_s = ins_s[-1] + 6.0
        # A cook has two hands: no piece comes out within five seconds of the act before.
        for piece in sorted(range(PIECES), key=lambda i: outs_s[i]):
            out_s = outs_s[piece]
            near = [t for t in ins_s if abs(t - out_s) < 5.0]
            if near:
                out_s = max(near) + 5.0
            if dips and out_s < dips[-1].out_s + 5.0:
                out_s = dips[-1].out_s + 5.0
            dips.append(Dip(piece=piece + 1, in_s=ins_s[piece], out_s=out_s))
        self.script.dips = dips
        self.now = max(busy_s, dips[-1].out_s)
        self.takes(8.0)

    def rinse(self) -> None:
        self.begin("rinse")
        self.script.surroundings.append((self.now, "rinse water", self.batch.room_c, 300.0))
        self.takes(85.0, 0.05)

    def air(self) -> None:
        self.begin("air")
        bench = self.script.bench
        self.script.surroundings.append((self.now, "fan", self.batch.room_c, 30.0))
        self.takes(2.0)
        self._clear_bench(PIECE_TRAY_G)
        self.takes(3.0)
        bench.put(self.now, RACK_G, 0.5)
        self.takes(4.0)
        bench.tares_s.append(self.now)
        self.takes(3.0)
        first_s = self.now
        self.now += 10.0
        self.script.drying_span_s = (first_s, self.now + self.batch.dry_s)
        self.now += self.batch.dry_s
        self.takes(2.0)

    def cook(self) -> None:
        self.begin("cook")
        self.say("note", text="steam first, then the pan")
        self.takes(4.0)
        self.move("core", "core")
        self.script.surroundings.append((self.now, "steam", 98.0, 450.0))
        self.now += self.batch.cook_s

    def keep(self) -> None:
        self.begin("keep")
        self.script.surroundings.append((self.now, "warm cupboard", 66.0, 25.0))
        self.now += self.batch.hold_s
