"""A calcium bath on a scale, stepped in time: pieces, hands, jugs, stirring, what the scale says.

The virtual bench may embed `BathOnScale`; `bath_trace` plays a whole session on it with its truth,
for scoring the immersion detector. Physics: Archimedes, films that drip back, splashes, a swirling
bath, evaporation, the scale's own filter and steps. Seeded. The sessions are invented, not
recorded.
"""

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

BATH_KG_M3 = 1006.0
TICK_S = 0.02


@dataclass(slots=True, kw_only=True)
class DippedPiece:
    """A piece and how it is handled.

    Attributes
    ----------
    mass_g, density_kg_m3 : float
        Coated piece.
    film_g, drag_g, drip_s : float
        Liquid on it when it is out, what is left of that when it has dripped [g], and how fast [s].
    hung : bool
        It stays on a hook in the bath; else it is let go.
    sink_s, held_s : float
        How long the dip takes; how long until it is let go [s].
    """

    mass_g: float
    density_kg_m3: float = 1035.0
    film_g: float = 5.0
    drag_g: float = 1.6
    drip_s: float = 1.1
    hung: bool = False
    sink_s: float = 0.8
    held_s: float = 0.6
    depth: float = 0.0
    """Share of it that is under water, 0 to 1."""
    moving: float = 0.0
    """Change of depth per second."""
    since_s: float = 0.0
    """Since it was last wholly under."""
    wet_g: float = 0.0
    """Film on it now."""
    gripped: bool = True
    above_s: float = 0.0
    """How long it has been held above the bath."""
    away: bool = False


@dataclass(slots=True)
class _Push:
    """A force on the bath for a while: a touch [g]."""

    force_g: float
    left_s: float
    ramp_s: float
    age_s: float = 0.0


@dataclass(slots=True)
class _Flow:
    """Liquid poured in or ladled out [g/s]."""

    rate_g_s: float
    left_s: float


