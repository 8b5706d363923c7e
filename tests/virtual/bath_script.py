"""The script of a session at a bath on a scale: who is dipped and lifted when, what disturbs it.

Drawn from a seed within a scene; played by `bath_session` on `BathOnScale`. The scripts
are invented, not recorded.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from logger.virtual.bodies.bath_on_scale import DippedPiece

Line = tuple[float, str, tuple[float, ...]]
"""When [s], what, and with which numbers."""


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
    slow : float
        Share of pieces that are lowered over 3 to 8 s, or in two to six moves.
    gap_s : tuple of float
        Shortest and longest silence of the scale [s].
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
    slow: float = 0.0
    gap_s: tuple[float, float] = (3.0, 12.0)


def pick(fixed: float | None, drawn: Any) -> float:
    """Return what a scene has fixed, else what was drawn."""
    return float(drawn if fixed is None else fixed)


class BathScript:
    """The lines of one session, in order of time once written.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of all chance.
    scene : Scene
        What is fixed.
    pieces : int
        How many pieces.
    dwell_s : float
        Aimed dwell [s].
    hung : bool
        The pieces stay on a hook in the bath.
    drop_above_s : float
        How long a lifted piece is held above the bath [s].
    """

    def __init__(
        self,
        rng: np.random.Generator,
        scene: Scene,
        *,
        pieces: int,
        dwell_s: float,
        hung: bool,
        drop_above_s: float,
    ) -> None:
        self.rng = rng
        self.scene = scene
        self.pieces = pieces
        self.dwell_s = dwell_s
        self.hung = hung
        self.drop_above_s = drop_above_s
        self.lines: list[Line] = []
        self.dipped: dict[int, DippedPiece] = {}
        self.lying: list[int] = []
        """Pieces that are in the bath from the start."""
        self.masses_g: dict[int, float] = {}
        self.lifted: dict[int, list[float]] = {}
        """When a piece was lifted for a moment only [s]."""
        self.gaps_s: list[tuple[float, float]] = []
        self._busy: list[tuple[float, float]] = []

    def write(self) -> None:
        """Draw the whole script."""
        self._write_pieces()
        self._write_others()
        self.lines.sort(key=lambda line: line[0])

    def _write_pieces(self) -> None:
        rng, scene = self.rng, self.scene
        mean_g = rng.uniform(55, 110)
        at_start = int(pick(scene.in_at_start, rng.random() < 1 / 6))
        at_end = int(pick(scene.in_at_end, rng.random() < 1 / 6))
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
                hung=self.hung,
                sink_s=rng.uniform(0.4, 1.5),
                held_s=rng.uniform(0.1, 1.0),
            )
            if len(self.dipped) <= at_start:
                self.lying.append(number)
                out_s = rng.uniform(0.4, 0.9) * self.dwell_s + 10.0
            else:
                self.lines.append((t_s, "dip", (number,)))
                lowered_s = t_s + 4.0
                if scene.slow and rng.random() < scene.slow:
                    lowered_s = self._lower_slowly(number, t_s)
                self._busy.append((t_s - 1.0, lowered_s))
                out_s = t_s + self.dwell_s * self._dwell_share()
                t_s += rng.uniform(*scene.spacing_s)
            if len(self.dipped) <= self.pieces - at_end:
                outs.append((out_s, number))
        self._write_lifts(sorted(outs))
        self._write_redips()

    def _lower_slowly(self, number: int, t_s: float) -> float:
        """Lower a piece over some seconds, or in moves; returns when hands are free again [s]."""
        rng, piece = self.rng, self.dipped[number]
        moves = int(rng.choice([1, 1, 2, 3, 4, 5, 6]))
        if moves == 1:
            piece.sink_s = float(rng.uniform(3.0, 8.0))
            return t_s + piece.sink_s + 3.0
        piece.sink_s = float(rng.uniform(1.0, 3.0))
        at_s, shares = t_s, rng.dirichlet(np.full(moves, 4.0))
        for share in shares[:-1]:
            at_s += float(share) * piece.sink_s
            self.lines.append((at_s, "hold", (number,)))
            at_s += float(rng.uniform(0.4, min(2.0, 5.0 / (moves - 1))))
            self.lines.append((at_s, "sink", (number,)))
        return at_s + piece.sink_s + 3.0

    def _order(self) -> list[int]:
        """Along the tray, now and then two swapped; in some sessions any order."""
        order = list(range(1, self.pieces + 1))
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
            while any(a - 4.0 < at_s < b for a, b in self._busy):
                at_s += 0.7
            self._busy.append((at_s - 1.0, at_s + 1.0 + self.drop_above_s))
            self.lines.append((at_s, "lift", (number, float(self.rng.uniform(0.4, 1.0)))))

    def _write_redips(self) -> None:
        count = int(pick(self.scene.redips, self.rng.random() < 1 / 4))
        ins = {int(line[2][0]): line[0] for line in self.lines if line[1] == "dip"}
        outs = {int(line[2][0]): line[0] for line in self.lines if line[1] == "lift"}
        numbers = [number for number in ins if number in outs]
        self.rng.shuffle(numbers)
        for number in numbers[:count]:
            lasts = self.drop_above_s * 0.8
            spot = self._free(ins[number] + 15.0, outs[number] - 20.0, lasts + 6.0)
            if spot is None:
                continue
            self.lines.append((spot, "lift", (number, 0.6)))
            self.lines.append((spot + 0.6 + lasts, "redip", (number,)))
            self.lifted[number] = [spot]

    def _write_others(self) -> None:
        rng, scene = self.rng, self.scene
        self.lines.sort(key=lambda line: line[0])
        end_s = max([line[0] for line in self.lines], default=240.0)
        for _ in range(int(pick(scene.touches, rng.integers(0, 6)))):
            force = float(rng.choice([-1.0, 1.0]) * rng.uniform(3.0, 90.0))
            self.lines.append(
                (float(rng.uniform(3.0, end_s)), "touch", (force, float(rng.uniform(0.3, 3.0))))
            )
        for _ in range(int(pick(scene.stirs, rng.random() < 1 / 3))):
            lasts = float(rng.uniform(4.0, 15.0))
            self.lines.append(
                (float(rng.uniform(3.0, end_s)), "stir", (float(rng.uniform(1.0, 4.0)), lasts))
            )
        self._write_flows("pour", pick(scene.top_ups, rng.random() < 1 / 4), end_s)
        self._write_flows("ladle", pick(scene.ladles, rng.random() < 1 / 6), end_s)
        for _ in range(int(pick(scene.tares, rng.random() < 1 / 6))):
            spot = self._free(5.0, end_s, 8.0)
            if spot is not None:
                self.lines.append((spot + 4.0, "tare", ()))
        for _ in range(int(pick(scene.gaps, rng.random() < 1 / 6))):
            start = float(rng.uniform(5.0, end_s))
            self.gaps_s.append((start, start + float(rng.uniform(*scene.gap_s))))

    def _write_flows(self, what: str, count: float, end_s: float) -> None:
        for _ in range(int(count)):
            spot = self._free(5.0, end_s, 16.0)
            if spot is None:
                continue
            if what == "pour":
                mass, lasts = self.rng.uniform(120.0, 450.0), self.rng.uniform(3.0, 8.0)
            else:
                mass, lasts = -self.rng.uniform(60.0, 200.0), self.rng.uniform(0.5, 1.5)
                self.lines.append((spot + 2.0, "touch", (40.0, 1.5)))
            self.lines.append((spot + 4.0, "pour", (float(mass), float(lasts))))

    def _free(self, from_s: float, to_s: float, lasts_s: float) -> float | None:
        for _ in range(60):
            spot = float(self.rng.uniform(from_s, max(from_s + 1.0, to_s)))
            if spot + lasts_s > to_s:
                continue
            if all(b < spot or a > spot + lasts_s for a, b in self._busy):
                self._busy.append((spot, spot + lasts_s))
                return spot
        return None
