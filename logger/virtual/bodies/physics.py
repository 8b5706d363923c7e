"""The bench as it really is: heat, fat, calcium and water while a script is acted out.

Vessels, core, coats and surface water are integrated step by step from a script; nothing here
knows the closed forms by which the engine judges. Pure and seeded. ``simulate`` reads it off with
instruments, ``judge`` says what came out.
"""

from dataclasses import dataclass, field

import numpy as np

from logger.virtual.batch.acts import Place, Script
from logger.virtual.batch.circumstances import ALGINATE_SHARE, ANHYDROUS_G_MOL, SALT_G, draw
from logger.virtual.batch.scenario import script_of
from logger.virtual.bodies.equipment import bath_tray, fat_pan, hotplate_w, mixing_bowl
from logger.virtual.bodies.gelling_coat import Coats
from logger.virtual.bodies.probe import Probe
from logger.virtual.bodies.roll import RollCore, coat_g, radius_mm, surface_cm2
from logger.virtual.bodies.vessels import Portion, Vessel

PROBES = ("fat", "water", "emulsion", "bath", "core", "room", "cold_junction")
STEP_S = 1.0
URONATE_G_MOL = 198.11
SOL_KG_M3 = 1008.0
BATH_KG_M3 = 1005.0
HYDRATION_S = 165.0
"""Time in which the binder takes up all but a third of its water: common practice, no source."""
SHRINKAGE = 0.03
"""Share of a coat's mass that a set skin gives off: from memory."""
SHED = 0.35
"""Share of the coat that has not set and washes off: from memory."""
_IN_LIQUID_S = {"fat": 3.5, "water": 3.5, "emulsion": 4.0, "bath": 4.0, "core": 6.0}
_IN_AIR_S = 28.0


@dataclass(slots=True, kw_only=True)
class Facts:
    """What really happened, gathered while the world steps; times [s]."""

    lowest_pour_fat_c: float = float("inf")
    fat_at_pour_c: float = float("nan")
    water_at_pour_c: float = float("nan")
    mixed_c: float = float("nan")
    melted_s: float = float("nan")
    hydrated: float = 1.0
    core_after_chill_c: float = float("nan")
    highest_core_c: float = float("-inf")
    film_left: float = 0.0
    settings: list[dict[str, float | str | bool]] = field(default_factory=list)
    pieces: dict[int, dict[str, float]] = field(default_factory=dict)
    heat_in_j: float = 0.0
    bath_left_g: float = float("nan")


