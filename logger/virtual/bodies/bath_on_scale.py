"""A calcium bath on a scale, stepped in time: pieces, hands, jugs, stirring, what the scale says.

Physics: Archimedes, films that drip back, splashes, a swirling bath, evaporation, the scale's own
filter and steps. Seeded. Used by logger.virtual.readings.bath_reading.
"""

import math
from dataclasses import dataclass

import numpy as np

BATH_KG_M3 = 1006.0


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

    def lift(self, number: int, *, lift_s: float = 0.7) -> None:
        """Begin to lift a piece out, which takes `lift_s` [s]."""
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
        """Let some time pass [s], at most 0.1 s."""
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
