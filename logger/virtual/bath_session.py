"""Whole sessions at a bath on a scale, with their truth, for scoring the immersion detector.

A script is drawn from a seed and played on `bathscale.BathOnScale`. The sessions are invented, not
recorded.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from logger.virtual.bathscale import TICK_S, BathOnScale, DippedPiece


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