class World:
    """A batch in progress.

    Parameters
    ----------
    seed : int
        The same seed gives the same batch.
    causes : tuple of str
        Root causes, by name.
    short : bool
        The short batch: heat, emulsify, set.
    """

    def __init__(self, seed: int, causes: tuple[str, ...] = (), *, short: bool = False) -> None:
        self.script: Script = script_of(draw(seed, causes, short=short))
        batch = self.batch = self.script.circumstances
        self.time_s = 0.0
        self.facts = Facts(hydrated=1.0 if short else 0.0)
        self._rng = np.random.default_rng([seed, 4])
        self.room_c = batch.room_c
        self.junction_c = batch.room_c + 2.0
        self.fat, self.bowl, self.bath = fat_pan(batch), mixing_bowl(batch), bath_tray(batch)
        self.bath_calcium_mol = batch.calcium_share * SALT_G / ANHYDROUS_G_MOL
        self.coats = Coats(
            np.asarray(batch.coat_mm),
            np.asarray([surface_cm2(m) for m in batch.piece_g]),
            ALGINATE_SHARE * SOL_KG_M3 * 0.5 / (URONATE_G_MOL * 1e-3),
        )
        self.core = RollCore(radius_mm(batch.piece_g[0]), batch.room_c)
        self._piece_c = np.full(len(batch.piece_g), batch.room_c)
        self.evaporated_g = 0.0
        self.poured_g = 0.0
        self.film_g = [0.012 * surface_cm2(m) for m in batch.piece_g]
        self.dried_g = 0.0
        self._probes = {
            name: Probe(lag_s=_IN_LIQUID_S.get(name, _IN_AIR_S), noise_k=0.0, step_k=0.0)
            for name in PROBES
        }
        self._places: dict[str, Place] = {}
        self._moves = list(self.script.places)
        self._around = list(self.script.surroundings)
        self._air = self._around.pop(0)
        self.probe_c = dict.fromkeys(PROBES, batch.room_c)
        self._move_probes()
        self._read_probes(STEP_S)

    def surface_cm2(self, piece: int) -> float:
        """Surface of a piece by its number [cm2]."""
        return surface_cm2(self.batch.piece_g[piece - 1])

    # -- time -------------------------------------------------------------------------------

    def step(self, dt_s: float = STEP_S) -> None:
        """Let time pass [s]; at most `STEP_S` at a time inside."""
        left_s = dt_s
        while left_s > 1e-9:
            part_s = min(STEP_S, left_s)
            self._part(part_s)
            left_s -= part_s

    def _part(self, dt_s: float) -> None:
        self._move_probes()
        self._drift(dt_s)
        self._heat_and_pour(dt_s)
        self._soak(dt_s)
        self._bath(dt_s)
        self._core(dt_s)
        self._dry(dt_s)
        self.time_s += dt_s
        self._read_probes(dt_s)

    def _drift(self, dt_s: float) -> None:
        """Room and cold junction wander; the junction follows the room and warms up."""
        kick = float(self._rng.standard_normal())
        self.room_c += dt_s * (self.batch.room_c - self.room_c) / 1800.0 + 0.008 * kick * dt_s**0.5
        target = self.room_c + 2.6
        self.junction_c += dt_s * (target - self.junction_c) / 900.0

    # -- heat, pour, emulsion ---------------------------------------------------------------

    def _heat_and_pour(self, dt_s: float) -> None:
        start_s, water_off_s, fat_off_s = self.script.heat_span_s
        batch, facts, now = self.batch, self.facts, self.time_s
        fat_w = water_w = 0.0
        if start_s <= now < fat_off_s:
            wanted_c = batch.fat_set_c
            if self.fat.solid > 0.0 and self.fat.spec.fat is not None:
                # Whatever comes after, a cook heats until the last lump is gone.
                wanted_c = max(wanted_c, self.fat.spec.fat.melts_at_c + 4.0)
            fat_w = hotplate_w(self.fat, wanted_c, 260.0)
        if start_s <= now < water_off_s:
            water_w = hotplate_w(self.bowl, batch.water_set_c, 420.0)
        facts.heat_in_j += dt_s * (fat_w + water_w)
        before_g = self.bowl.water_g
        self.fat.step(dt_s, fat_w, ambient_c=self.room_c)
        self.bowl.step(dt_s, water_w, ambient_c=self.room_c)
        self.evaporated_g += before_g - self.bowl.water_g
        if np.isnan(facts.melted_s) and self.fat.solid <= 0.0:
            facts.melted_s = self.time_s + dt_s
        self._pour(dt_s)
        self._note_setting("fat", self.fat)
        self._note_setting("emulsion", self.bowl)

    def _pour(self, dt_s: float) -> None:
        pour, facts = self.script.pour, self.facts
        if pour is None or self.time_s + dt_s < pour.start_s or self.time_s > pour.end_s:
            return
        if np.isnan(facts.fat_at_pour_c):
            facts.fat_at_pour_c, facts.water_at_pour_c = self.fat.temp_c, self.bowl.temp_c
        portion: Portion = self.fat.pour_out(pour.until(self.time_s + dt_s) - self.poured_g)
        self.poured_g += portion.mass_g
        self.bowl.pour_in(portion)
        facts.lowest_pour_fat_c = min(facts.lowest_pour_fat_c, portion.temp_c)
        facts.mixed_c = self.bowl.temp_c

    def _note_setting(self, where: str, vessel: Vessel) -> None:
        started = vessel.nucleated_s
        known = any(s["channel"] == where and s["onset_s"] == started for s in self.facts.settings)
        melted = self.time_s > self.facts.melted_s  # the cold block at the start has set long ago
        if started is None or known or not melted or vessel.fat_g <= 0.0:
            return
        self.facts.settings.append(
            {
                "channel": where,
                "onset_s": started,
                "temp_c": float(vessel.temp_c),
                "fat_g": vessel.fat_g,
                "seen": self._places.get(where) == ("fat" if vessel is self.fat else "water"),
            }
        )

    def _soak(self, dt_s: float) -> None:
        if self.time_s >= self.script.stages[0].start_s and not self.batch.short:
            span = self.script.stage("soak")
            if span is not None and span.start_s <= self.time_s < span.end_s:
                self.facts.hydrated += dt_s * (1.0 - self.facts.hydrated) / HYDRATION_S

    # -- bath -------------------------------------------------------------------------------

    def _inside(self, t_s: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        inside = np.zeros(len(self.batch.piece_g), dtype=bool)
        for dip in self.script.dips:
            inside[dip.piece - 1] = dip.in_s <= t_s < dip.out_s
        return inside

    def bath_mol_m3(self) -> float:
        """Free calcium of the bath [mol/m3]."""
        return self.bath_calcium_mol / (self.bath.mass_g * 1e-3 / BATH_KG_M3)

    def _bath(self, dt_s: float) -> None:
        batch = self.batch
        dips = self.script.dips
        busy = bool(dips) and min(d.in_s for d in dips) <= self.time_s <= dips[-1].out_s + dt_s
        heat_w = 0.0
        if busy:
            inside = self._inside(self.time_s)
            capacity = 3.5 * np.asarray(batch.piece_g)
            flow_w = capacity / 170.0 * (self._piece_c - self.bath.temp_c) * inside
            self._piece_c -= dt_s * flow_w / capacity
            heat_w = float(flow_w.sum())
            self.bath_calcium_mol -= self.coats.step(
                dt_s, inside, self.bath_mol_m3(), self.bath.temp_c + np.asarray(batch.beside_k)
            )
            self._leave(dt_s)
        else:
            self._piece_c[:] = self.core.mean_c
        if self.time_s >= self.script.bath_from_s:
            self.bath.step(dt_s, heat_w, ambient_c=self.room_c)

    def _leave(self, dt_s: float) -> None:
        """Weigh what comes out in this step, and take its drag from the bath."""
        share = self.coats.set_share()
        for dip in self.script.dips:
            if not self.time_s <= dip.out_s < self.time_s + dt_s:
                continue
            i = dip.piece - 1
            bare_g, set_share = self.batch.piece_g[i], float(share[i])
            skin_g = coat_g(bare_g, self.batch.coat_mm[i])
            drag_g = self.batch.drag_g[i]
            kept_g = skin_g * (1.0 - SHRINKAGE * set_share - SHED * (1.0 - set_share) ** 2)
            self.bath_calcium_mol *= 1.0 - drag_g / self.bath.mass_g
            self.bath.water_g += skin_g - kept_g - drag_g
            self.facts.pieces[dip.piece] = {
                "in_s": dip.in_s,
                "out_s": dip.out_s,
                "dwell_s": dip.out_s - dip.in_s,
                "bare_g": bare_g,
                "coat_g": skin_g,
                "coat_mm": self.batch.coat_mm[i],
                "mass_in_g": bare_g + skin_g,
                "mass_out_g": bare_g + kept_g + drag_g,
                "drag_g": drag_g,
                "set_fraction": set_share,
            }

    # -- core and surface -------------------------------------------------------------------

    def _core(self, dt_s: float) -> None:
        while self._around and self._around[0][0] <= self.time_s:
            before, self._air = self._air[1], self._around.pop(0)
            if before == "ice slush":
                self.facts.core_after_chill_c = self.core.core_c
        shape = self.script.stage("shape")
        if shape is not None and shape.start_s <= self.time_s < shape.end_s:
            # Barley at room temperature goes into the emulsion before it is shaped.
            self.core.fill(0.82 * self.bowl.temp_c + 0.18 * self.room_c)
        else:
            self.core.step(dt_s, self._air[2], self._air[3])
        if self._air[1] in ("steam", "warm cupboard"):
            self.facts.highest_core_c = max(self.facts.highest_core_c, self.core.core_c)

    def _dry(self, dt_s: float) -> None:
        """Surface water goes at a constant rate until the film breaks, then ever slower."""
        span = self.script.drying_span_s
        if span is None or not span[0] <= self.time_s < span[1]:
            return
        for i, mass_g in enumerate(self.batch.piece_g):
            area = surface_cm2(mass_g) / 100.0
            wet = min(1.0, self.film_g[i] / (0.35 * area))
            lost = dt_s * area * (0.0025 * wet + 0.0002)
            self.film_g[i] = max(0.0, self.film_g[i] - dt_s * area * 0.0025 * wet)
            self.dried_g += lost
        whole = sum(0.012 * surface_cm2(m) for m in self.batch.piece_g)
        self.facts.film_left = sum(self.film_g) / whole

    # -- probes -----------------------------------------------------------------------------

    def _move_probes(self) -> None:
        while self._moves and self._moves[0][0] <= self.time_s:
            _, probe, place = self._moves.pop(0)
            self._places[probe] = place

    def _read_probes(self, dt_s: float) -> None:
        around = {
            "air": self.room_c,
            "fat": self.fat.temp_c,
            "water": self.bowl.temp_c,
            "bath": self.bath.temp_c,
            "core": self.core.core_c,
        }
        for name, probe in self._probes.items():
            if name == "cold_junction":
                self.probe_c[name] = self.junction_c
                continue
            place = self._places.get(name, "air")
            probe.lag_s = _IN_AIR_S if place == "air" else _IN_LIQUID_S[name]
            self.probe_c[name] = probe.read(around[place], dt_s)