class BathOnScale:
    """A bath with pieces on a scale.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance.
    bath_g, vessel_g : float
        Liquid and vessel [g].
    step_g, noise_g : float
        Display step and noise of the scale [g].
    evaporation_g_s : float
        Water lost to the air [g/s].
    filter_s : float
        Time constant of the scale's filter [s].
    drop_above_s : float
        How long a lifted piece is held above the bath to drip [s].
    """

    def __init__(
        self,
        rng: np.random.Generator,
        *,
        bath_g: float = 2200.0,
        vessel_g: float = 900.0,
        step_g: float = 0.1,
        noise_g: float = 0.2,
        evaporation_g_s: float = 0.1 / 60,
        filter_s: float = 0.12,
        drop_above_s: float = 3.0,
    ) -> None:
        self.rng = rng
        self.liquid_g = bath_g
        self.vessel_g = vessel_g
        self.step_g = step_g
        self.noise_g = noise_g
        self.evaporation_g_s = evaporation_g_s
        self.filter_s = filter_s
        self.drop_above_s = drop_above_s
        self.pieces: dict[int, DippedPiece] = {}
        self.objects_g = 0.0
        self.tare_g = 0.0
        self._pushes: list[_Push] = []
        self._flows: list[_Flow] = []
        self._stir_left_s = 0.0
        self._stir_g = 0.0
        self._phase = 0.0
        self._splash_g = 0.0
        self._splash_age_s = 0.0
        self._filtered_g: float | None = None
        self._coloured_g = 0.0

    def dip(self, number: int, piece: DippedPiece) -> None:
        """Begin to lower a piece."""
        piece.moving = 1.0 / piece.sink_s
        piece.gripped, piece.above_s, piece.away = True, 0.0, False
        self.pieces[number] = piece
        self._splash(piece.mass_g)

    def lay_in(self, number: int, piece: DippedPiece) -> None:
        """Put a piece in as if it had been there all along."""
        piece.depth, piece.gripped = 1.0, piece.hung
        piece.since_s = 1e3
        self.pieces[number] = piece

    def lift(self, number: int, *, lift_s: float = 0.7) -> None:
        """Begin to lift a piece out."""
        piece = self.pieces[number]
        piece.gripped = True
        piece.moving = -1.0 / lift_s

    def touch(self, force_g: float, lasts_s: float) -> None:
        """A hand leans on the bath, or lifts it a little [g, s]."""
        self._pushes.append(_Push(force_g, lasts_s, min(0.25, lasts_s / 3)))

    def stir(self, force_g: float, lasts_s: float) -> None:
        """Somebody stirs: swirl and hum of this size [g, s]."""
        self._stir_g, self._stir_left_s = force_g, lasts_s

    def pour(self, mass_g: float, lasts_s: float) -> None:
        """Top up (or, negative, ladle out) over some seconds [g, s]."""
        self._flows.append(_Flow(mass_g / lasts_s, lasts_s))

    def tare(self) -> None:
        """Set the display to zero now."""
        self.tare_g += self._filtered_g or 0.0

    def step(self, elapsed_s: float) -> None:
        """Let some time pass, at most 0.1 s."""
        for piece in self.pieces.values():
            self._move(piece, elapsed_s)
        self.pieces = {k: p for k, p in self.pieces.items() if not p.away}
        for flow in self._flows:
            lasts = min(elapsed_s, flow.left_s)
            self.liquid_g += flow.rate_g_s * lasts
            flow.left_s -= lasts
        self._flows = [flow for flow in self._flows if flow.left_s > 1e-9]
        for push in self._pushes:
            push.age_s += elapsed_s
        self._pushes = [push for push in self._pushes if push.age_s < push.left_s]
        self._stir_left_s = max(0.0, self._stir_left_s - elapsed_s)
        self._phase += elapsed_s
        self._splash_age_s += elapsed_s
        self.liquid_g -= self.evaporation_g_s * elapsed_s
        self._filter(elapsed_s)

    def reading_g(self) -> float:
        """What the display shows now."""
        shown = (self._filtered_g or 0.0) - self.tare_g + self.rng.normal(0.0, self.noise_g)
        return round(round(shown / self.step_g) * self.step_g, 4)

    def _move(self, piece: DippedPiece, elapsed_s: float) -> None:
        if piece.moving:
            was = piece.depth
            piece.depth = min(1.0, max(0.0, was + piece.moving * elapsed_s))
            if piece.moving < 0:
                picked = piece.film_g * (was - piece.depth)
                piece.wet_g += picked
                self.liquid_g -= picked
            else:
                given = min(piece.wet_g, piece.film_g * (piece.depth - was))
                piece.wet_g -= given
                self.liquid_g += given
            if piece.depth in (0.0, 1.0):
                piece.moving = 0.0
                piece.since_s = 0.0
        if piece.depth == 1.0:
            piece.since_s += elapsed_s
            if not piece.hung and piece.since_s >= piece.held_s:
                piece.gripped = False
        if piece.depth == 0.0 and piece.moving == 0.0:
            drips = (piece.wet_g - piece.drag_g) * min(1.0, elapsed_s / piece.drip_s)
            drips = max(0.0, drips)
            piece.wet_g -= drips
            self.liquid_g += drips
            piece.above_s += elapsed_s
            piece.away = piece.above_s >= self.drop_above_s

    def _load_g(self) -> float:
        load = self.vessel_g + self.liquid_g + self.objects_g
        for piece in self.pieces.values():
            if piece.gripped:
                load += piece.mass_g * BATH_KG_M3 / piece.density_kg_m3 * piece.depth
            else:
                load += piece.mass_g
        for push in self._pushes:
            rise = min(1.0, push.age_s / push.ramp_s, (push.left_s - push.age_s) / push.ramp_s)
            load += push.force_g * max(0.0, rise)
        if self._stir_left_s > 0:
            swirl = math.sin(7.0 * self._phase) + 0.6 * math.sin(17.3 * self._phase)
            load += self._stir_g * (0.5 * swirl + 0.3 * self.rng.normal())
        if self._splash_age_s < 4.0:
            ring = math.exp(-self._splash_age_s / 0.6) * math.sin(12.6 * self._splash_age_s)
            load += self._splash_g * ring
        return load

    def _splash(self, mass_g: float) -> None:
        self._splash_g = float(self.rng.uniform(0.0, 0.1) * mass_g)
        self._splash_age_s = 0.0

    def _filter(self, elapsed_s: float) -> None:
        load = self._load_g()
        if self._filtered_g is None:
            self._filtered_g = load
        share = 1.0 - math.exp(-elapsed_s / self.filter_s) if self.filter_s > 0 else 1.0
        self._filtered_g += share * (load - self._filtered_g)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueImmersion:
    """One piece as it really went: half under and half out again [s]; None where it lies on."""

    piece: int
    mass_g: float
    in_s: float | None
    out_s: float | None
    lifted_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BathTruth:
    """What happened in a session."""

    immersions: tuple[TrueImmersion, ...]
    masses_g: dict[int, float]
    planned_s: tuple[float, float]
    tares_s: tuple[float, ...] = ()
    gaps_s: tuple[tuple[float, float], ...] = ()
    scene: dict[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class BathTrace:
    """A session: times [s], readings [g] (nan where there is none), truth."""

    t_s: NDArray[np.float64]
    mass_g: NDArray[np.float64]
    truth: BathTruth


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Options of a session; None leaves the choice to the seed.

    Attributes
    ----------
    pieces : int
        How many pieces; 0 leaves touches, drift, stirring and top-ups only.
    mass_sd : float
        Scatter of the pieces' masses as a share of their mean, from forming by hand.
    equal_g : float or None
        All masses within this of each other [g].
    dwell_s : float
        Aimed dwell [s].
    dwell_sd : float
        How far off the cook is, as a share of the dwell.
    band : float
        Half width of the planned band as a share of the dwell.
    odd_share : float
        Share of pieces that are pulled out far too early or forgotten.
    any_order : float
        Chance that pieces are taken in any order instead of along the tray.
    spacing_s : tuple of float
        Shortest and longest pause between two dips [s].
    """

    pieces: int | None = None
    mass_sd: float = 0.08
    equal_g: float | None = None
    dwell_s: float | None = None
    dwell_sd: float = 0.05
    band: float = 0.15
    odd_share: float = 0.05
    any_order: float = 0.12
    spacing_s: tuple[float, float] = (10.0, 40.0)
    rate_hz: float | None = None
    step_g: float | None = None
    noise_g: float | None = None
    evaporation_g_min: float | None = None
    hung: bool | None = None
    touches: int | None = None
    stirs: int | None = None
    top_ups: int | None = None
    ladles: int | None = None
    tares: int | None = None
    gaps: int | None = None
    redips: int | None = None
    in_at_start: int | None = None
    in_at_end: int | None = None


def bath_trace(seed: int, scene: Scene | None = None) -> BathTrace:
    """Play one session.

    Parameters
    ----------
    seed : int
        Decides everything that the scene leaves open.
    scene : Scene, optional
        What is fixed.

    Returns
    -------
    BathTrace
        Readings and truth. The planned band holds the aimed dwell, not each true one.
    """
    return _Session(np.random.default_rng(seed), scene or Scene()).play()


class _Session:
    """Draws a script and plays it on a `BathOnScale`."""

    def __init__(self, rng: np.random.Generator, scene: Scene) -> None:
        self.rng = rng
        self.scene = scene
        self.pieces = self._pick(scene.pieces, rng.integers(4, 10))
        self.rate_hz = self._pick(scene.rate_hz, rng.choice([2.0, 5.0, 10.0, 20.0]))
        step_g = self._pick(scene.step_g, rng.choice([0.1, 0.1, 1.0]))
        noise_g = self._pick(scene.noise_g, rng.uniform(0.08, 0.3))
        evaporation = self._pick(scene.evaporation_g_min, rng.uniform(0.05, 0.3))
        self.hung = self._pick(scene.hung, rng.random() < 0.25)
        self.dwell_s = self._pick(scene.dwell_s, rng.uniform(90.0, 420.0))
        self.bath = BathOnScale(
            rng,
            bath_g=rng.uniform(1500, 3000),
            step_g=float(step_g),
            noise_g=float(noise_g),
            evaporation_g_s=float(evaporation) / 60,
            filter_s=rng.uniform(0.05, 0.25),
            drop_above_s=rng.uniform(2.0, 5.0),
        )
        if rng.random() < 0.5:
            self.bath.step(TICK_S)
            self.bath.tare()
        self.script: list[tuple[float, str, tuple[float, ...]]] = []
        self.busy: list[tuple[float, float]] = []
        self.truth: dict[int, dict[str, float]] = {}
        self.lifted: dict[int, list[float]] = {}
        self.tares_s: list[float] = []
        self.gaps_s: list[tuple[float, float]] = []
        self.dipped: dict[int, DippedPiece] = {}
        self.masses_g: dict[int, float] = {}

    @staticmethod
    def _pick(fixed: float | None, drawn: Any) -> float:
        return float(drawn if fixed is None else fixed)

    def play(self) -> BathTrace:
        self._write_pieces()
        self._write_others()
        self.script.sort(key=lambda line: line[0])
        end_s = 25.0 + max([line[0] for line in self.script], default=200.0)
        times, readings = [], []
        next_line, t_s, due_s = 0, 0.0, 0.0
        jitter = 0.0
        depths = {number: piece.depth for number, piece in self.dipped.items()}
        while t_s < end_s:
            while next_line < len(self.script) and self.script[next_line][0] <= t_s:
                self._do(self.script[next_line])
                next_line += 1
            self.bath.step(TICK_S)
            t_s += TICK_S
            self._note_halves(t_s, depths)
            if t_s >= due_s + jitter:
                if not any(a <= t_s <= b for a, b in self.gaps_s):
                    times.append(t_s)
                    readings.append(self.bath.reading_g())
                due_s += 1.0 / self.rate_hz
                jitter = float(self.rng.uniform(0.0, 0.1 / self.rate_hz))
        return BathTrace(t_s=np.array(times), mass_g=np.array(readings), truth=self._truth())

    def _write_pieces(self) -> None:
        rng, scene = self.rng, self.scene
        mean_g = rng.uniform(55, 110)
        at_start = int(self._pick(scene.in_at_start, rng.random() < 1 / 6))
        at_end = int(self._pick(scene.in_at_end, rng.random() < 1 / 6))
        density = rng.uniform(1020, 1055)
        t_s = 12.0
        outs: list[tuple[float, int]] = []
        for number in self._order():
            mass = mean_g * (1 + scene.mass_sd * rng.normal())
            if scene.equal_g is not None:
                mass = mean_g + rng.uniform(-scene.equal_g, scene.equal_g)
            self.masses_g[number] = round(float(max(0.6 * mean_g, mass)), 1)
            self.dipped[number] = DippedPiece(
                mass_g=self.masses_g[number],
                density_kg_m3=density * (1 + 0.003 * rng.normal()),
                drag_g=rng.uniform(0.75, 2.55),
                film_g=rng.uniform(3.0, 7.0),
                drip_s=rng.uniform(0.7, 1.4),
                hung=bool(self.hung),
                sink_s=rng.uniform(0.4, 1.5),
                held_s=rng.uniform(0.1, 1.0),
            )
            if len(self.dipped) <= at_start:
                self.bath.lay_in(number, self.dipped[number])
                out_s = rng.uniform(0.4, 0.9) * self.dwell_s + 10.0
            else:
                self.script.append((t_s, "dip", (number,)))
                self.busy.append((t_s - 1.0, t_s + 4.0))
                out_s = t_s + self.dwell_s * self._dwell_share()
                t_s += rng.uniform(*scene.spacing_s)
            if len(self.dipped) <= int(self.pieces) - at_end:
                outs.append((out_s, number))
        self._write_lifts(sorted(outs))
        self._write_redips()

    def _order(self) -> list[int]:
        """Along the tray, now and then two swapped; in some sessions any order."""
        order = list(range(1, int(self.pieces) + 1))
        if self.rng.random() < self.scene.any_order:
            self.rng.shuffle(order)
        for place in range(len(order) - 1):
            if self.rng.random() < 0.06:
                order[place], order[place + 1] = order[place + 1], order[place]
        return order

    def _dwell_share(self) -> float:
        rng, scene = self.rng, self.scene
        if rng.random() < scene.odd_share:
            return float(rng.uniform(0.4, 0.65) if rng.random() < 0.6 else rng.uniform(1.3, 1.6))
        return float(1 + scene.dwell_sd * rng.normal())

    def _write_lifts(self, outs: list[tuple[float, int]]) -> None:
        """One pair of hands: a piece can't be lifted while another is dipped or lifted."""
        for wanted_s, number in outs:
            at_s = wanted_s
            while any(a - 4.0 < at_s < b for a, b in self.busy):
                at_s += 0.7
            self.busy.append((at_s - 1.0, at_s + 1.0 + self.bath.drop_above_s))
            self.script.append((at_s, "lift", (number, float(self.rng.uniform(0.4, 1.0)))))

    def _write_redips(self) -> None:
        count = int(self._pick(self.scene.redips, self.rng.random() < 1 / 4))
        ins = {int(line[2][0]): line[0] for line in self.script if line[1] == "dip"}
        outs = {int(line[2][0]): line[0] for line in self.script if line[1] == "lift"}
        numbers = [number for number in ins if number in outs]
        self.rng.shuffle(numbers)
        for number in numbers[:count]:
            lasts = self.bath.drop_above_s * 0.8
            spot = self._free(ins[number] + 15.0, outs[number] - 20.0, lasts + 6.0)
            if spot is None:
                continue
            self.script.append((spot, "lift", (number, 0.6)))
            self.script.append((spot + 0.6 + lasts, "redip", (number,)))
            self.lifted[number] = [spot]

    def _write_others(self) -> None:
        rng, scene = self.rng, self.scene
        self.script.sort(key=lambda line: line[0])
        end_s = max([line[0] for line in self.script], default=240.0)
        for _ in range(int(self._pick(scene.touches, rng.integers(0, 6)))):
            force = float(rng.choice([-1.0, 1.0]) * rng.uniform(3.0, 90.0))
            self.script.append(
                (float(rng.uniform(3.0, end_s)), "touch", (force, float(rng.uniform(0.3, 3.0))))
            )
        for _ in range(int(self._pick(scene.stirs, rng.random() < 1 / 3))):
            lasts = float(rng.uniform(4.0, 15.0))
            self.script.append(
                (float(rng.uniform(3.0, end_s)), "stir", (float(rng.uniform(1.0, 4.0)), lasts))
            )
        self._write_flows("pour", self._pick(scene.top_ups, rng.random() < 1 / 4), end_s)
        self._write_flows("ladle", self._pick(scene.ladles, rng.random() < 1 / 6), end_s)
        for _ in range(int(self._pick(scene.tares, rng.random() < 1 / 6))):
            spot = self._free(5.0, end_s, 8.0)
            if spot is not None:
                self.script.append((spot + 4.0, "tare", ()))
        for _ in range(int(self._pick(scene.gaps, rng.random() < 1 / 6))):
            start = float(rng.uniform(5.0, end_s))
            self.gaps_s.append((start, start + float(rng.uniform(3.0, 12.0))))

    def _write_flows(self, what: str, count: float, end_s: float) -> None:
        for _ in range(int(count)):
            spot = self._free(5.0, end_s, 16.0)
            if spot is None:
                continue
            if what == "pour":
                mass, lasts = self.rng.uniform(120.0, 450.0), self.rng.uniform(3.0, 8.0)
            else:
                mass, lasts = -self.rng.uniform(60.0, 200.0), self.rng.uniform(0.5, 1.5)
                self.script.append((spot + 2.0, "touch", (40.0, 1.5)))
            self.script.append((spot + 4.0, "pour", (float(mass), float(lasts))))

    def _free(self, from_s: float, to_s: float, lasts_s: float) -> float | None:
        for _ in range(60):
            spot = float(self.rng.uniform(from_s, max(from_s + 1.0, to_s)))
            if spot + lasts_s > to_s:
                continue
            if all(b < spot or a > spot + lasts_s for a, b in self.busy):
                self.busy.append((spot, spot + lasts_s))
                return spot
        return None

    def _do(self, line: tuple[float, str, tuple[float, ...]]) -> None:
        t_s, what, data = line
        if what in ("dip", "redip"):
            self.bath.dip(int(data[0]), self.dipped[int(data[0])])
        elif what == "lift":
            self.bath.lift(int(data[0]), lift_s=data[1])
        elif what == "touch":
            self.bath.touch(data[0], data[1])
        elif what == "stir":
            self.bath.stir(data[0], data[1])
        elif what == "pour":
            self.bath.pour(data[0], data[1])
        elif what == "tare":
            self.bath.tare()
            self.tares_s.append(t_s)

    def _note_halves(self, t_s: float, depths: dict[int, float]) -> None:
        """Truth: the moment a piece is half under, first, and half out, last."""
        for number, piece in self.dipped.items():
            was, depths[number] = depths[number], piece.depth
            if was < 0.5 <= piece.depth:
                self.truth.setdefault(number, {}).setdefault("in_s", t_s)
            elif was >= 0.5 > piece.depth:
                self.truth.setdefault(number, {})["out_s"] = t_s

    def _truth(self) -> BathTruth:
        immersions = []
        for number, mass_g in self.masses_g.items():
            seen = self.truth.get(number, {})
            lies = self.dipped[number].depth == 1.0
            immersions.append(
                TrueImmersion(
                    piece=number,
                    mass_g=mass_g,
                    in_s=seen.get("in_s"),
                    out_s=None if lies else seen.get("out_s"),
                    lifted_s=tuple(self.lifted.get(number, ())),
                )
            )
        low, high = (self.dwell_s * (1 + side * self.scene.band) for side in (-1, 1))
        return BathTruth(
            immersions=tuple(immersions),
            masses_g=self.masses_g,
            planned_s=(float(low), float(high)),
            tares_s=tuple(self.tares_s),
            gaps_s=tuple(self.gaps_s),
            scene={"rate_hz": float(self.rate_hz), "step_g": self.bath.step_g, "hung": self.hung},
        )
