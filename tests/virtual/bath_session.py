"""Whole sessions at a bath on a scale, with their truth, for scoring the immersion detector.

A script of `bath_script` is played on `BathOnScale`, and what really happened is noted.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from logger.virtual.bodies.bath_on_scale import BathOnScale
from tests.virtual.bath_script import BathScript, Line, Scene, pick

TICK_S = 0.02


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
        pieces = pick(scene.pieces, rng.integers(4, 10))
        self.rate_hz = pick(scene.rate_hz, rng.choice([2.0, 5.0, 10.0, 20.0]))
        step_g = pick(scene.step_g, rng.choice([0.1, 0.1, 1.0]))
        noise_g = pick(scene.noise_g, rng.uniform(0.08, 0.3))
        evaporation = pick(scene.evaporation_g_min, rng.uniform(0.05, 0.3))
        self.hung = pick(scene.hung, rng.random() < 0.25)
        self.dwell_s = pick(scene.dwell_s, rng.uniform(90.0, 420.0))
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
        self.script = BathScript(
            rng,
            scene,
            pieces=int(pieces),
            dwell_s=self.dwell_s,
            hung=bool(self.hung),
            drop_above_s=self.bath.drop_above_s,
        )
        self.truth: dict[int, dict[str, float]] = {}
        self.tares_s: list[float] = []

    def play(self) -> BathTrace:
        script = self.script
        script.write()
        for number in script.lying:
            # As if it had been there all along.
            piece = script.dipped[number]
            piece.depth, piece.gripped, piece.since_s = 1.0, piece.hung, 1e3
            self.bath.pieces[number] = piece
        end_s = 25.0 + max([line[0] for line in script.lines], default=200.0)
        times, readings = [], []
        next_line, t_s, due_s = 0, 0.0, 0.0
        jitter = 0.0
        depths = {number: piece.depth for number, piece in script.dipped.items()}
        while t_s < end_s:
            while next_line < len(script.lines) and script.lines[next_line][0] <= t_s:
                self._do(script.lines[next_line])
                next_line += 1
            self.bath.step(TICK_S)
            t_s += TICK_S
            self._note_halves(t_s, depths)
            if t_s >= due_s + jitter:
                if not any(a <= t_s <= b for a, b in script.gaps_s):
                    times.append(t_s)
                    readings.append(self.bath.reading_g())
                due_s += 1.0 / self.rate_hz
                jitter = float(self.rng.uniform(0.0, 0.1 / self.rate_hz))
        return BathTrace(t_s=np.array(times), mass_g=np.array(readings), truth=self._truth())

    def _do(self, line: Line) -> None:
        t_s, what, data = line
        if what in ("dip", "redip"):
            self.bath.dip(int(data[0]), self.script.dipped[int(data[0])])
        elif what == "hold":
            self.bath.pieces[int(data[0])].moving = 0.0
        elif what == "sink":
            piece = self.bath.pieces[int(data[0])]
            piece.moving = 1.0 / piece.sink_s
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
        for number, piece in self.script.dipped.items():
            was, depths[number] = depths[number], piece.depth
            if was < 0.5 <= piece.depth:
                self.truth.setdefault(number, {}).setdefault("in_s", t_s)
            elif was >= 0.5 > piece.depth:
                self.truth.setdefault(number, {})["out_s"] = t_s

    def _truth(self) -> BathTruth:
        immersions = []
        for number, mass_g in self.script.masses_g.items():
            seen = self.truth.get(number, {})
            lies = self.script.dipped[number].depth == 1.0
            immersions.append(
                TrueImmersion(
                    piece=number,
                    mass_g=mass_g,
                    in_s=seen.get("in_s"),
                    out_s=None if lies else seen.get("out_s"),
                    lifted_s=tuple(self.script.lifted.get(number, ())),
                )
            )
        low, high = (self.dwell_s * (1 + side * self.scene.band) for side in (-1, 1))
        return BathTruth(
            immersions=tuple(immersions),
            masses_g=self.script.masses_g,
            planned_s=(float(low), float(high)),
            tares_s=tuple(self.tares_s),
            gaps_s=tuple(self.script.gaps_s),
            scene={"rate_hz": float(self.rate_hz), "step_g": self.bath.step_g, "hung": self.hung},
        )
